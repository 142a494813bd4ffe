"""Which place to ask next: what is far from automatic and has rested, and each place once a day."""

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
_MOST_S = 4.0  # seconds; whoever needs longer than that is not served better by asking still more [ours]


class Why(StrEnum):
    """Why a place is asked."""

    NEW = "new"  # never asked so far
    WEAK = "weak"  # not right by heart the last time
    SLOW = "slow"  # right, and not yet in time tomorrow
    FADING = "fading"  # in time as far as is known, and not looked at since a night or longer
    STRONG = "strong"  # all is well: asked so that weak places stand between strong ones, or nothing is due


@dataclass(frozen=True, slots=True)
class ChoiceRules:
    """What a place should come to, and what is asked rather. All numbers [ours] but the first.

    goal_s: the recall time worked towards, a little under what counts as automatic (about 1 s: review by
    Crawford). ahead_s: it should hold so long after. A place is asked by the product of two things: how far
    it will be from the goal then, as the logarithm of times, and how well it has rested. rested_s: after so
    long an answer does half the good of one that is well spaced. unknown_s: what a place takes that was
    never asked. kept_up: added for every place, so that strong ones come between weak ones. look: added for
    what was not asked for look_after_s: each place is looked at once a day, early in a session, as the first
    answer after a night tells more than several on end, and keeps it.
    unsettled: new places wait while so many were not right at their last answer. apart: so many others come
    between two askings of a place, where there are as many.
    """

    goal_s: float = 0.8
    ahead_s: float = _DAY_S
    rested_s: float = 240.0
    unknown_s: float = 3.0
    kept_up: float = 0.1
    look: float = 1.0
    look_after_s: float = 6 * 3600.0
    unsettled: int = 8
    apart: int = 6


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
    """What was worked out of a place: how much it is worth when rested, and when it was asked last."""

    asked: Asked
    newest_s: float
    why: Why
    worth: float
    unsettled: bool


class Chooser:
    """Chooses place after place; it is told every answer and holds what it worked out.

    Practice spaced out lasts longer than the same at once (Cepeda, Pashler, Vul, Wixted & Rohrer 2006 [mem]),
    so that all places in need of it take turns; the more need, the more often. What holds drops out until the
    next day. New places come in the order given, early, as many as come right: so nights begin to work for
    all of them (choosing by what is left later: Pavlik & Anderson 2008, Journal of Experimental Psychology:
    Applied 14 [mem]).
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
        self._goal = math.log(self.rules.goal_s)
        self._ahead_s = memory.rules.equations.counted_s(self.rules.ahead_s)
        self._newest: deque[int] = deque(maxlen=min(self.rules.apart, len(self._places) // 2))
        self._told_s: float | None = None

    def next(self, at_s: float) -> Choice:
        """Return what to ask now. at_s: seconds since 1970. The same memory and time give the same place."""
        self._forget_what_is_old(at_s)
        items, rules, kept = self._memory.items, self.rules, self._worth
        halving = -math.log(2) / rules.rested_s
        best: _Worth | None = None
        best_score = -1.0
        new: Asked | None = None
        unsettled = waiting = 0
        for number, asked in enumerate(self._places):
            worth = kept[number]
            if worth is None:
                item = items.get(asked)
                if item is None:
                    new = new or asked
                    waiting += 1
                    continue
                worth = kept[number] = self._worked_out(item, at_s)
            unsettled += worth.unsettled
            waiting += worth.why is not Why.STRONG
            if worth.worth > best_score and number not in self._newest:
                rested = 1 - math.exp(halving * max(at_s - worth.newest_s, 0.0))
                if worth.worth * rested > best_score:
                    best, best_score = worth, worth.worth * rested
        if new is not None:
            room = rules.unsettled if best is not None else 2 * rules.unsettled
            score = math.log(rules.unknown_s) - self._goal + rules.look
            if unsettled < room and score >= best_score:
                return Choice(new, Why.NEW, waiting)
        if best is None:
            return Choice(self._longest_ago(), Why.STRONG, waiting)
        return Choice(best.asked, best.why, waiting)

    def answered(self, given: Remembered) -> None:
        """Tell what came of a choice, after memory was told."""
        number = self._number.get(given.asked)
        if number is not None:
            self._worth[number] = None
            self._newest.append(number)

    def settled(self, at_s: float) -> tuple[int, int, int]:
        """Return how many of the places hold at the goal's time, are on the way, and are new."""
        seen = [item for asked in self._places if (item := self._memory.items.get(asked)) is not None]
        hold = sum(self._need(item, at_s) <= 0 and item.in_a_row > 0 for item in seen)
        return hold, len(seen) - hold, len(self._places) - len(seen)

    def _forget_what_is_old(self, at_s: float) -> None:
        """What was worked out before a pause does not hold after it."""
        if self._told_s is not None and at_s - self._told_s > self._memory.rules.equations.pause_s:
            self._worth = [None] * len(self._places)
        self._told_s = at_s

    def _longest_ago(self) -> Asked:
        items = self._memory.items
        return min(self._places, key=lambda asked: items[asked].newest_s if asked in items else -math.inf)

    def _need(self, item: ItemMemory, at_s: float) -> float:
        """How far the recall time will be from the goal, as the logarithm of their ratio; below 0 within.

        What may be forgotten by then is taken at the time of a place that was never asked.
        """
        equations = self._memory.rules.equations
        later_s = self._memory.counted_at(at_s) + self._ahead_s
        total = summed(item.traces, later_s, item.forgetting)
        if total <= 0:
            return math.log(_MOST_S) - self._goal
        activation = math.log(total) + item.ease
        chance = equations.chance(activation, self._memory.traits.threshold)
        time_s = min(equations.time_s(activation), _MOST_S)
        return math.log(chance * time_s + (1 - chance) * self.rules.unknown_s) - self._goal

    def _worked_out(self, item: ItemMemory, at_s: float) -> _Worth:
        rules = self.rules
        need = self._need(item, at_s)
        look = at_s - item.newest_s > rules.look_after_s
        if not item.in_a_row:
            why = Why.WEAK
        elif need > 0:
            why = Why.SLOW
        else:
            why = Why.FADING if look else Why.STRONG
        worth = max(need, 0.0) + rules.kept_up + (rules.look if look else 0.0)
        return _Worth(item.asked, item.newest_s, why, worth, not item.in_a_row)
