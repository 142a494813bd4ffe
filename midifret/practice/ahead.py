"""When rows and the whole neck will be automatic at this rate, and what more minutes would change."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist

from midifret.practice.kinds import Asked
from midifret.practice.load import DayMinutes
from midifret.practice.memory import Memory
from midifret.practice.plan import PlanInput

NECK = "neck"
# About 1 s is automatic (review by Crawford, citing Logan 1988).
AUTOMATIC_S = 1.0
# Of the places of a row or neck so large a share has to hold: of six places five, of 78 75 [ours].
_SHARE = 0.95
# A place holds that came in time after a night at least, the last time there was one [ours].
_NIGHT_S = 6 * 3600.0
# The rate is that of so many days [ours]: long enough to have weekends in it, short enough to be of now.
_RATE_DAYS = 28
_IDLE_DAYS = 14  # without practice for so long there is no rate [ours]
# With fewer there is too little to say: what a player's places have in common is not known yet [ours].
LEAST_DAYS, LEAST_ANSWERS = 3, 200
_BEGUN = 0.5  # of the places of a stage so large a share has to be begun [ours]
_MORE_MINUTES = 5.0
_MONTHS = 6
_MONTH_DAYS = 30
_INTERVAL = 0.9
_STEPS = 40  # into which each thing that is uncertain is divided
# No place is nearer or farther than such recall times, as the forecast takes it [ours].
_NEAREST_S, _FARTHEST_S = 0.6, 6.0


class Outlook(StrEnum):
    """What can be said of a stage."""

    HOLDS = "holds"  # it is automatic now, as far as is known
    DATED = "dated"  # it will be, between two days
    BEYOND = "beyond"  # not within the months looked ahead, at this rate
    EARLY = "early"  # too little was played to say
    UNBEGUN = "unbegun"  # so many of its places were never asked that nothing can be said of the others
    IDLE = "idle"  # nobody practised lately, so there is no rate to go by


@dataclass(frozen=True, slots=True)
class Sooner:
    """How many days sooner, with more minutes a day: the middle and the ends of the 90% interval.

    Below 0 is later.
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


@dataclass(frozen=True, slots=True)
class Pace:
    """How many days of practice it takes: e^level times what the slowest place needs over 1.0 s, by power.

    spread: standard deviation of the logarithm of these days.
    """

    level: float
    power: float
    spread: float


@dataclass(frozen=True, slots=True)
class AheadRules:
    """How far ahead things are, as found on simulated learners of three models of memory, none of them ours.

    row, neck: for a stage of the rows and for the whole neck, with `usual_minutes` a day. minutes_power: days
    go down as minutes to the power of it, with its standard deviation between learners. All by
    `bench_ahead.py --fit` on three seeds, each model counting alike; level and spread of the paces were then
    set for the intervals to hold 85 to 95% in each model, and checked on another seed. Nothing here is a
    result about people.
    """

    row: Pace = Pace(1.66, 0.90, 0.80)
    neck: Pace = Pace(2.01, 0.64, 0.92)
    usual_minutes: float = 15.0
    minutes_power: tuple[float, float] = (0.6, 0.4)


@dataclass(frozen=True, slots=True)
class Rate:
    """How somebody practised lately. minutes: on a day with practice. share: of days with it, 0 to 1."""

    minutes: float
    share: float


def look_ahead(given: PlanInput, rules: AheadRules | None = None) -> Ahead:
    """Forecast when each stage of rows and the whole neck will be automatic. The same input gives the same.

    A stage, or the neck, is automatic when all its places but one in twenty (and always one) come within
    1.0 s as a day begins. How far off that is follows from the slowest place that has to hold, as memory
    expects it, and from the minutes and days of practice lately.
    """
    rules = rules or AheadRules()
    stages = [stage for stage in given.path.rows if stage.frets]
    asked = given.path.asked(given.strings, given.last_fret)
    of_place = {each.place: each for each in asked}
    rate = rate_of(given.history, given.day)
    none = _no_outlook(given, asked, rate)

    def ahead(name: str, title: str, members: Sequence[Asked], pace: Pace) -> StageAhead:
        hold = holding(given.memory, members, given.now_s)
        if none is not None or rate is None:
            return StageAhead(name, title, none or Outlook.IDLE, len(members), hold)
        if hold >= enough(len(members)):
            return StageAhead(name, title, Outlook.HOLDS, len(members), hold)
        begun = sum(asked in given.memory.items for asked in members)
        if begun < _BEGUN * len(members):
            return StageAhead(name, title, Outlook.UNBEGUN, len(members), hold)
        slowest_s = slowest(given.memory, members, given.now_s)
        return _dated(given.day, (name, title), (len(members), hold), slowest_s, rate, pace, rules)

    found = tuple(
        ahead(
            stage.name,
            stage.title,
            [of_place[place] for place in stage.places(given.strings, given.last_fret)],
            rules.row,
        )
        for stage in stages
    )
    neck = ahead(NECK, "The whole neck", asked, rules.neck)
    minutes, share = (rate.minutes, rate.share) if rate else (0.0, 0.0)
    return Ahead(given.day, minutes, 7 * share, _MORE_MINUTES, _MONTHS, found, neck)


