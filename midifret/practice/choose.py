"""Which place to ask next: where an answer adds most to what will be left when it is needed."""

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from midifret.practice.item import ItemMemory, summed
from midifret.practice.kinds import Asked, Remembered
from midifret.practice.memory import Memory

_DAY_S = 86_400.0
_FEW = 4  # so few would be asked over and over [ours]
_OLDER = 0.12  # what was worked out of a place holds until its newest trace is so much older, in proportion


class Why(StrEnum):
    """Why a place is asked."""

    NEW = "new"  # never asked so far
    WEAK = "weak"  # not yet right by heart
    SLOW = "slow"  # right, and not yet in time
    FADING = "fading"  # in time now, and not for long
    STRONG = "strong"  # all is well: asked so that weak places stand between strong ones, or nothing is due


@dataclass(frozen=True, slots=True)
class ChoiceRules:
    """What a place should come to, and how many may be learnt at once. All numbers [ours] but the goal.

    goal_s: recall time that counts as automatic (about 1 s: review by Crawford). ahead_s: it should hold so
    long after. sure, margin: by how much the goal is to be passed, in deviations of what is not known and in
    units of the logarithm of time besides; below 0 a place rests a little before it is sure to hold, as the
    first answer of the next day tells better than more answers now.
    unsettled: so many places at most are new at once, none being new that was right `settled` times in a row.
    A place is ripe, 1, when an answer leaves as much as one given when all has faded that fades in a session;
    asked at once again it is near 0. ripe: a new place comes when none begun is as ripe as that. least_ripe:
    what is less ripe waits while there is anything else. need: how much rather what needs more answers is
    asked, as a power of that number: hard places are not left for the end.
    in_time: so many answers in time, one after the other, and a place rests: `rest_s` at least, and `stretch`
    times as long as it was already found to hold. apart: so many others come between two askings of a place.
    """

    goal_s: float = 1.0
    ahead_s: float = _DAY_S
    sure: float = 0.0
    margin: float = -0.2
    unsettled: int = 8
    settled: int = 2
    ripe: float = 0.7
    least_ripe: float = 0.35
    need: float = 0.3
    in_time: int = 2
    stretch: float = 2.0
    rest_s: float = 10 * 3600.0
    apart: int = 3


@dataclass(frozen=True, slots=True)
class Choice:
    """The place to ask next and why. waiting: how many places still need answers, new ones among them."""

    asked: Asked
    why: Why
    waiting: int

    @property
    def is_enough(self) -> bool:
        """Whether today's work is done: a few places at most still need answers, and they had some just now.

        What is practised beyond this keeps what is known alive, and brings little that is new.
        """
        return self.why is Why.STRONG and self.waiting <= _FEW


@dataclass(slots=True)
class _Worth:
    """What was worked out of a place, and until which counted time it holds."""

    asked: Asked
    until_s: float
    rests_until_s: float
    why: Why
    score: float
    ripe: float
    unsettled: bool


