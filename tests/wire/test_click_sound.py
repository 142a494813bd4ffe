"""The click through the sound card: a fake stream, no library, engine or device, and a card that goes."""

import atexit
import importlib
import sys
import threading
from types import SimpleNamespace
from typing import Any

import pytest

from midifret.clock import SimulatedClock
from midifret.gear import ClickSettings
from midifret.tempo import Beats
from midifret.terms import Unavailable
from midifret.wire import click_sound, sound_device
from midifret.wire.click_sound import DRY_TIMES, DRY_WITHIN_S, GONE_S, LEAD_S, SoundClick
from midifret.wire.sound_device import Device, choose_device, open_sound_click

RATE_HZ = 48_000
FRAMES = 480  # a block is 10 ms
AHEAD_S = 0.1


class Stream:
    """A stream of the sound library, turned by hand: it asks for a block each 10 ms of the clock."""

    def __init__(self, clock: SimulatedClock, ahead_s: float, **asked: Any) -> None:
        self.samplerate = float(RATE_HZ)
        self.latency = AHEAD_S
        self.clock = clock
        self.asked = asked
        self.calls: list[str] = []
        self.heard = bytearray()
        self.ahead_s = ahead_s
        self.times = True  # whether it says when a block is heard

    def start(self) -> None:
        self.calls.append("start")
        if self.ahead_s < AHEAD_S:
            self.turn(1)

    def abort(self) -> None:
        self.calls.append("abort")

    def close(self) -> None:
        self.calls.append("close")

    def turn(self, blocks: int, *, dry: bool = False) -> None:
        own_s = self.clock.now_s() - 1000.0  # the stream's clock starts elsewhere
        for n in range(blocks):
            out = bytearray(FRAMES * 4 * self.asked["channels"])
            times = SimpleNamespace(currentTime=own_s, outputBufferDacTime=own_s + self.ahead_s)
            if not self.times:
                times = SimpleNamespace(currentTime=0.0, outputBufferDacTime=0.0)
            self.asked["callback"](
                memoryview(out), FRAMES, times, SimpleNamespace(output_underflow=dry and n == 0)
            )
            self.heard += out
            self.clock.wait_s(FRAMES / RATE_HZ)
            own_s += FRAMES / RATE_HZ


class Library:
    """What is used of the sound library."""

    class PortAudioError(Exception):
        pass

    def __init__(self, clock: SimulatedClock) -> None:
        self.clock = clock
        self.default = SimpleNamespace(device=(0, 1))
        self.refuses = False
        self.ahead_s = AHEAD_S
        self.streams: list[Stream] = []

    def query_hostapis(self) -> tuple[dict[str, Any], ...]:
        return ({"name": "ALSA"}, {"name": "JACK"})

    def query_devices(self) -> list[dict[str, Any]]:
        return [
            {"name": "Microphone", "hostapi": 0, "max_output_channels": 0},
            {"name": "Speakers", "hostapi": 0, "max_output_channels": 8},
            {"name": "Headphones", "hostapi": 1, "max_output_channels": 1},
        ]

    def RawOutputStream(self, **asked: Any) -> Stream:  # noqa: N802 - the library's name
        if self.refuses:
            raise self.PortAudioError("Device unavailable [PaErrorCode -9985]", -9985)
        self.streams.append(Stream(self.clock, self.ahead_s, **asked))
        return self.streams[-1]


@pytest.fixture
def clock() -> SimulatedClock:
    return SimulatedClock(5000.0)


@pytest.fixture
def library(clock, monkeypatch) -> Library:
    made = Library(clock)
    monkeypatch.setattr(sound_device, "load_library", lambda: made)
    return made


def opened(library: Library, **settings: Any) -> tuple[SoundClick, Stream]:
    click = open_sound_click(ClickSettings(**settings), library.clock)
    return click, library.streams[-1]


