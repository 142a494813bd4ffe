"""The published equations of memory: activation, decay, chance and time of recall, and time between them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

# Nothing is nearer than this: a trace has to be laid before it can be drawn on [ours].
LEAST_AGE_S = 1.0
# More would be forgotten before the next prompt is shown; without a bound drilling one place over and over
# would overflow [ours].
_MOST_HASTE = 1.5


@dataclass(frozen=True, slots=True)
class Equations:
    """The constants of the activation model.

    A = ln(sum t_j^-d_j), d_j = haste * e^(A when trace j was laid) + forgetting; chance of recall =
    1 / (1 + e^((threshold - A) / noise)); time of recall = scale_s * e^-A + fixed_s; between sessions time
    counts `between` as much as in them (Pavlik & Anderson 2005, Cognitive Science 29: haste 0.217, forgetting
    0.177, threshold -0.704, noise 0.255, between 0.025 [mem]; activation: Anderson & Schooler 1991).
    scale_s: 1 s, as the rest stands in each place's own ease (Sense et al. 2016 [mem] fix it too).
    fixed_s: what is left of a recall time when it has become quickest; latency, reaction and travel are off
    already [ours]. pause_s: so long after an answer a session is taken to be over [ours].
    """

    haste: float = 0.217
    forgetting: float = 0.177
    threshold: float = -0.704
    noise: float = 0.255
    scale_s: float = 1.0
    fixed_s: float = 0.25
    between: float = 0.025
    pause_s: float = 600.0

    def decay(self, activation: float, forgetting: float) -> float:
        """Return how fast a trace fades that is laid at this activation."""
        return self.haste_at(activation) + forgetting

    def haste_at(self, activation: float) -> float:
        """Return the part of a decay that comes from practising too soon; -inf gives none."""
        return min(self.haste * math.exp(min(activation, 10.0)), _MOST_HASTE)

    def chance(self, activation: float, threshold: float | None = None) -> float:
        """Return the chance that it is recalled, 0 to 1. threshold: of a player; None for the usual one."""
        return logistic((activation - (self.threshold if threshold is None else threshold)) / self.noise)

    def time_s(self, activation: float) -> float:
        """Return how long recall takes if it succeeds, in seconds; at most an hour."""
        return self.scale_s * math.exp(min(-activation, 8.0)) + self.fixed_s

    def counted_s(self, gap_s: float) -> float:
        """Return how much of the time after an answer counts as time in which memory fades, in seconds.

        A gap below 0, from a clock that was set back, counts nothing.
        """
        if gap_s <= self.pause_s:
            return max(gap_s, 0.0)
        return self.pause_s + self.between * (gap_s - self.pause_s)


def logistic(value: float) -> float:
    """Return 1 / (1 + e^-value) without overflow."""
    if value >= 0:
        return 1 / (1 + math.exp(-min(value, 700.0)))
    grown = math.exp(max(value, -700.0))
    return grown / (1 + grown)


def activation(ages_s: Sequence[float], decays: Sequence[float]) -> float:
    """Return A = ln(sum t_j^-d_j); -inf without traces. ages_s: since each trace, at least 1 s counts."""
    total = sum(max(age, LEAST_AGE_S) ** -decay for age, decay in zip(ages_s, decays, strict=True))
    return math.log(total) if total > 0 else -math.inf


def decays_of(times_s: Sequence[float], forgetting: float, equations: Equations) -> tuple[float, ...]:
    """Return the decay of each trace, worked out one after the other. times_s: counted time, rising."""
    found: list[float] = []
    for number, time_s in enumerate(times_s):
        ages = [time_s - before for before in times_s[:number]]
        found.append(equations.decay(activation(ages, found), forgetting))
    return tuple(found)