class Chooser:
    """Chooses place after place; it is told every answer and holds what it worked out.

    An answer given too soon after another leaves a trace that fades fast (Pavlik & Anderson 2005; choosing by
    what is left later: Pavlik & Anderson 2008, Journal of Experimental Psychology: Applied 14 [mem]). So ripe
    places are asked, those rather that need more answers; what will be automatic at the goal's time rests.
    """

    def __init__(self, memory: Memory, places: Sequence[Asked], rules: ChoiceRules | None = None) -> None:
        """Choose among `places`, new ones in this order. Raises ValueError without any."""
        if not places:
            raise ValueError("there is no place to choose from")
        self._memory = memory
        self._places = tuple(dict.fromkeys(places))
        self.rules = rules or ChoiceRules()
        self._number = {asked: number for number, asked in enumerate(self._places)}
        self._worth: list[_Worth | None] = [None] * len(self._places)
        equations = memory.rules.equations
        self._ahead_s = equations.counted_s(self.rules.ahead_s)
        self._goal = math.log((self.rules.goal_s - equations.fixed_s) / equations.scale_s)
        self._newest: deque[Asked] = deque(maxlen=self.rules.apart)

    def next(self, at_s: float) -> Choice:
        """Return what to ask now. at_s: seconds since 1970. The same memory and time give the same place."""
        now_s = self._memory.counted_at(at_s)
        items, rules, kept = self._memory.items, self.rules, self._worth
        best: _Worth | None = None
        rest: _Worth | None = None
        soon: _Worth | None = None
        new: Asked | None = None
        unsettled = waiting = 0
        for number, asked in enumerate(self._places):
            worth = kept[number]
            if worth is None or now_s > worth.until_s or at_s > worth.rests_until_s:
                item = items.get(asked)
                if item is None:
                    new = new or asked
                    waiting += 1
                    continue
                worth = kept[number] = self._worked_out(item, now_s, at_s)
            unsettled += worth.unsettled
            waiting += worth.why is not Why.STRONG
            if asked in self._newest:
                continue
            if worth.why is Why.STRONG:
                if rest is None or worth.score > rest.score:
                    rest = worth
            elif worth.ripe < rules.least_ripe:
                if soon is None or worth.ripe > soon.ripe:
                    soon = worth
            elif best is None or worth.score > best.score:
                best = worth
        room = rules.unsettled if best is not None else 2 * rules.unsettled
        if new is not None and unsettled < room and (best is None or best.ripe < rules.ripe):
            return Choice(new, Why.NEW, waiting)
        chosen = best or rest or soon
        if chosen is None:
            return Choice(self._longest_ago(), Why.STRONG, waiting)
        return Choice(chosen.asked, chosen.why, waiting)

    def answered(self, given: Remembered) -> None:
        """Tell what came of a choice, after memory was told."""
        if given.asked in self._number:
            self._worth[self._number[given.asked]] = None
        self._newest.append(given.asked)

    def settled(self, at_s: float) -> tuple[int, int, int]:
        """Return how many of the places hold at the goal's time, are on the way, and are new."""
        now_s = self._memory.counted_at(at_s)
        seen = [item for asked in self._places if (item := self._memory.items.get(asked)) is not None]
        hold = sum(self._worked_out(item, now_s, at_s).why is Why.STRONG for item in seen)
        return hold, len(seen) - hold, len(self._places) - len(seen)

    def _longest_ago(self) -> Asked:
        items = self._memory.items
        return min(self._places, key=lambda asked: items[asked].newest_s if asked in items else -math.inf)

    def _worked_out(self, item: ItemMemory, now_s: float, at_s: float) -> _Worth:
        rules, equations = self.rules, self._memory.rules.equations
        later_s = now_s + self._ahead_s
        left = summed(item.traces, later_s, item.forgetting)
        total = summed(item.traces, now_s, item.forgetting)
        haste = equations.haste_at(math.log(total)) if total > 0 else 0.0
        best_haste = equations.haste_at(math.log(left)) if left > 0 else 0.0
        ripe = self._ahead_s ** (best_haste - haste)
        newest_s = item.traces[-1].at_s if item.traces else now_s
        until_s = now_s + _OLDER * max(now_s - newest_s, 5.0)
        goal = rules.sure * item.ease_deviation + rules.margin - item.ease - self._goal
        need = (math.exp(goal) - left) / self._ahead_s ** -(best_haste + item.forgetting)
        unsettled = item.in_a_row < rules.settled
        rests_until_s = math.inf
        if unsettled:
            why = Why.WEAK
        elif (need <= 0 or item.in_time >= rules.in_time) and at_s < self._checked_next_s(item):
            why, rests_until_s = Why.STRONG, self._checked_next_s(item)
        elif item.in_time or need <= 0:
            why = Why.FADING
        else:
            why = Why.SLOW
        score = ripe * max(need, 1.0) ** rules.need
        return _Worth(item.asked, until_s, rests_until_s, why, score, ripe, unsettled)

    def _checked_next_s(self, item: ItemMemory) -> float:
        return item.newest_s + max(self.rules.stretch * item.held_s, self.rules.rest_s)
