"""A plan comes back from what is kept of it as it was, and what is no plan is refused."""

import datetime as dt
import json

import pytest

from midifret.practice import (
    Asked,
    Assignment,
    Block,
    BlockKind,
    DayPlan,
    Load,
    Lost,
    RecallKind,
    Task,
    plan_document,
    plan_of,
)
from midifret.terms import BadInput, Place

A, B = Asked(Place(6, 5), RecallKind.NAME), Asked(Place(1, 0), RecallKind.STAFF)
PLAN = DayPlan(
    dt.date(2026, 11, 26),
    14.5,
    (
        Block(BlockKind.TASK, 4.0, "Your teacher set this.", score="a b.abc", position=5, tempo_bpm=60.0),
        Block(BlockKind.ROW, 3.0, "It is due.", drill="row-5-leap-1"),
        Block(BlockKind.WEAK, 4.5, "Not by heart.", asked=(A, B)),
        Block(BlockKind.BREAK, 5.0, "Hands rest."),
        Block(BlockKind.READING, 3.0, "Next.", position=1, level=2),
    ),
    ("One remark.",),
    Lost(86_400.5, 3, (A,), (B,), ("You last played long ago.",)),
    Load(14.5, 2.25, 30.0, 5.0, ("Not more.",)),
)
EMPTY = DayPlan(dt.date(2026, 1, 1), 3.0, (), (), Lost(None, 0, (), (), ()), Load(3.0, 0.0, 30.0, 5.0))


@pytest.mark.parametrize("plan", [PLAN, EMPTY])
def test_a_plan_comes_back_as_it_was(plan: DayPlan) -> None:
    assert plan_of(json.loads(json.dumps(plan_document(plan), allow_nan=False))) == plan


@pytest.mark.parametrize(
    ("where", "value"),
    [
        (("version",), 2),
        (("day",), "soon"),
        (("minutes",), -1),
        (("minutes",), float("nan")),
        (("minutes",), True),
        (("blocks", 0, "kind"), "dance"),
        (("blocks", 2, "asked", 0), "name"),
        (("blocks", 2, "asked", 0), "name 6-5"),
        (("blocks", 0, "minutes"), "4"),
        (("blocks", 0), None),
        (("lost",), None),
        (("load", "played"), None),
    ],
)
def test_what_is_no_plan_is_refused(where: tuple[str | int, ...], value: object) -> None:
    document = json.loads(json.dumps(plan_document(PLAN)))
    inner = document
    for key in where[:-1]:
        inner = inner[key]
    inner[where[-1]] = value
    with pytest.raises(BadInput, match="the plan of a practice session cannot be read"):
        plan_of(document)


@pytest.mark.parametrize("key", ["version", "day", "minutes", "blocks", "remarks", "lost", "load"])
def test_a_plan_without_a_part_is_refused(key: str) -> None:
    document = plan_document(PLAN)
    del document[key]
    with pytest.raises(BadInput, match="begin a new session"):
        plan_of(document)


def test_what_holds_on_its_last_day() -> None:
    work = Assignment(dt.date(2026, 11, 26), (Task("row-5-leap-1", None, 5.0),))
    assert work.holds_on(dt.date(2026, 11, 26))
    assert not work.holds_on(dt.date(2026, 11, 27))
