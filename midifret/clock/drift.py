"""How fast a driver's clock runs against this machine's: the line that lies closest under the arrivals.

Arrival less the sum of the driver's steps is a zero, plus drift, plus a delay that is never negative. So all
points lie on or above the line that is looked for, and the earliest arrivals lie on it. Of all lines with no
point below them the one is taken from which the points are the least away, taken together: an edge of the
lower hull, the one over the middle of the points (Moon, Skelly and Towsley 1999, on the skew of clocks in
network delays [mem]).
"""

from collections.abc import Sequence
from dataclasses import dataclass

# So many points, over so many seconds, before anything is said: 1 ms at either end of a minute is 17 parts in
# a million, a sixth of what two crystals may differ by [ours].
LEAST_POINTS = 12
LEAST_SPAN_S = 60.0
# The line touches two points that may each be late by some delay, so its slope is wrong by at most the larger
# one over the distance between them. What delays are like shows in how far all points lie above the line: an
# exponential delay is above three times its mean once in twenty [calc], and these are the earliest of all.
_DELAYS = 3.0


@dataclass(frozen=True, slots=True)
class Drift:
    """The line under the points.

    slope: seconds by which the zero rises in a second. unsure: the slope is within this of it, at 95% or
    better. height_s: mean distance of the points above the line.
    """

    slope: float
    unsure: float
    height_s: float


def fit_drift(points: Sequence[tuple[float, float]]) -> Drift | None:
    """Return the line under (time, zero), in seconds and in rising order of time; None for too few."""
    if len(points) < LEAST_POINTS or points[-1][0] - points[0][0] < LEAST_SPAN_S:
        return None
    hull: list[tuple[float, float]] = []
    for point in points:
        while len(hull) > 1 and not _turns_up(hull[-2], hull[-1], point):
            hull.pop()
        hull.append(point)
    middle_s = sum(time_s for time_s, _ in points) / len(points)
    after = next(n for n in range(1, len(hull)) if hull[n][0] >= middle_s)
    (from_s, from_zero_s), (to_s, to_zero_s) = hull[after - 1], hull[after]
    slope = (to_zero_s - from_zero_s) / (to_s - from_s)
    height_s = sum(zero_s - from_zero_s - slope * (time_s - from_s) for time_s, zero_s in points) / len(
        points
    )
    return Drift(slope, _DELAYS * height_s / (to_s - from_s), height_s)


def _turns_up(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    return (b[0] - a[0]) * (c[1] - a[1]) > (b[1] - a[1]) * (c[0] - a[0])
