"""Robust line and trimmed mean against scipy and statsmodels on the same data."""

import math
import random
import statistics

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from midifret.estimates import bisquare_line, mad_scale, theil_sen, trimmed_mean

VALUES = st.floats(min_value=-10, max_value=10).map(lambda value: round(value, 3))


def noisy_line(seed: int, n: int, wild: float = 0.08) -> tuple[list[float], list[float]]:
    """Points about 3 + 2 x, a share of them wild."""
    lots = random.Random(seed)
    x = [lots.choice([1.0, 4.0, 12.0]) + lots.random() for _ in range(n)]
    y = [3 + 2 * xi + lots.gauss(0, 1) + (lots.choice([-15, 25]) if lots.random() < wild else 0) for xi in x]
    return x, y


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("n", [12, 96])
def test_theil_sen_is_that_of_scipy(seed: int, n: int) -> None:
    x, y = noisy_line(seed, n)
    slope, intercept, _, _ = stats.theilslopes(y, x, method="joint")
    assert theil_sen(x, y) == pytest.approx((intercept, slope), rel=1e-9)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("n", [30, 96])
def test_the_line_is_that_of_statsmodels(seed: int, n: int) -> None:
    """The same norm, the same scale: the same line, though statsmodels starts from least squares."""
    x, y = noisy_line(seed, n)
    model = sm.RLM(y, sm.add_constant(x), M=sm.robust.norms.TukeyBiweight())
    theirs = model.fit(maxiter=500, tol=1e-12)
    ours = bisquare_line(x, y)
    assert (ours.intercept, ours.slope) == pytest.approx(tuple(theirs.params), rel=1e-6)
    assert ours.scale == pytest.approx(theirs.scale, rel=1e-6)
    assert ours.weights == pytest.approx(tuple(theirs.weights), abs=1e-5)


def test_standard_errors_are_those_of_statsmodels_where_the_spread_is_the_same_everywhere() -> None:
    """statsmodels' H1 takes one spread for all x, which the sandwich does not."""
    x, y = noisy_line(1, 1500)
    theirs = sm.RLM(y, sm.add_constant(x), M=sm.robust.norms.TukeyBiweight()).fit(cov="H1").bse
    var_a, _, var_b = bisquare_line(x, y).covariance
    assert (math.sqrt(var_a), math.sqrt(var_b)) == pytest.approx(tuple(theirs), rel=0.05)


def growing_spread(seed: int, by: float) -> tuple[list[float], list[float]]:
    lots = random.Random(seed)
    x = [1.0, 12.0] * 48
    return x, [3 + 2 * xi + lots.gauss(0, 1 + xi * by) for xi in x]


def test_standard_errors_are_those_of_a_bootstrap() -> None:
    x, y = growing_spread(5, by=0.05)

    def slope(xs: np.ndarray, ys: np.ndarray) -> float:
        return bisquare_line(list(xs), list(ys)).slope

    lots = np.random.default_rng(1)
    theirs = stats.bootstrap(
        (x, y), slope, paired=True, vectorized=False, n_resamples=300, method="basic", random_state=lots
    ).standard_error
    # 300 resamples tell a standard error within 4%.
    assert math.sqrt(bisquare_line(x, y).covariance[2]) == pytest.approx(theirs, rel=0.12)


def test_standard_errors_are_the_spread_of_many_fits_where_the_spread_grows() -> None:
    lines = [bisquare_line(*growing_spread(seed, by=1 / 3)) for seed in range(400)]
    told = statistics.fmean(math.sqrt(line.covariance[2]) for line in lines)
    # 400 fits tell their spread within 3.5%.
    assert told == pytest.approx(statistics.stdev(line.slope for line in lines), rel=0.1)


