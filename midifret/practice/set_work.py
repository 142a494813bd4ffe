"""What of a teacher's work was played on a day, and what is left of it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from midifret.practice.course import Course
from midifret.practice.path import Assignment, Task
from midifret.practice.plan import Block, BlockKind

# A task is done for the day when less than so much of it is left: passes and readings seldom end with the
# minute [ours].
_OPEN_SHARE = 0.25
# What can be told of a task and of what was played: drill, score, position, tempo.
_Key = tuple[str | None, str | None, int | None, float | None]
_Any = TypeVar("_Any")


@dataclass(frozen=True, slots=True)
class TaskToday:
    """A task, and how many of its minutes were played on the day."""

    task: Task
    played: float

    @property
    def left(self) -> float:
        """Minutes left of it today, to half a minute; 0 where it is done."""
        left = self.task.minutes - self.played
        return max(round(left * 2) / 2, 0.5) if left > _OPEN_SHARE * self.task.minutes else 0.0

    @property
    def is_done(self) -> bool:
        """Whether it is done for the day."""
        return self.left == 0.0


def work_today(
    assignments: Sequence[Assignment],
    courses: Sequence[Course],
    drills: Mapping[tuple[str, float | None], float],
) -> tuple[tuple[TaskToday, ...], ...]:
    """Say what was played of each task of each assignment on one day.

    courses: the sessions of the day. drills: minutes of all runs of the day, in sessions and by hand, by
    drill and tempo, None for free tempo. A block that ended of itself counts with all its minutes. A score
    counts where a session had it for the task. What was played counts once, for the first of two tasks alike.
    """
    counted: dict[_Key, float] = defaultdict(float)
    by_hand = dict(drills)
    for course in courses:
        for number, (block, done) in enumerate(zip(course.plan.blocks, course.done, strict=False)):
            if block.kind is BlockKind.TASK:
                ended = number < course.at and done.minutes > 0 and not done.skipped
                counted[_key(block)] += max(block.minutes, done.minutes) if ended else done.minutes
                _taken(by_hand, _runs_of(block, by_hand), done.minutes)
    found = []
    for assignment in assignments:
        today = []
        for task in assignment.tasks:
            played = _taken(counted, [_key(task)], task.minutes)
            played += _taken(by_hand, _runs_of(task, by_hand), task.minutes - played)
            today.append(TaskToday(task, played))
        found.append(tuple(today))
    return tuple(found)


def still_set(assignment: Assignment, today: Sequence[TaskToday]) -> Assignment:
    """Return an assignment with what is left of its tasks today; all else stays."""
    left = tuple(replace(each.task, minutes=each.left) for each in today if not each.is_done)
    return replace(assignment, tasks=left)


def is_task_of(block: Block, task: Task) -> bool:
    """Whether a block of a plan is there for that task."""
    return block.kind is BlockKind.TASK and _key(block) == _key(task)


def _taken(pool: dict[_Any, float], keys: Iterable[_Any], minutes: float) -> float:
    """Take so many minutes at most out of what is there under these keys; return how many that were."""
    taken = 0.0
    for key in keys:
        some = min(pool.get(key, 0.0), minutes - taken)
        if some > 0:
            pool[key] -= some
            taken += some
    return taken


def _runs_of(
    what: Task | Block, drills: Iterable[tuple[str, float | None]]
) -> list[tuple[str, float | None]]:
    """Those runs that are of its drill, and in its tempo where it says one."""
    return [
        (name, bpm)
        for name, bpm in drills
        if name == what.drill and (what.tempo_bpm is None or bpm == what.tempo_bpm)
    ]


def _key(what: Task | Block) -> _Key:
    return what.drill, what.score, what.position, what.tempo_bpm
