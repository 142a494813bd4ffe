"""What is kept of one place and kind of cue: traces of its answers, and how likely each forgetting and ease is."""

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
    in_time: right answers within the goal, one after the other. held_s: the longest gap, seconds as the wall
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


def put_together(traces: tuple[Trace, ...], most: int, now_s: float) -> tuple[Trace, ...]:
    """Return at most `most` traces: neighbours whose ages differ least, in proportion, become one."""
    while len(traces) > most:
        ages = [math.log(max(now_s - trace.at_s, LEAST_AGE_S)) for trace in traces]
        # A trace of its own has more to tell when it is recent: pairs differ by age and by decay.
        apart = [
            (ages[n] - ages[n + 1] + abs(traces[n].haste - traces[n + 1].haste) * ages[n])
            * min(traces[n].weight, traces[n + 1].weight)
            for n in range(len(traces) - 1)
        ]
        n = min(range(len(apart)), key=apart.__getitem__)
        first, second = traces[n], traces[n + 1]
        weight = first.weight + second.weight
        one = Trace(
            (first.at_s * first.weight + second.at_s * second.weight) / weight,
            (first.haste * first.weight + second.haste * second.weight) / weight,
            weight,
        )
        traces = (*traces[:n], one, *traces[n + 2 :])
    return traces
