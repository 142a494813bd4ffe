"""Medians from a histogram against those of Python's statistics module, within the error it states."""

import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.book.histogram import (
    GREATEST_ERROR,
    add_packed,
    bin_of,
    changed,
    histogram,
    median,
    packed,
    unpacked,
)

TIMES = st.floats(min_value=0.001, max_value=100_000, allow_nan=False)


@given(st.lists(TIMES, min_size=1, max_size=60))
def test_median_within_the_stated_error(times_s: list[float]) -> None:
    exact = statistics.median(times_s)
    assert median(histogram(times_s)) == pytest.approx(exact, rel=GREATEST_ERROR * 1.000001)


def test_the_stated_error_is_below_one_per_cent_and_is_reached() -> None:
    assert GREATEST_ERROR < 0.01
    worst = max(abs(median({bin_of(t): 1}) / t - 1) for t in (0.5 + 0.0001 * i for i in range(2000)))
    assert 0.009 < worst <= GREATEST_ERROR * 1.000001


@given(st.lists(st.floats(min_value=-5, max_value=0.000999), min_size=1))
def test_all_under_a_millisecond_is_one_bin(times_s: list[float]) -> None:
    assert median(histogram(times_s)) == 0.0005


@given(st.lists(TIMES), st.lists(TIMES))
def test_packing_and_adding(first_s: list[float], second_s: list[float]) -> None:
    assert unpacked(packed(histogram(first_s))) == histogram(first_s)
    total = histogram(first_s)
    add_packed(packed(histogram(second_s)), total)
    assert total == histogram(first_s + second_s)


@given(st.lists(TIMES), TIMES)
def test_a_time_put_in_and_taken_out_leaves_nothing(times_s: list[float], time_s: float) -> None:
    before = packed(histogram(times_s))
    with_it = changed(before, time_s, 1)
    assert with_it == packed(histogram([*times_s, time_s]))
    assert changed(with_it, time_s, -1) == before


def test_no_times() -> None:
    assert median({}) is None
    assert packed({3: 0}) == b""


@pytest.mark.parametrize("time_s", [float("nan"), float("inf")])
def test_no_time_at_all(time_s: float) -> None:
    with pytest.raises(ValueError, match="not a time"):
        bin_of(time_s)


def test_other_bytes() -> None:
    with pytest.raises(ValueError, match="histogram"):
        unpacked(b"12345")
