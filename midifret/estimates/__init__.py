"""Estimates: robust fits, comparisons, and the quantiles of intervals, without a statistics library."""

from midifret.estimates.compare import rank_sum, share_change
from midifret.estimates.quantiles import (
    binomial_at_least,
    binomial_quantile,
    chi_squared_quantile,
    t_quantile,
    wilson,
)
from midifret.estimates.robust import (
    NORMAL_95,
    Line,
    Middle,
    bisquare_line,
    mad_scale,
    theil_sen,
    trimmed_mean,
)

__all__ = [
    "NORMAL_95",
    "Line",
    "Middle",
    "binomial_at_least",
    "binomial_quantile",
    "bisquare_line",
    "chi_squared_quantile",
    "mad_scale",
    "rank_sum",
    "share_change",
    "t_quantile",
    "theil_sen",
    "trimmed_mean",
    "wilson",
]
