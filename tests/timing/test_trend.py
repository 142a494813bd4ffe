"""Trend of recall time: the same optimum as scipy's, intervals that hold, and what is told of too little.

Learners: from 2.8 s to 0.8 s, what is left halving every 69 answers; what is worked out takes 2 to 3 s and
what is known 400 to 900 ms (review by Crawford). An exponential for one person: Heathcote, Brown & Mewhort
2000, doi 10.3758/BF03212979. Spread and days are [ours].
"""

import math
import random
import time

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from midifret.terms.calibration import Lack, Missing
from midifret.timing import Trend, TrendPoint, TrendRules, fit_trend
from midifret.timing.trend import _Fits

LEARNERS = 240


def learner(
    seed: int,
    *,
    days: int = 30,
    asymptote_s: float = 0.8,
    gain_s: float = 2.0,
    rate: float = 0.01,
    spread_s: float = 0.1,
    uneven: bool = False,
) -> list[TrendPoint]:
    """One point a day of 20 answers, or of 10 to 40; gain at the very beginning."""
    lots = random.Random(seed)
    practice, points = 0, []
    for _ in range(days):
        answers = lots.randint(10, 40) if uneven else 20
        time_s = asymptote_s + gain_s * math.exp(-rate * practice)
        time_s += lots.gauss(0, spread_s * math.sqrt(20 / answers))
        points.append(TrendPoint(practice, time_s, answers))
        practice += answers
    return points


def told(points: list[TrendPoint]) -> Trend:
    found = fit_trend(points)
    assert isinstance(found, Trend), found
    return found


def missing(points: list[TrendPoint]) -> Missing:
    found = fit_trend(points)
    assert isinstance(found, Missing), found
    return found


def of_scipy(points: list[TrendPoint]) -> tuple[np.ndarray, np.ndarray]:
    """Parameters and their standard errors."""
    values, covariance = curve_fit(
        lambda n, asymptote, gain, rate: asymptote + gain * np.exp(-rate * n),
        [point.practice - points[0].practice for point in points],
        [point.time_s for point in points],
        p0=(1, 1, 0.02),
        sigma=[point.weight**-0.5 for point in points],
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
        maxfev=20_000,
    )
    return values, np.sqrt(np.diag(covariance))


@pytest.mark.parametrize("uneven", [False, True])
@pytest.mark.parametrize("seed", range(10))
def test_the_same_optimum_as_scipys(seed: int, uneven: bool) -> None:
    points = learner(seed, uneven=uneven)
    found, (theirs, _) = told(points), of_scipy(points)
    ours = (found.asymptote_s.value, found.gain_s.value, found.rate.value)
    assert ours == pytest.approx(tuple(theirs), rel=1e-5)
    residuals = [point.time_s - found.at(point.practice) for point in points]
    squares = sum(point.weight * r * r for point, r in zip(points, residuals, strict=True))
    mean = sum(point.weight for point in points) / len(points)
    assert found.spread_s == pytest.approx(math.sqrt(squares / (len(points) - 3) / mean), rel=1e-9)


def test_intervals_are_scipys_where_the_points_are_nearly_exact() -> None:
    """There the profile likelihood and the linear approximation of `curve_fit` meet."""
    points = learner(1, spread_s=0.005, uneven=True)
    found, (_, errors) = told(points), of_scipy(points)
    for ours, theirs in zip((found.asymptote_s, found.gain_s, found.rate), errors, strict=True):
        assert ours.standard_error == pytest.approx(theirs, rel=0.01)
        # Upper 2.5% of Student's t for 27 degrees of freedom (any table).
        assert ours.high - ours.value == pytest.approx(2.052 * theirs, rel=0.03)


@pytest.mark.parametrize("uneven", [False, True])
def test_akaike_is_that_of_statsmodels(uneven: bool) -> None:
    """Flat against straight: only differences count; statsmodels leaves the spread out of the parameters."""
    points = learner(4, uneven=uneven, days=12, spread_s=0.3)
    x, y = [p.practice for p in points], [p.time_s for p in points]
    weights, n = [p.weight for p in points], len(points)

    def corrected(design: np.ndarray, parameters: int) -> float:
        k = parameters + 1
        fit = sm.WLS(y, design, weights=weights).fit()
        return float(-2 * fit.llf + 2 * k + 2 * k * (k + 1) / (n - k - 1))

    fits = _Fits(points)
    advantage = fits.advantage(fits.best())
    theirs = corrected(np.ones((n, 1)), 1) - corrected(sm.add_constant(x), 2)
    assert advantage.over_flat - advantage.over_line == pytest.approx(theirs, rel=1e-9)


@pytest.mark.parametrize(
    ("kind", "least_told"),
    [
        ({}, 0.99),
        ({"uneven": True}, 0.99),
        ({"days": 12}, 0.85),
        ({"days": 60, "spread_s": 0.2}, 0.99),
        ({"days": 100, "rate": 0.001, "spread_s": 0.15}, 0.95),
    ],
    ids=lambda kind: str(kind),
)
def test_intervals_hold_the_truth(kind: dict[str, float], least_told: float) -> None:
    """Of those learners whose trend is told."""
    traits = {"asymptote_s": 0.8, "gain_s": 2.0, "rate": 0.01} | kind
    inside = {"asymptote_s": 0, "gain_s": 0, "rate": 0, "half_life": 0, "left_s": 0}
    count = 0
    for seed in range(LEARNERS):
        points = learner(seed, **kind)  # type: ignore[arg-type]
        found = fit_trend(points)
        if not isinstance(found, Trend):
            continue
        count += 1
        left_s = traits["gain_s"] * math.exp(-traits["rate"] * points[-1].practice)
        truths = traits | {"left_s": left_s, "half_life": math.log(2) / traits["rate"]}
        for name in inside:
            figure = getattr(found, name)
            inside[name] += figure.low <= truths[name] <= figure.high
    print(f"{kind}: {count} of {LEARNERS} told; " + str({n: f"{i / count:.1%}" for n, i in inside.items()}))
    assert count >= least_told * LEARNERS
    assert all(0.90 <= each / count <= 0.99 for each in inside.values())


