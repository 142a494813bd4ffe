"""Learners for the tests of this room: two laws of memory not the planner's, and ways to practise."""

import math
import random
from dataclasses import dataclass, field

from midifret.practice.choose import ChoiceRules, Chooser
from midifret.practice.kinds import Asked, RecallKind, Remembered
from midifret.practice.memory import Memory
from midifret.practice.rules import MemoryRules
from midifret.terms import Place

DAY_S = 86_400.0
ROWS = (0, 1, 2, 3, 5, 7, 10, 12, 4, 6, 8, 9, 11)
ORDER = tuple(Asked(Place(string, fret), RecallKind.NAME) for fret in ROWS for string in range(6, 0, -1))


@dataclass
class Halving:
    """Strength halves in a time that grows with each answer, the more the later it comes; time falls with it.

    All numbers ours: exponential forgetting, growth by spacing, an exponential practice curve (Heathcote
    et al. 2000 find it exponential).
    """

    chance: random.Random
    talent: float = 1.0
    half_s: dict[Asked, float] = field(default_factory=dict)
    last_s: dict[Asked, float] = field(default_factory=dict)
    skill: dict[Asked, float] = field(default_factory=dict)
    hard: dict[Asked, float] = field(default_factory=dict)

    def left(self, asked: Asked, at_s: float) -> float:
        if asked not in self.half_s:
            return 0.0
        return 0.5 ** ((at_s - self.last_s[asked]) / self.half_s[asked])

    def time_s(self, asked: Asked, at_s: float) -> float:
        skill = self.skill.get(asked, 0.0) * (0.4 + 0.6 * self.left(asked, at_s))
        return 0.55 + 3.0 * math.exp(-skill)

    def is_right(self, asked: Asked, at_s: float) -> float:
        return 0.25 + 0.73 * self.left(asked, at_s)

    def practise(self, asked: Asked, at_s: float) -> None:
        hard = self.hard.setdefault(asked, self.chance.lognormvariate(0, 0.4))
        left = self.left(asked, at_s)
        half_s = self.half_s.get(asked, 0.0)
        self.half_s[asked] = half_s * (1 + 3.0 * (1 - left) * self.talent / hard) + 600 * self.talent
        self.skill[asked] = self.skill.get(asked, 0.0) + 0.11 * self.talent / hard
        self.last_s[asked] = at_s


@dataclass
class Pools:
    """Five leaky pools of different staying; each answer fills every pool towards 1 (after the multiscale
    context model of Mozer et al. 2009 [mem]; numbers ours).
    """

    chance: random.Random
    talent: float = 1.0
    pools: dict[Asked, list[float]] = field(default_factory=dict)
    last_s: dict[Asked, float] = field(default_factory=dict)
    hard: dict[Asked, float] = field(default_factory=dict)
    stay_s = (60.0, 1800.0, 86_400.0, 10 * 86_400.0, 100 * 86_400.0)
    fill = (0.6, 0.25, 0.06, 0.025, 0.01)
    counts = (0.1, 0.15, 0.25, 0.5, 0.9)

    def _now(self, asked: Asked, at_s: float) -> list[float]:
        held = self.pools.get(asked)
        if held is None:
            return [0.0] * 5
        gap_s = at_s - self.last_s[asked]
        return [level * math.exp(-gap_s / stay_s) for level, stay_s in zip(held, self.stay_s, strict=True)]

    def strength(self, asked: Asked, at_s: float) -> float:
        return sum(a * b for a, b in zip(self._now(asked, at_s), self.counts, strict=True))

    def time_s(self, asked: Asked, at_s: float) -> float:
        return 0.5 + 3.2 * math.exp(-5.0 * self.strength(asked, at_s))

    def is_right(self, asked: Asked, at_s: float) -> float:
        return 0.2 + 0.79 * (1 - math.exp(-9.0 * self.strength(asked, at_s)))

    def practise(self, asked: Asked, at_s: float) -> None:
        hard = self.hard.setdefault(asked, self.chance.lognormvariate(0, 0.4))
        levels = self._now(asked, at_s)
        total = min(sum(a * b for a, b in zip(levels, self.counts, strict=True)), 1.0)
        speed = self.talent / hard * (1.2 - total)  # what is well known gains less
        self.pools[asked] = [
            level + min(fill * speed, 0.9) * (1 - level)
            for level, fill in zip(levels, self.fill, strict=True)
        ]
        self.last_s[asked] = at_s


