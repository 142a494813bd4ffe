"""Recall times: responses freed of latency, reaction and travel, with what is not known said beside them."""

import datetime as dt
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.estimates import NORMAL_95, Middle, mad_scale, t_quantile, trimmed_mean
from midifret.terms.calibration import (
    Calibration,
    Caveat,
    Estimate,
    Lack,
    Missing,
    NoteInterval,
    Recall,
    Travel,
    period_s,
)
from midifret.timing.latency import estimate
from midifret.timing.reaction import LAPSE_DEVIATIONS

# Strings, screens and players change; a season is what we trust. [ours]
GOOD_FOR = dt.timedelta(days=90)
# Plucks at one shown place before its travel is taken off. [ours]
LEAST_TRAVELS = 5
# Answers are never taken to spread by less than this share of what the hands alone spread by. At 0.7,
# intervals of 2 to 12 answers hold the truth 94 to 97% of the time where recall itself does not spread; with
# none 87 to 96%, with all of it 97 to 99% (measured on simulated players).
_LEAST_HANDS = 0.7
_MOST_FREEDOM = 10_000.0  # as good as normal


def caveats_of(
    calibration: Calibration, *, guitar: str, port: str, now: dt.datetime, good_for: dt.timedelta = GOOD_FOR
) -> frozenset[Caveat]:
    """Say why a calibration may not hold for what is played now.

    now: knows its time zone. A calibration from the future is stale too: one of the two clocks is wrong.
    """
    found = set()
    if not dt.timedelta() <= now - calibration.made_at <= good_for:
        found.add(Caveat.STALE)
    if guitar != calibration.guitar:
        found.add(Caveat.OTHER_GUITAR)
    if port != calibration.port:
        found.add(Caveat.OTHER_PORT)
    return frozenset(found)


def recall(
    response_s: float,
    midi: float,
    calibration: Calibration | None,
    *,
    travel: Travel | None = None,
    caveats: frozenset[Caveat] = frozenset(),
) -> Recall:
    """Take latency, reaction and travel off a response to a cue.

    response_s: from the cue to the onset as heard. midi: what was played. travel: to the place played,
    measured with the same calibration. caveats: what `caveats_of` says of the calibration.
    Without a reaction the response stays raw. The result is never clipped: it may be negative.

    Latency and reaction are taken off together. The reaction is known as it was heard, at its own mean
    period, and only the difference of the latencies at the two periods is added: a cancels, and so does its
    uncertainty. Where travel is taken off the reaction cancels likewise. What is left adds up by variances.
    Raises ValueError for a response that is no number.
    """
    if not math.isfinite(response_s):
        raise ValueError(f"{response_s} is not a response time")
    if calibration is None or calibration.reaction is None:
        return Recall(response_s, None, None, frozenset({Caveat.RAW}))
    reaction, latency = calibration.reaction, calibration.latency
    found = set(caveats)
    slope, slope_error = 0.0, 0.0  # per period
    if latency is None:
        found.add(Caveat.WITH_LATENCY)
    else:
        slope, slope_error = latency.b_periods.value, _normal_error(latency.b_periods)
    longer_s = period_s(midi) - reaction.period_s
    time_s = response_s - reaction.response_s.value - slope * longer_s
    if travel is None:
        found.add(Caveat.WITH_TRAVEL)
        shared_s = math.hypot(_normal_error(reaction.response_s), slope_error * longer_s)
        return Recall(time_s, shared_s, reaction.spread_s, frozenset(found))
    shared_s = math.hypot(travel.standard_error_s, slope_error * (period_s(midi) - travel.period_s))
    return Recall(time_s - travel.time_s, shared_s, travel.spread_s, frozenset(found))


def _normal_error(figure: Estimate) -> float:
    """The standard error of a normal distribution that has the same 95% interval: such errors add up."""
    return (figure.high - figure.low) / 2 / NORMAL_95


def note_interval(
    interval_s: float,
    first_midi: float,
    second_midi: float,
    calibration: Calibration | None,
    *,
    caveats: frozenset[Caveat] = frozenset(),
) -> NoteInterval:
    """Take the difference of two latencies off the time between two notes of a walk without cues.

    Nothing else can be taken off, and it is no recall time.
    Raises ValueError for an interval that is no number.
    """
    if not math.isfinite(interval_s):
        raise ValueError(f"{interval_s} is not an interval")
    if calibration is None or calibration.latency is None:
        return NoteInterval(interval_s, None, frozenset({Caveat.WITH_LATENCY}))
    latency = calibration.latency
    error_s = _normal_error(latency.b_periods) * abs(period_s(second_midi) - period_s(first_midi))
    return NoteInterval(interval_s - latency.difference_s(second_midi, first_midi), error_s, caveats)


