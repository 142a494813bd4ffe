"""How recall time falls with practice: an exponential towards an asymptote, fitted where the days tell one.

For one person an exponential describes practice better than a power law (Heathcote, Brown & Mewhort 2000,
doi 10.3758/BF03212979).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from midifret.estimates import t_quantile
from midifret.terms.calibration import Estimate, Lack, Missing

CONFIDENCE = 0.95
# Rates that are looked at: from where the curve over all points is a line but for 0.1% of its fall, to where
# only the first point is above the asymptote, by 1% of the gain at the second. [calc]
_LEAST_BEND, _MOST_BEND = 0.1, math.log(100)
_GRID, _REGION_GRID, _STEPS = 80, 24, 60
_GOLDEN = (math.sqrt(5) - 1) / 2


@dataclass(frozen=True, slots=True)
class TrendPoint:
    """The recall time of one day, or another short stretch of practice.

    practice: how much had been practised by then, in any unit that grows with practice (answers, say).
    time_s: its middle, a trimmed mean or a median, so that lapses do not pull the curve.
    weight: above 0; twice the weight is half the variance. The number of answers where the answers of a day
    spread more than the days do, else 1 for all.
    """

    practice: float
    time_s: float
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class TrendRules:
    """When a trend is told."""

    # Three parameters and a spread; Akaike's corrected criterion needs 6 for that [calc], 8 leave it room
    # [ours].
    least_points: int = 8
    # By so much must the curve beat a flat line and a straight one in Akaike's corrected criterion: up to 2,
    # both have substantial support (Burnham & Anderson 2002, from memory).
    least_advantage: float = 2.0

    def __post_init__(self) -> None:
        """Check the numbers. Raises ValueError."""
        if self.least_points < 6:
            raise ValueError(f"a trend needs 6 points or more, not {self.least_points}")
        if not self.least_advantage >= 0:
            raise ValueError(f"an advantage is 0 or more, not {self.least_advantage}")


DEFAULT_RULES = TrendRules()


@dataclass(frozen=True, slots=True)
class Trend:
    """T(n) = asymptote + gain * exp(-rate * n), n being the practice since the first point.

    asymptote_s: where practice leads. gain_s: how far above it the curve is at the first point.
    rate: per unit of practice. half_life: practice in which what is left halves.
    left_s: how much is left above the asymptote at the last point. first, last: their practice.
    spread_s: of a point of mean weight about the curve. points: how many were fitted.
    Standard errors: half the interval by Student's t; the intervals themselves need not be symmetrical.
    """

    asymptote_s: Estimate
    gain_s: Estimate
    rate: Estimate
    half_life: Estimate
    left_s: Estimate
    first: float
    last: float
    spread_s: float
    points: int

    def at(self, practice: float) -> float:
        """Return the fitted recall time in seconds after so much practice."""
        return self.asymptote_s.value + self.gain_s.value * math.exp(
            -self.rate.value * (practice - self.first)
        )


def fit_trend(points: Sequence[TrendPoint], rules: TrendRules = DEFAULT_RULES) -> Trend | Missing:
    """Fit an exponential to recall times by weighted least squares, or say what keeps it from being told.

    At each rate asymptote and gain are a linear fit; the best rate is searched for. Intervals are those of
    the profile likelihood: all values at which the squares, whatever the others are, are not above the least
    by more than 1 + t^2 / (n - 3) times (Bates & Watts 1988, from memory). Days are taken as independent. On
    simulated learners the intervals of trends that are told hold the truth 92 to 97% of the time; where the
    points spread so much that only two of five learners are told one, that of the gain 90%.

    A trend is told where there are points enough, the times fall, the curve beats a flat and a straight line,
    and both ends of the interval of the rate lie within what the points can show.
    `more` of what is missing counts points: days of practice. Raises ValueError for what is no point.
    """
    for point in points:
        if not (
            math.isfinite(point.practice)
            and math.isfinite(point.time_s)
            and math.isfinite(point.weight)
            and point.weight > 0
        ):
            raise ValueError(f"{point} is not a point of a trend")
    count = len(points)
    apart = len({point.practice for point in points})
    if (more := rules.least_points - min(count, apart)) > 0:
        played = f"after {count} day{'' if count == 1 else 's'} of practice there is no trend yet"
        return Missing(Lack.FEW, more, f"{played}: play on {_days(more)}")
    fits = _Fits(points)
    best = fits.best()
    advantage = fits.advantage(best)
    falls = best.gain > 0
    if not falls or advantage.over_flat < rules.least_advantage:
        what = "the times do not fall by more than they spread"
    elif advantage.over_line < rules.least_advantage:
        what = "the times still fall evenly, and where they will end cannot be told"
    elif (region := fits.region(best)) is None:
        what = "how fast the times fall cannot be told apart from faster or slower"
    else:
        return fits.trend(best, region)
    more = math.ceil(count / 2)  # half as many again [ours]
    return Missing(Lack.FEW, more, f"{what}: play on {_days(more)}")


def _days(count: int) -> str:
    return "1 more day" if count == 1 else f"{count} more days"


@dataclass(frozen=True, slots=True)
class _Fit:
    """The linear fit at one rate. squares: of the residuals.

    aa, ag, gg: variances and covariance of asymptote and gain, for a point of weight 1 with a spread of 1.
    """

    rate: float
    asymptote: float
    gain: float
    squares: float
    aa: float
    ag: float
    gg: float


@dataclass(frozen=True, slots=True)
class _Advantage:
    """By how much the curve is better by Akaike's corrected criterion."""

    over_flat: float
    over_line: float