def enough(places: int) -> int:
    """Return how many of so many places have to hold for all to count as automatic."""
    return places - max(math.floor((1 - _SHARE) * places + 1e-9), 1)


def slowest(memory: Memory, places: Sequence[Asked], now_s: float) -> float:
    """Return the recall time of the slowest place that has to hold, in seconds, as memory expects it now.

    A place that was never asked is taken to be worked out. now_s: seconds since 1970.
    """
    counted_s = memory.counted_at(now_s)
    times = []
    for asked in places:
        item = memory.items.get(asked)
        times.append(memory.traits.worked_out_s if item is None else memory.quickly(item, counted_s)[1])
    slow_s = sorted(times)[enough(len(places)) - 1]
    return min(max(slow_s, _NEAREST_S), _FARTHEST_S)


def holding(memory: Memory, places: Sequence[Asked], now_s: float) -> int:
    """Return how many places hold: expected within 1.0 s, and in time after a night when last looked at."""
    counted_s = memory.counted_at(now_s)
    items = [item for asked in places if (item := memory.items.get(asked)) is not None]
    return sum(
        item.held_s >= _NIGHT_S and memory.quickly(item, counted_s)[1] <= AUTOMATIC_S for item in items
    )


def rate_of(history: Sequence[DayMinutes], today: dt.date) -> Rate | None:
    """Say how somebody practised in the last four weeks; None for who did not in the last two.

    Today may not be over: it counts only for who begins today.
    """
    by_day: dict[dt.date, float] = {}
    for each in history:
        if each.day <= today and each.minutes > 0:
            by_day[each.day] = by_day.get(each.day, 0.0) + each.minutes
    if not by_day or (today - max(by_day)).days > _IDLE_DAYS:
        return None
    since = max(min(by_day), today - dt.timedelta(days=_RATE_DAYS))
    lately = [minutes for day, minutes in by_day.items() if since <= day < today]
    if not lately:
        return Rate(by_day[max(by_day)], 1.0)
    return Rate(sum(lately) / len(lately), len(lately) / (today - since).days)


def _no_outlook(given: PlanInput, asked: Sequence[Asked], rate: Rate | None) -> Outlook | None:
    answers = sum(item.answers for place in asked if (item := given.memory.items.get(place)) is not None)
    days = {each.day for each in given.history if each.minutes > 0 and each.day <= given.day}
    if len(days) < LEAST_DAYS or answers < LEAST_ANSWERS:
        return Outlook.EARLY
    return Outlook.IDLE if rate is None else None


def _dated(
    day: dt.date,
    called: tuple[str, str],
    counted: tuple[int, int],
    slowest_s: float,
    rate: Rate,
    pace: Pace,
    rules: AheadRules,
) -> StageAhead:
    horizon = _MONTHS * _MONTH_DAYS
    middle = math.exp(pace.level) * (slowest_s / AUTOMATIC_S) ** pace.power / rate.share
    power = NormalDist(*rules.minutes_power)
    apart = math.log(rules.usual_minutes / rate.minutes)
    # How days go with minutes is uncertain too, the more the farther the minutes are from usual ones.
    likely = NormalDist(math.log(middle) + power.mean * apart, math.hypot(pace.spread, power.stdev * apart))
    first, half, last = (math.exp(likely.inv_cdf(share)) for share in _shares())

    def date(days: float) -> dt.date | None:
        return day + dt.timedelta(days=max(round(days), 1)) if days <= horizon else None

    if date(first) is None:
        return StageAhead(*called, Outlook.BEYOND, *counted)
    sooner = _sooner(likely, power, rate.minutes)
    return StageAhead(*called, Outlook.DATED, *counted, date(half), date(first), date(last), sooner)


def _sooner(likely: NormalDist, power: NormalDist, minutes: float) -> Sooner:
    """What more minutes change, by all that is uncertain: how many days it takes, and what minutes do."""
    inner = [(step + 0.5) / _STEPS for step in range(_STEPS)]
    less = math.log(minutes / (minutes + _MORE_MINUTES))
    found = sorted(
        math.exp(likely.inv_cdf(one)) * (1 - math.exp(power.inv_cdf(other) * less))
        for one in inner
        for other in inner
    )
    first, middle, last = (found[min(int(share * len(found)), len(found) - 1)] for share in _shares())
    return Sooner(middle, first, last)


def _shares() -> tuple[float, float, float]:
    return (1 - _INTERVAL) / 2, 0.5, (1 + _INTERVAL) / 2
