"""The click opened from settings and command line: what comes of each, and what is told."""

import click
import pytest
from click.testing import CliRunner

from midifret.cli import click_output
from midifret.cli.click_output import ClickWishes, click_options, click_wishes, open_click
from midifret.clock import SimulatedClock
from midifret.gear import ClickSettings, ClickWay
from midifret.terms import Unavailable
from midifret.wire import sound_device
from midifret.wire.click import AllOf, SilentClick
from midifret.wire.click_midi import MidiClick, MidiClockOut


class Port:
    """A port that is there."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.trouble = ""
        self.sent: list[bytes] = []
        self.closed = False

    def send(self, data: bytes) -> bool:
        assert not self.closed
        self.sent.append(data)
        return True

    def look(self, now_s: float) -> None:
        pass

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def ports(monkeypatch) -> list[Port]:
    opened: list[Port] = []

    def open_port(part: str, clock: SimulatedClock) -> Port:
        if part == "gone":
            raise Unavailable("no MIDI output port has 'gone' in its name", allowed="there are: 'Synth'")
        opened.append(Port(part or "Synth"))
        return opened[-1]

    monkeypatch.setattr(click_output, "open_click_port", open_port)
    return opened


def test_off_is_silent_and_opens_nothing(ports):
    assert isinstance(open_click(ClickSettings(), SimulatedClock()), SilentClick)
    assert ports == []


def test_a_click_by_midi_and_a_clock_share_one_port(ports):
    settings = ClickSettings(output=ClickWay.MIDI, port="Drums", send_clock=True)
    output = open_click(settings, SimulatedClock())
    assert isinstance(output, AllOf)
    assert [type(each) for each in output.outputs] == [MidiClick, MidiClockOut]
    assert [port.name for port in ports] == ["Drums"]
    assert output.name == "MIDI click on Drums, channel 10, MIDI clock on Drums"


def test_a_stop_still_goes_out_though_both_close_the_same_port(ports):
    from midifret.tempo import Beats

    output = open_click(ClickSettings(output=ClickWay.MIDI, send_clock=True), SimulatedClock())
    output.plan(Beats(120, 1.0).clicks(8))
    for n in range(2000):
        output.due(n / 1000)
    output.close()
    assert b"\xfc" in ports[0].sent  # stop: MIDI 1.0
    assert ports[0].closed


def test_each_alone(ports):
    assert isinstance(open_click(ClickSettings(output=ClickWay.MIDI), SimulatedClock()), MidiClick)
    assert isinstance(open_click(ClickSettings(send_clock=True), SimulatedClock()), MidiClockOut)


def test_a_port_that_is_missing_is_told_with_those_that_are_and_nothing_stays_open(ports, monkeypatch):
    class Sound:
        closed = False

        def close(self) -> None:
            self.closed = True

    sound = Sound()
    monkeypatch.setattr(sound_device, "open_sound_click", lambda settings, clock: sound)
    with pytest.raises(Unavailable, match="no MIDI output port") as caught:
        open_click(ClickSettings(output=ClickWay.SOUND, port="gone", send_clock=True), SimulatedClock())
    assert caught.value.allowed == "there are: 'Synth'"
    assert sound.closed


def wishes_of(*arguments: str) -> ClickWishes:
    found: list[ClickWishes] = []

    @click.command()
    @click_options
    def command(**options) -> None:
        found.append(click_wishes(**options))

    result = CliRunner().invoke(command, arguments)
    if result.exit_code:
        raise ValueError(result.output)
    return found[0]


def test_what_the_command_line_says_lies_over_the_settings():
    settings = ClickSettings(output=ClickWay.SOUND, port="Drums", volume_percent=5, send_clock=True)
    assert wishes_of().over(settings) == settings
    assert wishes_of("--click", "off").over(settings).output is ClickWay.OFF
    over = wishes_of("--click", "midi", "--click-port", "Bells", "--no-send-clock").over(settings)
    assert (over.output, over.port, over.send_clock) == (ClickWay.MIDI, "Bells", False)
    assert wishes_of("--volume", "0").over(settings).volume_percent == 0


def test_a_port_alone_means_a_click_on_it_and_with_the_clock_only_the_clock():
    over = wishes_of("--click-port", "Bells").over(ClickSettings())
    assert (over.output, over.port) == (ClickWay.MIDI, "Bells")
    over = wishes_of("--click-port", "Bells", "--send-clock").over(ClickSettings())
    assert (over.output, over.send_clock) == (ClickWay.OFF, True)


@pytest.mark.parametrize(
    ("arguments", "allowed"),
    [(("--click", "loud"), "'off', 'midi', 'sound'"), (("--volume", "101"), "0<=x<=100")],
)
def test_a_value_that_is_not_allowed_is_told(arguments, allowed):
    with pytest.raises(ValueError, match=allowed):
        wishes_of(*arguments)
