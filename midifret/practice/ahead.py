"""When rows and the whole neck will be automatic at this rate, and what more minutes would change."""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum


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
