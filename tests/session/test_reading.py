"""Readings, live: the cursor waits and follows, in tempo the beat goes on, and the take says the same."""

from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from midifret.reading.build import reading_exercise
from midifret.session.around import Finished
from midifret.session.conductor import LEAD_S
from midifret.session.recorded import judge_take
from midifret.session.screen import Stage
from midifret.tempo import ClickKind
from midifret.terms import Answer, Exercise, Place, Tempo, TimedMessage, Verdict
from midifret.terms.marks import CuePoint, Mark, MarkKind
from tests.reading.simulated import score_of

from .test_live import GUITAR, NECK, Script, play, setting

# In position V, strings 4 to 1 at fret 5 are G C E A (facts: rows): MIDI 55 60 64 69 [calc].
BARS = ("55 60 64 69", "64 60 57 55", "55+60 62 64+69 67")
FIRST_S = 3.0  # after the countdown


def free() -> Exercise:
    return reading_exercise(score_of(*BARS), NECK, 5)


def where(exercise: Exercise, n: int) -> str:
    return str(exercise.prompts[n - 1].places[0])


def rightly(
    script: Script, exercise: Exercise, ns: list[int], *, start_s: float, each_s: float = 0.5
) -> float:
    """Pluck these prompts one after the other; return when the next would come."""
    for number, n in enumerate(ns):
        script.pluck(start_s + number * each_s, where(exercise, n))
    return start_s + len(ns) * each_s


def judged_again(asked: Exercise, script: Script, end_s: float = 60.0) -> tuple[Answer, ...]:
    answers, _ = judge_take(
        asked,
        GUITAR,
        [TimedMessage(time_s, data) for time_s, data in script.messages],
        cues=[CuePoint(n, time_s) for n, time_s in script.cues.items()],
        marks=[Mark(kind, time_s) for kind, time_s in script.marks],
        dues=list(script.dues.values()),
        end_s=end_s,
    )
    return answers


def verdicts(finished: Finished) -> list[str]:
    return [answer.verdict.value for answer in finished.answers]


def test_played_through_all_is_right_and_kept() -> None:
    asked = free()
    finished, script = play(
        setting(asked), lambda s: void(rightly(s, asked, list(range(1, 15)), start_s=FIRST_S + 1))
    )
    assert verdicts(finished) == ["right"] * 14
    assert not finished.ended_early
    assert script.answers == {answer.n: answer for answer in finished.answers}
    assert judged_again(asked, script) == finished.answers
    # What was read ahead has no response time, and so no recall time.
    assert all(a.cue_s is None and a.response_s is None and a.recall is None for a in finished.answers)


def test_the_cursor_waits_at_a_wrong_note_and_the_first_try_counts() -> None:
    asked = free()

    def prepare(script: Script) -> None:
        at_s = rightly(script, asked, [1, 2], start_s=FIRST_S + 1)
        script.pluck(at_s, "2:6")  # one fret too high
        rightly(script, asked, list(range(3, 15)), start_s=at_s + 1)

    finished, script = play(setting(asked), prepare)
    third = finished.answers[2]
    assert verdicts(finished) == ["right"] * 2 + ["fret-off"] + ["right"] * 11
    assert [note.place for note in third.corrections] == [Place.parse(where(asked, 3))]
    waiting = [
        s.prompt.n for s in script.screens if s.prompt and s.last and s.last.verdict is Verdict.FRET_OFF
    ]
    assert set(waiting) == {3}
    assert judged_again(asked, script) == finished.answers


def test_a_player_who_goes_on_after_a_wrong_note_is_followed() -> None:
    asked = free()

    def prepare(script: Script) -> None:
        at_s = rightly(script, asked, [1, 2], start_s=FIRST_S + 1)
        script.pluck(at_s, "6:8")
        rightly(script, asked, list(range(4, 15)), start_s=at_s + 0.5)

    finished, script = play(setting(asked), prepare)
    assert verdicts(finished) == ["right"] * 2 + ["wrong"] + ["right"] * 11
    assert finished.answers[2].corrections == ()
    assert judged_again(asked, script) == finished.answers


def test_the_right_pitch_at_another_place_is_elsewhere_and_the_music_goes_on() -> None:
    asked = free()

    def prepare(script: Script) -> None:
        script.pluck(FIRST_S + 1, "3:0")  # G on the open third string, not at 4:5
        rightly(script, asked, list(range(2, 15)), start_s=FIRST_S + 1.5)

    finished, script = play(setting(asked), prepare)
    assert verdicts(finished) == ["elsewhere"] + ["right"] * 13
    assert judged_again(asked, script) == finished.answers


