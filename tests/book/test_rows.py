"""An answer comes back from its row as it went in."""

import math
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.book.rows import MOST_TIME, NO_PLACE, answer_of, answer_row, counted_place
from midifret.terms import (
    Answer,
    Attack,
    BadInput,
    CueKind,
    Judged,
    Note,
    Place,
    Prompt,
    SpelledPitch,
    Verdict,
)
from midifret.terms.calibration import Caveat, NoteInterval, Recall

PLACES = st.builds(Place, st.integers(1, 10), st.integers(0, 24))
FLOATS = st.floats(-MOST_TIME, MOST_TIME)
CAVEATS = st.frozensets(st.sampled_from(Caveat))
NOTES = st.builds(
    Note,
    id=st.integers(1, 10**6),
    onset_s=FLOATS,
    string=st.none() | st.integers(1, 10),
    fret=st.none() | st.integers(0, 24),
    midi=st.integers(0, 127),
    velocity=st.integers(1, 127),
    channel=st.integers(0, 15),
    attack=st.sampled_from(Attack),
    cents=FLOATS,
    doubtful=st.just(False),  # an answer is of a settled note
    place_assumed=st.booleans(),
)
PITCHES = st.builds(SpelledPitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(-1, 9))


@st.composite
def prompts(draw: st.DrawFn) -> Prompt:
    places = draw(st.lists(PLACES, min_size=1, max_size=8))
    return Prompt(
        n=draw(st.integers(1, 10**6)),
        cue=tuple(draw(st.lists(st.sampled_from(CueKind), unique=True))),
        judged=draw(st.sampled_from(Judged)),
        places=tuple(places),
        midis=tuple(draw(st.integers(0, 127)) for _ in places),
        pitch=draw(PITCHES),
        given=draw(st.none() | PLACES),
        may_play=tuple(draw(st.lists(PLACES, max_size=3))),
        held=draw(st.none() | PLACES),
        each_once=draw(st.none() | st.integers(0, 100)),
        interval_semitones=draw(st.none() | st.integers(-60, 60)),
        hint=draw(st.text(max_size=20)),
        wait_s=draw(st.floats(0, 60)),
    )


# Of an answer whose cue nobody is sure of there is no time, and so no recall.
RECALL_CAVEATS = st.frozensets(st.sampled_from([each for each in Caveat if each is not Caveat.CUE_UNSURE]))
ANSWERS = st.builds(
    Answer,
    prompt=prompts(),
    verdict=st.sampled_from(Verdict),
    cue_s=st.none() | FLOATS,
    answer_s=st.none() | FLOATS,
    response_s=st.none() | FLOATS,
    recall=st.none() | st.builds(Recall, FLOATS, st.none() | FLOATS, st.none() | FLOATS, RECALL_CAVEATS),
    played=st.none() | NOTES,
    typed=st.none() | st.text(max_size=10),
    corrections=st.lists(NOTES, max_size=3).map(tuple),
    skipped=st.booleans(),
    held_sounding=st.none() | st.booleans(),
    interval=st.none() | st.builds(NoteInterval, FLOATS, st.none() | FLOATS, CAVEATS),
    due_s=st.none() | FLOATS,
    late_ms=st.none() | FLOATS,
    cue_sure=st.just(True),
)


@given(ANSWERS)
def test_there_and_back(answer: Answer) -> None:
    assert answer_of(answer_row(7, answer)) == answer


@given(ANSWERS)
def test_an_answer_to_an_unsure_cue_is_kept_as_one(answer: Answer) -> None:
    unsure = replace(answer, response_s=None, recall=None, cue_sure=False)
    row = answer_row(7, unsure)
    assert row["recall_caveats"] == "cue unsure"
    assert answer_of(row) == unsure


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e300])
@pytest.mark.parametrize("name", ["cue_s", "answer_s", "response_s", "due_s", "late_ms"])
def test_a_time_that_is_no_number_is_refused(answer, name: str, value: float) -> None:
    with pytest.raises(
        BadInput,
        match=rf"answer 3 of run 7 .*{name} is {re.escape(str(value))}.*a number from -1e\+12 to 1e\+12",
    ):
        answer_row(7, replace(answer(3), **{name: value}))


def test_so_are_recall_times_and_intervals(answer) -> None:
    for name, one in (
        ("recall_s", {"recall": Recall(math.nan, None, None)}),
        ("recall_own_s", {"recall": Recall(0.5, 0.1, math.inf)}),
        ("interval_error_s", {"interval": NoteInterval(0.5, math.nan)}),
    ):
        with pytest.raises(BadInput, match=f"{name} is"):
            answer_row(7, replace(answer(3), **one))


def test_counted_where_it_was_played_if_that_was_asked() -> None:
    asked = (Place(1, 0), Place(2, 5), Place(3, 9))
    prompt = Prompt(1, (), Judged.PITCH, asked, (64, 64, 64), SpelledPitch("E", 0, 4))

    def given_at(string: int, fret: int, verdict: Verdict) -> Answer:
        return Answer(prompt, verdict, 0.0, 1.0, 1.0, played=Note(1, 1.0, string, fret, 64, 90, 0))

    assert given_at(2, 5, Verdict.RIGHT).counted_place == Place(2, 5)
    assert given_at(2, 5, Verdict.WRONG).counted_place is None  # used before, say
    assert given_at(4, 14, Verdict.ELSEWHERE).counted_place is None
    assert Answer(prompt, Verdict.MISSED, 0.0).counted_place is None
    assert counted_place(Answer(prompt, Verdict.MISSED, 0.0)) == NO_PLACE
    single = replace(prompt, places=asked[:1], midis=(64,))
    assert Answer(single, Verdict.MISSED, 0.0).counted_place == Place(1, 0)
