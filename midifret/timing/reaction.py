"""How long a player needs to pluck a shown open string: the reaction that recall times are freed of."""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.estimates import mad_scale, trimmed_mean
from midifret.terms.calibration import Lack, Latency, Missing, Reaction, period_s
from midifret.timing.latency import estimate

LAPSE_DEVIATIONS = 5.0


@dataclass(frozen=True, slots=True)
class Reacted:
    """One shown open string and its pluck. midi: what sounded. response_s: onset as heard less the cue."""

    midi: float
    response_s: float


@dataclass(frozen=True, slots=True)
class ReactionRules:
    """Which reactions count. All are [ours] but where a source stands."""

    # A pluck sooner after the cue, its latency taken off, had begun before the cue was seen. No true reaction
    # is faster (Luce 1986, Whelan 2008, and the rule for sprinters' starts: all from memory).
    soonest_s: float = 0.100
    # A pluck later was no reaction: four times the mean of 231 ms (Woods et al. 2015), and more.
    latest_s: float = 1.0
    # So many times the MAD, taken as a standard deviation, above the median: a lapse.
    lapse_deviations: float = LAPSE_DEVIATIONS
    # So many of the early side's deviations under the median, it was not waited for: hardly a true reaction
    # lies there, and most plucks that were not waited for do (simulated players).
    early_deviations: float = 4.0
    least_used: int = 12
    most_left_out: float = 0.25
    planned: int = 24


DEFAULT_RULES = ReactionRules()


def fit_reaction(
    reactions: Sequence[Reacted], latency: Latency | None, rules: ReactionRules = DEFAULT_RULES
) -> Reaction | Missing:
    """Work out how long this player on this system needs to pluck a shown open string.

    Each response is brought to one period of the note by the slope of the latency, so that strings can be
    compared; a stays in the baseline and in every response alike, and cancels. For anticipations too the
    latency counts without a, which a player who drags behind the click would make far too large, but for not
    less than one period, before which no pitch is known (facts of converters).

    The middle is a mean without the lowest and highest fifth: unlike the median it adds up with what is taken
    from it nearly as means do, and on reactions with a long tail it is surer (9.4 against 9.9 ms of standard
    error for 20 of them, tail 40 ms) without following lapses as the mean does.

    latency: None where none was measured; the strings then count as they come.
    Returns what is missing where the reactions do not do. Raises ValueError for a response that is no number.
    """
    for reacted in reactions:
        if not (math.isfinite(reacted.response_s) and math.isfinite(reacted.midi)):
            raise ValueError(f"{reacted} is not a reaction")
    fair = [r for r in reactions if not _anticipated(r, latency, rules) and r.response_s <= rules.latest_s]
    early = sum(_anticipated(r, latency, rules) for r in reactions)
    slope = latency.b_periods.value if latency is not None else 0.0
    periods_s = [period_s(reacted.midi) for reacted in fair]
    centre_s = statistics.fmean(periods_s) if fair else 0.0
    times_s = [r.response_s - slope * (x_s - centre_s) for r, x_s in zip(fair, periods_s, strict=True)]
    if times_s:
        middle_s = statistics.median(times_s)
        bound_s = middle_s + rules.lapse_deviations * mad_scale([time_s - middle_s for time_s in times_s])
        # Where latency is long, a pluck that was not waited for can come later than `soonest_s`. It still
        # lies far from the others, whose early side has no tail; this rule does not hang on a.
        below_s = [middle_s - time_s for time_s in times_s if time_s <= middle_s]
        least_s = middle_s - rules.early_deviations * mad_scale(below_s)
        early += sum(time_s < least_s for time_s in times_s)
        kept = [i for i, time_s in enumerate(times_s) if least_s <= time_s <= bound_s]
        times_s, periods_s = [times_s[i] for i in kept], [periods_s[i] for i in kept]
    late = len(reactions) - early - len(times_s)
    if len(times_s) < rules.least_used:
        more = rules.least_used - len(times_s)
        return Missing(
            Lack.FEW,
            more,
            f"{len(times_s)} reactions can be used, at least {rules.least_used} are needed: play {more} more",
        )
    if (left_out := early + late) > rules.most_left_out * len(reactions):
        more = max(1, math.ceil(left_out / rules.most_left_out) - len(reactions))
        return Missing(
            Lack.CONTRADICTORY,
            more,
            f"{early} of {len(reactions)} plucks came before the cue could be seen and {late} far too late: "
            f"play {more} more",
        )
    middle = trimmed_mean(times_s)
    # The mean period of the very reactions that the middle is the mean of: at that period the baseline hardly
    # depends on the slope, so that its uncertainty is the player's alone.
    period = statistics.fmean(periods_s[i] for i in middle.kept)
    response = estimate(middle.value + slope * (period - centre_s), middle.standard_error, middle.freedom)
    return Reaction(
        response_s=response,
        period_s=period,
        time_s=None if latency is None else response.value - latency.a_s.value - slope * period,
        spread_s=statistics.stdev(times_s),
        used=len(times_s),
        anticipations=early,
        lapses=late,
    )


def _anticipated(reacted: Reacted, latency: Latency | None, rules: ReactionRules) -> bool:
    periods = max(latency.b_periods.value, 1.0) if latency is not None else 0.0
    delay_s = periods * period_s(reacted.midi)
    return reacted.response_s - delay_s < rules.soonest_s