@dataclass(frozen=True, slots=True)
class RecallFigure:
    """The recall time of several answers together, of one place and kind of cue as a rule.

    time_s: mean without the lowest and highest fifth. standard_error_s: with what the calibration shares.
    freedom: degrees of freedom of Student's t. answers: how many went in. caveats: of any of them.
    """

    time_s: float
    standard_error_s: float
    freedom: float
    answers: int
    caveats: frozenset[Caveat]

    @property
    def interval(self) -> Estimate:
        """The same with its 95% confidence interval."""
        return estimate(self.time_s, self.standard_error_s, self.freedom)

    def at_most_s(self, confidence: float) -> float:
        """What the recall time does not exceed, at a one-sided confidence of 0 to 1."""
        return self.time_s + t_quantile(confidence, self.freedom) * self.standard_error_s


def recall_figure(recalls: Sequence[Recall]) -> RecallFigure | None:
    """Put recall times together; None for fewer than two.

    Raw times are never mixed with others: where there are both, the raw ones are left out.
    What the times of one calibration share is counted once, as large as its largest, and few answers that
    happen to agree are taken as hardly surer than the player's hands are.

    The middle three fifths of responses less those of reactions are not quite those of recall times where
    both have long tails: a tail of 26 ms on reactions and 200 ms on recall makes recall times 4 ms too long,
    and 12 ms of only 12 answers, of which less than a fifth is cut (measured on simulated players).
    """
    calibrated = [r for r in recalls if Caveat.RAW not in r.caveats]
    counted = calibrated or list(recalls)
    if len(counted) < 2:
        return None
    middle = trimmed_mean([r.time_s for r in counted])
    shared_s = max((r.shared_s for r in counted if r.shared_s is not None), default=0.0)
    hands_s = statistics.fmean(r.own_s or 0.0 for r in counted)
    least_s = _LEAST_HANDS * hands_s / math.sqrt(len(counted))
    error_s = math.hypot(max(middle.standard_error, least_s), shared_s)
    return RecallFigure(
        middle.value,
        error_s,
        _freedom(middle, error_s),
        len(counted),
        frozenset[Caveat]().union(*(r.caveats for r in counted)),
    )


def _freedom(middle: Middle, error_s: float) -> float:
    """Degrees of freedom of an error of which only the middle's part has few (Welch & Satterthwaite 1946)."""
    if middle.standard_error == 0:
        return _MOST_FREEDOM
    return min(middle.freedom * (error_s / middle.standard_error) ** 4, _MOST_FREEDOM)


def travel_to(shown: Sequence[Recall], midi: float, *, least: int = LEAST_TRAVELS) -> Travel | Missing:
    """Work out the travel to one place from answers to the place itself shown, with nothing to recall.

    shown: those answers as `recall` gives them without travel, all of one calibration. midi: pitch of the
    place. least: how many are needed. Their time over the reaction to an open string is what the hands need;
    reading string and fret off the screen is in it. Raises ValueError for raw times, from which no travel
    follows.
    """
    if any(Caveat.RAW in each.caveats for each in shown):
        raise ValueError("travel needs a reaction to be taken off")
    if len(shown) < least:
        more = least - len(shown)
        return Missing(
            Lack.FEW,
            more,
            f"{len(shown)} plucks of the place are there, {least} are needed: play {more} more",
        )
    times_s = [each.time_s for each in shown]
    middle = trimmed_mean(times_s)
    return Travel(middle.value, middle.normal_error, period_s(midi), spread_without_lapses_s(times_s))


def spread_without_lapses_s(times_s: Sequence[float]) -> float:
    """Return the standard deviation in seconds of two times or more, without lapses as in reactions."""
    middle_s = statistics.median(times_s)
    bound_s = middle_s + LAPSE_DEVIATIONS * mad_scale([time_s - middle_s for time_s in times_s])
    return statistics.stdev([time_s for time_s in times_s if time_s <= bound_s])
