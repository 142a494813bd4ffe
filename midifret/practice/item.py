"""What is kept of one place and kind of cue: its traces, and how likely each forgetting and ease is."""

import math
from dataclasses import dataclass

from midifret.practice.activation import LEAST_AGE_S
from midifret.practice.kinds import Asked
from midifret.practice.rules import MemoryRules


@dataclass(frozen=True, slots=True)
class Trace:
    """One answer, or several old ones together. at_s: counted time. haste: part of its decay from practising
    soon after another. weight: how many answers.
    """

    at_s: float
    haste: float
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class ItemMemory:
    """All that is kept of a place and kind of cue; the whole can be stored and taken up again.

    traces: the oldest first. likelihood: logarithms, of each forgetting the row of all eases, the highest 0.
    answers, right: all there were. newest_s: the last answer, seconds since 1970. newest_recall_s: None
    where it was wrong or had no time. in_a_row: right answers since the last wrong one.
    in_time: right answers in time, one after the other. held_s: the longest gap, seconds as the wall
    clock counts, after which an answer still was, since the last that was not.
    forgetting, ease: the middle of what is likely, as `settle` left it, with the deviation of ease.
    weight: how much is known of it beyond what is usual for the player, 0 to 1.
    """

    asked: Asked
    traces: tuple[Trace, ...]
    likelihood: tuple[float, ...]
    answers: int
    right: int
    newest_s: float
    newest_recall_s: float | None
    in_a_row: int
    in_time: int
    held_s: float
    forgetting: float
    ease: float
    ease_deviation: float
    weight: float


def summed(traces: tuple[Trace, ...], now_s: float, forgetting: float) -> float:
    """Return the sum of weight * age^-decay, of which activation is the logarithm. now_s: counted time."""
    total = 0.0
    for trace in traces:
        age_s = now_s - trace.at_s
        if age_s < LEAST_AGE_S:
            age_s = LEAST_AGE_S
        total += trace.weight * age_s ** -(trace.haste + forgetting)
    return total


def sums(traces: tuple[Trace, ...], now_s: float, rules: MemoryRules) -> list[float]:
    """Return the same for every forgetting of the grid."""
    grid = rules.forgetting
    step = grid[1] - grid[0] if len(grid) > 1 else 0.0
    totals = [0.0] * len(grid)
    for trace in traces:
        age_s = max(now_s - trace.at_s, LEAST_AGE_S)
        logarithm = math.log(age_s)
        part = trace.weight * math.exp(-(trace.haste + grid[0]) * logarithm)
        factor = math.exp(-step * logarithm)
        for number in range(len(grid)):
            totals[number] += part
            part *= factor
    return totals


# Traces that become one count together as much as they did apart after so much more counted time, about a day
# and a half away from the guitar, and at this forgetting [ours].
_AFTER_S, _FORGETTING = 3800.0, 0.2


def put_together(traces: tuple[Trace, ...], most: int, now_s: float) -> tuple[Trace, ...]:
    """Return at most `most` traces: the neighbours become one that change least in what is left later."""
    while len(traces) > most:
        ages = [now_s + _AFTER_S - trace.at_s for trace in traces]
        parts = [
            trace.weight * age ** -(trace.haste + _FORGETTING)
            for trace, age in zip(traces, ages, strict=True)
        ]
        # How far apart they are, in time as it was and as decays, times the lesser of what they leave.
        now = [math.log(max(now_s - trace.at_s, LEAST_AGE_S)) for trace in traces]
        apart = [
            (now[n] - now[n + 1] + 4 * abs(traces[n].haste - traces[n + 1].haste))
            * min(parts[n], parts[n + 1])
            for n in range(len(traces) - 1)
        ]
        n = min(range(len(apart)), key=apart.__getitem__)
        first, second = traces[n], traces[n + 1]
        weight, part = first.weight + second.weight, parts[n] + parts[n + 1]
        at_s = (first.at_s * parts[n] + second.at_s * parts[n + 1]) / part
        haste = math.log(weight / part) / math.log(now_s + _AFTER_S - at_s) - _FORGETTING
        traces = (*traces[:n], Trace(at_s, max(haste, 0.0), weight), *traces[n + 2 :])
    return traces
