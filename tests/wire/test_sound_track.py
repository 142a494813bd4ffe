"""Clicks in a stream of samples: each at its sample, whatever the sound card and the interpreter do."""

import random
from array import array

import pytest
from scipy.signal import periodogram

from midifret.tempo import Beats, Click, ClickKind
from midifret.wire.click import LATEST_S
from midifret.wire.sound_track import CLICK_S, ClickTrack, SampleLine, click_samples

RATE_HZ = 48_000


class Card:
    """A sound card with a clock of its own, which asks for blocks late and says so late.

    zero_s: when its sample 0 is heard, really. rate_hz: its true rate; it says RATE_HZ.
    """

    def __init__(
        self, *, zero_s: float = 1.0, rate_hz: float = RATE_HZ, frames: int = 480, seed: int = 0
    ) -> None:
        self.zero_s = zero_s
        self.rate_hz = rate_hz
        self.frames = frames
        self.sample = 0
        self.heard: list[float] = []
        self.random = random.Random(seed)

    def heard_s(self, sample: int) -> float:
        return self.zero_s + sample / self.rate_hz

    def play(self, track: ClickTrack, to_s: float, *, late_s: float = 0.0, channels: int = 1) -> None:
        """Ask for blocks up to a time; each claim is late by up to late_s, one in three by nearly nothing."""
        while self.heard_s(self.sample) < to_s:
            late = self.random.choice((0.0, 0.5, 1.0)) * late_s
            block = array("f")
            block.frombytes(track.block(self.frames, self.heard_s(self.sample) + late))
            assert len(block) == self.frames * channels
            self.heard.extend(block)
            self.sample += self.frames

    def begins_s(self) -> list[float]:
        """When sounds began, as heard. A click's first sample is 0: it is one before the first heard."""
        found, silent = [], RATE_HZ
        for n, sample in enumerate(self.heard):
            if sample and silent >= RATE_HZ // 1000:
                found.append(self.heard_s(n - 1))
            silent = 0 if sample else silent + 1
        return found


def track_of(channels: int = 1, volume_percent: float = 50) -> ClickTrack:
    return ClickTrack(RATE_HZ, channels, volume_percent)


@pytest.mark.parametrize("kind", ClickKind)
@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 48_000, 96_000])
def test_a_click_is_short_begins_and_ends_in_silence_and_is_no_louder_than_said(kind, rate_hz):
    samples = click_samples(kind, rate_hz, 40)
    share = {ClickKind.BAR: 1.0, ClickKind.BEAT: 0.8, ClickKind.SUBDIVISION: 0.5}[kind]
    assert max(map(abs, samples)) == pytest.approx(0.4 * share)
    assert samples[0] == 0
    assert abs(samples[-1]) < 1e-9
    assert len(samples) / rate_hz <= CLICK_S < 60 / 400 / 8  # before the next at the fastest [calc]
    loudest = max(range(len(samples)), key=lambda n: abs(samples[n]))
    assert loudest / rate_hz <= 0.001  # the ear's mark of the beat is its beginning
    assert click_samples(kind, rate_hz, 0) == tuple(0 for _ in samples)


def test_the_kinds_differ_in_pitch_and_lie_above_every_fret():
    heard_hz = {}
    for kind in ClickKind:
        samples = [*click_samples(kind, RATE_HZ, 100), *[0.0] * RATE_HZ]
        tones_hz, power = periodogram(samples, RATE_HZ)
        heard_hz[kind] = tones_hz[power.argmax()]
    highest_hz = 440 * 2 ** ((64 + 24 - 69) / 12)  # fret 24 of an E4 string; ISO 16: A4 = 440 Hz
    assert highest_hz < heard_hz[ClickKind.SUBDIVISION] < heard_hz[ClickKind.BEAT] < heard_hz[ClickKind.BAR]


@pytest.mark.parametrize("frames", [16, 64, 480, 1024, 4096])
def test_each_click_is_heard_at_its_sample_whatever_the_blocks(frames):
    card, track = Card(frames=frames), track_of()
    beats = Beats(137, 1.5, parts=4)
    track.plan(beats.clicks(8))
    card.play(track, 6.0)
    planned_s = [click.time_s for click in beats.clicks(8)]
    assert card.begins_s() == pytest.approx(planned_s, abs=0.51 / RATE_HZ)  # to the nearest sample
    figures = track.tally.figures()
    assert (figures.sent, figures.skipped) == (32, 0)
    assert figures.late_most_ms == 0


