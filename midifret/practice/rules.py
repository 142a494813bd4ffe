"""What memory takes for granted before it has heard an answer; each number with its source."""

import itertools
from dataclasses import dataclass, field

from midifret.practice.activation import Equations

# A change here changes what is worked out of the same answers: what was kept with another number is worked
# out again from the book.
RULES_NUMBER = 3


def _even(least: float, step: float, count: int) -> tuple[float, ...]:
    return tuple(round(least + step * number, 6) for number in range(count))


@dataclass(frozen=True, slots=True)
class MemoryRules:
    """The grid over which a place's forgetting and ease are estimated, and what a player is like at first.

    in_time_s: a single answer so quick is in time: about 1 s is automatic (review by Crawford, citing Logan
    1988), and single answers scatter by a third [ours].
    forgetting: rates of forgetting that a place may have, evenly spaced; they are estimated for each person
    and item from response times (Sense et al. 2016 [mem]). ease: what is added to its activation, an
    offset by item and person (Pavlik & Anderson 2008 [mem]), evenly spaced.
    usual_forgetting, usual_ease: what places of one player are like, as mean and deviation, before anything
    is known; the means follow the player, first_weight places' worth of it staying [ours].
    spread: standard deviation of the logarithm of single recall times [ours]. lapse: share of answers that
    have nothing to do with memory, at first; it follows the player by `lapse_step` an answer, up to
    `most_lapse` [ours]. kept: how much of what was learnt each new answer leaves,
    so that a place may change [ours]. traces: so many are kept apart; older ones are put together.
    worked_out_s, worked_out_right: time and chance for who has to work a place out (beyond 2-3 s it is
    worked out: review by Crawford); both follow the player. worked_out_spread: of the logarithm.
    worked_out_answers: only so many first answers of a place tell of it; later ones tell of memory [ours].
    worked_out_weight: so many answers what is thought at first weighs. least_worked_out_s: nobody works a
    place out sooner; what comes sooner is remembered (about 1 s is automatic; the number [ours]), or else who
    knows the neck from the beginning would count as one who works out quickly.
    threshold_step: how far a player's threshold moves by an answer after a pause that came otherwise, as in
    stochastic approximation (Robbins & Monro 1951 [mem]; the step [ours]).
    wider: the ends of the interval of a recall time lie so many times as far from its middle, as logarithms,
    as this model alone has them. Found on learners of other laws (tests/practice/own_learners.py), where what
    is called 90% holds 74 to 96% of true times then, and 21 to 65% without.
    step_s, step_right: what one step from a neighbour that is known takes, and how often it comes out [ours].
    """

    equations: Equations = field(default_factory=Equations)
    in_time_s: float = 1.3
    forgetting: tuple[float, ...] = field(default_factory=lambda: _even(0.06, 0.09, 6))
    ease: tuple[float, ...] = field(default_factory=lambda: _even(-2.0, 0.25, 17))
    usual_forgetting: tuple[float, float] = (0.2, 0.09)
    usual_ease: tuple[float, float] = (0.0, 0.6)
    first_weight: float = 3.0
    spread: float = 0.35
    lapse: float = 0.03
    wider: float = 3.0
    lapse_step: float = 0.01
    most_lapse: float = 0.3
    kept: float = 0.97
    traces: int = 14
    worked_out_s: float = 3.5
    worked_out_right: float = 0.6
    worked_out_spread: float = 0.45
    worked_out_weight: float = 5.0
    least_worked_out_s: float = 1.5
    worked_out_answers: int = 3
    threshold_step: float = 0.08
    step_s: float = 0.7
    step_right: float = 0.9

    def __post_init__(self) -> None:
        """Check what the sums rest on. Raises ValueError."""
        for name, grid in (("forgetting", self.forgetting), ("ease", self.ease)):
            steps = [after - before for before, after in itertools.pairwise(grid)]
            if not grid or any(abs(step - steps[0]) > 1e-9 or step <= 0 for step in steps):
                raise ValueError(f"{name} goes up evenly, not {grid}")
        if self.forgetting[0] < 0:
            raise ValueError(f"a rate of forgetting is 0 or more, not {self.forgetting[0]}")
        if self.traces < 2 or not 0 < self.kept <= 1 or not 0 < self.lapse < 1:
            raise ValueError("2 traces or more are kept; kept goes up to 1, lapse lies between 0 and 1")
