"""The course of a session: what is done, what is left, and what is planned again as answers come."""

import datetime as dt
import json
from dataclasses import replace

import pytest

from midifret.files import Home
from midifret.gear.path import load_path
from midifret.practice import (
    Asked,
    Assignment,
    Block,
    BlockKind,
    Memory,
    MethodPath,
    PlanInput,
    RecallKind,
    Remembered,
    Task,
    plan_day,
    standing,
)
from midifret.practice.course import (
    BlockDone,
    Course,
    begin,
    in_time,
    is_shown,
    may_be_enough,
    newly_in_time,
)
from midifret.practice.kept_course import course_document, course_of
from midifret.terms import BadInput, Place

DAY = dt.date(2026, 11, 2)
NOON_S = dt.datetime(2026, 11, 2, 12, tzinfo=dt.UTC).timestamp()


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> MethodPath:
    return load_path(Home.of(str(tmp_path_factory.mktemp("home"))))


def given_of(path: MethodPath, memory: Memory | None = None, **fields: object) -> PlanInput:
    known = memory or Memory()
    made = PlanInput(known, path, standing(path, {}), DAY, NOON_S, 15.0)
    return replace(made, **fields)  # type: ignore[arg-type]


def learn(
    memory: Memory,
    *frets: int,
    right: bool = True,
    recall_s: float = 0.7,
    at_s: float = NOON_S,
    times: int = 3,
) -> Memory:
    """Each place of these rows so many times, a minute between two rounds."""
    for time in range(times):
        for number, (fret, string) in enumerate((f, s) for f in frets for s in range(6, 0, -1)):
            asked = Asked(Place(string, fret), RecallKind.NAME)
            given = Remembered(
                asked, at_s + 60 * time + number, right, recall_s if right else None, found=right
            )
            memory.answer(given)
    return memory


def finished(course: Course, given: PlanInput, *, minutes: float | None = None) -> Course:
    """Play the block at hand to its end."""
    played = course.block_left if minutes is None else minutes
    return course.played_on(BlockDone(played, 10, 9)).next(given)


def kinds(course: Course) -> list[BlockKind]:
    return [block.kind for block in course.plan.blocks]


def test_a_session_goes_from_block_to_block_and_ends(path: MethodPath) -> None:
    memory = learn(Memory(), 0, 1, 2, 3, 5, at_s=NOON_S - 86400)
    given = given_of(path, memory)
    course = begin(plan_day(given), memory)
    assert course.minutes == course.left == 15.0
    steps = 0
    while course.block is not None:
        course = finished(course, replace(given, now_s=NOON_S + course.played * 60))
        steps += 1
        assert steps < 20
        assert sum(block.minutes for block in course.plan.blocks) == pytest.approx(15.0, abs=2.5)
    assert course.played == pytest.approx(15.0, abs=1.5)
    assert course.plan.blocks[-1].kind is BlockKind.CLOSE
    assert course.next(given) == course  # nothing comes after the end


def test_the_minutes_of_a_block_that_ends_early_go_to_the_others(path: MethodPath) -> None:
    memory = learn(Memory(), 0, 1, 2, 3, 5, at_s=NOON_S - 86400)
    given = given_of(path, memory)
    course = begin(plan_day(given), memory)
    first = course.plan.blocks[0].minutes
    course = finished(course, given, minutes=first / 2)
    assert sum(b.minutes for b in course.plan.blocks[1:]) == pytest.approx(15.0 - first / 2, abs=0.6)


def test_new_matter_waits_until_the_old_comes_right(path: MethodPath) -> None:
    memory = learn(Memory(), 0, at_s=NOON_S)
    course = begin(plan_day(given_of(path, memory)), memory)
    assert BlockKind.NEW in kinds(course)
    failing = learn(Memory(memory.kept), 0, 1, 2, right=False, at_s=NOON_S + 600)
    later = finished(course, given_of(path, failing, now_s=NOON_S + 800))
    assert BlockKind.NEW not in kinds(later)[1:]
    assert BlockKind.WEAK in kinds(later)[1:]


def test_new_matter_comes_as_soon_as_the_old_comes_right(path: MethodPath) -> None:
    failing = learn(Memory(), 0, 1, 2, right=False, at_s=NOON_S - 86400)
    course = begin(plan_day(given_of(path, failing)), failing)
    assert BlockKind.NEW not in kinds(course)
    knowing = learn(Memory(failing.kept), 0, 1, 2, at_s=NOON_S)
    later = finished(course, given_of(path, knowing, now_s=NOON_S + 300))
    assert BlockKind.NEW in kinds(later)[1:]
    assert kinds(later)[-1] is BlockKind.CLOSE


def test_what_was_skipped_does_not_come_back(path: MethodPath) -> None:
    memory = learn(Memory(), 0, at_s=NOON_S)
    given = given_of(path, memory)
    course = begin(plan_day(given), memory)
    while course.block is not None and course.block.kind is not BlockKind.NEW:
        course = finished(course, given)
    assert course.block is not None
    at = course.at
    course = course.next(given, skipped=True)
    assert BlockKind.NEW not in kinds(course)[at + 1 :]
    assert course.done[at].skipped
    assert course.done[at].minutes == 0.0


