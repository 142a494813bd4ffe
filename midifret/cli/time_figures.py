"""The figures of time in a report, worked out from what the practice book keeps."""

import datetime as dt
import itertools
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from midifret.show.time_values import (
    CalibrationFigure,
    Measured,
    OddTimes,
    PlaceTime,
    SpreadFigure,
    TempoFigure,
    TimeFigures,
    TrendFigure,
)
from midifret.tempo import LateNote, lateness
from midifret.tempo.lateness import MOST_LATE_MS
from midifret.tempo.limits import MOST_TIME_S
from midifret.terms import CueKind, Place, Verdict
from midifret.terms.calibration import CalibrationPart, Caveat, Measurement, Recall
from midifret.terms.figures import CuedRow, OwnedTempoKept, RunRecall, TempoRun
from midifret.timing import (
    CuedAnswer,
    TimingRules,
    Trend,
    TrendPoint,
    calibrate,
    fit_trend,
    newest,
    place_states,
    recall_figure,
    spread_of,
)

# No one ponders one note for longer: the guitar was laid aside [ours].
LATEST_S = 600.0
# A trend is fitted to so many stretches of practice at most; more cost time and tell no more [ours].
MOST_POINTS = 90
# Times of which something else is taken off are other times, and never one trend.
_SEEN = (CalibrationPart.REACTION, CalibrationPart.HANDS)  # measured by cues
_KINDS = frozenset({Caveat.RAW, Caveat.WITH_LATENCY, Caveat.WITH_TRAVEL})


@dataclass(frozen=True, slots=True)
class KeptTimes:
    """What the book keeps of a player's times; each as the call of the book of the same name gives it."""

    newest_cued: tuple[CuedRow, ...] = ()
    recall_by_run: tuple[RunRecall, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    owned_tempos: tuple[OwnedTempoKept, ...] = ()
    tempo_runs: tuple[TempoRun, ...] = ()


def time_figures(kept: KeptTimes, rules: TimingRules, *, now: dt.datetime) -> TimeFigures:
    """Work out all figures of time. now: aware, in the zone in which days are to be told."""
    recalled = [row for row in kept.newest_cued if CueKind.PLACE not in row.cue]
    counted = newest(
        [CuedAnswer(row.place, row.cue, row.right, row.recall) for row in reversed(recalled)], rules.states
    )
    return TimeFigures(
        answers=len(recalled),
        newest=rules.states.newest,
        calibration=_calibration(kept.measurements, rules, now),
        states=place_states(counted, rules.states),
        places=_places(counted),
        spread=_spread(recalled),
        trend=_trend(kept.recall_by_run, rules),
        owned=tuple(next(group) for _, group in itertools.groupby(kept.owned_tempos, lambda k: k.drill)),
        tempo_runs=tuple(_tempo_figure(run) for run in kept.tempo_runs),
        odd=_odd(kept.newest_cued, rules),
    )


def _calibration(
    measurements: Sequence[Measurement], rules: TimingRules, now: dt.datetime
) -> CalibrationFigure | None:
    if not measurements:
        return None
    latest = measurements[0]
    parts: dict[str, Measured] = {}
    for one in measurements:
        measured = one.measured_utc.astimezone(now.tzinfo)
        parts.setdefault(
            one.part, Measured(one.part, measured, one.guitar, one.port, len(one.readings), one.view)
        )
    return CalibrationFigure(
        tuple(parts.values()),
        calibrate(
            measurements,
            guitar=latest.guitar,
            port=latest.port,
            now=now,
            rules=rules,
            view=next((one.view for one in measurements if one.part in _SEEN), latest.view),
        ),
        any(one.measured_utc > now for one in measurements),
    )


def _places(counted: Iterable[CuedAnswer]) -> tuple[PlaceTime, ...]:
    by_place: dict[Place, list[Recall]] = defaultdict(list)
    for answer in counted:
        if answer.right and answer.recall is not None:
            by_place[answer.place].append(answer.recall)
    found = ((place, recall_figure(recalls)) for place, recalls in sorted(by_place.items()))
    return tuple(PlaceTime(place, figure) for place, figure in found if figure is not None)


def _spread(rows: Iterable[CuedRow]) -> SpreadFigure | None:
    timed = [(row.recall, row.day) for row in rows if row.right and row.recall is not None]
    freed = [(recall, day) for recall, day in timed if Caveat.RAW not in recall.caveats]
    counted = freed or timed
    spread = spread_of([recall.time_s for recall, _ in counted])
    if spread is None:
        return None
    caveats = Counter(caveat for recall, _ in counted for caveat in recall.caveats)
    return SpreadFigure(
        spread,
        tuple(sorted(caveats.items(), key=lambda pair: (-pair[1], pair[0]))),
        len(timed) - len(counted),
        sum(recall.time_s < 0 for recall, _ in counted),
        min(day for _, day in counted),
    )


def _trend(runs: Sequence[RunRecall], rules: TimingRules) -> TrendFigure | None:
    """The trend of the newest kind of time that has one; else what the newest kind lacks."""
    practice = list(itertools.accumulate(run.cued for run in runs))
    kinds: dict[frozenset[Caveat], list[tuple[int, RunRecall]]] = {}
    for so_far, run in reversed(list(zip(practice, runs, strict=True))):
        kinds.setdefault(run.caveats & _KINDS, []).append((so_far, run))
    found: TrendFigure | None = None
    for caveats, members in kinds.items():
        points = _points(list(reversed(members)))
        days = len({run.day for _, run in members})
        figure = TrendFigure(fit_trend(points, rules.trend), caveats, days)
        if isinstance(figure.trend, Trend):
            return figure
        found = found or figure
    return found


def _points(members: Sequence[tuple[int, RunRecall]]) -> list[TrendPoint]:
    """A point for each day, or for several where there are very many: runs weigh by their answers."""
    days = [list(group) for _, group in itertools.groupby(members, lambda pair: pair[1].day)]
    together = -(-len(days) // MOST_POINTS)
    points = []
    for first in range(0, len(days), together or 1):
        runs = [pair for day in days[first : first + together] for pair in day]
        answers = sum(run.answers for _, run in runs)
        time_s = sum(run.median_recall_s * run.answers for _, run in runs) / answers
        points.append(TrendPoint(float(runs[-1][0]), time_s, float(answers)))
    return points


def _tempo_figure(run: TempoRun) -> TempoFigure:
    notes = [
        LateNote(answer.due_s, answer.late_ms)
        for answer in run.answers
        if answer.late_ms is not None and answer.verdict is Verdict.RIGHT
    ]
    fair = sorted(
        (note for note in notes if abs(note.late_ms) <= MOST_LATE_MS and 0 <= note.time_s <= MOST_TIME_S),
        key=lambda note: note.time_s,
    )
    return TempoFigure(
        run,
        sum(answer.verdict is Verdict.RIGHT for answer in run.answers),
        lateness(fair) if fair else None,
        len(notes) - len(fair),
    )


def _odd(rows: Sequence[CuedRow], rules: TimingRules) -> OddTimes | None:
    soonest_s = rules.reaction.soonest_s
    responses_s = [row.response_s for row in rows if row.response_s is not None]
    too_soon = sum(response_s < soonest_s for response_s in responses_s)
    too_late = sum(response_s > LATEST_S for response_s in responses_s)
    return OddTimes(too_soon, soonest_s, too_late, LATEST_S) if too_soon or too_late else None
