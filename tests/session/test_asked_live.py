"""Places asked one by one: what is chosen live stands in the take, and is judged from it alike."""

from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from midifret.neck import spell
from midifret.play import Ask
from midifret.session.around import Leave
from midifret.session.runs import ASKED_IDLE_S
from midifret.session.screen import Stage
from midifret.terms import Answer, CueKind, Exercise, Judged, Place, Prompt, Verdict

from .test_live import NECK, Script, exercise, play, setting
from .test_live_and_recorded import GLITCHES, assert_alike

PLACES = ("6:5", "5:5", "4:5", "6:0")
WAIT_S = 0.7


def prompt(n: int, text: str, *, wait_s: float = 0.0, naming: bool = False) -> Prompt:
    place = Place.parse(text)
    midi = NECK.midi(place)
    if naming:
        cue, judged = (CueKind.PLACE,), Judged.NAME
    else:
        cue, judged = (CueKind.NAME, CueKind.STRING), Judged.PLACE
    given = place if naming else None
    return Prompt(n, cue, judged, (place,), (midi,), spell(midi)[0], given=given, wait_s=wait_s)


def asking(places: tuple[str, ...] = PLACES, *, most: int = 6, naming: bool = False) -> Ask:
    """Asks again what was not right, after a wait where it was missed; else the next place."""

    def ask(answers: tuple[Answer, ...], time_s: float, played_s: float) -> Prompt | None:
        if len(answers) >= most:
            return None
        n = len(answers) + 1
        if answers and not answers[-1].right:
            missed = answers[-1].closing_s is None
            return prompt(n, str(answers[-1].prompt.places[0]), wait_s=WAIT_S * missed, naming=naming)
        return prompt(n, places[sum(answer.right for answer in answers) % len(places)], naming=naming)

    return ask


def unwritten(limit_s: float | None = 2.0) -> Exercise:
    """An exercise that has no prompts yet."""
    return replace(exercise("6:5", limit_s=limit_s), prompts=(), name="asked:x", shuffled=True)


_limits = st.one_of(st.none(), st.floats(0.6, 2.0))


@given(
    steps=st.lists(
        st.tuples(
            st.floats(0.004, 1.5),
            st.sampled_from(["6:5", "5:5", "4:5", "6:0", "1:0", "5:6"]),
            st.sampled_from(["pluck", "pluck", "bend", "signal", "space", "n", *GLITCHES]),
        ),
        max_size=9,
    ),
    limit_s=_limits,
    quits=st.booleans(),
    most=st.integers(1, 6),
)
@example(  # the note that closed the last prompt turns out to be another one, after the run had ended
    steps=[(1.0, "6:5", "bend"), (0.0625, "5:5", "pluck")], limit_s=None, quits=False, most=1
)
@settings(max_examples=400, deadline=None)
def test_live_and_take(
    steps: list[tuple[float, str, str]], limit_s: float | None, quits: bool, most: int
) -> None:
    assert_alike(unwritten(limit_s), steps, quits=quits, ask=asking(most=most))


@given(
    steps=st.lists(
        st.tuples(
            st.floats(0.004, 1.5),
            st.sampled_from(["6:5", "5:5", "4:5", "5:6"]),
            st.sampled_from(["pluck", "pluck", "bend", "space", "n", *GLITCHES]),
        ),
        max_size=9,
    ),
    limit_s=_limits,
    paints=st.tuples(st.sampled_from([0.0, 0.017, 0.25]), st.sampled_from([0.0, 0.01, 0.6])),
)
@settings(max_examples=200, deadline=None)
def test_live_and_take_on_a_view_that_paints_later(
    steps: list[tuple[float, str, str]], limit_s: float | None, paints: tuple[float, float]
) -> None:
    assert_alike(unwritten(limit_s), steps, quits=True, ask=asking(), paints=paints)


@given(
    steps=st.lists(
        st.tuples(
            st.floats(0.01, 1.5),
            st.just(""),
            st.sampled_from(["a", "d", "g", "e", "#", "space", "tab", "enter", "backspace"]),
        ),
        max_size=9,
    ),
    limit_s=_limits,
)
@settings(max_examples=150, deadline=None)
def test_names_live_and_from_the_take(steps: list[tuple[float, str, str]], limit_s: float | None) -> None:
    assert_alike(unwritten(limit_s), steps, quits=True, ask=asking(naming=True))


def test_who_does_not_know_a_place_is_shown_it_and_the_next_one_waits() -> None:
    def prepare(script: Script) -> None:
        script.pluck(8.0, "6:5")

    asked = replace(setting(unwritten(2.0)), ask=asking(most=2), lasts_s=60.0)
    finished, script = play(asked, prepare)
    assert [answer.verdict for answer in finished.answers] == [Verdict.MISSED, Verdict.MISSED]
    cues = sorted(script.cues.items())
    assert cues[0] == (1, pytest.approx(3.0, abs=0.02))
    # 2 s of limit, seen 0.1 s later, when the wait begins at the limit itself.
    assert cues[1] == (2, pytest.approx(3.0 + 2.0 + WAIT_S, abs=0.15))
    shown = [s for s in script.screens if s.stage is Stage.ASKING and s.prompt is None and s.last is not None]
    assert shown
    assert {(s.last.verdict, s.last.asked) for s in shown if s.last} == {
        (Verdict.MISSED, (Place.parse("6:5"),))
    }
    assert not finished.ended_early


def test_a_run_that_is_given_nothing_ends_at_once() -> None:
    finished, script = play(setting(unwritten(), ask=asking(most=0)), lambda script: None)
    assert (finished.answers, finished.leave, script.cues) == ((), Leave.DONE, {})


def test_a_player_who_has_gone_is_not_asked_on() -> None:
    finished, script = play(setting(unwritten(5.0), ask=asking(most=50)), lambda script: None, give_up_s=200)
    assert script.screens[-1].stage in (Stage.PAUSED, Stage.ENDED)
    assert any("nothing was heard" in screen.message for screen in script.screens)
    assert len(finished.answers) <= ASKED_IDLE_S / 5.0 + 1


def test_a_run_ends_with_the_prompt_in_play_when_its_time_is_over() -> None:
    def prepare(script: Script) -> None:
        for n in range(20):
            script.pluck(4.0 + n, ("6:5", "5:5")[n % 2])

    asked = exercise(*("6:5", "5:5") * 10)
    finished, _ = play(setting(asked, enough_at_s=4.9), prepare)
    # Cued at 3 s on the clock, answered at 4, 5 and so on: 4.9 s are over with the answer at 8 s.
    assert len(finished.answers) == 5
    assert finished.ended_early
    assert finished.leave is Leave.DONE
