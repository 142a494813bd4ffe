"""What the report says of time, as values: calibration, recall times, states, trend and tempo."""

import datetime as dt
from dataclasses import dataclass

from midifret.tempo import Lateness
from midifret.terms import Place
from midifret.terms.calibration import CalibrationPart, Caveat, Missing, ViewKind
from midifret.terms.figures import OwnedTempoKept, TempoRun
from midifret.timing import Calibrated, PlaceState, RecallFigure, Spread, Trend


@dataclass(frozen=True, slots=True)
class Measured:
    """The newest measurement of one part of a calibration. measured: local time with its zone."""

    part: CalibrationPart
    measured: dt.datetime
    guitar: str
    port: str
    plucks: int
    view: ViewKind = ViewKind.TERMINAL


@dataclass(frozen=True, slots=True)
class CalibrationFigure:
    """What was measured of a player, and what it gives on the guitar and port of the newest measurement.

    parts: the newest of each that was measured. from_the_future: one of them is dated after now, so that one
    of two clocks is wrong.
    """

    parts: tuple[Measured, ...]
    calibrated: Calibrated
    from_the_future: bool

    @property
    def stale(self) -> bool:
        """Whether it is older than it may be, or dated after now."""
        return Caveat.STALE in self.calibrated.times.caveats


@dataclass(frozen=True, slots=True)
class PlaceTime:
    """The recall time of one place over all kinds of cue that do not show it."""

    place: Place
    figure: RecallFigure


@dataclass(frozen=True, slots=True)
class SpreadFigure:
    """How the recall times of right answers are spread.

    caveats: how many of the times have each, most first. raw_left_out: raw times that are not among them,
    since others are. negative: how many of them are below nought. first_day: of the oldest among them.
    """

    spread: Spread
    caveats: tuple[tuple[Caveat, int], ...]
    raw_left_out: int
    negative: int
    first_day: dt.date


@dataclass(frozen=True, slots=True)
class TrendFigure:
    """The recall time over practice, which is counted in answers to a cue, or what is missing for it.

    caveats: what the times have in them that was not measured. days: how many have such times.
    """

    trend: Trend | Missing
    caveats: frozenset[Caveat]
    days: int


@dataclass(frozen=True, slots=True)
class TempoFigure:
    """One run in tempo. lateness: of the right notes, which came in time; None without any.

    absurd: how many of their times were beyond what can be, and are left out.
    """

    run: TempoRun
    right: int
    lateness: Lateness | None
    absurd: int


@dataclass(frozen=True, slots=True)
class OddTimes:
    """Responses to a cue that can hardly be what they seem; they are kept and count as they are.

    too_soon: sooner than anyone reacts, too_late: so late that the guitar was laid aside, each with its limit
    in seconds.
    """

    too_soon: int
    soonest_s: float
    too_late: int
    latest_s: float


@dataclass(frozen=True, slots=True)
class TimeFigures:
    """All that the report says of time.

    answers: how many of the newest answers to a cue are looked at. newest: how many of these count for the
    state of each place and kind of cue. calibration: None where there never was
    one. places: of right answers, where there are two and more. owned: of each drill the newest.
    """

    answers: int
    newest: int
    calibration: CalibrationFigure | None
    states: tuple[PlaceState, ...]
    places: tuple[PlaceTime, ...]
    spread: SpreadFigure | None
    trend: TrendFigure | None
    owned: tuple[OwnedTempoKept, ...]
    tempo_runs: tuple[TempoFigure, ...]
    odd: OddTimes | None
