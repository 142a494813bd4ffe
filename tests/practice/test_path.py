"""The path: gates over separate days, where a player stands, placement, going back."""

import datetime as dt

import pytest

from midifret.practice import (
    MethodPath,
    PlacementAnswer,
    RecallKind,
    Stage,
    StageDay,
    StageGate,
    Strand,
    gate_met,
    kind_of,
    placement_stage,
    remembered,
    standing,
)
from midifret.practice.path import PLACES_A_STAGE
from midifret.terms import Place
from midifret.terms.answers import Answer, Verdict
from midifret.terms.exercise import CueKind, Judged, Prompt
from midifret.terms.pitch import SpelledPitch

DAY = dt.date(2027, 1, 10)
GATE = StageGate(0.9, 1.5, 60.0, days=2)


def stage(name, strand=Strand.ROWS, gate=GATE, frets=((5, 5),)):
    return Stage(strand, name, name.title(), (f"{name}-drill",), gate, frets)


PATH = MethodPath(
    (stage("a", frets=((0, 1),)), stage("b"), stage("c", frets=((0, 5),))),
    (stage("r", Strand.READING, StageGate(0.9), ()), stage("s", Strand.READING, StageGate(0.9), ())),
    "a",
)


def day(n, right=1.0, recall_s=1.0, tempo_bpm=70.0):
    return StageDay(DAY + dt.timedelta(days=n), right, recall_s, tempo_bpm)


@pytest.mark.parametrize(
    ("days", "met"),
    [
        ([], False),
        ([day(0)], False),
        ([day(0), day(0)], False),  # one day twice is one day
        ([day(0), day(9)], True),  # they need not follow one another
        ([day(0), day(1, right=0.89)], False),
        ([day(0), day(1, right=0.9)], True),
        ([day(0), day(1, recall_s=1.6)], False),
        ([day(0), day(1, recall_s=None)], False),  # not measured is not shown
        ([day(0), day(1, tempo_bpm=59.9)], False),
        ([day(0), day(1, tempo_bpm=None)], False),
        ([day(0), day(1, right=0.2), day(2)], True),
    ],
)
def test_a_gate_asks_for_separate_days(days, met):
    assert gate_met(GATE, days) is met


def test_reading_begins_when_the_open_position_holds():
    assert standing(PATH, {}).reading is None
    found = standing(PATH, {"a": [day(0), day(1)]})
    assert (found.rows.name, found.reading.name) == ("b", "r")


def test_at_the_end_one_stays_at_the_last_stage():
    held = {name: [day(0), day(1)] for name in "abcrs"}
    found = standing(PATH, held)
    assert (found.rows.name, found.reading.name) == ("c", "s")


def test_a_teacher_sets_any_stage_forwards_or_back():
    held = {"a": [day(0), day(1)], "b": [day(0), day(1)]}
    back = standing(PATH, held, teacher={Strand.ROWS: "a"})
    assert back.rows.name == "a"
    assert back.set_by_teacher == {Strand.ROWS}
    on = standing(PATH, {}, teacher={Strand.ROWS: "c", Strand.READING: "s"})
    assert (on.rows.name, on.reading.name) == ("c", "s")
    # A stage that the path no longer has says nothing.
    assert standing(PATH, held, teacher={Strand.ROWS: "gone"}).rows.name == "c"


def test_what_held_and_does_not_on_the_newest_day_is_gone_back_to():
    found = standing(PATH, {"a": [day(0), day(1), day(5, right=0.5)]})
    assert found.fallen == ("a",)
    assert standing(PATH, {"a": [day(5), day(1, right=0.5), day(0)]}).fallen == ()


def answers(name, *right, recall_s=1.0):
    return [PlacementAnswer(name, each, recall_s if each else None) for each in right]


def test_placement_goes_up_until_a_stage_does_not_hold():
    assert placement_stage(PATH, []) == (PATH.rows[0], False)
    good = answers("a", *[True] * PLACES_A_STAGE)
    assert placement_stage(PATH, good) == (PATH.rows[1], False)
    assert placement_stage(PATH, good + answers("b", False, True, False)) == (PATH.rows[1], True)
    one_wrong = answers("b", False, *[True] * (PLACES_A_STAGE - 1))
    assert placement_stage(PATH, good + one_wrong) == (PATH.rows[2], False)
    slow = answers("b", *[True] * PLACES_A_STAGE, recall_s=1.6)
    assert placement_stage(PATH, good + slow) == (PATH.rows[1], True)
    every = [each for name in "abc" for each in answers(name, *[True] * PLACES_A_STAGE)]
    assert placement_stage(PATH, every) == (PATH.rows[2], True)


def test_who_is_placed_begins_there_and_reading_with_it():
    found = standing(PATH, {}, placed={Strand.ROWS: "c"})
    assert (found.rows.name, found.reading.name, found.held) == ("c", "r", {"a", "b"})


def test_places_stop_at_the_end_of_the_neck():
    places = stage("x", frets=((11, 13),)).places(6, 12)
    assert places[0] == Place(6, 11)
    assert {place.fret for place in places} == {11, 12}


A_PROMPT = Prompt(1, (CueKind.NAME,), Judged.PLACE, (Place(6, 5),), (45,), SpelledPitch("A", 0, 2))


def test_an_answer_counts_for_its_place_and_kind_of_cue():
    right = Answer(A_PROMPT, Verdict.RIGHT, 0.0, 1.0, 1.0)
    found = remembered(right, 99.0)
    assert (found.asked.place, found.asked.kind, found.right) == (Place(6, 5), RecallKind.NAME, True)
    assert kind_of(A_PROMPT.cue) is RecallKind.NAME
    wrong = remembered(Answer(A_PROMPT, Verdict.MISSED, 0.0), 99.0)
    assert (wrong.right, wrong.found, wrong.recall_s) == (False, False, None)


def test_a_walk_without_cues_counts_for_nothing():
    prompt = Prompt(1, (), Judged.PLACE, (Place(6, 5),), (45,), SpelledPitch("A", 0, 2))
    assert remembered(Answer(prompt, Verdict.RIGHT, 0.0, 1.0, 1.0), 99.0) is None


def test_a_wrong_answer_with_several_places_counts_for_none():
    prompt = Prompt(
        1, (CueKind.NAME,), Judged.PITCH, (Place(6, 5), Place(5, 0)), (45, 45), SpelledPitch("A", 0, 2)
    )
    assert remembered(Answer(prompt, Verdict.WRONG, 0.0, 1.0, 1.0), 99.0) is None