def test_the_covariance_belongs_to_the_intercept_at_nought() -> None:
    """Moving x by 100 and fitting there: the variance of the line at any x stays the same."""
    x, y = noisy_line(3, 96)
    near, far = bisquare_line(x, y), bisquare_line([xi + 100 for xi in x], y)

    def at(covariance: tuple[float, float, float], xi: float) -> float:
        aa, ab, bb = covariance
        return aa + 2 * xi * ab + xi * xi * bb

    for xi in (0.0, 5.0, 12.0):
        assert at(near.covariance, xi) == pytest.approx(at(far.covariance, xi + 100), rel=1e-6)


@given(st.integers(0, 10_000), st.integers(8, 40), VALUES, VALUES, st.floats(0.1, 10))
def test_shift_scale_and_tilt(seed: int, n: int, shift: float, tilt: float, factor: float) -> None:
    """Values without ties, as times are: where half of the points tie, rounding decides what a MAD is."""
    x, y = noisy_line(seed, n)
    plain = bisquare_line(x, y)
    moved = bisquare_line(x, [factor * yi + shift + tilt * xi for xi, yi in zip(x, y, strict=True)])
    assert moved.scale == pytest.approx(factor * plain.scale, rel=1e-5)
    assert moved.slope == pytest.approx(factor * plain.slope + tilt, rel=1e-5, abs=1e-5)
    assert moved.intercept == pytest.approx(factor * plain.intercept + shift, rel=1e-5, abs=1e-4)


def test_the_line_comes_to_rest_in_small_samples_too() -> None:
    """The weights that the residuals at rest ask for are those that the line was fitted with."""
    norm = sm.robust.norms.TukeyBiweight()
    for seed in range(100, 200):  # 139 never rests where the scale is never held
        lots = random.Random(seed)
        x = [1.0, 12.0] * 8
        y = [3 + 2 * xi + lots.gauss(0, 1) for xi in x]
        line = bisquare_line(x, y)
        residuals = [line.residual(xi, yi) / line.scale for xi, yi in zip(x, y, strict=True)]
        assert line.weights == pytest.approx(list(norm.weights(np.array(residuals))), abs=1e-5), seed


def test_an_exact_line_is_found_and_what_lies_off_it_left_out() -> None:
    x = [0.1 * i for i in range(20)]
    y = [0.3 + 1.7 * xi for xi in x]
    y[4] += 1e-3
    line = bisquare_line(x, y)
    assert (line.intercept, line.slope) == pytest.approx((0.3, 1.7), rel=1e-9)
    assert (line.scale, line.covariance) == (0.0, (0.0, 0.0, 0.0))
    assert [i for i, weight in enumerate(line.weights) if weight == 0] == [4]


@pytest.mark.parametrize("n", [4, 5, 11, 24, 61])
def test_trimmed_mean_and_its_standard_error_are_those_of_scipy(n: int) -> None:
    lots = random.Random(n)
    values = [lots.expovariate(5) for _ in range(n)]
    ours = trimmed_mean(values)
    assert ours.value == pytest.approx(stats.trim_mean(values, 0.2), rel=1e-12)
    # Yuen's test against values without any spread is that of one sample.
    theirs = stats.ttest_ind(values, [0.0] * 20, trim=0.2, equal_var=False)
    assert ours.value / ours.standard_error == pytest.approx(theirs.statistic, rel=1e-9)
    assert ours.freedom == pytest.approx(theirs.df, rel=1e-9)


def test_mad_scale_is_that_of_scipy() -> None:
    values = [random.Random(1).gauss(0, 3) for _ in range(50)]
    middle = float(np.median(values))
    theirs = stats.median_abs_deviation(values, scale="normal")
    assert mad_scale([v - middle for v in values]) == pytest.approx(theirs, rel=1e-12)


def test_too_few_values() -> None:
    with pytest.raises(ValueError, match="3 points"):
        bisquare_line([1, 2], [1, 2])
    with pytest.raises(ValueError, match="two different x"):
        bisquare_line([1, 1, 1], [1, 2, 3])
    with pytest.raises(ValueError, match="2 values"):
        trimmed_mean([1.0])
