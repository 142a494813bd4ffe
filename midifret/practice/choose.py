"""Which place to ask next: where a second of practice adds most to what will be left when it is needed."""

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from midifret.practice.item import ItemMemory, summed
from midifret.practice.kinds import Asked, Remembered
from midifret.practice.memory import Memory

MODE = "or"
GROW = 2.0
TIMES = 2
_DAY_S = 86_400.0
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
    """What a place should come to, and how many may be learnt at once. All numbers [ours].

    goal_s: recall time that counts as automatic (about 1 s: review by Crawford). ahead_s: it should still hold
    so long after. sure: by how many deviations of what is not known the goal is to be passed, besides margin,
    in units of the logarithm of time. unsettled: so many places may be new at once, none being new any more
    that was right `settled` times in a row. apart: so many other places at least come between two askings.
    between_s: what every prompt takes besides recall. failed_s: what a wrong answer takes, correction and all.
    """

    goal_s: float = 1.0
    ahead_s: float = 1.5 * _DAY_S
    sure: float = 0.5
    margin: float = 0.1
    unsettled: int = 6
    settled: int = 2
    apart: int = 3
    between_s: float = 1.0
    failed_s: float = 4.0


@dataclass(frozen=True, slots=True)
class Choice:
    """The place to ask next and why. gain: what a second adds to its sum of traces at the goal's time."""

    asked: Asked
    why: Why
    gain: float


@dataclass(slots=True)
class _Worth:
    """What was worked out of a place, and until which counted time it holds."""

    until_s: float
    why: Why
    gain: float
    unsettled: bool


class Chooser:
    """Chooses place after place; it is told every answer and holds what it worked out.

    Practising pays where it adds most to what is left later for the time that it takes (after Pavlik &
    Anderson 2008, Journal of Experimental Psychology: Applied 14 [mem]): too soon, and the trace fades fast;
    too late, and the answer is slow or wrong. What will be automatic at the goal's time anyway adds nothing.
    """

    def __init__(self, memory: Memory, places: Sequence[Asked], rules: ChoiceRules | None = None) -> None:
        """Choose among `places`, new ones in this order. Raises ValueError without any."""
        if not places:
            raise ValueError("there is no place to choose from")
        self._memory = memory
        self._places = tuple(dict.fromkeys(places))
        self.rules = rules or ChoiceRules()
        self._worth: dict[Asked, _Worth] = {}
        self._newest: deque[Asked] = deque(maxlen=self.rules.apart)

    def next(self, at_s: float) -> Choice:
        """Return what to ask now. at_s: seconds since 1970. The same memory and time give the same place."""
        now_s = self._memory.counted_at(at_s)
        self.at_s = at_s
        items = self._memory.items
        best: Choice | None = None
        rest: Choice | None = None
        new: Asked | None = None
        unsettled = 0
        for asked in self._places:
            item = items.get(asked)
            if item is None:
                new = new or asked
                continue
            worth = self._worth.get(asked)
            if worth is None or now_s > worth.until_s:
                worth = self._worth[asked] = self._worked_out(item, now_s)
            unsettled += worth.unsettled
            if asked in self._newest:
                continue
            if worth.why is Why.STRONG:
                if rest is None or worth.gain > rest.gain:
                    rest = Choice(asked, worth.why, worth.gain)
            elif best is None or worth.gain > best.gain:
                best = Choice(asked, worth.why, worth.gain)
        if new is not None and unsettled < self.rules.unsettled:
            begun = Choice(new, Why.NEW, self._of_new(new, now_s))
            if best is None or begun.gain > best.gain:
                return begun
        if best is None and new is not None and unsettled < 2 * self.rules.unsettled:
            return Choice(new, Why.NEW, 0.0)
        return best or rest or Choice(self._longest_ago(), Why.STRONG, 0.0)

    def answered(self, given: Remembered) -> None:
        """Tell what came of a choice, after memory was told."""
        self._worth.pop(given.asked, None)
        self._newest.append(given.asked)

    def settled(self, at_s: float) -> tuple[int, int, int]:
        """Return how many of the places hold at the goal's time, are on the way, and are new."""
        now_s = self._memory.counted_at(at_s)
        seen = [item for asked in self._places if (item := self._memory.items.get(asked)) is not None]
        hold = sum(self._worked_out(item, now_s).why is Why.STRONG for item in seen)
        return hold, len(seen) - hold, len(self._places) - len(seen)

    def _longest_ago(self) -> Asked:
        items = self._memory.items
        return min(self._places, key=lambda asked: items[asked].newest_s if asked in items else -math.inf)

    def _worked_out(self, item: ItemMemory, now_s: float) -> _Worth:
        rules, equations = self.rules, self._memory.rules.equations
        chance, time_s = self._memory.quickly(item, now_s)
        later_s = now_s + equations.counted_s(rules.ahead_s)
        left = summed(item.traces, later_s, item.forgetting)
        total = summed(item.traces, now_s, item.forgetting)
        haste = equations.haste_at(math.log(total)) if total > 0 else 0.0
        added = (later_s - now_s) ** -(haste + item.forgetting)
        worked_s, worked_right = self._memory.worked_out(item.asked, now_s)
        right = chance + (1 - chance) * worked_right
        cost_s = (
            rules.between_s
            + chance * min(time_s, worked_s)
            + (1 - chance) * worked_s
            + (1 - right) * rules.failed_s
        )
        newest_s = item.traces[-1].at_s if item.traces else now_s
        until_s = now_s + _OLDER * max(now_s - newest_s, 5.0)
        holds = left > 0 and self._holds(item, left) if MODE != "rule" else False
        if MODE != "model":
            rests = item.in_time >= TIMES and self.at_s < item.newest_s + max(GROW * item.held_s, 36_000.0)
            holds = holds or rests
        unsettled = item.in_a_row < rules.settled
        if unsettled:
            why = Why.WEAK
        elif holds:
            why = Why.STRONG
        elif chance < 0.85:
            why = Why.WEAK
        else:
            why = Why.SLOW if time_s > rules.goal_s else Why.FADING
        return _Worth(until_s, why, added / cost_s, unsettled)

    def _holds(self, item: ItemMemory, left: float) -> bool:
        """Whether what is left at the goal's time is enough to come in time."""
        rules, equations = self.rules, self._memory.rules.equations
        sure = rules.sure * item.ease_deviation + rules.margin
        return equations.time_s(math.log(left) + item.ease - sure) <= rules.goal_s

    def _of_new(self, asked: Asked, now_s: float) -> float:
        rules, equations = self.rules, self._memory.rules.equations
        worked_s, right = self._memory.worked_out(asked, now_s)
        cost_s = rules.between_s + worked_s + (1 - right) * rules.failed_s
        later_s = equations.counted_s(rules.ahead_s)
        return later_s**-self._memory.traits.forgetting / cost_s
