"""The run: cues, first answers, corrections, limits, pauses, and what counts for nothing."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.neck import Neck, Tuning
from midifret.play import (
    Closed,
    Cued,
    Ended,
    Judgement,
    Phase,
    Run,
    Stray,
    StrayReason,
    Withdrawn,
)
from midifret.play.run import LIMIT_SLACK_S, TOGETHER_S, TOO_SOON_S
from midifret.terms import (
    CueKind,
    Exercise,
    Glitch,
    Judged,
    Note,
    NoteEnded,
    NoteRevised,
    Place,
    Prompt,
    SpelledPitch,
    Verdict,
    Voided,
)
from midifret.terms.calibration import Caveat
from midifret.timing import AnswerTimes

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
ROW_5 = ("6:5", "5:5", "4:5", "3:5", "2:5", "1:5")


def exercise(*asked: str, limit_s: float | None = None, **prompt_fields: object) -> Exercise:
    prompts = tuple(
        Prompt(
            n,
            (CueKind.NAME,),
            Judged.PLACE,
            tuple(Place.parse(text) for text in places.split("|")),
            tuple(NECK.midi(Place.parse(text)) for text in places.split("|")),
            SpelledPitch("C", 0, 4),
            **prompt_fields,  # type: ignore[arg-type]
        )
        for n, places in enumerate(asked, start=1)
    )
    return Exercise("x", "X", "s", "t", (3, 5), Judged.PLACE, prompts, time_limit_s=limit_s)


class Notes:
    """Makes notes with ids of their own."""

    def __init__(self) -> None:
        self.last_id = 0

    def __call__(self, text: str, onset_s: float) -> Note:
        self.last_id += 1
        place = Place.parse(text)
        return Note(self.last_id, onset_s, place.string, place.fret, NECK.midi(place), 80, 0)


def verdicts(run: Run) -> list[str]:
    return [str(answer.verdict) for answer in run.answers]


def test_a_perfect_walk() -> None:
    run, note = Run(exercise(*ROW_5)), Notes()
    [cued] = run.start(1.0)
    assert cued == Cued(run.exercise.prompts[0], 1.0)
    for i, text in enumerate(ROW_5):
        outputs = run.hear(note(text, 2.0 + i))
    assert [type(output) for output in outputs] == [Judgement, Closed, Ended]
    assert verdicts(run) == ["right"] * 6
    assert [answer.response_s for answer in run.answers] == [1.0] * 6
    assert run.phase is Phase.ENDED
    assert run.elapsed_s(99.0) == 6.0


def test_the_first_answer_counts_and_the_rest_until_right_is_correction() -> None:
    run, note = Run(exercise("5:5", "4:5")), Notes()
    run.start(0.0)
    run.hear(note("5:4", 1.0))
    run.hear(note("5:7", 1.5))
    outputs = run.hear(note("5:5", 2.0))
    assert [type(output) for output in outputs] == [Judgement, Closed, Cued]
    [answer] = run.answers
    assert (answer.verdict, answer.answer_s, answer.response_s) == (Verdict.FRET_OFF, 1.0, 1.0)
    assert [str(n.place) for n in answer.corrections] == ["5:7", "5:5"]
    assert run.prompt is not None
    assert run.prompt.n == 2


def test_a_repeated_note_answers_a_repeated_prompt() -> None:
    run, note = Run(exercise("5:5", "5:5")), Notes()
    run.start(0.0)
    run.hear(note("5:5", 1.0))
    run.hear(note("5:5", 2.0))
    assert verdicts(run) == ["right", "right"]


def test_two_notes_at_once_are_one_answer() -> None:
    run, note = Run(exercise("5:5", "4:5")), Notes()
    run.start(0.0)
    run.hear(note("5:5", 1.0))
    [stray] = run.hear(note("3:5", 1.0 + TOGETHER_S))
    assert isinstance(stray, Stray)
    assert stray.reason is StrayReason.TOGETHER
    run.hear(note("4:5", 2.0))
    assert verdicts(run) == ["right", "right"]


def test_a_note_that_rings_on_from_before_is_no_answer() -> None:
    run, note = Run(exercise("5:5", "5:5")), Notes()
    run.hear(note("5:5", 0.5))  # still sounding when the first cue comes
    run.start(1.0)
    assert run.answers == ()
    assert run.hear(NoteEnded(1, 1.5)) == []
    run.hear(note("5:5", 2.0))
    assert run.answered == 1


def test_notes_before_the_first_cue_count_for_nothing() -> None:
    run, note = Run(exercise("5:5")), Notes()
    [stray] = run.hear(note("5:4", 0.5))
    assert isinstance(stray, Stray)
    assert stray.reason is StrayReason.BEFORE_CUE
    run.start(1.0)
    [late] = run.hear(note("5:4", 0.9))  # told after the cue, but begun before it
    assert isinstance(late, Stray)
    assert late.reason is StrayReason.BEFORE_CUE


def test_an_answer_on_the_exact_limit_is_in_time() -> None:
    run, note = Run(exercise("5:5", "4:5", limit_s=2.0)), Notes()
    run.start(1.0)
    assert run.tick(3.0) == []
    run.hear(note("5:5", 3.0))
    assert verdicts(run) == ["right"]


def test_an_answer_after_the_limit_is_missed_and_not_held_against_the_next() -> None:
    run, note = Run(exercise("5:5", "4:5", limit_s=2.0)), Notes()
    run.start(1.0)
    outputs = run.hear(note("5:5", 3.0 + TOO_SOON_S / 2))
    assert [type(output) for output in outputs] == [Closed, Cued, Stray]
    assert verdicts(run) == ["missed"]
    assert run.prompt is not None
    assert run.prompt.n == 2
    run.hear(note("4:5", 4.0))
    assert verdicts(run) == ["missed", "right"]
    assert run.answers[1].response_s == pytest.approx(1.0)  # the second cue came at the limit, 3.0


def test_time_alone_runs_a_limit_out() -> None:
    run = Run(exercise("5:5", "4:5", limit_s=2.0))
    run.start(1.0)
    assert run.tick(3.0 + LIMIT_SLACK_S / 2) == []
    outputs = run.tick(3.0 + LIMIT_SLACK_S)
    assert [type(output) for output in outputs] == [Closed, Cued]
    run.tick(60.0)
    assert verdicts(run) == ["missed", "missed"]
    assert run.phase is Phase.ENDED


def test_a_note_told_late_but_begun_in_time_is_in_time() -> None:
    run, note = Run(exercise("5:5", limit_s=2.0)), Notes()
    run.start(1.0)
    run.tick(3.0 + LIMIT_SLACK_S / 2)
    run.hear(note("5:5", 2.99))
    assert verdicts(run) == ["right"]


def test_a_wrong_answer_keeps_its_verdict_when_the_limit_runs_out() -> None:
    run, note = Run(exercise("5:5", "4:5", limit_s=2.0)), Notes()
    run.start(0.0)
    run.hear(note("5:6", 1.0))
    run.tick(5.0)
    assert run.answers[0].verdict is Verdict.FRET_OFF


def test_a_pause_stops_both_clocks() -> None:
    run, note = Run(exercise("5:5", "4:5", limit_s=2.0)), Notes()
    run.start(0.0)
    run.pause(1.0)
    assert run.prompt_s(50.0) == 1.0
    assert run.tick(50.0) == []
    [stray] = run.hear(note("5:6", 50.0))
    assert isinstance(stray, Stray)
    assert stray.reason is StrayReason.PAUSED
    run.resume(100.0)
    run.hear(note("5:5", 100.5))
    assert run.answers[0].response_s == pytest.approx(1.5)
    assert run.elapsed_s(101.0) == pytest.approx(2.0)


def test_a_skipped_prompt_is_missed() -> None:
    run = Run(exercise("5:5", "4:5"))
    run.start(0.0)
    run.skip(1.0)
    [answer] = run.answers
    assert (answer.verdict, answer.skipped) == (Verdict.MISSED, True)
    assert run.prompt is not None
    assert run.prompt.n == 2


def test_ending_early_keeps_what_was_done() -> None:
    run, note = Run(exercise(*ROW_5)), Notes()
    run.start(0.0)
    run.hear(note("6:5", 1.0))
    run.hear(note("5:6", 2.0))
    outputs = run.end(3.0)
    assert outputs[-1] == Ended(3.0, early=True)
    assert verdicts(run) == ["right", "fret-off"]
    assert run.hear(note("4:5", 4.0)) == [Stray(Notes.__call__(_after(2), "4:5", 4.0), StrayReason.AFTER_END)]


def _after(last_id: int) -> Notes:
    notes = Notes()
    notes.last_id = last_id
    return notes


def test_the_landmark_may_be_played_first() -> None:
    run, note = Run(exercise("6:4", may_play=(Place(6, 5),))), Notes()
    run.start(0.0)
    [stray] = run.hear(note("6:5", 1.0))
    assert isinstance(stray, Stray)
    assert stray.reason is StrayReason.MAY_PLAY
    run.hear(note("6:4", 2.0))
    assert verdicts(run) == ["right"]


def test_a_held_note_that_still_sounds_is_told() -> None:
    for ended in (False, True):
        run, note = Run(exercise("2:5", held=Place(1, 0), may_play=(Place(1, 0),))), Notes()
        run.start(0.0)
        run.hear(note("1:0", 0.5))
        if ended:
            run.hear(NoteEnded(1, 0.8))
        run.hear(note("2:5", 1.0))
        assert run.answers[0].held_sounding is not ended


def test_each_place_once() -> None:
    run, note = Run(exercise("1:0|2:5", "2:5|1:0", each_once=1)), Notes()
    run.start(0.0)
    run.hear(note("2:5", 1.0))
    run.hear(note("2:5", 2.0))
    run.hear(note("1:0", 3.0))
    assert verdicts(run) == ["right", "wrong"]


def test_a_cue_counts_from_when_it_was_shown() -> None:
    run, note = Run(exercise("5:5", "4:5")), Notes()
    run.start(1.0)
    run.shown(1, 1.02)
    run.hear(note("5:5", 2.0))
    assert run.answers[0].response_s == pytest.approx(0.98)
    run.hear(note("4:5", 2.5))  # played on before the second cue was drawn
    run.shown(2, 2.6)
    assert run.answers[1].response_s == pytest.approx(0.5)


def test_an_answer_before_the_cue_is_known_to_be_shown_has_no_time() -> None:
    run, note = Run(exercise("5:5", "4:5", "3:5"), shown_later=True, timed=AnswerTimes().timed), Notes()
    run.start(1.0)
    run.shown(1, 1.02)
    run.hear(note("5:5", 2.0))
    run.hear(note("4:6", 2.5))  # nothing was told of the second cue yet
    run.shown(2, 2.02)
    run.hear(note("4:5", 2.9))
    run.shown(3, 2.95)
    run.unsure(3)  # and of the third it is told that nobody knows
    run.hear(note("3:5", 4.0))
    sure, unsure, told_unsure = run.answers
    assert sure.response_s == pytest.approx(0.98)
    assert (sure.cue_sure, sure.recall_caveats) == (True, {Caveat.RAW})
    for answer in (unsure, told_unsure):
        assert (answer.response_s, answer.recall, answer.cue_sure) == (None, None, False)
        assert answer.recall_caveats == {Caveat.CUE_UNSURE}
    assert (unsure.verdict, unsure.answer_s) == (Verdict.FRET_OFF, 2.5)
    assert (told_unsure.verdict, told_unsure.answer_s) == (Verdict.RIGHT, 4.0)


def test_a_note_that_was_none_leaves_the_cue_known() -> None:
    run, note = Run(exercise("5:5", "4:5"), shown_later=True), Notes()
    run.start(1.0)
    run.shown(1, 1.02)
    glitch = note("5:5", 2.0)
    run.hear(glitch)
    run.hear(Voided(glitch, Glitch.TOO_SHORT, "too short"))
    run.hear(note("5:5", 3.0))
    assert run.answers[0].response_s == pytest.approx(1.98)
    assert run.answers[0].cue_sure


def test_a_walk_without_cues_is_timed_unseen() -> None:
    whole = exercise("5:5", "4:5")
    walk = replace(whole, prompts=tuple(replace(prompt, cue=()) for prompt in whole.prompts))
    run, note = Run(walk, shown_later=True), Notes()
    run.start(1.0)
    run.hear(note("5:5", 2.0))
    assert run.answers[0].response_s == pytest.approx(1.0)
    assert run.answers[0].cue_sure


def test_naming() -> None:
    run, note = Run(exercise("6:2", "6:3")), Notes()
    naming = replace(run.exercise.prompts[0], judged=Judged.NAME, given=Place(6, 2))
    run = Run(replace(run.exercise, prompts=(naming, run.exercise.prompts[1])))
    run.start(0.0)
    [stray] = run.hear(note("6:2", 0.5))
    assert isinstance(stray, Stray)
    assert stray.reason is StrayReason.NAMING
    run.type_name("G", 7, 1.0)
    run.type_name("Gb", 6, 2.0)
    [answer] = run.answers
    assert (answer.verdict, answer.typed, answer.response_s) == (Verdict.WRONG, "G", 1.0)


def test_a_revised_note_is_judged_again() -> None:
    run, note = Run(exercise("5:5", "4:5")), Notes()
    run.start(0.0)
    first = note("5:5", 1.0)
    run.hear(first)
    assert verdicts(run) == ["right"]
    outputs = run.hear(NoteRevised(first._replace(fret=6, midi=first.midi + 1)))
    assert outputs[0] == Withdrawn(1)
    assert run.answers == ()
    assert run.prompt is not None
    assert run.prompt.n == 1
    run.hear(note("5:5", 2.0))
    assert verdicts(run) == ["fret-off"]


def test_what_came_after_a_revised_note_is_judged_again_too() -> None:
    run, note = Run(exercise("5:5", "4:5")), Notes()
    run.start(0.0)
    wrong = note("5:4", 1.0)
    run.hear(wrong)
    run.hear(note("4:5", 1.05))
    assert run.answers == ()
    run.hear(NoteRevised(wrong._replace(fret=5, midi=wrong.midi + 1)))
    assert verdicts(run) == ["right", "right"]
    assert run.phase is Phase.ENDED


def test_a_voided_note_counts_for_nothing() -> None:
    run, note = Run(exercise("5:5")), Notes()
    run.start(0.0)
    ghost = note("5:6", 1.0)
    run.hear(ghost)
    run.hear(Voided(ghost, Glitch.TOO_SHORT, "test"))
    run.hear(note("5:5", 1.5))
    assert verdicts(run) == ["right"]
    assert run.answers[0].corrections == ()


def test_cues_of_a_take_open_the_prompts() -> None:
    run, note = Run(exercise("5:5", "4:5", "3:5"), cued_by_take=True), Notes()
    run.start(0.0)
    run.cue(1, 1.0)
    run.hear(note("5:5", 2.0))
    assert run.prompt is None
    run.cue(2, 3.0)
    run.cue(3, 5.0)  # no answer to 2
    run.hear(note("3:5", 5.5))
    assert verdicts(run) == ["right", "missed", "right"]
    assert [answer.response_s for answer in run.answers] == [1.0, None, 0.5]


def test_a_take_that_lost_cues_or_its_end() -> None:
    run, note = Run(exercise(*ROW_5), cued_by_take=True), Notes()
    run.start(0.0)
    run.cue(3, 1.0)
    run.hear(note("4:5", 2.0))
    run.end(9.0, all_asked=True)
    assert verdicts(run) == ["missed", "missed", "right", "missed", "missed", "missed"]


@given(
    gaps_s=st.lists(st.floats(0.05, 3.0), min_size=6, max_size=6),
    delayed=st.integers(0, 5),
    delay_s=st.floats(0.0, 5.0),
    limit_s=st.one_of(st.none(), st.floats(0.5, 4.0)),
)
@settings(deadline=None)
def test_a_perfect_player_scores_all_and_delay_never_raises_a_score(
    gaps_s: list[float], delayed: int, delay_s: float, limit_s: float | None
) -> None:
    """The player answers each cue as it comes; one answer is delayed, and so is all that follows it."""

    def play(extra_s: float) -> tuple[int, float]:
        run, note = Run(exercise(*ROW_5, limit_s=limit_s)), Notes()
        run.start(0.0)
        time_s = 0.0
        for i, text in enumerate(ROW_5):
            time_s += gaps_s[i] + (extra_s if i == delayed else 0.0)
            run.hear(note(text, time_s))
        run.end(time_s)
        times_s = [answer.response_s or 0.0 for answer in run.answers if answer.right]
        return sum(answer.right for answer in run.answers), sum(times_s)

    right, total_s = play(0.0)
    later_right, later_s = play(delay_s)
    if limit_s is None or max(gaps_s) <= limit_s:
        assert right == 6
        assert later_right <= right
        if later_right == right:
            assert later_s >= total_s - 1e-9


@given(st.lists(st.tuples(st.sampled_from(ROW_5), st.floats(0.0, 0.5), st.integers(0, 8)), max_size=60))
@settings(deadline=None)
def test_any_events_leave_a_sound_run(script: list[tuple[str, float, int]]) -> None:
    run, note = Run(exercise(*ROW_5, *ROW_5, limit_s=1.0)), Notes()
    run.start(0.0)
    time_s = 0.0
    said: dict[int, Closed] = {}
    for text, gap_s, action in script:
        time_s += gap_s
        played = note(text, time_s)
        outputs = run.hear(played)
        match action:
            case 1:
                outputs += run.pause(time_s)
            case 2:
                outputs += run.resume(time_s)
            case 3:
                outputs += run.skip(time_s)
            case 4:
                outputs += run.tick(time_s)
            case 5:
                outputs += run.hear(NoteRevised(played._replace(fret=(played.fret or 0) + 1)))
            case 6:
                outputs += run.hear(Voided(played, Glitch.TOO_SHORT, "test"))
        for output in outputs:
            if isinstance(output, Withdrawn):
                said = {n: closed for n, closed in said.items() if n < output.n}
            if isinstance(output, Closed):
                said[output.answer.n] = output
    assert [closed.answer for _, closed in sorted(said.items())] == list(run.answers)
    assert [answer.n for answer in run.answers] == list(range(1, len(run.answers) + 1))


def test_a_pause_told_late_takes_back_a_limit_that_ran_out_since() -> None:
    run = Run(exercise("6:5", "5:5", limit_s=2.0))
    run.start(0.0)
    run.tick(2.5)
    assert [answer.verdict for answer in run.answers] == [Verdict.MISSED]
    outputs = run.pause_since(1.5)
    assert Withdrawn(1) in outputs
    assert run.answers == ()
    assert run.phase is Phase.PAUSED
    run.tick(9.0)
    run.resume(10.0)
    assert run.limit_s == pytest.approx(10.5)  # half a second was left
    run.hear(Notes()("6:5", 10.4))
    assert run.answers[0].verdict is Verdict.RIGHT
    assert run.answers[0].response_s == pytest.approx(1.9)


def test_a_pause_told_late_reopens_a_run_whose_last_limit_ran_out_since() -> None:
    run = Run(exercise("6:5", limit_s=2.0))
    run.start(0.0)
    run.tick(2.5)
    assert run.phase is Phase.ENDED
    run.pause_since(1.9)
    assert run.phase is Phase.PAUSED
    assert run.prompt is not None


def test_notes_told_late_after_the_end_leave_it_the_end() -> None:
    """A view that is told of a withdrawal awaits what holds instead; here the end holds already."""
    run, note = Run(exercise("6:5")), Notes()
    run.start(0.0)
    outputs = run.hear(note("6:5", 1.0))
    early, late = note("1:1", 1.1), note("2:1", 1.2)
    outputs += run.hear(late)
    outputs += run.hear(early)  # told after one that began later
    assert sum(isinstance(output, Ended) for output in outputs) == 1
    assert not any(isinstance(output, Withdrawn) for output in outputs)
    assert verdicts(run) == ["right"]