def test_a_take_that_breaks_off_has_no_answers_behind_its_last_note() -> None:
    asked = free()

    def prepare(script: Script) -> None:
        rightly(script, asked, [1, 2, 3], start_s=FIRST_S + 1)
        script.to_press.append((9.0, "q"))

    finished, script = play(setting(asked), prepare)
    assert verdicts(finished) == ["right"] * 3
    assert finished.ended_early
    script.marks.clear()  # as in a recording of somebody else, which ends somewhere
    assert judged_again(asked, script) == finished.answers


def test_a_restart_from_an_earlier_bar_is_followed_and_changes_no_verdict() -> None:
    asked = free()

    def prepare(script: Script) -> None:
        at_s = rightly(script, asked, [1, 2, 3, 4, 5, 6], start_s=FIRST_S + 1)
        script.pluck(at_s, "6:8")  # wrong; then all from the beginning
        rightly(script, asked, list(range(1, 15)), start_s=at_s + 2)

    finished, script = play(setting(asked), prepare)
    assert verdicts(finished) == ["right"] * 6 + ["wrong"] + ["right"] * 7
    again = [s.prompt.n for s in script.screens if s.prompt is not None]
    assert again != sorted(again)  # the cursor went back
    assert judged_again(asked, script) == finished.answers


def test_a_chord_is_right_in_any_order_and_what_is_left_out_of_it_was_missed() -> None:
    asked = free()

    def prepare(script: Script) -> None:
        at_s = rightly(script, asked, list(range(1, 9)), start_s=FIRST_S + 1)
        script.pluck(at_s + 0.03, where(asked, 9))
        script.pluck(at_s, where(asked, 10))  # the higher one first
        script.pluck(at_s + 0.5, where(asked, 11))
        script.pluck(at_s + 1.0, where(asked, 12))  # of two notes one
        script.pluck(at_s + 1.5, where(asked, 14))

    finished, script = play(setting(asked), prepare, give_up_s=20.0)
    assert verdicts(finished) == ["right"] * 12 + ["missed", "right"]
    assert judged_again(asked, script, 20.0) == finished.answers


def test_a_pause_and_a_skip_are_kept_and_judged_alike() -> None:
    asked = free()

    def prepare(script: Script) -> None:
        at_s = rightly(script, asked, [1, 2], start_s=FIRST_S + 1)
        script.to_press += [(at_s, " "), (at_s + 2, " "), (at_s + 2.5, "n")]
        script.pluck(at_s + 1, "4:8")  # in the pause: nobody counts it
        rightly(script, asked, list(range(4, 15)), start_s=at_s + 3)

    finished, script = play(setting(asked), prepare)
    assert verdicts(finished) == ["right"] * 2 + ["missed"] + ["right"] * 11
    assert finished.answers[2].skipped
    assert judged_again(asked, script) == finished.answers


def test_left_early_only_what_was_reached_is_kept() -> None:
    asked = free()

    def prepare(script: Script) -> None:
        at_s = rightly(script, asked, [1, 2, 3], start_s=FIRST_S + 1)
        script.to_press.append((at_s + 0.5, "q"))

    finished, script = play(setting(asked), prepare)
    assert finished.ended_early
    assert verdicts(finished) == ["right"] * 3
    assert judged_again(asked, script) == finished.answers


# --- in tempo -------------------------------------------------------------------------------------

TEMPO = Tempo(60.0)
# Half a second later than the first beat of the count-in would be in a drill: four beats of a second each.
IN_TEMPO_FIRST_S = LEAD_S + 4.0


def in_tempo() -> Exercise:
    return replace(free(), tempo=TEMPO)


def due_s(asked: Exercise, n: int) -> float:
    assert asked.score is not None
    return IN_TEMPO_FIRST_S + float(asked.score.notes[n - 1].onset_quarter)


def on_time(script: Script, asked: Exercise, ns: list[int], *, late_s: float = 0.0) -> None:
    for n in ns:
        script.pluck(due_s(asked, n) + late_s, where(asked, n))


