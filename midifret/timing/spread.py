"""How recall times are spread: quantiles, a histogram and the shares that were quick, with intervals."""

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.estimates import binomial_quantile, wilson

CONFIDENCE = 0.95
QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)
# Retrieval takes about 1 s where it is automatic; what takes more than 2 to 3 s is worked out (review by
# Crawford, citing Ashcraft 1982 and Logan 1988).
QUICK_S = (1.0, 2.0, 3.0)
# Twenty bins, narrow enough to tell the 400 to 900 ms of a fact known by heart (the same review) from 1 s;
# what is worked out for 5 s or more is all the same. [ours]
BIN_S = 0.25
BINS = 20


@dataclass(frozen=True, slots=True)
class Quantile:
    """Below which time a share of the times lies, with its 95% interval.

    low_s, high_s: its ends; None where there are too few times to have one.
    """

    share: float
    time_s: float
    low_s: float | None
    high_s: float | None


@dataclass(frozen=True, slots=True)
class QuickShare:
    """Which share of the times is under a limit, with its 95% interval (Wilson 1927)."""

    under_s: float
    count: int
    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Bin:
    """How many times lie from low_s to under high_s; None is an open end. Negative times are among them."""

    low_s: float | None
    high_s: float | None
    count: int


@dataclass(frozen=True, slots=True)
class Spread:
    """How times are spread. count: of times. mean_s: of all, lapses too."""

    count: int
    mean_s: float
    quantiles: tuple[Quantile, ...]
    quick: tuple[QuickShare, ...]
    bins: tuple[Bin, ...]

    @property
    def median_s(self) -> float:
        """The time in the middle."""
        return next(each.time_s for each in self.quantiles if each.share == 0.5)


def spread_of(times_s: Sequence[float]) -> Spread | None:
    """Say how times are spread, in seconds, as measured: nothing is clipped. None for no times.

    Times of one kind only: raw times and recall times do not go together.

    Quantiles lie between the two times next to them, as in `numpy.quantile` (type 7 of Hyndman & Fan 1996,
    from memory). Their intervals reach from one of the times to another, so that, whatever the spread, the
    binomial leaves at most 2.5% on each side (order statistics; `scipy.stats.quantile_test`). They hold for
    answers that do not hang together.

    Raises ValueError for a time that is no number.
    """
    if not times_s:
        return None
    for time_s in times_s:
        if not math.isfinite(time_s):
            raise ValueError(f"{time_s} is not a time")
    ordered = sorted(times_s)
    edges = [BIN_S * i for i in range(BINS + 1)]
    below = [0, *(bisect_left(ordered, edge) for edge in edges), len(ordered)]
    ends = [None, *edges, None]
    return Spread(
        count=len(ordered),
        mean_s=math.fsum(ordered) / len(ordered),
        quantiles=tuple(_quantile(ordered, share) for share in QUANTILES),
        quick=tuple(_quick(ordered, under_s) for under_s in QUICK_S),
        bins=tuple(Bin(ends[i], ends[i + 1], below[i + 1] - below[i]) for i in range(len(ends) - 1)),
    )


def _quantile(ordered: Sequence[float], share: float) -> Quantile:
    count = len(ordered)
    position = share * (count - 1)
    index = min(int(position), count - 1)
    above = ordered[min(index + 1, count - 1)]
    time_s = ordered[index] + (position - index) * (above - ordered[index])
    tail = (1 - CONFIDENCE) / 2
    # With X of the times below the true quantile, the k-th time is above it where X < k.
    low = binomial_quantile(tail, count, share)
    high = binomial_quantile(1 - tail, count, share) + 1
    return Quantile(
        share,
        time_s,
        ordered[low - 1] if low > 0 else None,
        ordered[high - 1] if high <= count else None,
    )


def _quick(ordered: Sequence[float], under_s: float) -> QuickShare:
    count = bisect_left(ordered, under_s)
    low, high = wilson(count, len(ordered), (1 + CONFIDENCE) / 2)
    return QuickShare(under_s, count, count / len(ordered), low, high)
