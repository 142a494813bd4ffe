"""The line under the points is the one that linear programming finds, and too few points give none."""

import random

import numpy as np
import pytest
from scipy.optimize import linprog

from midifret.clock.drift import LEAST_POINTS, LEAST_SPAN_S, fit_drift


@pytest.mark.parametrize("seed", range(20))
def test_it_is_the_line_of_the_linear_programme(seed: int) -> None:
    # Least sum of (zero - a - b*t) with no point below the line: Moon, Skelly and Towsley 1999 [mem].
    draw = random.Random(seed)
    times_s = sorted(draw.uniform(0, 600) for _ in range(60))
    slope = draw.uniform(-2e-4, 2e-4)
    points = [(time_s, slope * time_s + draw.expovariate(1 / 0.001)) for time_s in times_s]
    drift = fit_drift(points)
    assert drift is not None
    rows = np.array([[1.0, time_s] for time_s in times_s])
    zeros_ms = np.array([1000 * zero_s for _, zero_s in points])
    found = linprog(-rows.sum(axis=0), A_ub=rows, b_ub=zeros_ms, bounds=[(None, None)] * 2)
    assert found.success
    assert 1000 * drift.slope == pytest.approx(found.x[1], abs=1e-7)
    assert 1000 * drift.height_s == pytest.approx((zeros_ms - rows @ found.x).mean(), abs=1e-6)
    assert abs(drift.slope - slope) <= drift.unsure


def test_too_few_points_or_too_short_a_time_give_none() -> None:
    assert fit_drift([]) is None
    apart_s = 1.001 * LEAST_SPAN_S / (LEAST_POINTS - 1)
    enough = [(n * apart_s, 0.0) for n in range(LEAST_POINTS)]
    assert fit_drift(enough) is not None
    assert fit_drift(enough[:-1]) is None
    assert fit_drift([(time_s * 0.9, zero_s) for time_s, zero_s in enough]) is None


def test_points_on_a_line_give_it_exactly() -> None:
    drift = fit_drift([(10.0 * n, 5.0 + 2e-5 * 10.0 * n) for n in range(20)])
    assert drift is not None
    assert drift.slope == pytest.approx(2e-5)
    assert drift.height_s == pytest.approx(0.0, abs=1e-12)
