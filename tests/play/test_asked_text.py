"""What was asked stands in the take as text: it comes back as it was, and other text is refused."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.neck import Neck, spell
from midifret.neck.names import Accidentals
from midifret.play.asked_text import asked_exercise, exercise_of_lines, head_text, is_asked, prompt_text
from midifret.terms import BadInput, CueKind, Exercise, Judged, Place, Prompt
from tests.conftest import STANDARD

NECK = Neck(STANDARD)


def prompt(n: int, place: Place, *, naming: bool = False, flat: bool = False, **fields: object) -> Prompt:
    midi = NECK.midi(place)
    cue = (CueKind.PLACE,) if naming else (CueKind.NAME, CueKind.STRING)
    judged = Judged.NAME if naming else Judged.PLACE
    pitch = spell(midi, Accidentals.FLATS if flat else Accidentals.SHARPS)[0]
    given = place if naming else None
    return Prompt(n, cue, judged, (place,), (midi,), pitch, given=given, **fields)  # type: ignore[arg-type]


def lines_of(exercise: Exercise) -> list[str]:
    return [head_text(exercise), *map(prompt_text, exercise.prompts)]


def unwritten() -> Exercise:
    return asked_exercise("weak", "Weak places", 'Why: "because".', 4.4, time_limit_s=10.0)


_asked = st.tuples(
    st.builds(Place, st.integers(1, 6), st.integers(0, 19)),
    st.booleans(),
    st.booleans(),
    st.sampled_from(["", "the open string", 'with "quotes" and ♯']),
    st.sampled_from([0.0, 2.5]),
)


@given(st.lists(_asked, min_size=1, max_size=8), st.one_of(st.none(), st.floats(0.5, 60)))
def test_it_comes_back_as_it_was(
    asked: list[tuple[Place, bool, bool, str, float]], limit_s: float | None
) -> None:
    from dataclasses import replace

    prompts = tuple(
        prompt(n, place, naming=naming, flat=flat, hint=hint, wait_s=wait_s)
        for n, (place, naming, flat, hint, wait_s) in enumerate(asked, start=1)
    )
    exercise = replace(unwritten(), prompts=prompts, time_limit_s=limit_s)
    lines = lines_of(exercise)
    assert all("\n" not in line for line in lines)
    assert exercise_of_lines(lines, NECK) == exercise


def test_the_name_says_what_it_is() -> None:
    assert unwritten().name == "asked:weak"
    assert is_asked("asked:weak")
    assert not is_asked("row-5-shuffled")


def test_only_what_an_asked_run_asks_can_be_written() -> None:
    several = Prompt(
        1, (CueKind.NAME,), Judged.PLACE, (Place(6, 5), Place(5, 0)), (45, 45), spell(45)[0]
    )  # both sound A2: E2 is 40, A2 is 45 (standard tuning, music21 [ran])
    for bad in (several, prompt(1, Place(6, 5), held=Place(5, 0)), prompt(1, Place(6, 5), each_once=1)):
        with pytest.raises(ValueError, match="none of an asked run"):
            prompt_text(bad)


def _with(place: str, pitch: str) -> list[str]:
    return [head_text(unwritten()), json.dumps(["name string", "place", place, pitch, False, "", 0.0])]


@pytest.mark.parametrize(
    "lines",
    [
        [],
        ["not json"],
        ["[]", "[]"],
        [head_text(unwritten())],  # no prompt was asked
        [head_text(unwritten()).replace('"version":1', '"version":2'), prompt_text(prompt(1, Place(6, 5)))],
        [head_text(unwritten()).replace("10.0", "-1"), prompt_text(prompt(1, Place(6, 5)))],
        [head_text(unwritten()).replace("10.0", "NaN"), prompt_text(prompt(1, Place(6, 5)))],
        [head_text(unwritten()).replace("[4,4]", "[1e999,4]"), prompt_text(prompt(1, Place(6, 5)))],
        [head_text(unwritten()), "[" * 2000],
        _with("6:20", "C4"),  # the neck has 19 frets
        _with("6:5", "A3"),  # 6:5 sounds A2
        _with("6:5", "A"),
        _with("6:5", "H2"),
        [head_text(unwritten()), '["name","place","6:5","A2",false,""]'],
        [head_text(unwritten()), '["touch","place","6:5","A2",false,"",0]'],
        [head_text(unwritten()), '["name","place","6:5","A2",false,"",true]'],
    ],
)
def test_other_lines_are_refused(lines: list[str]) -> None:
    with pytest.raises(BadInput, match="cannot be understood") as caught:
        exercise_of_lines(lines, NECK)
    assert caught.value.allowed
