"""Whether two lots differ by more than chance: shares, and times by their ranks."""

import math
from collections import Counter
from collections.abc import Sequence

from midifret.estimates.quantiles import wilson


def share_change(
    before: tuple[int, int], since: tuple[int, int], confidence: float = 0.95
) -> tuple[float, float]:
    """Return between which values the share since less the share before lies, -1 to 1.

    before, since: successes and trials, one trial at least. confidence: of the whole interval. Newcombe's
    interval by Wilson's ends (Newcombe 1998, Statistics in Medicine 17, method 10, from memory;
    `statsmodels.stats.proportion.confint_proportions_2indep`, method "newcomb").
    Raises ValueError without trials.
    """
    if not before[1] or not since[1]:
        raise ValueError("a share of no trials cannot be compared")
    one_sided = (1 + confidence) / 2
    old, new = before[0] / before[1], since[0] / since[1]
    old_low, old_high = wilson(*before, one_sided)
    new_low, new_high = wilson(*since, one_sided)
    low = new - old - math.hypot(new - new_low, old_high - old)
    high = new - old + math.hypot(new_high - new, old - old_low)
    return low, high


def rank_sum(before: Sequence[float], since: Sequence[float]) -> float:
    """Return by how many standard errors the values since rank above those before; below 0: they are less.

    The rank sum test of Wilcoxon, Mann and Whitney with ranks shared among equal values and a correction for
    continuity (`scipy.stats.mannwhitneyu`, method "asymptotic"). 0 where all are equal, or without values.
    """
    first, second = len(before), len(since)
    if not first or not second:
        return 0.0
    counts = Counter((*before, *since))
    rank: dict[float, float] = {}
    passed = 0
    for value in sorted(counts):
        rank[value] = passed + (counts[value] + 1) / 2
        passed += counts[value]
    over = sum(rank[value] for value in since) - second * (second + 1) / 2 - first * second / 2
    ties = sum(count**3 - count for count in counts.values())
    variance = first * second / 12 * (passed + 1 - ties / (passed * (passed - 1)))
    if variance <= 0:
        return 0.0
    return math.copysign(max(abs(over) - 0.5, 0.0), over) / math.sqrt(variance)
