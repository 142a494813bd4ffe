"""Readings on the beat of another device: its bars, pick-ups, meters in threes, a tempo that changes."""

from dataclasses import replace
from fractions import Fraction

import pytest

from midifret.clock import SimulatedClock
from midifret.reading.build import reading_exercise
from midifret.session.followed_reading import FollowedReading
from midifret.session.live import LiveRun
from midifret.show.keys import control_for
from midifret.tempo import Stretch, clock_messages
from midifret.terms import Exercise, Tempo, Verdict
from midifret.terms.marks import DuePoint
from midifret.terms.score import MeterChange, Score
from tests.reading.simulated import NECK, score_of

from .test_conductor import Device
from .test_live import POLL_S, Script, _view, setting
from .test_reading import judged_again, where


def in_tempo(score: Score, count_in: int = 4) -> Exercise:
    return replace(reading_exercise(score, NECK, 5), tempo=Tempo(60.0, count_in=count_in))


def follow(
    asked: Exercise, stretches: list[Stretch], *, until_s: float, begin_s: float = 1.2, n: int = 1
) -> tuple[FollowedReading, dict[int, DuePoint], dict[int, float]]:
    """Turn it each 2 ms; return the last word on each prompt, and when it came. The song begins at 1 s."""
    conductor = FollowedReading(asked, Device(list(clock_messages(stretches, start_s=1.0))))
    told: dict[int, DuePoint] = {}
    when: dict[int, float] = {}
    begun = False
    for step in range(round(until_s / 0.002)):
        now_s = step * 0.002
        if not begun and now_s >= begin_s:
            conductor.begin(now_s, n)
            begun = True
        for due in conductor.turn(now_s):
            told[due.n], when[due.n] = due, now_s
    return conductor, told, when


def test_uneven_onsets_fall_on_the_devices_quarters() -> None:
    # At 120 a quarter is half a second, a bar two; the song begins at 1 s, the next bar at 3, and a bar is
    # counted in. A whole bar of rest is gone over too.
    asked = in_tempo(score_of("60 64 - 67", "- - - -", "60+64 62 - -"))
    _, told, when = follow(asked, [Stretch(60, 120)], until_s=12.0)
    assert [told[n].due_s for n in sorted(told)] == pytest.approx([5.0, 5.5, 6.5, 9.0, 9.0, 9.5], abs=0.001)
    assert all(when[n] < told[n].due_s - told[n].half_window_s + 0.003 for n in told)
    # A quarter of the half second to the nearer neighbour; of a second it would be more than the 150 ms.
    assert told[1].half_window_s == pytest.approx(0.125)
    assert told[3].half_window_s == pytest.approx(0.15)


def test_a_pick_up_falls_on_its_beat_of_the_bar_and_the_count_in_says_so() -> None:
    asked = in_tempo(score_of("67", "60 62 64 65"))
    conductor, told, _ = follow(asked, [Stretch(60, 120)], until_s=6.1)
    # Counted in from the bar at 3 s, a bar long; the fourth beat of the next bar falls at 6.5 s.
    assert told[1].due_s == pytest.approx(6.5, abs=0.001)
    shown = conductor.beat(6.1)  # the third beat of that bar has been struck at 6 s
    assert shown is not None
    assert (shown.number, shown.a_bar, shown.counts_in) == (3, 4, 1)


def test_six_eighths_go_in_two_beats_of_three() -> None:
    score = replace(
        score_of("60 62 64", "65 67 69"), meters=(MeterChange(Fraction(0), 6, 8),)
    )  # bars of three quarters are bars of six eighths
    conductor, told, _ = follow(in_tempo(score, count_in=2), [Stretch(60, 120)], until_s=7.1)
    # The bar is one and a half seconds: 1, 2.5 (the next after 1.2), counted in to 4.
    assert [told[n].due_s for n in range(1, 7)] == pytest.approx([4.0 + i * 0.5 for i in range(6)], abs=0.001)
    conductor.turn(7.1)
    conductor, _, _ = follow(in_tempo(score, count_in=2), [Stretch(60, 120)], until_s=3.3)
    shown = conductor.beat(3.3)  # a beat is 0.75 s: the second of two counted in
    assert shown is not None
    assert (shown.number, shown.a_bar, shown.counts_in) == (2, 2, 1)
    assert shown.tempo_bpm == pytest.approx(80, rel=0.002)


def test_a_change_of_tempo_moves_what_is_to_come() -> None:
    asked = in_tempo(score_of("60 62 64 65"))
    _, told, _ = follow(asked, [Stretch(10, 120), Stretch(30, 90)], until_s=12.0)
    # Quarter 10 falls at 6 s; from there a quarter takes 60 / 90 s.
    assert [told[n].due_s for n in range(1, 5)] == pytest.approx([5.0, 5.5, 6.0, 6.0 + 2 / 3], abs=0.01)


def test_after_a_pause_it_goes_on_where_the_note_stands_in_its_bar() -> None:
    asked = in_tempo(score_of("60 62 64 65", "67 65 64 62"))
    _, told, _ = follow(asked, [Stretch(60, 120)], until_s=12.0, n=6)
    # Prompt 6 is the second beat of its bar: counted in from 3 s to 5, and on to 5.5.
    assert [told[n].due_s for n in sorted(told)] == pytest.approx([5.5, 6.0, 6.5], abs=0.001)


def test_live_and_recorded_agree_on_a_followed_reading() -> None:
    asked = in_tempo(score_of("60 62 64 65", "67 - 64 62"))
    clock = SimulatedClock()
    script = Script(clock)
    # The song begins at 0.1 s with the run: its first bar counts in, or the one after.
    for n, at in enumerate((0, 1, 2, 3, 4, 6, 7), start=1):
        script.pluck(4.1 + at * 0.5 + 0.03, where(asked, n))
    live = LiveRun(
        setting(asked, countdown_s=0),
        source=script,
        clock=clock,
        recorder=script,
        record=script,
        view=_view(script),
        orders=control_for,
        conductor=FollowedReading(asked, Device(list(clock_messages([Stretch(40, 120)], start_s=0.1)))),
        poll_s=POLL_S,
    )
    finished = live.play()
    assert [answer.verdict for answer in finished.answers] == [Verdict.RIGHT] * 7
    assert [answer.late_ms for answer in finished.answers] == pytest.approx([30.0] * 7, abs=3)
    assert judged_again(asked, script) == finished.answers


def test_what_is_no_reading_in_tempo_has_no_beat() -> None:
    with pytest.raises(ValueError, match="no reading in tempo"):
        FollowedReading(reading_exercise(score_of("60"), NECK, 5), Device([]))
