"""Days of practice to come, played through in memory alone: on which each place will be automatic."""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.practice.activation import LEAST_AGE_S, Equations
from midifret.practice.choose import ChoiceRules
from midifret.practice.kinds import Asked
from midifret.practice.memory import Memory

_DAY_S = 86_400.0
# Of a session's later answers to a place, so much of what the last one left is still there beside it, in all:
# the last but one at half the time, and so on [ours].
_RECENT = 1.6
_LEAST_GAP_S = 15.0  # seconds between two askings of a place at least [ours]
_NEW_A_DAY = 24  # places that may be new on a day [ours]
_APART_DAYS = 5  # traces of so many days are kept apart, older ones are put together by weeks [ours]
_WEEK = 7


@dataclass(frozen=True, slots=True)
class Rate:
    """How somebody practises. minutes: on a day with practice. share: of days with practice, 0 to 1.

    answers: to places, in a minute.
    """

    minutes: float
    share: float
    answers: float


@dataclass(slots=True)
class _Laid:
    """Traces of a place: those there were, and those of days played through. Each (at_s, decay, weight)."""

    forgetting: float
    ease: float
    old: list[tuple[float, float, float]]
    new: list[tuple[float, float, float]]
    met: bool
    merged: int = 0  # of `new`, so many were put together already

    def total(self, now_s: float) -> float:
        found = 0.0
        for at_s, decay, weight in self.old:
            age_s = now_s - at_s
            found += weight * (age_s if age_s > LEAST_AGE_S else LEAST_AGE_S) ** -decay
        for at_s, decay, weight in self.new:
            found += weight * (now_s - at_s) ** -decay
        return found

    def put_together(self) -> None:
        """Make one of the oldest traces of days that are kept apart, as soon as they are a week's."""
        first, last = self.merged, self.merged + 2 * _WEEK
        if len(self.new) - first < 2 * (_WEEK + _APART_DAYS):
            return
        part = self.new[first:last]
        weight = sum(each[2] for each in part)
        at_s = sum(each[0] * each[2] for each in part) / weight
        decay = sum(each[1] * each[2] for each in part) / weight
        self.new[first:last] = [(at_s, decay, weight)]
        self.merged += 1


def days_until(
    memory: Memory,
    places: Sequence[Asked],
    groups: Sequence[tuple[Sequence[int], int]],
    *,
    now_s: float,
    rate: Rate,
    automatic_s: float,
    days: int,
    chance: random.Random,
    rules: ChoiceRules | None = None,
) -> list[int | None]:
    """Return after how many days each group of places is automatic, as one draw of what is likely.

    groups: of each the numbers of its places in `places`, and how many of these have to hold as a day begins.
    automatic_s: recall time within which a place holds. days: at most; None for a group that is not by then.
    chance: draws each place's forgetting and ease, by how likely they are, and the days without practice.
    """
    rules = rules or ChoiceRules()
    equations = memory.rules.equations
    laid = [_drawn(memory, asked, chance) for asked in places]
    counted_s = memory.counted_at(now_s)
    session_s = rate.minutes * 60
    practised_s = session_s + equations.counted_s(max(_DAY_S - session_s, 0.0))
    idle_s = equations.between * _DAY_S
    goal = math.log(rules.goal_s)
    found: list[int | None] = [None] * len(groups)
    holds_at = math.log(equations.scale_s / (automatic_s - equations.fixed_s))
    for day in range(days + 1):
        totals = [each.total(counted_s) if each.met else 0.0 for each in laid]
        holds = [
            total > 0 and math.log(total) + each.ease >= holds_at
            for total, each in zip(totals, laid, strict=True)
        ]
        for number, (members, enough) in enumerate(groups):
            if found[number] is None and sum(holds[member] for member in members) >= enough:
                found[number] = day
        if None not in found:
            break
        if chance.random() >= rate.share:
            counted_s += idle_s
            continue
        _practise(laid, totals, counted_s, session_s, rate.answers * rate.minutes, goal, rules, equations)
        counted_s += practised_s
    return found


def _practise(
    laid: list[_Laid],
    totals: list[float],
    now_s: float,
    session_s: float,
    answers: float,
    goal: float,
    rules: ChoiceRules,
    equations: Equations,
) -> None:
    """One session: each place is looked at, the other answers go where they are needed."""
    room = _NEW_A_DAY
    asked: list[tuple[_Laid, float, float]] = []
    for each, total in zip(laid, totals, strict=True):
        if not each.met:
            if not room:
                continue
            room -= 1
            each.met = True
        time_s = equations.time_s(math.log(total) + each.ease) if total > 0 else rules.unknown_s
        need = max(math.log(min(time_s, rules.unknown_s)) - goal, 0.0) + rules.kept_up
        asked.append((each, total, need))
    if not asked:
        return
    looks = min(answers / len(asked), 1.0)
    left = max(answers - looks * len(asked), 0.0) / sum(need for _, _, need in asked)
    most = session_s / _LEAST_GAP_S
    for each, total, need in asked:
        more = min(left * need, most)
        haste = equations.haste_at(math.log(total)) if total > 0 else 0.0
        first = haste + each.forgetting
        gap_s = session_s / (more + 1)
        recent = _RECENT * gap_s**-first if more >= 1 else 0.0
        later = (
            equations.haste_at(math.log(total + recent)) + each.forgetting if total + recent > 0 else first
        )
        each.new.append((now_s, first, looks))
        each.new.append((now_s + session_s / 2, later, more))
        each.put_together()


def _drawn(memory: Memory, asked: Asked, chance: random.Random) -> _Laid:
    """A place with one forgetting and ease, drawn as likely as they are."""
    forgetting, ease = memory.drawn(asked, chance)
    item = memory.items.get(asked)
    if item is None:
        return _Laid(forgetting, ease, [], [], met=False)
    old = [(trace.at_s, trace.haste + forgetting, trace.weight) for trace in item.traces]
    return _Laid(forgetting, ease, old, [], met=True)
