"""What is known of the delays between a cue and a note heard: latency, reaction, travel, and recall times."""

import datetime as dt
import math
from dataclasses import dataclass
from enum import StrEnum

from midifret.terms.place import Place

# Concert pitch, A4 = 69, at 440 Hz (ISO 16), in equal temperament.
_A4_MIDI = 69
_A4_HZ = 440.0


def period_s(midi: float) -> float:
    """Return the length in seconds of one period of a pitch; a fraction of a MIDI number is a bent one."""
    return math.pow(2.0, (_A4_MIDI - midi) / 12) / _A4_HZ


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure with how sure it is, all in the unit that the name of its field gives.

    low, high: the ends of its 95% confidence interval.
    """

    value: float
    standard_error: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Latency:
    """How long a guitar and its converter need to tell a note: a + b * period of the note.

    a_s: seconds, relative: how far the player plucks before or after the beat is in it, and nothing that is
        heard can tell the two apart. It may be negative. Only differences of latencies are true.
    b_periods: how many periods of the note are waited for, without a unit.
    spread_s: of the plucks around the line, player and converter together.
    plucks: how many were used. anticipations, lapses: how many were left out as far too early or too late.
    more_plucks: how many more would make b as sure as the rules ask; 0 where it is.
    """

    a_s: Estimate
    b_periods: Estimate
    spread_s: float
    plucks: int
    anticipations: int = 0
    lapses: int = 0
    more_plucks: int = 0

    def at(self, midi: float) -> float:
        """Return the latency of a pitch in seconds, relative as `a_s` is."""
        return self.a_s.value + self.b_periods.value * period_s(midi)

    def difference_s(self, midi: float, other: float) -> float:
        """Return by how many seconds the first pitch is told later than the other: free of a."""
        return self.b_periods.value * (period_s(midi) - period_s(other))


@dataclass(frozen=True, slots=True)
class Reaction:
    """How long this player on this system needs to pluck a shown open string, nothing having to be recalled.

    response_s: from cue to note as heard, for a note of period `period_s`; whatever latency has, is in it.
    time_s: the same less the latency at that period; None where no latency is known. Relative as `a_s` is.
    spread_s: of single reactions. used: how many counted.
    anticipations, lapses: how many were left out as too early or too late.
    """

    response_s: Estimate
    period_s: float
    time_s: float | None
    spread_s: float
    used: int
    anticipations: int = 0
    lapses: int = 0


@dataclass(frozen=True, slots=True)
class Travel:
    """How long the hands need to a place that is shown, with what they need to an open string taken off.

    time_s: seconds. standard_error_s: from the plucks that it comes from alone, not from latency or reaction,
        which cancel where travel is taken off; that of a normal distribution with the same 95% interval.
    period_s: mean period of those plucks.
    spread_s: of single answers to the shown place.
    """

    time_s: float
    standard_error_s: float
    period_s: float
    spread_s: float


class Lack(StrEnum):
    """Why what was measured does not do."""

    FEW = "too few"
    NEAR = "too near in pitch"  # without low and high notes nothing tells how latency depends on pitch
    CONTRADICTORY = "contradictory"


@dataclass(frozen=True, slots=True)
class Missing:
    """What stands in place of a figure that cannot be given.

    more: how many more are needed, at least 1. words: one sentence for the player.
    """

    lack: Lack
    more: int
    words: str


@dataclass(frozen=True, slots=True)
class Calibration:
    """What one player measured on one guitar and port. Parts that were not measured are None.

    made_at: when its oldest part was measured; it knows its time zone.
    guitar, port: names, as settings and port list give them.
    """

    guitar: str
    port: str
    made_at: dt.datetime
    latency: Latency | None = None
    reaction: Reaction | None = None


class Caveat(StrEnum):
    """What a time does not take into account, to be said wherever it is shown."""

    RAW = "raw"  # no reaction was measured: the response as it came
    WITH_LATENCY = "with latency"  # no latency was measured: low notes look slower than they were
    WITH_TRAVEL = "includes travel"  # the way of the hand to the place is in it
    STALE = "stale"  # the calibration is older than it may be
    OTHER_GUITAR = "other guitar"  # the calibration was made on another guitar
    OTHER_PORT = "other port"  # the calibration was made over another port
    OTHER_VIEW = "other screen"  # the reaction was measured on the terminal, and this on the stand, or so
    CUE_UNSURE = "cue unsure"  # nobody told when the cue was on the screen: there is no time at all


@dataclass(frozen=True, slots=True)
class Recall:
    """The recall time of one answer, as measured: it may be negative.

    time_s: seconds; with Caveat.RAW the response as it came.
    shared_s: standard error that all times of this calibration at this pitch share: it does not become
        smaller with more answers; that of a normal distribution with the same 95% interval. None where
        nothing was measured.
    own_s: standard deviation that single answers have by the player's hands alone; None likewise.
    """

    time_s: float
    shared_s: float | None
    own_s: float | None
    caveats: frozenset[Caveat] = frozenset()

    @property
    def standard_error_s(self) -> float | None:
        """Both together: how far this one time may be off. None where nothing was measured."""
        if self.shared_s is None or self.own_s is None:
            return None
        return math.hypot(self.shared_s, self.own_s)


@dataclass(frozen=True, slots=True)
class NoteInterval:
    """The time between two notes of a walk without cues, the difference of their latencies taken off.

    Nothing tells when the player began to think of the second: it is no recall time.
    standard_error_s: from the latency model; None where none was measured.
    """

    time_s: float
    standard_error_s: float | None
    caveats: frozenset[Caveat] = frozenset()


class CalibrationPart(StrEnum):
    """What is measured at one go; each can be done alone."""

    REACTION = "reaction"  # a shown open string, at a moment that cannot be foreseen
    CLICK = "click"  # shown places on the beats of a click
    HANDS = "hands"  # shown places, as fast as the hands get there


class ViewKind(StrEnum):
    """On what cues are seen: each has delays of its own."""

    TERMINAL = "terminal"
    STAND = "stand"


@dataclass(frozen=True, slots=True)
class Reading:
    """One pluck of a calibration.

    time_s: response to the cue, or with the click the onset as heard less the beat; negative for early.
    place, midi: what was played. right: it was what was asked.
    """

    time_s: float
    midi: int
    place: Place
    right: bool = True


@dataclass(frozen=True, slots=True)
class Measurement:
    """One part of a calibration as it was played; every figure follows from these and can be had again.

    guitar, port: as settings and port list name them. measured_utc: aware. take_file: its take.
    click: what sounded the click, empty where none did. view: on what the cues were seen.
    """

    part: CalibrationPart
    guitar: str
    port: str
    measured_utc: dt.datetime
    readings: tuple[Reading, ...]
    take_file: str = ""
    click: str = ""
    view: ViewKind = ViewKind.TERMINAL
