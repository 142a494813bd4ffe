"""How long the hands need to a place that is shown: by how far it is, or by the place's own plucks."""

import math
import statistics
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from midifret.estimates import bisquare_line, trimmed_mean
from midifret.terms.calibration import Calibration, Lack, Missing, Reading, Travel, period_s
from midifret.terms.place import Place
from midifret.timing.recall import LEAST_TRAVELS, recall, spread_without_lapses_s, travel_to

# Plucks of shown places before travel is taken off anything: with the usual spread of 100 ms their mean is
# known to 29 ms [calc], no more than the 30 ms that recall times are to be right to [ours].
LEAST_PLUCKS = 12
# A line over the distance is fitted from so many on, if there are steps of at least so many frets between the
# shortest and the longest [ours].
LEAST_FOR_LINE = 16
LEAST_SPAN_FRETS = 5
MOST_LEFT_OUT = 0.25


@dataclass(frozen=True, slots=True)
class Travels:
    """Travel times as measured on one calibration.

    intercept_s, slope_s: travel over the distance in frets from the fret before. covariance: of the two.
    spread_s: of single plucks around it. frets, period_s: mean distance and period of the plucks it comes
    from. plucks: how many counted. own: places with enough plucks of their own.
    """

    intercept_s: float
    slope_s: float
    covariance: tuple[float, float, float]
    spread_s: float
    frets: float
    period_s: float
    plucks: int
    own: dict[Place, Travel] = field(default_factory=dict)

    def to(self, place: Place, before: Place | None) -> Travel | None:
        """The travel to a place, the hand having been at another; None for an open string: there is none.

        before: None where it is not known; the hand then comes from as far as on the average of the plucks.
        """
        if place.fret == 0:
            return None
        if place in self.own:
            return self.own[place]
        known = before is not None and before.fret > 0  # playing an open string leaves the hand anywhere
        frets = float(abs(place.fret - before.fret)) if before is not None and known else self.frets
        var_a, cov, var_b = self.covariance
        variance = var_a + 2 * cov * frets + var_b * frets * frets
        return Travel(
            self.intercept_s + self.slope_s * frets,
            math.sqrt(max(variance, 0.0)),
            self.period_s,
            self.spread_s,
        )


def fit_travels(
    readings: Sequence[Reading], calibration: Calibration, *, least: int = LEAST_TRAVELS
) -> Travels | Missing:
    """Work out travel times from plucks of shown places, in the order in which they were played.

    Each is freed of latency and reaction first. What was played wrong, and the plucks of open strings, count
    for nothing. Over the distance a line is fitted by Tukey's bisquare where the distances differ enough,
    else travel is one trimmed mean. A place with `least` plucks has its own. Raises ValueError for a
    calibration without a reaction.
    """
    if calibration.reaction is None:
        raise ValueError("travel needs a reaction to be taken off")
    counted: list[tuple[float, float, Reading]] = []
    before: Place | None = None
    for reading in readings:
        if reading.place.fret == 0:
            continue
        if reading.right and before is not None:
            free_s = recall(reading.time_s, reading.midi, calibration).time_s
            counted.append((float(abs(reading.place.fret - before.fret)), free_s, reading))
        before = reading.place
    wrong = sum(not reading.right for reading in readings)
    if len(counted) < LEAST_PLUCKS:
        more = LEAST_PLUCKS - len(counted)
        return Missing(
            Lack.FEW,
            more,
            f"{len(counted)} plucks of shown places can be used, at least {LEAST_PLUCKS} are needed: "
            f"play {more} more",
        )
    if wrong > MOST_LEFT_OUT * len(readings):
        more = max(1, math.ceil(wrong / MOST_LEFT_OUT) - len(readings))
        return Missing(
            Lack.CONTRADICTORY,
            more,
            f"{wrong} of {len(readings)} plucks were not at the place that was shown: play {more} more",
        )
    distances = [frets for frets, _, _ in counted]
    times_s = [time_s for _, time_s, _ in counted]
    middle_frets = statistics.fmean(distances)
    middle_period_s = statistics.fmean(period_s(reading.midi) for _, _, reading in counted)
    own = _own(counted, calibration, least)
    if len(counted) >= LEAST_FOR_LINE and max(distances) - min(distances) >= LEAST_SPAN_FRETS:
        line = bisquare_line(distances, times_s)
        if all(map(math.isfinite, line.covariance)):
            return Travels(
                line.intercept,
                line.slope,
                line.covariance,
                line.scale,
                middle_frets,
                middle_period_s,
                len(counted),
                own,
            )
    middle = trimmed_mean(times_s)
    return Travels(
        middle.value,
        0.0,
        (middle.normal_error**2, 0.0, 0.0),
        spread_without_lapses_s(times_s),
        middle_frets,
        middle_period_s,
        len(counted),
        own,
    )


def _own(
    counted: Iterable[tuple[float, float, Reading]], calibration: Calibration, least: int
) -> dict[Place, Travel]:
    by_place: dict[Place, list[Reading]] = defaultdict(list)
    for _, _, reading in counted:
        by_place[reading.place].append(reading)
    found = {}
    for place, members in by_place.items():
        if len(members) >= least:
            shown = [recall(reading.time_s, reading.midi, calibration) for reading in members]
            travel = travel_to(shown, members[0].midi, least=least)
            if isinstance(travel, Travel):
                found[place] = travel
    return found
