"""Two lots compared, against scipy and statsmodels."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import mannwhitneyu, norm
from statsmodels.stats.proportion import confint_proportions_2indep

from midifret.estimates import rank_sum, share_change


@given(st.integers(1, 60), st.integers(1, 60), st.data())
def test_a_change_of_a_share_is_newcombes(old: int, new: int, data: st.DataObject) -> None:
    before, since = data.draw(st.integers(0, old)), data.draw(st.integers(0, new))
    theirs = confint_proportions_2indep(since, new, before, old, method="newcomb", compare="diff", alpha=0.05)
    assert share_change((before, old), (since, new)) == pytest.approx(theirs, abs=1e-9)


def test_a_share_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="no trials"):
        share_change((0, 0), (1, 2))


TIMES = st.lists(st.integers(-5, 12).map(lambda value: value / 10), min_size=2, max_size=25)


@given(TIMES, TIMES)
def test_ranks_are_those_of_mann_and_whitney(before: list[float], since: list[float]) -> None:
    z = rank_sum(before, since)
    if len({*before, *since}) == 1:
        assert z == 0
        return
    theirs = mannwhitneyu(since, before, method="asymptotic").pvalue
    assert 2 * norm.sf(abs(z)) == pytest.approx(theirs, rel=1e-6)
    assert rank_sum(since, before) == pytest.approx(-z)


def test_less_is_below_zero_and_nothing_is_zero() -> None:
    assert rank_sum([2.0] * 8, [1.0] * 8) < -3
    assert rank_sum([], [1.0]) == 0
    assert math.isclose(rank_sum([1.0], [1.0]), 0)