def begin(heard: bytes, channels: int) -> int | None:
    """The sample at which sound begins."""
    samples = memoryview(heard).cast("f")
    return next((n // channels - 1 for n, sample in enumerate(samples) if sample), None)


def test_a_click_is_heard_when_planned_on_the_runs_clock(library, clock):
    click, stream = opened(library)
    assert stream.calls == ["start"]
    assert click.name == "sound on Speakers (ALSA)"
    assert (stream.asked["device"], stream.asked["channels"], stream.asked["dtype"]) == (1, 2, "float32")
    began_s = clock.now_s()
    click.plan(Beats(60, began_s + click.lead_s).clicks(1))
    stream.turn(50)
    # sample 0 is heard AHEAD_S after the first call
    assert begin(stream.heard, 2) == round((LEAD_S - AHEAD_S) * RATE_HZ)
    figures = click.figures()
    assert (figures.sent, figures.skipped, figures.underruns) == (1, 0, 0)
    assert figures.output_latency_ms == pytest.approx(AHEAD_S * 1000)
    click.close()
    assert stream.calls == ["start", "abort", "close"]
    click.close()


def test_a_device_that_says_no_times_is_reckoned_with_its_latency(library, clock):
    click, stream = opened(library, device="headph")
    assert stream.asked["channels"] == 1
    stream.times = False
    click.plan(Beats(60, clock.now_s() + 0.3).clicks(1))
    stream.turn(50)
    assert begin(stream.heard, 1) == round((0.3 - AHEAD_S) * RATE_HZ)


def test_underruns_are_counted_and_the_clicks_after_them_are_in_time(library, clock):
    click, stream = opened(library)
    stream.turn(10)
    clock.wait_s(0.5)  # half a second in which nothing was asked for
    count = len(stream.heard)
    click.plan(Beats(60, clock.now_s() + 0.2).clicks(1))
    stream.turn(30, dry=True)
    assert click.figures().underruns == 1
    assert begin(stream.heard[count:], 2) == round((0.2 - AHEAD_S) * RATE_HZ)


def test_a_card_that_often_runs_dry_is_told_until_it_does_no_more(library, clock):
    click, stream = opened(library)
    for n in range(DRY_TIMES):
        click.due(clock.now_s())
        assert click.trouble == "", n
        stream.turn(50, dry=True)
    click.due(clock.now_s())
    assert "runs dry (Speakers (ALSA))" in click.trouble
    assert click.figures().underruns == DRY_TIMES
    stream.turn(round(DRY_WITHIN_S * RATE_HZ / FRAMES))
    click.due(clock.now_s())
    assert click.trouble == ""


def test_a_card_that_asks_for_nothing_is_told_until_it_does_again(library, clock):
    click, stream = opened(library)
    stream.turn(3)
    click.due(clock.now_s() + GONE_S - 0.02)
    assert click.trouble == ""
    click.due(clock.now_s() + GONE_S + 0.02)
    assert "has stopped (Speakers (ALSA))" in click.trouble
    clock.wait_s(2)
    stream.turn(1)
    click.due(clock.now_s())
    assert click.trouble == ""


def test_a_card_that_has_gone_can_be_closed(library):
    click, stream = opened(library)

    def gone() -> None:
        raise Library.PortAudioError("gone")

    stream.abort = stream.close = gone
    click.stop()
    click.close()


def test_a_card_that_never_answers_is_left_behind(library, monkeypatch):
    library._exit_handler = lambda: None
    atexit.register(library._exit_handler)
    monkeypatch.setattr(click_sound, "CLOSE_S", 0.05)
    click, stream = opened(library)
    answers = threading.Event()
    stream.abort = answers.wait
    try:
        click.close()
        assert stream.calls == ["start"]  # it is being waited for, but not by us
        before = atexit._ncallbacks()
        atexit.unregister(library._exit_handler)
        assert atexit._ncallbacks() == before  # it was taken out already
    finally:
        answers.set()


def test_a_device_that_is_taken_is_told(library):
    library.refuses = True
    with pytest.raises(
        Unavailable, match=r"'Speakers \(ALSA\)' cannot be opened: Device unavailable"
    ) as caught:
        opened(library)
    assert "another device" in caught.value.allowed


def test_a_jack_server_whose_periods_are_too_short_is_told_and_left_in_peace(library):
    library.ahead_s = 128 / RATE_HZ
    with pytest.raises(Unavailable, match=r"'Headphones \(JACK\)' asks for sound only 3 ms ahead") as caught:
        opened(library, device="headphones")
    assert caught.value.allowed.startswith("at least 20 ms: give JACK periods of 1024 frames")
    assert library.streams[-1].calls == ["start", "abort", "close"]
    library.ahead_s = 1024 / RATE_HZ
    opened(library, device="headphones")
    library.ahead_s = 128 / RATE_HZ
    opened(library, device="speakers")  # other systems keep a store of their own


def test_choosing_a_device():
    devices = (
        Device(1, "Speakers (ALSA)", 2),
        Device(4, "Headphones (ALSA)", 2),
        Device(5, "Headphones (JACK)", 2),
    )
    assert choose_device("", devices, 4).index == 4
    assert choose_device("speak", devices, 4).index == 1
    assert choose_device(" HEADPHONES (JACK) ", devices, 4).index == 5
    with pytest.raises(Unavailable, match="fits 2 sound outputs") as caught:
        choose_device("headphones", devices, 4)
    assert "'Headphones (ALSA)', 'Headphones (JACK)'" in caught.value.allowed
    with pytest.raises(Unavailable, match="no sound output has 'horn'") as caught:
        choose_device("horn", devices, 4)
    assert "'Speakers (ALSA)'" in caught.value.allowed
    with pytest.raises(Unavailable, match="no usual sound output"):
        choose_device("", devices, -1)
    with pytest.raises(Unavailable, match="there is no sound output"):
        choose_device("", (), -1)


def test_without_the_library_it_is_said_how_to_get_it(clock, monkeypatch):
    monkeypatch.setitem(sys.modules, "sounddevice", None)  # as if it were not installed
    with pytest.raises(Unavailable) as caught:
        open_sound_click(ClickSettings(), clock)
    assert "pip install 'midifret[sound]'" in str(caught.value)


def test_without_its_engine_it_is_said_how_to_get_that(clock, monkeypatch):
    def missing(name: str) -> None:
        raise OSError("PortAudio library not found")  # what sounddevice 0.5.6 says

    monkeypatch.setattr(importlib, "import_module", missing)
    with pytest.raises(Unavailable, match="PortAudio library not found") as caught:
        open_sound_click(ClickSettings(), clock)
    assert "libportaudio2" in caught.value.allowed
