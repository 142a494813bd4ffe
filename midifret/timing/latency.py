"""How long a guitar and its converter need to tell a note: a + b * period, from plucks on a click."""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.estimates import bisquare_line, t_quantile
from midifret.terms.calibration import Estimate, Lack, Latency, Missing, period_s

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Pluck:
    """One pluck on a click. midi: what sounded. offset_s: onset as heard less the beat, in seconds."""

    midi: float
    offset_s: float


@dataclass(frozen=True, slots=True)
class LatencyRules:
    """What plucks have to fulfil before a latency is made of them: [ours] but where a source stands."""

    # So far from the middle offset a pluck was meant for no beat: four times what the slowest converters make
    # of E2, about 50 ms (facts of converters).
    furthest_s: float = 0.2
    # Plucks used at least, and at least so many each in the lower and the upper half of the periods.
    least_plucks: int = 16
    least_each_end: int = 6
    # From the lowest to the highest pitch at least: E2 to E3 is 6.1 ms (ISO 16). Less would ask for four
    # times the plucks of a whole neck, 11.1 ms, or more.
    least_span_s: float = 0.005
    # A larger share left out is not playing with the click. Theil-Sen, where the fit starts, holds up to 29%.
    most_left_out: float = 0.25
    # A larger spread is not playing with the click: taps on a click spread by 10 to 40 ms (from memory), and
    # plucks without regard to it, up to 0.2 s off, by 115 ms.
    most_spread_s: float = 0.060
    # b must be able to lie in this range: no latency is shorter for a longer period, and four periods of E2
    # are the 50 ms of the slowest converters (facts of converters).
    periods: tuple[float, float] = (0.0, 4.5)
    # b is sure enough when its 95% interval reaches so far to each side: over a neck from E2 to B5, 11.1 ms,
    # latencies then differ by 5.6 ms more or less, of a just noticeable 20 to 30 (facts of time).
    sure_periods: float = 0.5
    # To be played when it has to be done again.
    planned_plucks: int = 96


DEFAULT_RULES = LatencyRules()


def fit_latency(plucks: Sequence[Pluck], rules: LatencyRules = DEFAULT_RULES) -> Latency | Missing:
    """Fit latency = a + b * period to plucks on a click, asked in shuffled order over low and high notes.

    Left out are plucks further than `furthest_s` from the median offset, and those to which Tukey's bisquare
    gives no weight: 4.685 standard deviations of the rest from the line or more. Early ones are
    anticipations, late ones lapses. The intervals are those of Student's t on the sandwich covariance of
    `bisquare_line`.

    Returns what is missing where the plucks do not do. Raises ValueError for an offset that is no number.
    """
    for pluck in plucks:
        if not (math.isfinite(pluck.offset_s) and math.isfinite(pluck.midi)):
            raise ValueError(f"{pluck} is not a pluck")
    if len(plucks) < rules.least_plucks:
        return _few(len(plucks), rules)
    middle_s = statistics.median(pluck.offset_s for pluck in plucks)
    near = [pluck for pluck in plucks if abs(pluck.offset_s - middle_s) <= rules.furthest_s]
    early = sum(pluck.offset_s < middle_s - rules.furthest_s for pluck in plucks)
    late = len(plucks) - len(near) - early
    if (left_out := early + late) > rules.most_left_out * len(plucks):
        return _no_beat(left_out, len(plucks), rules)
    missing = _missing(near, rules)
    if missing is not None:
        return missing
    periods_s = [period_s(pluck.midi) for pluck in near]
    line = bisquare_line(periods_s, [pluck.offset_s for pluck in near])
    used = []
    for pluck, x_s, weight in zip(near, periods_s, line.weights, strict=True):
        if weight > 0:
            used.append(pluck)
        elif line.residual(x_s, pluck.offset_s) < 0:
            early += 1
        else:
            late += 1
    if (left_out := early + late) > rules.most_left_out * len(plucks):
        return _no_beat(left_out, len(plucks), rules)
    missing = _missing(used, rules)
    if missing is not None:
        return missing
    if line.scale > rules.most_spread_s:
        return Missing(
            Lack.CONTRADICTORY,
            rules.planned_plucks,
            f"the plucks lie {line.scale * 1000:.0f} ms around the click, at most "
            f"{rules.most_spread_s * 1000:.0f} ms can be used: play all {rules.planned_plucks} again, "
            "with the click",
        )
    freedom = len(used) - 2
    a_variance, _, b_variance = line.covariance
    b = estimate(line.slope, math.sqrt(b_variance), freedom)
    least, most = rules.periods
    if b.high < least or b.low > most or not math.isfinite(b_variance):
        return Missing(
            Lack.CONTRADICTORY,
            rules.planned_plucks,
            f"by these plucks the guitar waits {b.value:.1f} periods of a note, which none does "
            f"({least:g} to {most:g}): play all {rules.planned_plucks} again, with the click",
        )
    half = b.high - b.value
    needed = math.ceil(len(used) * (half / rules.sure_periods) ** 2)
    return Latency(
        a_s=estimate(line.intercept, math.sqrt(a_variance), freedom),
        b_periods=b,
        spread_s=line.scale,
        plucks=len(used),
        anticipations=early,
        lapses=late,
        more_plucks=max(0, needed - len(used)),
    )


def estimate(value: float, standard_error: float, freedom: float) -> Estimate:
    """Return a figure with its 95% interval by Student's t."""
    half = t_quantile((1 + CONFIDENCE) / 2, freedom) * standard_error
    return Estimate(value, standard_error, value - half, value + half)


def _few(count: int, rules: LatencyRules) -> Missing:
    more = rules.least_plucks - count
    return Missing(
        Lack.FEW,
        more,
        f"{count} plucks can be used, at least {rules.least_plucks} are needed: play {more} more",
    )


def _no_beat(left_out: int, count: int, rules: LatencyRules) -> Missing:
    # As many more as make those left out few enough, if none of them has to be left out.
    more = max(1, math.ceil(left_out / rules.most_left_out) - count)
    return Missing(
        Lack.CONTRADICTORY,
        more,
        f"{left_out} of {count} plucks belong to no beat of the click: play {more} more, with the click",
    )


def _missing(plucks: Sequence[Pluck], rules: LatencyRules) -> Missing | None:
    """What keeps these plucks from telling how latency depends on pitch, if anything does."""
    if len(plucks) < rules.least_plucks:
        return _few(len(plucks), rules)
    periods_s = [period_s(pluck.midi) for pluck in plucks]
    least_s, most_s = min(periods_s), max(periods_s)
    if most_s - least_s < rules.least_span_s:
        return Missing(
            Lack.NEAR,
            rules.least_plucks // 2,
            "all plucks lie near each other in pitch: play as many on the lowest string and high on the "
            f"first, {rules.least_plucks // 2} more",
        )
    half_s = (least_s + most_s) / 2
    low = sum(x_s >= half_s for x_s in periods_s)
    high = len(periods_s) - low
    if (more := rules.least_each_end - min(low, high)) > 0:
        where = "low on the lowest string" if low < high else "high on the first string"
        return Missing(
            Lack.NEAR,
            more,
            f"only {min(low, high)} plucks are {where}, {rules.least_each_end} are needed: "
            f"play {more} more there",
        )
    return None