@dataclass(frozen=True, slots=True)
class _Region:
    """The rates that are within the interval, and the squares that bound it."""

    low: float
    high: float
    bound: float


class _Fits:
    """All fits to the same points. Practice counts from the first point here, for the sake of rounding."""

    def __init__(self, points: Sequence[TrendPoint]) -> None:
        self._first = min(point.practice for point in points)
        self._last = max(point.practice for point in points)
        self._x = [point.practice - self._first for point in points]
        self._y = [point.time_s for point in points]
        self._w = [point.weight for point in points]
        self._weight = math.fsum(self._w)
        self._middle = math.fsum(w * y for w, y in zip(self._w, self._y, strict=True)) / self._weight
        # What rounding makes of an exact fit.
        self._floor = 1e-22 * math.fsum(w * y * y for w, y in zip(self._w, self._y, strict=True)) + 1e-300
        self._freedom = len(points) - 3
        least = math.log(_LEAST_BEND / (self._last - self._first))
        most = math.log(_MOST_BEND / min(x for x in self._x if x > 0))
        self._grid = [self.at(math.exp(log)) for log in _between(least, max(most, least + 1), _GRID)]

    def at(self, rate: float) -> _Fit:
        """The best fit at one rate, per unit of practice."""
        return self._linear(rate, [math.exp(-rate * x) for x in self._x])

    def _linear(self, rate: float, z: list[float]) -> _Fit:
        zm = math.fsum(w * zi for w, zi in zip(self._w, z, strict=True)) / self._weight
        szz = math.fsum(w * (zi - zm) ** 2 for w, zi in zip(self._w, z, strict=True))
        szy = math.fsum(
            w * (zi - zm) * (y - self._middle) for w, zi, y in zip(self._w, z, self._y, strict=True)
        )
        gain = szy / szz
        asymptote = self._middle - gain * zm
        squares = math.fsum(
            w * (y - asymptote - gain * zi) ** 2 for w, zi, y in zip(self._w, z, self._y, strict=True)
        )
        return _Fit(
            rate,
            asymptote,
            gain,
            max(squares, self._floor),
            1 / self._weight + zm * zm / szz,
            -zm / szz,
            1 / szz,
        )

    def best(self) -> _Fit:
        """The fit with the least squares of all rates looked at."""
        index = min(range(_GRID), key=lambda i: self._grid[i].squares)
        low, high = self._grid[max(index - 1, 0)].rate, self._grid[min(index + 1, _GRID - 1)].rate
        return self.at(_lowest(lambda rate: self.at(rate).squares, low, high))

    def advantage(self, best: _Fit) -> _Advantage:
        """Compare with a flat and a straight line; the spread counts as a parameter."""
        flat = math.fsum(w * (y - self._middle) ** 2 for w, y in zip(self._w, self._y, strict=True))
        line = self._linear(0.0, list(self._x)).squares
        curve = self._criterion(best.squares, 4)
        return _Advantage(
            self._criterion(max(flat, self._floor), 2) - curve, self._criterion(line, 3) - curve
        )

    def _criterion(self, squares: float, parameters: int) -> float:
        """Akaike's criterion with the correction of Hurvich & Tsai 1989 (from memory), but for a constant."""
        n = len(self._y)
        correction = 2 * parameters * (parameters + 1) / (n - parameters - 1)
        return n * math.log(squares / n) + 2 * parameters + correction

    def region(self, best: _Fit) -> _Region | None:
        """The rates that the points allow; None where those reach an end of the rates looked at."""
        t = t_quantile((1 + CONFIDENCE) / 2, self._freedom)
        bound = best.squares * (1 + t * t / self._freedom)
        rates = [fit.rate for fit in self._grid]
        inside = [best.rate, *(fit.rate for fit in self._grid if fit.squares <= bound)]
        low, high = min(inside), max(inside)
        slower, faster = [rate for rate in rates if rate < low], [rate for rate in rates if rate > high]
        if not slower or not faster:
            return None
        return _Region(self._edge(low, slower[-1], bound), self._edge(high, faster[0], bound), bound)

    def _edge(self, inside: float, outside: float, bound: float) -> float:
        for _ in range(_STEPS):
            middle = math.sqrt(inside * outside)
            if middle in (inside, outside):
                break
            if self.at(middle).squares <= bound:
                inside = middle
            else:
                outside = middle
        return inside

    def trend(self, best: _Fit, region: _Region) -> Trend:
        span = self._last - self._first
        fits = [
            self.at(math.exp(log))
            for log in _between(math.log(region.low), math.log(region.high), _REGION_GRID)
        ]

        def part(asymptote: float, gain: Callable[[float], float]) -> Estimate:
            """The interval of asymptote * a + gain(rate) * g: at each rate a closed form."""

            def end(fit: _Fit, sign: int) -> float:
                share = gain(fit.rate)
                variance = asymptote**2 * fit.aa + 2 * asymptote * share * fit.ag + share**2 * fit.gg
                reach = math.sqrt(max(region.bound - fit.squares, 0.0) * max(variance, 0.0))
                return asymptote * fit.asymptote + share * fit.gain + sign * reach

            value = asymptote * best.asymptote + gain(best.rate) * best.gain
            return self._estimate(value, self._furthest(fits, end, -1), self._furthest(fits, end, 1))

        low, high = region.low, region.high
        return Trend(
            asymptote_s=part(1.0, lambda rate: 0.0),
            gain_s=part(0.0, lambda rate: 1.0),
            rate=self._estimate(best.rate, low, high),
            half_life=self._estimate(*(math.log(2) / rate for rate in (best.rate, high, low))),
            left_s=part(0.0, lambda rate: math.exp(-rate * span)),
            first=self._first,
            last=self._last,
            spread_s=math.sqrt(best.squares / self._freedom / (self._weight / len(self._y))),
            points=len(self._y),
        )

    def _furthest(self, fits: Sequence[_Fit], end: Callable[[_Fit, int], float], sign: int) -> float:
        index = max(range(len(fits)), key=lambda i: sign * end(fits[i], sign))
        low, high = fits[max(index - 1, 0)].rate, fits[min(index + 1, len(fits) - 1)].rate
        rate = _lowest(lambda rate: -sign * end(self.at(rate), sign), low, high)
        return sign * max(sign * end(self.at(rate), sign), sign * end(fits[index], sign))

    def _estimate(self, value: float, low: float, high: float) -> Estimate:
        t = t_quantile((1 + CONFIDENCE) / 2, self._freedom)
        return Estimate(value, (high - low) / (2 * t), min(low, value), max(high, value))


def _between(low: float, high: float, count: int) -> list[float]:
    """So many values from low to high, evenly."""
    return [low + (high - low) * i / (count - 1) for i in range(count)]


def _lowest(figure: Callable[[float], float], low: float, high: float) -> float:
    """Where between two rates a figure is lowest, by golden section of their logarithms."""
    a, b = math.log(low), math.log(high)
    c, d = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
    at_c, at_d = figure(math.exp(c)), figure(math.exp(d))
    for _ in range(_STEPS):
        if b - a < 1e-9:
            break
        if at_c <= at_d:
            b, d, at_d = d, c, at_c
            c = b - _GOLDEN * (b - a)
            at_c = figure(math.exp(c))
        else:
            a, c, at_c = c, d, at_d
            d = a + _GOLDEN * (b - a)
            at_d = figure(math.exp(d))
    return math.exp((a + b) / 2)
