"""Quantiles of t and chi squared, and shares of the binomial, against scipy."""

import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from midifret.estimates import binomial_at_least, binomial_quantile, chi_squared_quantile, t_quantile, wilson

SHARES = (0.001, 0.025, 0.05, 0.3, 0.5, 0.7, 0.95, 0.975, 0.999)
FREEDOMS = (1, 1.5, 2, 3, 7.25, 10, 30, 100, 1000, 20_000)


@pytest.mark.parametrize("freedom", FREEDOMS)
def test_students_t(freedom: float) -> None:
    for share in SHARES:
        assert t_quantile(share, freedom) == pytest.approx(stats.t.ppf(share, freedom), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("freedom", FREEDOMS)
def test_chi_squared(freedom: float) -> None:
    for share in SHARES:
        assert chi_squared_quantile(share, freedom) == pytest.approx(stats.chi2.ppf(share, freedom), rel=1e-9)


@pytest.mark.parametrize("trials", [1, 7, 60, 5000, 200_000])
def test_binomial(trials: int) -> None:
    for share in (0.05, 0.25, 0.5, 0.95):
        middle = round(trials * share)
        for successes in {0, 1, middle // 2, middle, middle + 1, trials, trials + 1}:
            theirs = stats.binom.sf(successes - 1, trials, share)
            assert binomial_at_least(successes, trials, share) == pytest.approx(theirs, rel=1e-8, abs=1e-12)


@pytest.mark.parametrize("trials", [1, 7, 60, 5000])
def test_binomial_quantile(trials: int) -> None:
    for share in (0.05, 0.25, 0.5, 0.95):
        for level in (0.025, 0.5, 0.975):
            assert binomial_quantile(level, trials, share) == stats.binom.ppf(level, trials, share)


@pytest.mark.parametrize(("right", "count"), [(0, 3), (3, 3), (7, 20), (19, 20), (500, 10_000)])
def test_wilson(right: int, count: int) -> None:
    """At 97.5% on each side it is the interval of 95%."""
    theirs = proportion_confint(right, count, method="wilson")
    assert wilson(right, count, 0.975) == pytest.approx(theirs, rel=1e-9, abs=1e-12)
    assert wilson(0, 0, 0.975) == (0.0, 1.0)
    with pytest.raises(ValueError, match="cannot be"):
        wilson(count + 1, count, 0.975)


def test_what_has_no_quantile() -> None:
    for quantile in (t_quantile, chi_squared_quantile):
        for share in (0.0, 1.0, -0.1):
            with pytest.raises(ValueError, match="share"):
                quantile(share, 3)
        with pytest.raises(ValueError, match="degrees"):
            quantile(0.9, 0)
