"""A small histogram of response times, from which medians are read within one per cent."""

import math
import struct
from collections.abc import Iterable

# Bins are spaced evenly on a log scale, each 2% wide, the lowest from 1 ms down to nothing. A bin stands
# for the geometric middle of its edges, so what is read from it is off by at most sqrt(1.02) - 1.
SHORTEST_S = 0.001
BIN_RATIO = 1.02
GREATEST_ERROR = math.sqrt(BIN_RATIO) - 1  # 0.995 %, of any median of times of 1 ms and more
_LAST_BIN = 0xFFFF
_PAIR = struct.Struct("<HI")  # bin, count
_LOG_RATIO = math.log(BIN_RATIO)


def bin_of(time_s: float) -> int:
    """Return the bin of a time in seconds, 0 for all under 1 ms. Raises ValueError for infinity and NaN."""
    if not math.isfinite(time_s):
        raise ValueError(f"{time_s} is not a time")
    if time_s < SHORTEST_S:
        return 0
    return min(1 + int(math.log(time_s / SHORTEST_S) / _LOG_RATIO), _LAST_BIN)


def middle_of(number: int) -> float:
    """Return the time in seconds that a bin stands for; half a millisecond for bin 0."""
    if number == 0:
        return SHORTEST_S / 2
    return SHORTEST_S * math.pow(BIN_RATIO, number - 0.5)


def packed(counts: dict[int, int]) -> bytes:
    """Return bins and their counts as bytes, in order of the bins, empty ones left out."""
    return b"".join(_PAIR.pack(number, count) for number, count in sorted(counts.items()) if count)


def unpacked(data: bytes) -> dict[int, int]:
    """Return what `packed` was given. Raises ValueError for other bytes."""
    if len(data) % _PAIR.size:
        raise ValueError("these bytes are not a histogram")
    return dict(_PAIR.iter_unpack(data))


def add_packed(data: bytes, *all_counts: dict[int, int]) -> None:
    """Add a packed histogram to counts, one or several."""
    pairs = tuple(_PAIR.iter_unpack(data))
    for counts in all_counts:
        for number, count in pairs:
            if number in counts:
                counts[number] += count
            else:
                counts[number] = count


def changed(data: bytes, time_s: float, by: int) -> bytes:
    """Return a packed histogram with one time counted `by` more often, or less where that is negative."""
    counts = unpacked(data)
    number = bin_of(time_s)
    counts[number] = counts.get(number, 0) + by
    return packed(counts)


def histogram(times_s: Iterable[float]) -> dict[int, int]:
    """Count times in their bins."""
    counts: dict[int, int] = {}
    for time_s in times_s:
        number = bin_of(time_s)
        counts[number] = counts.get(number, 0) + 1
    return counts


def median(counts: dict[int, int]) -> float | None:
    """Return the median in seconds, the mean of the two middle times where they are even in number.

    It is off by at most `GREATEST_ERROR` of itself (and by under 1 ms below 1 ms); None without times.
    """
    total = sum(counts.values())
    if total == 0:
        return None
    lower_rank, upper_rank = (total - 1) // 2, total // 2
    lower: int | None = None
    seen = 0
    for number in sorted(counts):
        seen += counts[number]
        if lower is None and seen > lower_rank:
            lower = number
        if seen > upper_rank:
            assert lower is not None
            return (middle_of(lower) + middle_of(number)) / 2
    raise ValueError("a histogram has a count below nought")
