"""Which tempos and times are taken, and the errors for the rest."""

import math

from midifret.terms import BadInput

# A printed metronome goes from 40 to 208 [common practice, no source]. Beginners look for a place longer than
# the slowest of these gives them, and a beat may be an eighth; hence some room at both ends [ours].
LEAST_BPM = 10.0
MOST_BPM = 400.0
# The finest plucks of a quick run come 16 a second; notes that are due closer together could not be told from
# two strings struck as one [ours].
LEAST_BETWEEN_S = 0.06
# Thirty years: no clock that counts from the start of a machine or a take gets there. A time beyond it is one
# of the calendar, or in other units [ours].
MOST_TIME_S = 1e9


# A pass whose followed tempo moved by more than this share of it is a pass at no tempo: half of the 5% that
# an owned tempo may be off, and well above the 0.15% by which a jittering clock is misread [ours].
STEADY_SHARE = 0.025


def check_tempo(tempo_bpm: float) -> float:
    """Return the tempo in beats a minute. Raises BadInput unless LEAST_BPM <= tempo_bpm <= MOST_BPM."""
    if not LEAST_BPM <= tempo_bpm <= MOST_BPM:  # no number is not within either
        raise BadInput(
            f"a tempo of {tempo_bpm:g} bpm cannot be used", allowed=f"{LEAST_BPM:g} to {MOST_BPM:g} bpm"
        )
    return tempo_bpm


def check_time(time_s: float, *, what: str, not_before_s: float = 0.0) -> float:
    """Return a time in seconds. Raises BadInput unless it is finite, not before and not beyond MOST_TIME_S.

    what: the time's name in the error. not_before_s: the earliest that makes sense, as the time before it.
    """
    if not (math.isfinite(time_s) and not_before_s <= time_s <= MOST_TIME_S):
        raise BadInput(
            f"{what} cannot be at {time_s:g} s",
            allowed=f"{not_before_s:g} s to {MOST_TIME_S:g} s, no time before the one before it",
        )
    return time_s