def test_in_tempo_each_note_and_chord_is_due_by_its_onset() -> None:
    asked = in_tempo()
    finished, script = play(
        setting(asked, countdown_s=0), lambda s: on_time(s, asked, list(range(1, 15)), late_s=0.02)
    )
    assert verdicts(finished) == ["right"] * 14
    assert [a.late_ms for a in finished.answers] == pytest.approx([20.0] * 14, abs=0.01)
    assert [a.due_s for a in finished.answers] == pytest.approx([due_s(asked, n) for n in range(1, 15)])
    assert judged_again(asked, script) == finished.answers
    kinds = [click.kind for _, click in script.clicked]
    assert [kind is ClickKind.BAR for kind in kinds[:12]] == [True, False, False, False] * 3
    assert script.screens[-1].stage is Stage.ENDED


def test_in_tempo_wrong_missed_and_extra_notes_are_told_apart_in_a_chord() -> None:
    asked = in_tempo()

    def prepare(script: Script) -> None:
        on_time(script, asked, [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 14])  # 12, half of a chord, left out
        script.pluck(due_s(asked, 9) + 0.05, "1:7")  # beside a whole chord: extra
        script.pluck(due_s(asked, 3) + 0.5, "6:5")  # between two beats: extra

    finished, script = play(setting(asked, countdown_s=0), prepare)
    assert verdicts(finished) == ["right"] * 11 + ["missed"] + ["right"] * 2
    assert judged_again(asked, script) == finished.answers


def test_in_tempo_what_is_due_after_the_last_note_played_is_taken_back() -> None:
    # Prompt 3 is left out, and after prompt 5 nobody plays while the beat goes on to the end.
    asked = in_tempo()
    finished, script = play(setting(asked, countdown_s=0), lambda s: on_time(s, asked, [1, 2, 4, 5]))
    assert verdicts(finished) == ["right", "right", "missed", "right", "right"]
    assert finished.ended_early
    assert finished.summary.prompts == 5
    assert script.answers == {answer.n: answer for answer in finished.answers}  # as the book has it
    shown = [screen.answered for screen in script.screens]
    assert max(shown) >= 13  # while the beat went on they were missed
    assert judged_again(asked, script) == finished.answers


def test_in_tempo_what_comes_too_late_at_the_end_was_reached() -> None:
    asked = in_tempo()

    def prepare(script: Script) -> None:
        on_time(script, asked, [1, 2])
        script.pluck(due_s(asked, 3) + 0.3, where(asked, 3))

    finished, script = play(setting(asked, countdown_s=0), prepare)
    assert verdicts(finished) == ["right", "right", "missed"]
    assert finished.answers[2].late_ms == pytest.approx(300.0, abs=0.01)
    assert judged_again(asked, script) == finished.answers


def test_in_tempo_the_players_own_mean_is_taken_off_the_windows() -> None:
    # Everybody late by 130 ms: inside windows of 150 ms, and after some notes 240 ms is inside too.
    asked = in_tempo()

    def prepare(script: Script) -> None:
        on_time(script, asked, list(range(1, 14)), late_s=0.13)
        script.pluck(due_s(asked, 14) + 0.22, where(asked, 14))

    finished, script = play(setting(asked, countdown_s=0), prepare)
    assert verdicts(finished) == ["right"] * 14
    assert finished.answers[-1].late_ms == pytest.approx(220.0, abs=0.01)
    assert judged_again(asked, script) == finished.answers


def test_in_tempo_after_a_pause_it_counts_in_to_the_beat_where_it_stopped() -> None:
    asked = in_tempo()
    stop_s, go_s = due_s(asked, 6) - 0.5, due_s(asked, 6) + 2

    def prepare(script: Script) -> None:
        on_time(script, asked, [1, 2, 3, 4, 5])
        script.to_press += [(stop_s, " "), (go_s, " ")]
        first_s = go_s + LEAD_S + 4.0  # within a turn of the loop
        for n in range(6, 15):
            script.pluck(first_s + due_s(asked, n) - due_s(asked, 6), where(asked, n))

    finished, script = play(setting(asked, countdown_s=0), prepare)
    assert verdicts(finished) == ["right"] * 14
    assert finished.answers[5].due_s == pytest.approx(go_s + LEAD_S + 4.0, abs=0.02)
    assert judged_again(asked, script) == finished.answers
    after = [click.kind for at_s, click in script.clicked if at_s > go_s][:9]
    # Prompt 6 is due on the second beat of its bar: two, three, four, one to count in, and then two.
    assert [kind is ClickKind.BAR for kind in after] == [False, False, False, True] * 2 + [False]


