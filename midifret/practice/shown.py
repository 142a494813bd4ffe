"""What answers, tempos and readings showed of each stage on each practice day: what gates are judged by."""

import datetime as dt
import statistics
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from midifret.practice.kinds import Asked, Remembered
from midifret.practice.path import MethodPath, Stage, StageDay

# An older answer tells nothing of today: what it showed has faded [ours].
GOOD_FOR_DAYS = 14
# So large a share of its places has to be asked on a day that the day counts for a stage [ours]; the others
# may rest.
_LEAST_ASKED = 0.25


@dataclass(frozen=True, slots=True)
class DayAnswer:
    """An answer and its practice day."""

    day: dt.date
    given: Remembered


@dataclass(frozen=True, slots=True)
class DayTempo:
    """The owned tempo of a drill as known on a practice day."""

    day: dt.date
    drill: str
    tempo_bpm: float


@dataclass(frozen=True, slots=True)
class DayReading:
    """A reading in a position. right: share of its notes. tempo_bpm: None in free tempo."""

    day: dt.date
    position: int
    right: float
    tempo_bpm: float | None = None


def shown_of(
    path: MethodPath,
    answers: Iterable[DayAnswer] = (),
    tempos: Iterable[DayTempo] = (),
    readings: Iterable[DayReading] = (),
    *,
    strings: int = 6,
    last_fret: int = 12,
) -> Mapping[str, tuple[StageDay, ...]]:
    """Return what was shown of each stage, by its name, day after day.

    In rows the first answer of a place on a day counts, as later ones only show what was told a moment ago.
    Places that were not asked on a day stand as they stood at most 14 days before, those never asked as not
    right: so a stage is not met on its easy half, and places that rest do not hold it up. In reading each
    reading counts by itself, the best of a day.
    """
    firsts = _firsts(answers)
    by_drill: dict[str, dict[dt.date, float]] = defaultdict(dict)
    for each in tempos:
        days = by_drill[each.drill]
        days[each.day] = max(each.tempo_bpm, days.get(each.day, 0.0))
    found: dict[str, tuple[StageDay, ...]] = {}
    for stage in path.rows:
        asked = [Asked(place, stage.kind) for place in stage.places(strings, last_fret)]
        found[stage.name] = _row_days(stage, asked, firsts, by_drill)
    heard = tuple(readings)
    for stage in path.reading:
        found[stage.name] = tuple(
            sorted(
                (
                    StageDay(each.day, each.right, None, each.tempo_bpm)
                    for each in heard
                    if each.position == stage.position
                ),
                key=lambda shown: shown.day,
            )
        )
    return found


_Firsts = dict[Asked, dict[dt.date, Remembered]]


def _firsts(answers: Iterable[DayAnswer]) -> _Firsts:
    """The first answer of each place on each day."""
    found: _Firsts = defaultdict(dict)
    for each in answers:
        days = found[each.given.asked]
        before = days.get(each.day)
        if before is None or each.given.at_s < before.at_s:
            days[each.day] = each.given
    return found


def _row_days(
    stage: Stage, asked: list[Asked], firsts: _Firsts, tempos: Mapping[str, Mapping[dt.date, float]]
) -> tuple[StageDay, ...]:
    own = [firsts[each] for each in asked if each in firsts]  # the places that were asked at all
    days = sorted({day for of_place in own for day in of_place})
    newest: list[tuple[dt.date, Remembered] | None] = [None] * len(own)
    # An answer on a beat has no time: then that of its newest right answer in free tempo stands.
    timed: list[tuple[dt.date, float] | None] = [None] * len(own)
    found = []
    for day in days:
        today = 0
        for number, of_place in enumerate(own):
            given = of_place.get(day)
            if given is not None:
                today += 1
                newest[number] = (day, given)
                if given.right and given.recall_s is not None:
                    timed[number] = (day, given.recall_s)
        if today < _LEAST_ASKED * len(asked):
            continue
        since = day - dt.timedelta(days=GOOD_FOR_DAYS)
        standing = [n for n, each in enumerate(newest) if each is not None and each[0] >= since]
        right = [n for n in standing if (last := newest[n]) is not None and last[1].right]
        times = [each[1] for n in right if (each := timed[n]) is not None and each[0] >= since]
        recall_s = statistics.median(times) if times else None
        found.append(StageDay(day, len(right) / len(asked), recall_s, _tempo(stage, day, tempos)))
    return tuple(found)


def _tempo(stage: Stage, day: dt.date, tempos: Mapping[str, Mapping[dt.date, float]]) -> float | None:
    """The best owned tempo of its drills as last measured, 14 days before at most."""
    since = day - dt.timedelta(days=GOOD_FOR_DAYS)
    values = [
        tempo
        for drill in stage.drills
        for when, tempo in tempos.get(drill, {}).items()
        if since <= when <= day
    ]
    return max(values) if values else None
