"""The published equations against a direct computation."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import expit, logsumexp

from midifret.practice.activation import Equations, activation, decays_of, logistic

EQUATIONS = Equations()


def test_the_constants_are_those_of_the_paper():
    # Pavlik & Anderson 2005, Cognitive Science 29, from memory.
    e = EQUATIONS
    assert (e.haste, e.forgetting, e.threshold, e.noise, e.between) == (0.217, 0.177, -0.704, 0.255, 0.025)


@given(st.lists(st.tuples(st.floats(1, 1e8), st.floats(0, 2)), min_size=1, max_size=30))
def test_activation_is_the_logarithm_of_the_sum_of_powers(traces):
    # A = ln(sum t_j^-d_j) (Anderson & Schooler 1991): by scipy, in logarithms.
    ages, decays = zip(*traces, strict=True)
    expected = logsumexp([-d * math.log(t) for t, d in traces])
    assert activation(ages, decays) == pytest.approx(expected, abs=1e-9)


def test_decays_follow_from_the_activation_before():
    # d_j = c * e^m + a (Pavlik & Anderson 2005): three answers at 0, 10 and 100 s, by hand.
    c, a = EQUATIONS.haste, 0.2
    second = c * 10**-a + a
    third = c * (100**-a + 90**-second) + a
    assert decays_of((0, 10, 100), a, EQUATIONS) == pytest.approx((a, second, third))


@given(st.floats(-50, 50))
def test_chance_and_time_follow_activation(value):
    assert EQUATIONS.chance(value) == pytest.approx(expit((value + 0.704) / 0.255), rel=1e-9)
    if value > -8:  # F * e^-A + fixed, with F of 1 s; bounded by an hour
        assert EQUATIONS.time_s(value) == pytest.approx(math.exp(-value) + EQUATIONS.fixed_s, rel=1e-9)
    assert EQUATIONS.time_s(value) < 3600


@given(st.floats(allow_nan=False))
def test_the_logistic_never_overflows(value):
    assert 0 <= logistic(value) <= 1


@given(st.floats(-1e9, 1e9), st.floats(0, 1e7))
def test_counted_time_never_goes_back(gap_s, more_s):
    counted = EQUATIONS.counted_s
    assert 0 <= counted(gap_s) <= max(gap_s, 0)
    assert counted(gap_s + more_s) >= counted(gap_s)


def test_spacing_has_to_be_better_later_and_worse_soon():
    # The spacing effect, which the model was made for (Pavlik & Anderson 2005): two answers 10 s or 1,000 s
    # apart, asked 20 s and 20,000 s after the second.
    def at(gap_s, wait_s):
        decays = decays_of((0.0, gap_s), 0.177, EQUATIONS)
        return activation((gap_s + wait_s, wait_s), decays)

    assert at(10.0, 20.0) > at(1000.0, 20.0)
    assert at(10.0, 20_000.0) < at(1000.0, 20_000.0)