@pytest.mark.parametrize("seed", range(5))
def test_calls_that_are_held_up_do_not_move_clicks(seed):
    card, track = Card(seed=seed), track_of()
    beats = Beats(240, 2.0)
    track.plan(beats.clicks(40))
    card.play(track, 13.0, late_s=0.02)
    for heard_s, click in zip(card.begins_s(), beats.clicks(40), strict=True):
        assert abs(heard_s - click.time_s) < 1 / RATE_HZ


@pytest.mark.parametrize("parts_in_a_million", [-100, 100])
def test_a_card_whose_clock_is_off_is_followed(parts_in_a_million):
    card = Card(rate_hz=RATE_HZ * (1 + parts_in_a_million / 1e6), frames=1024)
    track = track_of()
    beats = Beats(60, 2.0)
    track.plan(beats.clicks(120))
    card.play(track, 122.0)
    # In two minutes the card is off by 12 ms; what is left is the drift within the claims that are kept, 2 s,
    # and a block [calc].
    worst_s = max(
        abs(heard_s - click.time_s) for heard_s, click in zip(card.begins_s(), beats.clicks(120), strict=True)
    )
    assert worst_s < (2.0 + 1024 / RATE_HZ) * 1e-4 + 1 / RATE_HZ


def test_after_a_gap_what_was_claimed_before_is_forgotten():
    card, track = Card(), track_of()
    track.plan([Click(1.5, ClickKind.BAR, 0, 0), Click(2.0, ClickKind.BEAT, 1, 0)])
    card.play(track, 1.7)
    card.zero_s += 0.07  # the card ran dry for 70 ms
    track.line.forget()
    card.play(track, 2.3)
    assert track.tally.figures().sent == 2
    first_s, second_s = card.begins_s()
    assert first_s - 0.07 == pytest.approx(1.5, abs=1 / RATE_HZ)  # begins_s reckons with the new zero
    assert second_s == pytest.approx(2.0, abs=1 / RATE_HZ)


def test_a_click_planned_too_late_sounds_at_once_or_not_at_all_and_is_counted():
    card, track = Card(), track_of()
    card.play(track, 2.0)
    now_s = card.heard_s(card.sample)
    track.plan(
        [Click(now_s - LATEST_S - 0.01, ClickKind.BAR, 0, 0), Click(now_s - 0.02, ClickKind.BEAT, 1, 0)]
    )
    card.play(track, 2.5)
    assert card.begins_s() == pytest.approx([now_s], abs=1 / RATE_HZ)
    figures = track.tally.figures()
    assert (figures.sent, figures.skipped) == (1, 1)
    assert figures.late_most_ms == pytest.approx(20, abs=0.05)


def test_silence_breaks_off_what_sounds_and_forgets_what_was_planned():
    card, track = Card(frames=96), track_of()  # 2 ms: a click goes over nine blocks
    track.plan(Beats(60, 1.5).clicks(5))
    card.play(track, 1.504)
    assert any(card.heard[-96:])
    track.silence()
    count = len(card.heard)
    card.play(track, 7.0)
    assert not any(card.heard[count:])
    track.plan([Click(7.5, ClickKind.BAR, 0, 0)])
    card.play(track, 8.0)
    assert card.begins_s()[-1] == pytest.approx(7.5, abs=1 / RATE_HZ)


def test_both_ears_get_the_same_and_nothing_is_louder_than_the_volume():
    card, track = Card(), track_of(channels=2, volume_percent=30)
    track.plan(Beats(400, 1.2, parts=8).clicks(20))
    card.play(track, 4.0, channels=2)
    assert card.heard[0::2] == card.heard[1::2]
    assert max(map(abs, card.heard)) == pytest.approx(0.3)


def test_the_line_takes_the_earliest_claim_of_the_last_seconds():
    line = SampleLine(1000)
    line.add(0, 5.0)
    line.add(1000, 6.2)  # held up by 0.2 s
    assert line.heard_s(1000) == pytest.approx(6.0)
    assert line.sample_at(6.5) == 1500
    line.add(2500, 7.6)  # the first is older than 2 s now
    assert line.heard_s(2500) == pytest.approx(7.6)
    line.forget()
    line.add(3000, 9.0)
    assert line.heard_s(3000) == pytest.approx(9.0)
