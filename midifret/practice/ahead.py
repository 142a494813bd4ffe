"""When rows and the whole neck will be automatic at this rate, and what more minutes would change."""

import datetime as dt
import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist

from midifret.practice.ahead_days import Rate, days_until
from midifret.practice.kinds import Asked
from midifret.practice.load import DayMinutes
from midifret.practice.memory import Memory
from midifret.practice.plan import PlanInput

_DAY_S = 86_400.0
NECK = "neck"
# About 1 s is automatic (review by Crawford, citing Logan 1988).
AUTOMATIC_S = 1.0
# Of the places of a row or neck so large a share has to hold, of six places five, of 78 75 [ours].
_SHARE = 0.95
# The rate is that of so many days [ours]: long enough to have weekends in it, short enough to be of now.
_RATE_DAYS = 28
_IDLE_DAYS = 14  # without practice for so long there is no rate [ours]
# With fewer there is too little to say: what a player's places have in common is not known yet [ours].
LEAST_DAYS, LEAST_ANSWERS = 3, 200
_MORE_MINUTES = 5.0
_MONTHS = 3
_DRAWS = 24
_SHARE_OF_INTERVAL = 0.9
_SEED = 1  # the same answers always give the same forecast


@dataclass(frozen=True, slots=True)
class AheadRules:
    """How far off days come out under laws of memory other than ours, as found on simulated learners.

    times: what the days until then are multiplied by. spread: standard deviation of the logarithm of that
    factor. Both by `bench_ahead.py` on one seed, checked on another.
    """

    times: float = 1.0
    spread: float = 0.5


class Outlook(StrEnum):
    """What can be said of a stage."""

    HOLDS = "holds"  # it is automatic now, as far as is known
    DATED = "dated"  # it will be, between two days
    BEYOND = "beyond"  # not within the months looked ahead, at this rate
    EARLY = "early"  # too little was played to say
    IDLE = "idle"  # nobody practised lately, so there is no rate to go by


@dataclass(frozen=True, slots=True)
class Sooner:
    """How many days sooner, with more minutes a day: the middle and the ends of the 90% interval.

    Below 0 is later. last may be infinite: without the minutes it would not come within the months looked
    ahead.
    """

    middle_days: float
    first_days: float
    last_days: float


@dataclass(frozen=True, slots=True)
class StageAhead:
    """When a stage of rows, or the whole neck, will be automatic.

    name, title: as on the path; the whole neck is named "neck". places: how many there are. hold: how many
    are expected to hold now. middle, first, last: days, the median and the ends of the 90% interval; None
    for an outlook without, and `last` (`middle`) alone None where it lies beyond the months looked ahead.
    sooner: with more minutes a day; None where that cannot be said.
    """

    name: str
    title: str
    outlook: Outlook
    places: int
    hold: int
    middle: dt.date | None = None
    first: dt.date | None = None
    last: dt.date | None = None
    sooner: Sooner | None = None


@dataclass(frozen=True, slots=True)
class Ahead:
    """A forecast. Nobody can promise it: it holds if practice goes on as in the last weeks.

    day: on which it was made. minutes: of practice on a day with practice, lately. days_a_week: with
    practice, lately. more_minutes: what `sooner` is about. months: looked ahead. stages: of rows, in the
    order of the path. neck: all places of the path together.
    """

    day: dt.date
    minutes: float
    days_a_week: float
    more_minutes: float
    months: int
    stages: tuple[StageAhead, ...]
    neck: StageAhead


def look_ahead(given: PlanInput, rules: AheadRules | None = None) -> Ahead:
    """Forecast when each stage of rows and the whole neck will be automatic. The same input gives the same.

    A stage, or the neck, is automatic when all its places but one in twenty (and always one) come within
    1.0 s as a day begins, by what memory expects. The days to come are played through in memory some two
    dozen times, each with other likely values of what places are like, and made uncertain by as much as such
    days were found to be off under laws of memory other than ours.
    """
    rules = rules or AheadRules()
    stages = [stage for stage in given.path.rows if stage.frets]
    asked = given.path.asked(given.strings, given.last_fret)
    number = {each.place: n for n, each in enumerate(asked)}
    members = [
        tuple(number[place] for place in stage.places(given.strings, given.last_fret)) for stage in stages
    ]
    named = [(stage.name, stage.title) for stage in stages] + [(NECK, "The whole neck")]
    groups = [(each, enough(len(each))) for each in (*members, tuple(range(len(asked))))]
    rate, days = _rate(given.history, given.day, given.memory, asked)
    hold = _hold(given.memory, asked, given.now_s)
    outlook = _no_outlook(given, rate, days, asked)
    courses: list[list[int | None]] = []
    sooner: list[list[int | None]] = []
    if outlook is None and rate is not None:
        more = Rate(rate.minutes + _MORE_MINUTES, rate.share, rate.answers)
        courses, sooner = (
            [_course(given, asked, groups, each, draw) for draw in range(_DRAWS)] for each in (rate, more)
        )
    found = []
    for which, ((name, title), (places, needed)) in enumerate(zip(named, groups, strict=True)):
        holding = sum(hold[place] for place in places)
        if outlook is not None:
            found.append(StageAhead(name, title, outlook, len(places), holding))
        elif holding >= needed:
            found.append(StageAhead(name, title, Outlook.HOLDS, len(places), holding))
        else:
            own, others = ([course[which] for course in each] for each in (courses, sooner))
            found.append(_dated(given.day, name, title, len(places), holding, own, others, rules))
    return Ahead(
        given.day,
        0.0 if rate is None else rate.minutes,
        0.0 if rate is None else 7 * rate.share,
        _MORE_MINUTES,
        _MONTHS,
        tuple(found[:-1]),
        found[-1],
    )


