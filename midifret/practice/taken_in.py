"""Answers of many runs taken into a memory, a few at a time and always in the order of their time."""

import datetime as dt
import heapq
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from midifret.practice.kinds import Asked, Remembered, kind_of
from midifret.practice.memory import Memory, dated, is_future, order_of
from midifret.practice.shown import DayAnswer
from midifret.terms.practised import AskedAnswer, AskedRun


@dataclass(frozen=True, slots=True)
class RunAnswers:
    """What memory takes of one run. started_s: seconds since 1970; no answer is dated before it."""

    run_id: int
    day: dt.date
    started_s: float
    answers: tuple[Remembered, ...]

    def is_future(self, now_s: float) -> bool:
        """Whether one of its answers is dated so much later than now that its clock was wrong."""
        return any(is_future(given, now_s) for given in self.answers)


def run_answers(run: AskedRun) -> RunAnswers:
    """Return what memory takes of a run as the book has it; what shows no recall is left out."""
    found = tuple(given for each in run.answers if (given := _remembered(each)) is not None)
    return RunAnswers(run.run_id, run.day, run.started_s, found)


def _remembered(each: AskedAnswer) -> Remembered | None:
    """The same as `kinds.remembered` makes of the whole answer."""
    kind = kind_of(each.cue, each.judged)
    if kind is None or each.place is None:
        return None
    return Remembered(Asked(each.place, kind), each.at_s, each.right, each.recall_s, each.found)


def in_order(runs: Iterable[RunAnswers]) -> Iterator[tuple[dt.date, Remembered]]:
    """Yield the answers of runs by their time, each with its practice day, as `remember` orders them.

    runs: by their begin. Runs may overlap; no more than those that do are held at a time.
    """
    waiting: list[tuple[tuple[object, ...], int, dt.date, Remembered]] = []
    number = 0
    for run in runs:
        while waiting and waiting[0][3].at_s < run.started_s:
            _, _, day, given = heapq.heappop(waiting)
            yield day, given
        for given in run.answers:
            heapq.heappush(waiting, (order_of(given), number, run.day, given))
            number += 1
    while waiting:
        _, _, day, given = heapq.heappop(waiting)
        yield day, given


class Firsts:
    """Collects the first answer of each place and kind on each practice day."""

    def __init__(self) -> None:
        """Begin with none."""
        self._found: dict[tuple[dt.date, Asked], Remembered] = {}

    def add(self, day: dt.date, given: Remembered) -> None:
        """Take an answer, in whatever order; of two at one time the first one taken holds."""
        before = self._found.get((day, given.asked))
        if before is None or given.at_s < before.at_s:
            self._found[(day, given.asked)] = given

    @property
    def found(self) -> tuple[DayAnswer, ...]:
        """All of them."""
        return tuple(DayAnswer(day, given) for (day, _), given in self._found.items())


def take_in(memory: Memory, runs: Iterable[RunAnswers]) -> tuple[DayAnswer, ...] | None:
    """Let a memory take the answers of runs, and return the first answers of each day among them.

    runs: by their begin, none of them future. None where an answer is not later than what the memory has
    already: it would come out otherwise than `remember` of all answers, and has to be worked out anew. The
    memory is then of no more use.
    """
    firsts = Firsts()
    newest_s = -math.inf if memory.newest_s is None else memory.newest_s
    for day, given in in_order(runs):
        if given.at_s <= newest_s:
            return None
        firsts.add(day, given)
        memory.answer(given)
    return firsts.found


def on_top(memory: Memory, future: Iterable[RunAnswers], now_s: float) -> bool:
    """Let a memory take answers of runs that are dated in the future, as given now.

    Returns False where one of them is older than what the memory has: then `remember` has to be asked. What
    comes of it is for now, and not to be kept: later these answers have another date.
    """
    found = sorted((dated(given, now_s) for run in future for given in run.answers), key=order_of)
    if found and memory.newest_s is not None and found[0].at_s <= memory.newest_s:
        return False
    for given in found:
        memory.answer(given)
    return True