def ask(
    learner: Halving | Pools, asked: Asked, at_s: float, chance: random.Random
) -> tuple[Remembered, float]:
    """One prompt: the answer, and how long it took with all around it."""
    right = chance.random() < learner.is_right(asked, at_s)
    recall_s = learner.time_s(asked, at_s) * chance.lognormvariate(0, 0.25)
    if chance.random() < 0.02:
        right, recall_s = chance.random() < 0.5, recall_s * chance.uniform(1, 4)
    took_s = 1.0 + recall_s + (0.0 if right else 3.0)
    learner.practise(asked, at_s + recall_s)
    return Remembered(asked, at_s + recall_s, right, recall_s if right else None), took_s


def holds(learner: Halving | Pools, at_s: float) -> bool:
    """95% of the places are right, as a rule, within 1.0 s."""
    good = sum(learner.is_right(a, at_s) >= 0.9 and learner.time_s(a, at_s) <= 1.0 for a in ORDER)
    return good >= 0.95 * len(ORDER)


class ByMemory:
    """The planner's choice."""

    def __init__(
        self,
        rules: ChoiceRules | None = None,
        *,
        memory_rules: MemoryRules | None = None,
        stops: bool = False,
    ) -> None:
        self.memory = Memory(rules=memory_rules)
        self.chooser = Chooser(self.memory, ORDER, rules)
        self.is_enough, self.stops = False, stops

    def next(self, at_s: float) -> Asked:
        choice = self.chooser.next(at_s)
        self.is_enough = self.stops and choice.is_enough
        return choice.asked

    def answered(self, given: Remembered) -> None:
        self.memory.answer(given)
        self.chooser.answered(given)


class AtRandom:
    """Any place."""

    is_enough = False

    def __init__(self, chance: random.Random) -> None:
        self.chance = chance

    def next(self, at_s: float) -> Asked:
        return self.chance.choice(ORDER)

    def answered(self, given: Remembered) -> None:
        pass


class TaughtRound:
    """Row after row, in turn all rows begun so far; the next begins when the newest holds."""

    is_enough = False

    def __init__(self, chance: random.Random) -> None:
        self.chance, self.rows, self.good, self.queue = chance, 4, {}, []

    def next(self, at_s: float) -> Asked:
        if not self.queue:
            newest = [a for a in ORDER if a.place.fret == ROWS[self.rows - 1]]
            if all(self.good.get(a, 0) >= 2 for a in newest) and self.rows < len(ROWS):
                self.rows += 1
            for row in ROWS[max(0, self.rows - 4) : self.rows] if self.rows < len(ROWS) else ROWS:
                part = [a for a in ORDER if a.place.fret == row]
                self.chance.shuffle(part)
                self.queue += part
        return self.queue.pop(0)

    def answered(self, given: Remembered) -> None:
        good = given.right and given.recall_s is not None and given.recall_s <= 1.2
        self.good[given.asked] = self.good.get(given.asked, 0) + 1 if good else 0


class Unfinished(AtRandom):
    """Any place that was not right in time twice in a row; any at all where there is none."""

    def __init__(self, chance: random.Random) -> None:
        super().__init__(chance)
        self.good: dict[Asked, int] = {}

    def next(self, at_s: float) -> Asked:
        open_ = [a for a in ORDER if self.good.get(a, 0) < 2]
        return self.chance.choice(open_ or ORDER)

    answered = TaughtRound.answered


def minutes_until(learner, way, *, days: int = 60, minutes: float = 15.0, seed: int = 0) -> float | None:
    """Minutes practised until it would hold twelve hours later, looked at each minute; None if never."""
    chance = random.Random(seed)
    spent_s = 0.0
    for day in range(days):
        at_s = begun_s = 1.7e9 + day * DAY_S
        look_s = begun_s + 60
        while at_s - begun_s < minutes * 60 and not way.is_enough:
            asked = way.next(at_s)
            given, took_s = ask(learner, asked, at_s, chance)
            at_s += took_s
            way.answered(given)
            if at_s >= look_s:
                look_s = at_s + 60
                if holds(learner, at_s + 12 * 3600):
                    return (spent_s + at_s - begun_s) / 60
        spent_s += at_s - begun_s
        way.is_enough = False
    return None
