"""Figures of a run in tempo: how its notes lie on the beats."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LateFigure:
    """A figure with its 95% interval, None at both ends where there are too few notes for one."""

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class TempoFigures:
    """How the notes of a run lay on their beats: those at the right place, in time.

    notes: how many these are. mean_ms: negative for early; it holds the player's habit, and without a
    calibration (latency_known) what guitar and click need. spread_ms: around the player's own mean and drift.
    drift_ms_per_minute: by how much later each minute finds the player. early, late: missed notes that came
    outside their windows.
    """

    tempo_bpm: float
    notes: int
    mean_ms: LateFigure | None
    spread_ms: LateFigure | None
    drift_ms_per_minute: LateFigure | None
    early: int
    late: int
    latency_known: bool