def test_what_a_teacher_set_stays_as_it_was_set(path: MethodPath) -> None:
    task = Task("row-7-shuffled", None, 5.0)
    memory = learn(Memory(), 0, 1, recall_s=0.4, times=10, at_s=NOON_S - 86400)
    given = given_of(path, memory, assignments=(Assignment(DAY, (task,)),))
    course = begin(plan_day(given), memory)
    tasks = [block for block in course.plan.blocks if block.kind is BlockKind.TASK]
    assert len(tasks) == 1
    assert kinds(course)[0] is not BlockKind.TASK  # a warm-up comes before it
    course = finished(course, given, minutes=3.0)  # longer than it was meant
    assert [block for block in course.plan.blocks if block.kind is BlockKind.TASK] == tasks


def test_breaks_come_after_half_an_hour_of_playing(path: MethodPath) -> None:
    """5 to 10 minutes an hour away from the instrument (NASM-PAMA student sheet): 5 after each half hour."""
    memory = learn(Memory(), 0, 1, 2, 3, 5, 7, at_s=NOON_S - 86400)
    given = given_of(path, memory, minutes=70.0, history=())
    plan = plan_day(replace(given, history=_played_before(given.day, 60.0)))
    course = begin(plan, memory)
    assert course.minutes == 70.0
    since = longest = 0.0
    breaks = 0
    while (block := course.block) is not None:
        if block.kind is BlockKind.BREAK:
            breaks += 1
            longest, since = max(longest, since), 0.0
            course = course.next(given)
        else:
            since += course.block_left
            course = finished(course, given)
    assert breaks == 2
    assert max(longest, since) <= 30.0 + 3.0  # a part under 3 minutes is not cut off


def _played_before(day: dt.date, minutes: float) -> tuple[object, ...]:
    from midifret.practice import DayMinutes

    return tuple(DayMinutes(day - dt.timedelta(days=n), minutes) for n in range(1, 10))


def test_somebody_of_whom_nothing_comes_right_ends_on_places_that_are_shown(path: MethodPath) -> None:
    failing = Memory()
    course = begin(plan_day(given_of(path)), failing)
    learn(failing, 0, 1, right=False, at_s=NOON_S)
    given = given_of(path, failing, now_s=NOON_S + 300)
    while course.block is not None and course.block.kind is not BlockKind.CLOSE:
        course = finished(course, given)
    assert course.block is not None
    assert is_shown(course.block, failing)
    knowing = learn(Memory(), 0, at_s=NOON_S)
    right = begin(plan_day(given_of(path, knowing)), knowing).plan.blocks[-1]
    assert right.kind is BlockKind.CLOSE
    assert not is_shown(right, knowing)


def test_a_session_whose_time_is_over_still_ends_on_something_that_succeeds(path: MethodPath) -> None:
    memory = learn(Memory(), 0, 1, 2, 3, 5, at_s=NOON_S - 86400)
    given = given_of(path, memory)
    course = begin(plan_day(given), memory)
    course = finished(course, given, minutes=20.0)  # far over
    assert [block.kind for block in course.plan.blocks[course.at :]] == [BlockKind.CLOSE]
    assert course.block_left == 1.0


def test_what_came_in_time_only_now_is_told_apart(path: MethodPath) -> None:
    memory = learn(Memory(), 0, at_s=NOON_S - 86400)
    course = begin(plan_day(given_of(path, memory)), memory)
    assert len(in_time(memory)) == 6
    learn(memory, 5, at_s=NOON_S)
    assert [asked.place for asked in newly_in_time(course, memory)] == [Place(s, 5) for s in range(6, 0, -1)]


def test_a_block_ends_when_it_is_enough_unless_that_is_so_from_the_beginning(path: MethodPath) -> None:
    asked = tuple(Asked(Place(string, 5), RecallKind.NAME) for string in range(6, 0, -1))
    block = Block(BlockKind.WEAK, 5.0, "", asked=asked)
    fresh = learn(Memory(), 5, recall_s=0.4, times=30)
    assert may_be_enough(block, Memory(), NOON_S)
    assert not may_be_enough(block, fresh, NOON_S + 1860)
    assert not may_be_enough(replace(block, kind=BlockKind.CLOSE), Memory(), NOON_S)


def test_a_course_is_kept_and_comes_back(path: MethodPath) -> None:
    memory = learn(Memory(), 0, 1, 2, at_s=NOON_S - 86400)
    given = given_of(path, memory)
    course = begin(plan_day(given), memory)
    course = finished(course, given).played_on(BlockDone(0.7, 12, 9))
    text = json.dumps(course_document(course))
    assert course_of(json.loads(text), [part.minutes for part in course.done], course.at) == course
    assert course.of_block == BlockDone(0.7, 12, 9)


@pytest.mark.parametrize("spoil", ["course", "blocks", "day", "version"])
def test_what_is_no_course_is_refused(path: MethodPath, spoil: str) -> None:
    document = course_document(begin(plan_day(given_of(path)), Memory()))
    del document[spoil]
    with pytest.raises(BadInput, match="practice session cannot be read"):
        course_of(document, [], 0)


def test_a_course_and_its_minutes_have_to_fit(path: MethodPath) -> None:
    document = course_document(begin(plan_day(given_of(path)), Memory()))
    for minutes, at in (([1.0], 0), ([], 99), ([], -1)):
        with pytest.raises(BadInput, match="cannot be read"):
            course_of(document, minutes, at)


def test_who_was_placed_begins_there(path: MethodPath) -> None:
    """What lies before the stage and was never asked comes last."""
    placed = standing(path, {}, placed={path.rows[2].strand: "row-7"})
    plan = plan_day(given_of(path, standing=placed))
    new = next(block for block in plan.blocks if block.kind is BlockKind.NEW)
    assert new.asked[0].place.fret == 7