def test_few_days() -> None:
    found = missing(learner(1)[:5])
    assert (found.lack, found.more) == (Lack.FEW, 3)
    assert found.words == "after 5 days of practice there is no trend yet: play on 3 more days"
    assert missing(learner(1)[:7]).words.endswith("play on 1 more day")
    assert missing([]).more == 8
    # Many points without practice between them are one.
    assert missing([TrendPoint(0, 1.0 + 0.01 * i) for i in range(20)]).more == 7


def test_straight_and_flat_lines_are_no_exponential() -> None:
    """Told of none is the aim; by chance a few are."""
    kinds = (
        ("evenly", lambda i: 3 - 0.05 * i),
        ("do not fall", lambda i: 1.0),
        ("do not fall", lambda i: 1 + 1.5 * (1 - math.exp(-0.2 * i))),  # ever slower
    )
    for words, kind in kinds:
        wrongly = 0
        for seed in range(100):
            lots = random.Random(seed)
            found = fit_trend([TrendPoint(i, kind(i) + lots.gauss(0, 0.1)) for i in range(20)])
            if isinstance(found, Missing):
                assert found.more == 10
                assert words in found.words or "cannot be told" in found.words
            else:
                wrongly += 1
        print(f"{words}: {wrongly} of 100 told as an exponential")
        assert wrongly <= 8


def test_a_rate_faster_than_the_days_is_not_told() -> None:
    """All is over after the first day: any faster rate would do as well."""
    lots = random.Random(2)
    points = [TrendPoint(i, (3 if i == 0 else 1) + lots.gauss(0, 0.05)) for i in range(20)]
    assert "faster or slower" in missing(points).words


def test_exact_points() -> None:
    found = told(learner(1, spread_s=0.0))
    assert (found.asymptote_s.value, found.gain_s.value, found.rate.value) == pytest.approx((0.8, 2, 0.01))
    assert found.half_life.value == pytest.approx(69.3, abs=0.05)
    assert (found.first, found.last, found.points) == (0, 580, 30)
    assert found.left_s.value == pytest.approx(2 * math.exp(-5.8))
    assert found.at(100) == pytest.approx(0.8 + 2 * math.exp(-1))


@given(st.integers(0, 20), st.floats(-1e6, 1e6), st.floats(0.01, 1000), st.floats(0.01, 100), st.booleans())
@settings(max_examples=30, deadline=None)
def test_units_do_not_matter(seed: int, later: float, unit: float, weight: float, uneven: bool) -> None:
    points = learner(seed, uneven=uneven)
    moved = [TrendPoint(p.practice * unit + later, p.time_s, p.weight * weight) for p in points]
    before, after = told(points), told(moved)
    # A practice of a million and steps of a hundredth leave eight digits.
    for name in ("asymptote_s", "gain_s", "left_s"):
        for end in ("low", "value", "high"):
            was, now = getattr(getattr(before, name), end), getattr(getattr(after, name), end)
            assert now == pytest.approx(was, rel=1e-3, abs=1e-4)
    assert after.rate.value * unit == pytest.approx(before.rate.value, rel=1e-3)
    assert after.half_life.high / unit == pytest.approx(before.half_life.high, rel=1e-3)


@given(
    st.lists(
        st.tuples(st.floats(-1e9, 1e9), st.floats(-100, 100), st.floats(1e-3, 1e3)), min_size=6, max_size=40
    )
)
@settings(max_examples=150, deadline=None)
def test_whatever_the_points_there_is_a_trend_or_what_is_missing(
    values: list[tuple[float, float, float]],
) -> None:
    found = fit_trend([TrendPoint(*each) for each in values])
    if isinstance(found, Missing):
        assert found.more >= 1
    else:
        for figure in (found.asymptote_s, found.gain_s, found.rate, found.half_life, found.left_s):
            assert figure.low <= figure.value <= figure.high
            assert math.isfinite(figure.low + figure.high + figure.standard_error)


def test_it_is_quick_enough_for_a_report() -> None:
    """A year of days in well under a second of processor time [ours]."""
    points = learner(3, days=365, rate=0.001)
    start_s = time.process_time()
    told(points)
    assert time.process_time() - start_s < 1.0


@pytest.mark.parametrize("point", [(math.nan, 1, 1), (0, math.inf, 1), (0, 1, 0), (0, 1, -1)])
def test_no_points(point: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="not a point"):
        fit_trend([TrendPoint(*point)])


def test_rules_without_sense() -> None:
    with pytest.raises(ValueError, match="6 points"):
        TrendRules(least_points=5)
    with pytest.raises(ValueError, match="advantage"):
        TrendRules(least_advantage=-1)
