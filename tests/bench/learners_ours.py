"""Our own plan as a way to practise, for simulated learners: choice alone, or days as `practice` has them.

Their clock begins at 0; ours counts seconds since 1970, so that their first day is set to one of ours.
"""

import datetime as dt
import statistics
from dataclasses import replace
from functools import cache
from pathlib import Path

from midifret.drills import build
from midifret.drills.library import find
from midifret.files import Home
from midifret.gear.path import load_path
from midifret.neck import Neck, Tuning
from midifret.practice import (
    Asked,
    BlockKind,
    ChoiceRules,
    Chooser,
    DayAnswer,
    DayMinutes,
    DayTempo,
    Memory,
    MemoryRules,
    MethodPath,
    PlanInput,
    Remembered,
    chooser_for,
    kind_of,
    plan_day,
    shown_of,
    standing,
)
from midifret.practice import course as courses
from midifret.terms import Place
from tests.bench.learners import FRETS, PLACES, Traits

FIRST_DAY = dt.date(2026, 1, 1)
EPOCH_S = dt.datetime(2026, 1, 1, tzinfo=dt.UTC).timestamp()
NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))  # music21, mingus: see the facts
NOBODYS = Home(Path("nobody-lives-here"))
HANDS_S = Traits().hands_s


@cache
def shipped_path() -> MethodPath:
    """Return the rows of the path that is shipped; the others do not read either."""
    return replace(load_path(NOBODYS), reading=())


@cache
def drill_of(name: str) -> tuple[tuple[Place, Asked | None], ...]:
    """Return the places of a drill in its order, each as memory takes it: None where a walk tells the way."""
    found = []
    for prompt in build(find(name, NOBODYS), NECK, seed=0).prompts:
        kind = kind_of(prompt.cue, prompt.judged)
        place = prompt.places[0]
        if place in PLACES:
            found.append((place, None if kind is None else Asked(place, kind)))
    return tuple(found)


class ByChoice:
    """The chooser over all places of the path, from the first minute of a day to the last."""

    def __init__(
        self, seed: int = 0, rules: ChoiceRules | None = None, memory_rules: MemoryRules | None = None
    ) -> None:
        """The seed plays no part: the same answers give the same choice."""
        self.memory = Memory(rules=memory_rules)
        self._kinds = {asked.place: asked for asked in shipped_path().asked()}
        self._chooser = Chooser(self.memory, tuple(self._kinds.values()), rules)

    def begin_day(self, day: int) -> None:
        """As in Policy."""

    def next(self, now_s: float) -> Place:
        """As in Policy."""
        return self._chooser.next(EPOCH_S + now_s).asked.place

    def answered(self, place: Place, right: bool, recall_s: float, now_s: float) -> None:
        """As in Policy."""
        given = Remembered(self._kinds[place], EPOCH_S + now_s, right, recall_s if right else None)
        self.memory.answer(given)
        self._chooser.answered(given)


class ByPlan:
    """Sessions as `practice` has them: planned, played block by block, the rest planned again after each.

    Drills are played prompt after prompt, walks too, which memory is not told of. What a walk shows of owned
    tempo is taken from the middle time between two plucks. A row's gate asks for that, too.
    """

    def __init__(
        self,
        seed: int = 0,
        minutes: float = 15.0,
        rules: ChoiceRules | None = None,
        memory_rules: MemoryRules | None = None,
    ) -> None:
        """The seed plays no part. minutes: of a session."""
        self.memory = Memory(rules=memory_rules)
        self._minutes, self._rules = minutes, rules
        self._firsts: dict[tuple[int, Asked], DayAnswer] = {}
        self._tempos: list[DayTempo] = []
        self._history: list[DayMinutes] = []
        self._done: frozenset[str] = frozenset()
        self._course: courses.Course | None = None
        self._chooser: Chooser | None = None
        self._began_s = 0.0
        self._walk: list[tuple[bool, float]] = []
        self._asked: Asked | None = None
        self._day = 0

    def begin_day(self, day: int) -> None:
        """As in Policy."""
        self._day, self._course = day, None
        self._history.append(DayMinutes(self._date, self._minutes))

    @property
    def _date(self) -> dt.date:
        return FIRST_DAY + dt.timedelta(days=self._day)

    def next(self, now_s: float) -> Place:
        """As in Policy."""
        if self._course is None:
            self._course = courses.begin(plan_day(self._given(now_s), self._rules), self.memory)
            self._begin_block(now_s)
        while (block := self._course.block) is not None and (
            block.kind is BlockKind.BREAK or now_s - self._began_s >= 60 * self._course.block_left
        ):
            self._end_block(now_s)
        if self._course.block is not None and self._course.block.drill is not None:
            prompts = drill_of(self._course.block.drill)
            place, self._asked = prompts[len(self._walk) % len(prompts)]
            return place
        if self._chooser is None:
            self._chooser = Chooser(self.memory, shipped_path().asked(), self._rules)
        self._asked = self._chooser.next(EPOCH_S + now_s).asked
        return self._asked.place

    def answered(self, place: Place, right: bool, recall_s: float, now_s: float) -> None:
        """As in Policy."""
        self._walk.append((right, HANDS_S + recall_s))
        if self._asked is None:
            return
        given = Remembered(self._asked, EPOCH_S + now_s, right, recall_s if right else None)
        self.memory.answer(given)
        self._firsts.setdefault((self._day, self._asked), DayAnswer(self._date, given))
        if self._chooser is not None:
            self._chooser.answered(given)

    def _given(self, now_s: float) -> PlanInput:
        path = shipped_path()
        shown = shown_of(path, self._firsts.values(), self._tempos, last_fret=FRETS - 1)
        return PlanInput(
            self.memory,
            path,
            standing(path, shown),
            self._date,
            EPOCH_S + now_s,
            self._minutes,
            tuple(self._history[:-1]),
            drills_done=self._done,
        )

    def _begin_block(self, now_s: float) -> None:
        block = self._course.block if self._course else None
        self._began_s, self._walk, self._chooser = now_s, [], None
        if block is not None and block.asked:
            self._chooser = chooser_for(block, self.memory, self._rules)

    def _end_block(self, now_s: float) -> None:
        course = self._course
        assert course is not None
        block = course.block
        assert block is not None
        if block.drill is not None and self._walk:
            right = sum(good for good, _ in self._walk) / len(self._walk)
            middle_s = statistics.median(took_s for _, took_s in self._walk)
            # As the gates of walks have it: 95% right, 1.5 s a note.
            if right >= 0.95 and middle_s <= 1.5:
                self._done |= {block.drill}
            if right >= 0.9:
                self._tempos.append(DayTempo(self._date, block.drill, 60 / middle_s))
        part = courses.BlockDone(
            block.minutes if block.kind is BlockKind.BREAK else (now_s - self._began_s) / 60,
            len(self._walk),
            sum(good for good, _ in self._walk),
        )
        self._course = course.played_on(part).next(self._given(now_s), self._rules)
        self._begin_block(now_s)
