"""The beat of a reading: bars, pick-ups, meters that change, and the count-in to any note."""

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from midifret.reading.build import reading_exercise
from midifret.session.conductor import LEAD_S
from midifret.session.reading_beat import ScoreBeat, beat_grid, half_windows_s, own_beat
from midifret.tempo import Click, ClickKind
from midifret.terms import BadInput, Exercise, Tempo
from midifret.terms.score import BarStart, MeterChange, Score, ScoreNote
from tests.reading.simulated import NECK, score_of


class Clicking:
    """Keeps what is planned."""

    trouble = ""

    def __init__(self) -> None:
        self.planned: list[Click] = []

    def plan(self, clicks: Iterable[Click]) -> None:
        self.planned = [*clicks]

    def due(self, now_s: float) -> None:
        pass

    def stop(self) -> None:
        self.planned = []


def in_tempo(score: Score, bpm: float = 60.0, **fields: object) -> Exercise:
    return replace(reading_exercise(score, NECK, 5), tempo=Tempo(bpm, **fields))  # type: ignore[arg-type]


def begun(exercise: Exercise, n: int = 1) -> tuple[ScoreBeat, Clicking, list[float]]:
    """Begin at time 0; return also when the prompts from n on are due."""
    clicks = Clicking()
    conductor = ScoreBeat(exercise, clicks)
    conductor.begin(0.0, n)
    return conductor, clicks, [due.due_s for due in conductor.turn(0.0)]


def bars_clicked(clicks: Clicking) -> list[bool]:
    return [click.kind is ClickKind.BAR for click in clicks.planned if click.part == 0]


def test_notes_are_due_by_their_onsets_after_the_count_in() -> None:
    _, clicks, dues = begun(in_tempo(score_of("60 64 - 67", "60 - - -")))
    assert dues == pytest.approx([LEAD_S + 4 + at for at in (0, 1, 3, 4)])
    assert [click.time_s for click in clicks.planned] == pytest.approx([LEAD_S + i for i in range(9)])
    # Four counted in, then a bar of four and the beat on which the music ends.
    assert bars_clicked(clicks) == [True, False, False, False] * 2 + [True]


def test_a_pick_up_falls_on_the_last_beat_of_its_bar() -> None:
    score = score_of("60", "64 65 67 69", "60")
    numbers = [(beat.number, beat.a_bar) for beat in beat_grid(score)]
    assert numbers == [(4, 4), (1, 4), (2, 4), (3, 4), (4, 4), (1, 4)]
    _, clicks, dues = begun(in_tempo(score))
    assert dues[0] == pytest.approx(LEAD_S + 4)
    # Counted in: four, one, two, three; then the pick-up on four, and the bar.
    assert bars_clicked(clicks)[:6] == [False, True, False, False, False, True]


def test_a_note_between_beats_is_counted_in_to_the_beat_before() -> None:
    notes = score_of("60 64 67 69").notes
    moved = replace(notes[1], onset_quarter=Fraction(3, 2))
    score = replace(score_of("60 64 67 69"), notes=(notes[0], moved, *notes[2:]))
    conductor, clicks, dues = begun(in_tempo(score), 2)
    assert dues[0] == pytest.approx(LEAD_S + 4 + 0.5)
    assert bars_clicked(clicks)[:4] == [False, False, False, True]  # two, three, four, one - and two
    beat = conductor.beat(LEAD_S + 4.01)
    assert beat is not None
    assert (beat.number, beat.counts_in, beat.struck) == (2, 0, True)
    counting = conductor.beat(LEAD_S + 0.5)
    assert counting is not None
    assert (counting.number, counting.counts_in, counting.struck) == (2, 4, False)
    assert conductor.beat(0.0) is None


def test_six_eight_goes_in_two_and_another_meter_keeps_the_quarter() -> None:
    # A bar of 6/8, then one of 3/4: the tempo counts dotted quarters, a quarter lasts two thirds of one.
    eighth = Fraction(1, 2)
    pitches = (60, 62, 64, 65, 67, 69, 60, 64, 67)
    onsets = [eighth * i for i in range(6)] + [3 + Fraction(i) for i in range(3)]
    base = score_of("60").notes[0]
    notes = tuple(
        replace(base, n=n, onset_quarter=onset, midi=midi, duration_quarter=eighth)
        for n, (onset, midi) in enumerate(zip(onsets, pitches, strict=True), start=1)
    )
    score = Score(
        "",
        "",
        "",
        notes,
        meters=(MeterChange(Fraction(0), 6, 8), MeterChange(Fraction(3), 3, 4)),
        bars=(BarStart(Fraction(0), "1"), BarStart(Fraction(3), "2")),
    )
    assert [(float(b.onset_quarter), b.number, b.a_bar) for b in beat_grid(score)] == [
        (0, 1, 2),
        (1.5, 2, 2),
        (3, 1, 3),
        (4, 2, 3),
        (5, 3, 3),
    ]
    _, _, dues = begun(in_tempo(score, 60.0))
    since = [due - dues[0] for due in dues]
    assert since == pytest.approx([i / 3 for i in range(6)] + [2 + i * 2 / 3 for i in range(3)])


def test_a_window_is_a_share_of_the_way_to_the_nearer_note() -> None:
    # At a quarter of a second the shares are 0.25; the last lies a whole note after the one before.
    notes = score_of("60 64").notes
    close: ScoreNote = replace(notes[0], n=2, onset_quarter=Fraction(1, 4), midi=62)
    far = replace(notes[1], n=3, onset_quarter=Fraction(17, 4))
    score = replace(score_of("60 64"), notes=(notes[0], close, far))
    exercise = in_tempo(score, within_ms=150.0)
    assert half_windows_s(exercise, 1.0) == pytest.approx([0.0625, 0.0625, 0.15])


def test_below_thirty_the_beat_is_divided() -> None:
    # Repp & Doggett 2007 (facts): over 2 s apart people react instead of meeting a click.
    _, clicks, _ = begun(in_tempo(score_of("60 64"), 24.0))
    assert {click.part for click in clicks.planned} == {0, 1}
    times = [click.time_s for click in clicks.planned]
    assert all(later - earlier <= 2.0 for earlier, later in pairwise(times))


def test_what_has_no_beat_is_refused() -> None:
    with pytest.raises(BadInput):
        ScoreBeat(in_tempo(score_of("60"), 5000.0), Clicking())
    with pytest.raises(ValueError, match="no reading in tempo"):
        ScoreBeat(reading_exercise(score_of("60"), NECK, 5), Clicking())
    assert isinstance(own_beat(in_tempo(score_of("60")), Clicking()), ScoreBeat)