def void(_value: object) -> None:
    """A script is prepared for its effects alone."""


_PLACES = ["4:5", "3:5", "2:5", "1:5", "4:7", "3:7", "3:0", "4:8", "2:8"]


@example(  # the second note turns out to be another one, and all that was said is taken back
    steps=[(1.0, "3:5", "pluck"), (1.0, "4:5", "bend")], quits=False
)
@given(
    steps=st.lists(
        st.tuples(
            st.floats(0.05, 1.5),
            st.sampled_from(_PLACES),
            st.sampled_from(["pluck"] * 5 + ["soft", "bend", "twice", " ", "n"]),
        ),
        max_size=24,
    ),
    quits=st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_whatever_is_played_live_and_recorded_agree(steps: list[tuple[float, str, str]], quits: bool) -> None:
    asked = free()

    def prepare(script: Script) -> None:
        time_s = FIRST_S + 0.5
        for gap_s, place, what in steps:
            time_s += gap_s
            if what in (" ", "n"):
                time_s += 0.1
                script.to_press.append((time_s, what))
                time_s += 0.2
            elif what == "soft":
                script.pluck(time_s, place, velocity=12)
            elif what == "twice":
                script.pluck(time_s, place, hold_s=0.02)
                script.pluck(time_s + 0.025, place, velocity=40)
            else:
                script.pluck(time_s, place)
                if what == "bend":
                    channel = Place.parse(place).string - 1
                    script.to_send += [
                        TimedMessage(time_s + 0.01, bytes((0xE0 | channel, 0, 96))),
                        TimedMessage(time_s + 0.3, bytes((0xE0 | channel, 0, 64))),
                    ]
                    script.to_send.sort()
        if quits:
            script.to_press.append((time_s + 0.5, "q"))

    finished, script = play(setting(asked), prepare, give_up_s=50.0)
    again = judged_again(asked, script, 50.0)
    told = [(a.n, a.verdict, a.skipped, len(a.corrections), a.played and a.played.midi) for a in again]
    assert told == [
        (a.n, a.verdict, a.skipped, len(a.corrections), a.played and a.played.midi) for a in finished.answers
    ]
    if any(kind is MarkKind.ENDED_EARLY for kind, _ in script.marks):
        assert finished.ended_early
    else:  # what was said on the way adds up
        assert script.screens[-1].right == sum(answer.right for answer in finished.answers)


@given(
    steps=st.lists(
        st.tuples(
            st.floats(0.05, 0.9), st.sampled_from(_PLACES), st.sampled_from(["pluck"] * 6 + ["soft", " "])
        ),
        max_size=24,
    ),
    quits=st.booleans(),
)
@settings(max_examples=40, deadline=None)
def test_in_tempo_too_live_and_recorded_agree(steps: list[tuple[float, str, str]], quits: bool) -> None:
    asked = replace(free(), tempo=Tempo(100.0))

    def prepare(script: Script) -> None:
        time_s = 2.0
        for gap_s, place, what in steps:
            time_s += gap_s
            if what == " ":
                time_s += 0.1
                script.to_press += [(time_s, " "), (time_s + 0.5, " ")]
                time_s += 0.7
            else:
                script.pluck(time_s, place, velocity=12 if what == "soft" else 80)
        if quits:
            script.to_press.append((time_s + 0.5, "q"))

    finished, script = play(setting(asked, countdown_s=0), prepare, give_up_s=90.0)
    again = judged_again(asked, script, 90.0)
    told = [(a.n, a.verdict, len(a.corrections), a.played and a.played.midi) for a in again]
    assert told == [
        (a.n, a.verdict, len(a.corrections), a.played and a.played.midi) for a in finished.answers
    ]


def test_when_the_guitar_goes_the_reading_waits_where_it_was() -> None:
    asked = free()

    def prepare(script: Script) -> None:
        at_s = rightly(script, asked, [1, 2, 3], start_s=FIRST_S + 1)
        script.unplugged.append((at_s, at_s + 2))
        # Back, it counts three before it goes on.
        rightly(script, asked, list(range(4, 15)), start_s=at_s + 6)

    finished, script = play(setting(asked), prepare)
    assert verdicts(finished) == ["right"] * 14
    assert MarkKind.GONE in [kind for kind, _ in script.marks]
    assert judged_again(asked, script) == finished.answers
