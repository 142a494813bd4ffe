"""Quantiles of t and chi squared against scipy."""

import pytest
from scipy import stats

from midifret.tempo.quantiles import chi_squared_quantile, t_quantile

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
