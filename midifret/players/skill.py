"""How well a simulated player plays, and a few such players by name."""

from dataclasses import dataclass, replace

from midifret.players.timing import OnClick, Timing
from midifret.terms import BadInput, Verdict

_MIXED = (
    (Verdict.ELSEWHERE, 1.0),
    (Verdict.OCTAVE, 1.0),
    (Verdict.FRET_OFF, 3.0),
    (Verdict.STRING_OFF, 2.0),
    (Verdict.WRONG, 2.0),
    (Verdict.MISSED, 1.0),
)
_USUAL = OnClick()


@dataclass(frozen=True, slots=True)
class Skill:
    """What a simulated player is like.

    accuracy: share of prompts answered right at the first try, 0 to 1. median_response_s: from cue to pluck.
    spread: of the response times, as the standard deviation of their logarithm; 0 for none.
    errors: verdict and weight of each kind of first answer that is not right; where a prompt has no place of
    the kind drawn, another of them is taken, and any other kind only if none of them fits.
    velocities: softest and loudest, 1 to 127. seed: the same seed plays the same.
    timing: of which parts a response is made up; None for a median and a spread alone.
    on_click: how notes are played in tempo; there accuracy is the share right at a tempo that is easy.
    """

    accuracy: float = 0.9
    median_response_s: float = 1.5
    spread: float = 0.3
    errors: tuple[tuple[Verdict, float], ...] = _MIXED
    velocities: tuple[int, int] = (60, 110)
    seed: int = 0
    timing: Timing | None = None
    on_click: OnClick = _USUAL

    def __post_init__(self) -> None:
        """Check the ranges. Raises ValueError."""
        if not 0 <= self.accuracy <= 1:
            raise ValueError(f"accuracy goes from 0 to 1, not {self.accuracy}")
        if not (self.median_response_s > 0 and self.spread >= 0):
            raise ValueError("the median response is more than 0 s, the spread not less than 0")
        softest, loudest = self.velocities
        if not 1 <= softest <= loudest <= 127:
            raise ValueError(f"velocities go from 1 to 127, softest first, not {self.velocities}")
        if any(kind is Verdict.RIGHT or weight < 0 for kind, weight in self.errors):
            raise ValueError("an error is any verdict but right, with a weight of 0 or more")


# Response times: a fact known by heart takes 0.4 to 0.9 s, one worked out 2 to 3 s (review by Crawford);
# a pluck comes on top of that. The rest is made up to tell the players apart.
NAMED_SKILLS = {
    "perfect": Skill(
        accuracy=1.0, median_response_s=0.8, spread=0.1, on_click=OnClick(owned_bpm=180, lapse=0)
    ),
    "steady": Skill(accuracy=0.92, median_response_s=1.4, spread=0.2, on_click=OnClick(spread_s=0.015)),
    "rushing": Skill(
        accuracy=0.7,
        median_response_s=0.6,
        spread=0.4,
        on_click=OnClick(early_s=0.05, spread_s=0.03, drift_s_a_minute=-0.02, owned_bpm=80),
    ),
    "wrong-string": Skill(accuracy=0.6, median_response_s=1.5, errors=((Verdict.STRING_OFF, 1.0),)),
    "one-fret-off": Skill(accuracy=0.6, median_response_s=1.5, errors=((Verdict.FRET_OFF, 1.0),)),
    "lost": Skill(
        accuracy=0.25, median_response_s=3.5, spread=0.6, on_click=OnClick(spread_s=0.05, owned_bpm=30)
    ),
}


def named_skill(name: str, seed: int = 0) -> Skill:
    """Return one of NAMED_SKILLS with a seed. Raises BadInput for another name."""
    skill = NAMED_SKILLS.get(name)
    if skill is None:
        raise BadInput(f"there is no simulated player {name!r}", allowed=", ".join(NAMED_SKILLS))
    return replace(skill, seed=seed)
