"""Beats are due where the tempo says; slow ones are divided; a note belongs to the nearest."""

import itertools
import math

import pretty_midi
import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.tempo import LEAST_BPM, MOST_BPM, Beats, ClickKind, Window, subdivisions_for
from midifret.terms import BadInput

TEMPOS = st.floats(LEAST_BPM, MOST_BPM)


@pytest.mark.parametrize("tempo_bpm", [12, 30, 60, 97, 133.3, 208, 400])
def test_beats_are_due_where_another_library_has_them(tempo_bpm: float) -> None:
    # pretty_midi works out the beats of a file from its tempo; a file holds whole microseconds a beat.
    song = pretty_midi.PrettyMIDI(initial_tempo=tempo_bpm)
    piano = pretty_midi.Instrument(program=0)
    piano.notes.append(pretty_midi.Note(velocity=64, pitch=60, start=0, end=40))
    song.instruments.append(piano)
    theirs_s = list(song.get_beats())
    assert len(theirs_s) >= 8
    ours_s = [click.time_s for click in Beats(tempo_bpm, parts=1).clicks(len(theirs_s))]
    assert ours_s == pytest.approx(theirs_s, abs=1e-3)


@pytest.mark.parametrize(
    ("tempo_bpm", "parts"),
    [(400, 1), (60, 1), (30, 1), (29.9, 2), (20, 2), (15, 2), (14.9, 4), (10, 4)],
)
def test_below_30_bpm_the_beat_is_divided(tempo_bpm: float, parts: int) -> None:
    # Repp & Doggett 2007: over 2 s apart, answers turn into reactions; 30 bpm is 2 s a beat.
    assert subdivisions_for(tempo_bpm) == parts


@given(TEMPOS)
def test_clicks_are_never_more_than_two_seconds_apart(tempo_bpm: float) -> None:
    times_s = [click.time_s for click in Beats(tempo_bpm, start_s=100, count_in=4).clicks(8)]
    assert all(0 < b - a <= 2.0 + 1e-9 for a, b in itertools.pairwise(times_s))


def test_the_count_in_comes_before_and_bars_are_marked() -> None:
    # 120 bpm: a beat is 0.5 s [calc].
    clicks = list(Beats(120, start_s=10, count_in=3, a_bar=3).clicks(4))
    assert [click.time_s for click in clicks] == [8.5, 9.0, 9.5, 10.0, 10.5, 11.0, 11.5]
    assert [click.beat for click in clicks] == [-3, -2, -1, 0, 1, 2, 3]
    assert [click.counts_in for click in clicks] == [True] * 3 + [False] * 4
    bar, beat = ClickKind.BAR, ClickKind.BEAT
    assert [click.kind for click in clicks] == [bar, beat, beat, bar, beat, beat, bar]


def test_a_divided_beat_has_its_parts_between() -> None:
    # 20 bpm: a beat is 3 s, divided in two [calc].
    clicks = list(Beats(20, start_s=5).clicks(2))
    assert [(c.time_s, c.beat, c.part) for c in clicks] == [(5, 0, 0), (6.5, 0, 1), (8, 1, 0), (9.5, 1, 1)]
    assert [c.kind for c in clicks] == [
        ClickKind.BAR,
        ClickKind.SUBDIVISION,
        ClickKind.BEAT,
        ClickKind.SUBDIVISION,
    ]


def test_no_error_grows_over_an_hour() -> None:
    beats = Beats(133, start_s=1)
    *_, last = beats.clicks(133 * 60 + 1)
    assert last.time_s == pytest.approx(3601, abs=1e-9)


@given(TEMPOS, st.integers(1, 4), st.integers(0, 2000), st.floats(-0.499, 0.499))
def test_a_note_within_half_the_distance_belongs_to_its_due_note(
    tempo_bpm: float, notes_a_beat: int, due: int, off: float
) -> None:
    beats = Beats(tempo_bpm, start_s=50, notes_a_beat=notes_a_beat)
    hit = beats.nearest(beats.due_s(due) + off * beats.between_s)
    assert hit.due == due
    assert hit.due_s == beats.due_s(due)
    assert hit.late_ms == pytest.approx(off * 60_000 / tempo_bpm / notes_a_beat, abs=1e-6)


def test_half_way_is_early_for_the_later_one_and_nothing_comes_before_the_first() -> None:
    beats = Beats(60, start_s=10)
    assert (beats.nearest(12.5).due, beats.nearest(12.5).late_ms) == (3, -500)
    assert (beats.nearest(8.0).due, beats.nearest(8.0).late_ms) == (0, -2000)


def test_the_narrower_window_holds() -> None:
    # 60 bpm: 50 ms are less than a quarter of a beat, 250 ms; at 400 bpm that is 37.5 ms [calc].
    window = Window(within_ms=50, share_of_beat=0.25)
    slow, fast = Beats(60), Beats(400)
    assert window.half_ms(slow.between_s) == 50
    assert window.half_ms(fast.between_s) == pytest.approx(37.5)
    assert slow.in_window(slow.nearest(2.050), window)
    assert not slow.in_window(slow.nearest(2.051), window)
    assert slow.in_window(slow.nearest(1.950), window)
    assert not fast.in_window(fast.nearest(0.15 + 0.038), window)


@pytest.mark.parametrize("tempo_bpm", [9.9, 0, -60, 400.5, math.inf, math.nan])
def test_a_tempo_out_of_range_is_refused(tempo_bpm: float) -> None:
    for refuse in (Beats, subdivisions_for):
        with pytest.raises(BadInput, match=r"10 to 400 bpm"):
            refuse(tempo_bpm)


def test_bad_values_are_named() -> None:
    for bad in (math.nan, math.inf, -0.001, 1.8e9):  # the last is a date of 2027
        with pytest.raises(BadInput, match="a note cannot be at"):
            Beats(60).nearest(bad)
    with pytest.raises(BadInput, match=r"the first beat cannot be at -1 s"):
        Beats(60, start_s=-1)
    with pytest.raises(BadInput, match=r"17 beats of count-in .*0 to 16"):
        Beats(60, start_s=99, count_in=17)
    with pytest.raises(BadInput, match=r"no room for 4 beats .*4 s or later"):
        Beats(60, start_s=3.9, count_in=4)
    with pytest.raises(BadInput, match=r"0.6 of a beat .*at most 0.5"):
        Window(share_of_beat=0.6)
    with pytest.raises(BadInput, match=r"more than 0 ms"):
        Window(within_ms=0)
