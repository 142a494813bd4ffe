"""Runs in tempo, live: the beat, who is early or late, pauses with a new count-in, and the take of it all."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.gear.guitar import SignalBinding
from midifret.session.around import Finished
from midifret.session.conductor import LEAD_S
from midifret.session.recorded import judge_take
from midifret.session.screen import Stage
from midifret.tempo import ClickKind
from midifret.terms import Answer, Exercise, Place, Tempo, TimedMessage, Verdict
from midifret.terms.control import Control
from midifret.terms.marks import CuePoint, Mark, MarkKind

from .test_live import GUITAR, Script, exercise, play, setting

ASKED = ("6:5", "5:5", "4:5", "3:5", "2:5", "1:5")
TEMPO = Tempo(
    120.0
)  # a beat each half second, four to count in: the first note is due 2.25 s after the start
FIRST_S = LEAD_S + 4 * 0.5
GIVE_UP_S = 30.0


def in_tempo(*asked: str, tempo: Tempo = TEMPO) -> Exercise:
    return replace(exercise(*asked), tempo=tempo)


def due_s(n: int) -> float:
    return FIRST_S + (n - 1) * 0.5


def on_the_beat(script: Script, *, late_s: float = 0.0, leave_out: int = 0) -> None:
    for n, place in enumerate(ASKED, start=1):
        if n != leave_out:
            script.pluck(due_s(n) + late_s, place)


def verdicts(finished: Finished) -> list[Verdict]:
    return [answer.verdict for answer in finished.answers]


def judged_again(asked: Exercise, script: Script) -> tuple[Answer, ...]:
    answers, _ = judge_take(
        asked,
        GUITAR,
        [TimedMessage(time_s, data) for time_s, data in script.messages],
        cues=[CuePoint(n, time_s) for n, time_s in script.cues.items()],
        marks=[Mark(kind, time_s) for kind, time_s in script.marks],
        dues=list(script.dues.values()),
        end_s=GIVE_UP_S,
    )
    return answers


def test_each_note_on_its_beat_is_right_and_its_lateness_is_told() -> None:
    asked = in_tempo(*ASKED)
    finished, script = play(setting(asked, countdown_s=0), lambda script: on_the_beat(script, late_s=0.02))
    assert verdicts(finished) == [Verdict.RIGHT] * 6
    assert [answer.late_ms for answer in finished.answers] == pytest.approx([20.0] * 6, abs=0.01)
    assert [answer.due_s for answer in finished.answers] == pytest.approx([due_s(n) for n in range(1, 7)])
    assert all(answer.response_s is None and answer.recall is None for answer in finished.answers)
    assert not finished.ended_early
    assert judged_again(asked, script) == finished.answers


def test_it_clicks_four_to_count_in_and_on_each_beat() -> None:
    _, script = play(setting(in_tempo(*ASKED), countdown_s=0), on_the_beat)
    times_s = [click.time_s for _, click in script.clicked]
    assert times_s == pytest.approx([LEAD_S + n * 0.5 for n in range(10)])
    assert [click.kind for _, click in script.clicked[:5]] == [
        ClickKind.BAR,
        *[ClickKind.BEAT] * 3,
        ClickKind.BAR,
    ]
    assert all(0 <= at_s - click.time_s <= 0.006 for at_s, click in script.clicked)  # a turn of the loop


def test_the_screen_counts_in_and_shows_the_beat() -> None:
    _, script = play(setting(in_tempo(*ASKED), countdown_s=0), on_the_beat)
    beats = [screen.beat for screen in script.screens if screen.beat is not None]
    counted = [beat.counts_in for beat in beats if beat.struck and beat.counts_in]
    assert list(dict.fromkeys(counted)) == [4, 3, 2, 1]
    assert {beat.number for beat in beats} == {1, 2, 3, 4}
    assert script.screens[-1].stage is Stage.ENDED


def test_outside_its_window_a_note_is_missed_and_told_by_how_much() -> None:
    # At 120 a quarter of the time between two notes is 125 ms.
    def prepare(script: Script) -> None:
        on_the_beat(script, leave_out=3)
        script.pluck(due_s(3) + 0.2, "4:5")

    finished, script = play(setting(in_tempo(*ASKED), countdown_s=0), prepare)
    third = finished.answers[2]
    assert verdicts(finished) == [Verdict.RIGHT] * 2 + [Verdict.MISSED] + [Verdict.RIGHT] * 3
    assert third.late_ms == pytest.approx(200.0, abs=0.01)
    assert third.played is not None
    assert third.answer_s is None
    assert judged_again(in_tempo(*ASKED), script) == finished.answers


def test_a_habit_of_being_late_moves_the_windows() -> None:
    # 100 ms late from the start is inside; the slide to 160 would be outside windows that stayed.
    def prepare(script: Script) -> None:
        for n, place in enumerate(ASKED, start=1):
            script.pluck(due_s(n) + 0.1 + 0.012 * (n - 1), place)

    finished, script = play(setting(in_tempo(*ASKED), countdown_s=0), prepare)
    assert finished.answers[5].late_ms == pytest.approx(160.0, abs=0.01)
    assert verdicts(finished) == [Verdict.RIGHT] * 6
    assert judged_again(in_tempo(*ASKED), script) == finished.answers


def test_a_wrong_place_in_time_is_judged_by_its_place_and_may_be_corrected() -> None:
    def prepare(script: Script) -> None:
        on_the_beat(script, leave_out=2)
        script.pluck(due_s(2), "5:6")
        script.pluck(due_s(2) + 0.08, "5:5")

    finished, _ = play(setting(in_tempo(*ASKED), countdown_s=0), prepare)
    second = finished.answers[1]
    assert second.verdict is Verdict.FRET_OFF
    assert [note.place for note in second.corrections] == [Place(5, 5)]


def test_a_pause_counts_in_again_and_asks_what_was_left() -> None:
    def prepare(script: Script) -> None:
        for n in (1, 2):
            script.pluck(due_s(n), ASKED[n - 1])
        script.to_press += [(due_s(2) + 0.2, " "), (10.0, " ")]
        for n in (3, 4, 5, 6):
            script.pluck(10.0 + FIRST_S + (n - 3) * 0.5, ASKED[n - 1])

    finished, script = play(setting(in_tempo(*ASKED), countdown_s=0), prepare)
    assert verdicts(finished) == [Verdict.RIGHT] * 6
    assert finished.answers[2].due_s == pytest.approx(10.0 + FIRST_S, abs=0.011)
    assert [kind for kind, _ in script.marks] == [MarkKind.PAUSE, MarkKind.RESUME]
    assert judged_again(in_tempo(*ASKED), script) == finished.answers
    paused = [at_s for at_s, _ in script.clicked if due_s(2) + 0.21 < at_s < 10.0]
    assert not paused


def test_quitting_keeps_what_was_played() -> None:
    def prepare(script: Script) -> None:
        on_the_beat(script)
        script.to_press.append((due_s(3) + 0.2, "q"))

    finished, script = play(setting(in_tempo(*ASKED), countdown_s=0), prepare)
    assert finished.ended_early
    assert verdicts(finished) == [Verdict.RIGHT] * 3
    assert judged_again(in_tempo(*ASKED), script) == finished.answers


def test_a_guitar_that_goes_takes_back_what_was_missed_since() -> None:
    def prepare(script: Script) -> None:
        for n in (1, 2):
            script.pluck(due_s(n), ASKED[n - 1])
        script.unplugged.append((due_s(2) + 0.3, due_s(2) + 5.0))
        back_s = due_s(2) + 5.0
        script.to_press.append((back_s + 1.0, " "))
        for n in (3, 4, 5, 6):
            script.pluck(back_s + 1.0 + FIRST_S + (n - 3) * 0.5, ASKED[n - 1])

    finished, script = play(setting(in_tempo(*ASKED), countdown_s=0), prepare)
    assert verdicts(finished) == [Verdict.RIGHT] * 6
    assert judged_again(in_tempo(*ASKED), script) == finished.answers


def test_a_signal_counts_for_nothing_in_the_take_either() -> None:
    """Notes of a signal that had not been told of yet: one outside its window, one whose prompt is open."""
    asked = in_tempo("6:5", "1:0", "6:0", "5:5")

    def prepare(script: Script) -> None:
        script.pluck(due_s(1), "6:5")
        script.pluck(due_s(3) - 0.03, "1:0")  # the signal: 1 and 6 at once
        script.pluck(due_s(3) + 0.03, "6:0")
        script.to_press.append((due_s(3) + 1.0, "q"))

    finished, script = play(setting(asked, countdown_s=0), prepare)
    assert [kind for kind, _ in script.marks][:2] == [MarkKind.SIGNAL, MarkKind.SIGNAL]
    assert judged_again(asked, script) == finished.answers


def test_two_strings_that_would_skip_are_notes_like_others() -> None:
    """In tempo nothing is skipped; so the two notes of that order, on their beats, count."""
    skips = replace(GUITAR, signals=(SignalBinding(Control.NEXT, (Place(6, 0), Place(2, 0))),))
    fast = replace(TEMPO, tempo_bpm=200.0, notes_a_beat=4)  # a note each 75 ms; the order takes 80
    asked = in_tempo("6:0", "2:0", "5:5", "4:5", tempo=fast)
    first_s = LEAD_S + 4 * 0.3

    def prepare(script: Script) -> None:
        for n, place in enumerate(("6:0", "2:0")):
            script.pluck(first_s + n * 0.075, place)
        for n, place in enumerate(("5:5", "4:5"), start=2):
            script.pluck(first_s + n * 0.075 + 0.01, place)

    finished, _ = play(replace(setting(asked, countdown_s=0), guitar=skips), prepare)
    assert verdicts(finished) == [Verdict.RIGHT] * 4


@given(
    steps=st.lists(
        st.tuples(
            st.floats(0.004, 0.9),
            st.sampled_from([*ASKED, "6:0", "5:6"]),
            st.sampled_from(["pluck", "pluck", "pluck", "soft", "space"]),
        ),
        max_size=12,
    ),
    per_beat=st.sampled_from([1, 2]),
    quits=st.booleans(),
)
@settings(max_examples=150, deadline=None)
def test_live_and_recorded_agree(steps: list[tuple[float, str, str]], per_beat: int, quits: bool) -> None:
    asked = in_tempo(*ASKED, tempo=replace(TEMPO, notes_a_beat=per_beat))

    def prepare(script: Script) -> None:
        time_s = 2.0
        for gap_s, place, action in steps:
            time_s += max(gap_s, 0.1) if action == "space" else gap_s
            if action == "space":
                script.to_press.append((time_s, " "))
                time_s += 0.1
            else:
                script.pluck(time_s, place, velocity=12 if action == "soft" else 80)
        if quits:
            script.to_press.append((time_s + 0.5, "q"))

    finished, script = play(setting(asked, countdown_s=0), prepare, give_up_s=GIVE_UP_S)
    assert judged_again(asked, script) == finished.answers
