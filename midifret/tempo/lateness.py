"""How notes lie on the beat: the player's own mean, the spread around it, and the drift away from it.

On a click people come early by tens of ms (Repp 2005): the mean is the player's own, and no fault. What is
left is given as spread and as drift. The interval of each says how far chance alone would carry it.
"""

import itertools
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.estimates import chi_squared_quantile, t_quantile
from midifret.tempo.limits import check_time
from midifret.terms import BadInput

# A note further off was not meant for that beat, at any tempo: the longest beat is 6 s [calc].
MOST_LATE_MS = 6000.0
# Fewer notes give a line and nothing to judge it by; with three there is one degree of freedom [calc].
LEAST_NOTES = 3
# From so many notes on it is estimated how far a note goes with the one before it. Fewer do not tell [ours].
LEAST_NOTES_FOR_DEPENDENCE = 12


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure with its 95% interval; low and high are None where there are too few notes for one."""

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class LateNote:
    """When a note came, and by how many ms it was late; negative for early."""

    time_s: float
    late_ms: float


@dataclass(frozen=True, slots=True)
class Lateness:
    """How the notes of a run lie on their beats.

    mean_ms: negative for early. spread_ms: standard deviation around the line of the drift, so that drift
    is not taken for unsteadiness. drift_ms_per_minute: by how much later each minute finds the player; None
    for one note, or where all came at one time. dependence: correlation of a note with the one before, 0 or
    more; the intervals are wider by it, as (1 + r) / (1 - r) in the variance for a first-order process.
    centred_ms: each note's lateness less the mean, in the order given.
    """

    notes: int
    mean_ms: Figure
    spread_ms: Figure | None
    drift_ms_per_minute: Figure | None
    dependence: float
    centred_ms: tuple[float, ...]


def lateness(notes: Sequence[LateNote], *, independent: bool = False) -> Lateness:
    """Work out how notes, in order of time, lie on the beat.

    independent: take the notes as independent, as the textbook formulas do. People correct one note for the
    last, and so they are not; then the intervals of those formulas are too narrow.
    Raises BadInput for no note, for times that go back, and for a note further off than MOST_LATE_MS.
    """
    if not notes:
        raise BadInput("without a note there is nothing to say about time", allowed="1 note or more")
    before_s = 0.0
    for note in notes:
        before_s = check_time(note.time_s, what="a note", not_before_s=before_s)
        if not abs(note.late_ms) <= MOST_LATE_MS:
            raise BadInput(
                f"a note cannot be {note.late_ms:g} ms late", allowed=f"-{MOST_LATE_MS:g} to {MOST_LATE_MS:g}"
            )
    count = len(notes)
    late_ms = [note.late_ms for note in notes]
    mean_ms = statistics.fmean(late_ms)
    centred_ms = tuple(late - mean_ms for late in late_ms)
    middle_s = statistics.fmean(note.time_s for note in notes)
    minutes = [(note.time_s - middle_s) / 60 for note in notes]
    across = math.fsum(minute * minute for minute in minutes)
    if across <= 0 or count < 2:
        return Lateness(count, Figure(mean_ms, None, None), None, None, 0.0, centred_ms)
    drift = math.fsum(m * late for m, late in zip(minutes, centred_ms, strict=True)) / across
    if count < LEAST_NOTES:
        return Lateness(count, Figure(mean_ms, None, None), None, Figure(drift, None, None), 0.0, centred_ms)
    rest_ms = [late - drift * minute for late, minute in zip(centred_ms, minutes, strict=True)]
    squares = math.fsum(rest * rest for rest in rest_ms)
    freedom = count - 2
    spread_ms = math.sqrt(squares / freedom)
    dependence = 0.0 if independent else _dependence(rest_ms, squares)
    wider = math.sqrt((1 + dependence) / (1 - dependence))
    # Notes that go together are worth fewer: for the spread as (1 + r^2) / (1 - r^2), for their squares
    # correlate as r^2 does [calc].
    worth = max(freedom * (1 - dependence**2) / (1 + dependence**2), 1.0)
    t = t_quantile(0.975, max(freedom / wider**2, 1.0))
    mean_half = t * wider * spread_ms / math.sqrt(count)
    drift_half = t * wider * spread_ms / math.sqrt(across)
    return Lateness(
        count,
        Figure(mean_ms, mean_ms - mean_half, mean_ms + mean_half),
        Figure(
            spread_ms,
            spread_ms * math.sqrt(worth / chi_squared_quantile(0.975, worth)),
            spread_ms * math.sqrt(worth / chi_squared_quantile(0.025, worth)),
        ),
        Figure(drift, drift - drift_half, drift + drift_half),
        dependence,
        centred_ms,
    )


def _dependence(rest_ms: Sequence[float], squares: float) -> float:
    """Correlation of each note with the one before, what is left after the line being given.

    What a line leaves correlates too little, on average by (2 + 4 r) / n (Marriott & Pope 1954 [mem]); that
    is given back. Never below 0, which would make intervals narrower, and at most 0.9.
    """
    count = len(rest_ms)
    if count < LEAST_NOTES_FOR_DEPENDENCE or squares <= 0:
        return 0.0
    found = math.fsum(a * b for a, b in itertools.pairwise(rest_ms)) / squares
    return min(max((count * found + 2) / (count - 4), 0.0), 0.9)
