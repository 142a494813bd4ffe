"""Spread of times against scipy, numpy and statsmodels, and how often its intervals hold the truth."""

import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from midifret.timing import Spread, spread_of

TIMES = st.lists(st.floats(-2, 30), min_size=1, max_size=80)


def told(times_s: list[float]) -> Spread:
    found = spread_of(times_s)
    assert found is not None
    return found


def drawn(seed: int, count: int) -> list[float]:
    """A normal part and an exponential tail, the usual description of response times (from memory)."""
    lots = random.Random(seed)
    return [lots.gauss(0.6, 0.1) + lots.expovariate(1 / 0.5) for _ in range(count)]


@given(TIMES)
def test_quantiles_are_those_of_numpy(times_s: list[float]) -> None:
    for quantile in told(times_s).quantiles:
        assert quantile.time_s == pytest.approx(np.quantile(times_s, quantile.share), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("count", [1, 2, 5, 6, 8, 20, 59, 60, 72, 73, 200, 1000, 20_000])
def test_their_intervals_are_those_of_scipy(count: int) -> None:
    times_s = drawn(count, count)
    for quantile in told(times_s).quantiles:
        theirs = stats.quantile_test(times_s, q=0, p=quantile.share).confidence_interval(0.95)
        for ours, other in ((quantile.low_s, theirs.low), (quantile.high_s, theirs.high)):
            assert (math.nan if ours is None else ours) == pytest.approx(other, nan_ok=True, abs=0)


def test_intervals_hold_the_truth() -> None:
    """At 95% or, as counts are whole, more."""
    truth = [float(value) for value in np.quantile(drawn(1, 400_000), (0.05, 0.25, 0.5, 0.75, 0.95))]
    inside = [0] * 5
    samples = 400
    for seed in range(100, 100 + samples):
        for number, quantile in enumerate(told(drawn(seed, 100)).quantiles):
            assert quantile.low_s is not None
            assert quantile.high_s is not None
            inside[number] += quantile.low_s <= truth[number] <= quantile.high_s
    print("intervals that hold:", [f"{each / samples:.1%}" for each in inside])
    assert all(0.93 <= each / samples <= 0.995 for each in inside)


@given(TIMES)
def test_histogram_is_that_of_numpy(times_s: list[float]) -> None:
    found = told(times_s)
    # numpy closes its last bin on the right; with an edge far beyond, it is never reached.
    edges = [-1e9, *(0.25 * i for i in range(21)), 1e9]
    assert [each.count for each in found.bins] == list(np.histogram(times_s, edges)[0])
    assert sum(each.count for each in found.bins) == found.count == len(times_s)
    assert (found.bins[0].low_s, found.bins[0].high_s) == (None, 0.0)
    assert (found.bins[-1].low_s, found.bins[-1].high_s) == (5.0, None)


@given(TIMES)
def test_quick_shares_are_those_of_statsmodels(times_s: list[float]) -> None:
    for quick in told(times_s).quick:
        count = sum(time_s < quick.under_s for time_s in times_s)
        low, high = proportion_confint(count, len(times_s), method="wilson")
        assert (quick.count, quick.share) == (count, count / len(times_s))
        assert (quick.low, quick.high) == pytest.approx((max(low, 0.0), min(high, 1.0)), abs=1e-9)


def test_negative_times_are_kept_as_measured() -> None:
    found = told([-0.2, -0.1, 0.3, 7.0])
    assert found.bins[0].count == 2
    assert found.bins[-1].count == 1
    assert found.mean_s == pytest.approx(1.75)
    assert found.median_s == pytest.approx(0.1)
    assert found.quick[0].count == 3


def test_few_times_leave_ends_open() -> None:
    """Of 5 times all lie above the median once in 32: over 2.5%, so that no time bounds it below."""
    middle = told([1.0, 2.0, 3.0, 4.0, 5.0]).quantiles[2]
    assert (middle.low_s, middle.time_s, middle.high_s) == (None, 3.0, None)
    middle = told([1.0, 2.0, 3.0, 4.0, 5.0, 6.0]).quantiles[2]  # once in 64
    assert (middle.low_s, middle.high_s) == (1.0, 6.0)


def test_no_times_and_no_numbers() -> None:
    assert spread_of([]) is None
    with pytest.raises(ValueError, match="not a time"):
        spread_of([1.0, math.nan])