def enough(places: int) -> int:
    """Return how many of so many places have to hold for all to count as automatic."""
    return places - max(math.floor((1 - _SHARE) * places + 1e-9), 1)


def days_ahead(draws: Sequence[int | None], rules: AheadRules, shares: Sequence[float]) -> list[float]:
    """Return the days by which such shares of all that is likely have come; infinite beyond the horizon."""
    normal = NormalDist(math.log(rules.times), rules.spread)
    factors = [math.exp(normal.inv_cdf((step + 0.5) / 15)) for step in range(15)]
    likely = sorted(
        math.inf if draw is None else max(draw, 1) * factor for draw in draws for factor in factors
    )
    return [likely[min(int(share * len(likely)), len(likely) - 1)] for share in shares]


def _rate(
    history: Sequence[DayMinutes], today: dt.date, memory: Memory, asked: Sequence[Asked]
) -> tuple[Rate | None, int]:
    """How somebody practised lately, None for nobody who did; and the days with practice there ever were."""
    by_day: dict[dt.date, float] = {}
    for each in history:
        if each.day <= today and each.minutes > 0:
            by_day[each.day] = by_day.get(each.day, 0.0) + each.minutes
    newest = max(by_day, default=None)
    if newest is None or (today - newest).days > _IDLE_DAYS:
        return None, len(by_day)
    # Today may not be over: it counts only as a day on which something was played.
    since = max(min(by_day), today - dt.timedelta(days=_RATE_DAYS))
    lately = {day: minutes for day, minutes in by_day.items() if since <= day < today} or by_day
    window = max((today - since).days, 1)
    answers = sum(item.answers for place in asked if (item := memory.items.get(place)) is not None)
    minutes = sum(lately.values()) / len(lately)
    return Rate(minutes, min(len(lately) / window, 1.0), answers / sum(by_day.values())), len(by_day)


def _no_outlook(given: PlanInput, rate: Rate | None, days: int, asked: Sequence[Asked]) -> Outlook | None:
    answers = sum(item.answers for place in asked if (item := given.memory.items.get(place)) is not None)
    if days < LEAST_DAYS or answers < LEAST_ANSWERS:
        return Outlook.EARLY
    return Outlook.IDLE if rate is None else None


def _hold(memory: Memory, asked: Sequence[Asked], now_s: float) -> list[bool]:
    counted_s = memory.counted_at(now_s)
    found = []
    for each in asked:
        item = memory.items.get(each)
        found.append(
            item is not None and item.in_a_row > 0 and memory.quickly(item, counted_s)[1] <= AUTOMATIC_S
        )
    return found


def _course(
    given: PlanInput,
    asked: Sequence[Asked],
    groups: Sequence[tuple[Sequence[int], int]],
    rate: Rate,
    draw: int,
) -> list[int | None]:
    """One draw, with the same luck at every rate."""
    return days_until(
        given.memory,
        asked,
        groups,
        now_s=given.now_s,
        rate=rate,
        automatic_s=AUTOMATIC_S,
        days=30 * _MONTHS,
        chance=random.Random(_SEED * 1000 + draw),
    )


def _dated(
    day: dt.date,
    name: str,
    title: str,
    places: int,
    hold: int,
    draws: Sequence[int | None],
    others: Sequence[int | None],
    rules: AheadRules,
) -> StageAhead:
    tail = (1 - _SHARE_OF_INTERVAL) / 2
    horizon = 30 * _MONTHS
    first, middle, last = days_ahead(draws, rules, (tail, 0.5, 1 - tail))
    if first > horizon:
        return StageAhead(name, title, Outlook.BEYOND, places, hold)

    def date(days: float) -> dt.date | None:
        return day + dt.timedelta(days=round(days)) if days <= horizon else None

    return StageAhead(
        name,
        title,
        Outlook.DATED,
        places,
        hold,
        date(middle),
        day + dt.timedelta(days=max(math.floor(first), 1)),
        date(last),
        _sooner(draws, others, rules),
    )


def _sooner(draws: Sequence[int | None], others: Sequence[int | None], rules: AheadRules) -> Sooner | None:
    """What more minutes change, draw by draw; the same error of our law on both."""
    normal = NormalDist(math.log(rules.times), rules.spread)
    factors = [math.exp(normal.inv_cdf((step + 0.5) / 15)) for step in range(15)]
    pairs = [(own, other) for own, other in zip(draws, others, strict=True) if own is not None]
    if 2 * len(pairs) < len(draws):
        return None
    likely = sorted(
        factor * (max(own, 1) - max(own if other is None else other, 1))
        for own, other in pairs
        for factor in factors
    )
    tail = (1 - _SHARE_OF_INTERVAL) / 2
    low, middle, high = (
        likely[min(int(share * len(likely)), len(likely) - 1)] for share in (tail, 0.5, 1 - tail)
    )
    return Sooner(middle, low, high)
