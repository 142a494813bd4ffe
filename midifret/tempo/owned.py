"""The fastest tempo that a player plays at 90% right, found pass by pass, with what is not yet known of it.

A Bayesian staircase after Watson & Pelli 1983, Perception & Psychophysics 33 [mem]: the share of right notes
falls with the logarithm of the tempo along a curve of stated shape; a grid holds how likely each owned tempo
is after all passes so far; the next pass is played where that says. Two things differ from the paper. The
fall of the curve is not taken as known: the grid has several, and the answer is taken over all of them. And
the notes of one pass are not taken as independent, see Curve.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

from midifret.tempo.limits import LEAST_BPM, MOST_BPM, check_tempo
from midifret.terms import BadInput

# Share of right notes at the owned tempo: nine in ten, as is asked of a drill that counts as known [ours].
OWNED_SHARE = 0.9
# One player in ten is thought not to be held up by tempo at all, before anything is played; the share of
# right notes may then be any of these [ours]. From _DOUBTED on that is told: a false alarm costs a second
# look, a tempo that is none would open gates [ours].
_NOT_TEMPO = 0.1
_FLAT_SHARES = tuple(number / 20 for number in range(1, 18))
_DOUBTED = 0.3
# Half a step is less than a tenth of the 5% that the answer may be off [calc].
_GRID_STEP = 0.01


@dataclass(frozen=True, slots=True)
class Curve:
    """What is assumed of how a player's share of right notes falls with tempo.

    half_at: at which multiples of the owned tempo half the notes may be right, each as likely as the others;
    nobody has measured it for walks on the neck [ours]. lapse: share of notes missed however slow [ours].
    guess: share of notes right however fast; 0, for a place is not hit by chance [ours].
    correlation: between right or wrong of two notes of one pass: a stumble takes the next notes along. The
    evidence of a pass of n notes is divided by 1 + (n - 1) * correlation, the design effect of a cluster
    (Kish 1965 [mem]). Passes are taken as independent. 0.03 [ours]: with it intervals cover what they should
    for notes that are independent and for such that correlate by 0.1 (bench_tempo.py).
    """

    half_at: tuple[float, ...] = (1.08, 1.15, 1.25, 1.4, 1.7)
    lapse: float = 0.02
    guess: float = 0.0
    correlation: float = 0.03

    def __post_init__(self) -> None:
        """Check the ranges. Raises ValueError."""
        if not self.half_at or not all(1 < ratio < math.inf for ratio in self.half_at):
            raise ValueError(
                f"half of the notes are right at more than 1 times the tempo, not {self.half_at}"
            )
        if not 0 <= self.lapse < 1 - OWNED_SHARE:
            raise ValueError(f"with a lapse rate of {self.lapse} no tempo is played at {OWNED_SHARE:.0%}")
        if not 0 <= self.guess < 0.5:
            raise ValueError(f"a guess rate goes from 0 to under 0.5, not {self.guess}")
        if not 0 <= self.correlation < 1:
            raise ValueError(f"a correlation goes from 0 to under 1, not {self.correlation}")

    def logit(self, share: float) -> float:
        """Return where on the logistic curve, lapses and guesses taken out, a share of right notes lies."""
        inner = (share - self.guess) / (1 - self.guess - self.lapse)
        return math.log(inner / (1 - inner))

    def slope(self, half_at: float) -> float:
        """Return by how much the logit falls for each unit of the logarithm of the tempo."""
        return (self.logit(OWNED_SHARE) - self.logit(0.5)) / math.log(half_at)

    def share(self, tempo_bpm: float, owned_bpm: float, half_at: float) -> float:
        """Return the share of right notes at a tempo, 0 to 1, of a player who owns another tempo."""
        at = self.logit(OWNED_SHARE) - self.slope(half_at) * math.log(tempo_bpm / owned_bpm)
        return self.guess + (1 - self.guess - self.lapse) * _logistic(at)


@dataclass(frozen=True, slots=True)
class PassResult:
    """One pass of a walk at one tempo: how many notes were due, and how many of them were right."""

    tempo_bpm: float
    notes: int
    right: int

    def __post_init__(self) -> None:
        """Check the ranges. Raises BadInput."""
        check_tempo(self.tempo_bpm)
        if not 1 <= self.notes <= 100_000:
            raise BadInput(f"a pass cannot have {self.notes} notes", allowed="1 to 100000")
        if not 0 <= self.right <= self.notes:
            raise BadInput(
                f"{self.right} notes of {self.notes} cannot be right", allowed=f"0 to {self.notes}"
            )


class Doubt(StrEnum):
    """Why the tempo found may be none."""

    SLOWER = "slower"  # it may lie under every tempo that is asked for
    FASTER = "faster"  # or above
    NOT_TEMPO = "not tempo"  # the player is under 90%, and slower does not help


@dataclass(frozen=True, slots=True)
class OwnedTempo:
    """The owned tempo as far as it is known.

    tempo_bpm: the median of what is likely. low_bpm, high_bpm: 95% of what is likely lies between.
    notes, passes: how many it took. not_tempo: how likely it is, 0 to 1, that the share of right notes is
    under 90% and does not hang on the tempo. doubt: set where that is likelier than 0.3 [ours], or where the
    interval reaches an end of the allowed tempos, so that only its other end says something.
    """

    tempo_bpm: float
    low_bpm: float
    high_bpm: float
    notes: int
    passes: int
    not_tempo: float
    doubt: Doubt | None

    @property
    def within(self) -> float:
        """By which share of the tempo it may be off, 95%: 0.05 for 5% either way, the wider side counting."""
        return max(self.high_bpm / self.tempo_bpm, self.tempo_bpm / self.low_bpm) - 1


@dataclass(frozen=True, slots=True)
class Search:
    """How the owned tempo is looked for.

    most_notes: the search ends before a pass that would go beyond. near_enough: or as soon as the tempo is
    known to this share either way. aim_share: passes are played where this share of notes is expected to be
    right. 0.9 [ours]: of 0.7 to 0.95 none errs clearly less (bench_tempo.py --aims), it leans least on the
    shape of the curve, and no player is made to fail. prior_ratio: two of three players own a tempo within
    this factor of the one they start at [ours].
    """

    most_notes: int = 120
    near_enough: float = 0.05
    aim_share: float = OWNED_SHARE
    prior_ratio: float = 1.65

    def __post_init__(self) -> None:
        """Check the ranges. Raises ValueError."""
        if not (self.most_notes >= 1 and self.near_enough > 0 and self.prior_ratio > 1):
            raise ValueError("notes are 1 or more, near_enough is above 0 and prior_ratio above 1")
        if not 0.5 <= self.aim_share <= 0.95:
            raise ValueError(f"passes are aimed at 0.5 to 0.95 of the notes right, not {self.aim_share}")


@dataclass(slots=True)
class Staircase:
    """The search itself: says the tempo of the next pass, takes its result, and knows what is known.

    start_bpm: the tempo that the player thinks of; the first pass is near it. Raises BadInput for a tempo out
    of range.
    """

    start_bpm: float
    curve: Curve = field(default_factory=Curve)
    search: Search = field(default_factory=Search)
    _owned: list[float] = field(init=False, repr=False)  # logarithms of the owned tempos on the grid
    _slopes: list[float] = field(init=False, repr=False)
    _weights: list[list[float]] = field(
        init=False, repr=False
    )  # log likelihood by slope, then by owned tempo
    _flat: list[float] = field(init=False, repr=False)  # log likelihood of shares that tempo does not change
    _notes: int = field(init=False, default=0)
    _passes: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        """Lay out the grid with what is likely before the first pass."""
        start, spread = math.log(check_tempo(self.start_bpm)), math.log(self.search.prior_ratio)
        steps = round(math.log(MOST_BPM / LEAST_BPM) / _GRID_STEP)
        first, step = math.log(LEAST_BPM), math.log(MOST_BPM / LEAST_BPM) / steps
        self._owned = [first + step * number for number in range(steps + 1)]
        self._slopes = [self.curve.slope(ratio) for ratio in self.curve.half_at]
        before = [-0.5 * ((owned - start) / spread) ** 2 for owned in self._owned]
        self._weights = [list(before) for _ in self._slopes]
        # Of the weight that all tempos have together, _NOT_TEMPO to the rest.
        whole = math.fsum(map(math.exp, before)) * len(self._slopes)
        each = whole * _NOT_TEMPO / (1 - _NOT_TEMPO) / len(_FLAT_SHARES)
        self._flat = [math.log(each)] * len(_FLAT_SHARES)

    def take(self, result: PassResult) -> None:
        """Learn from a pass, at whatever tempo it was played."""
        curve, tempo = self.curve, math.log(result.tempo_bpm)
        effect = 1 + (result.notes - 1) * curve.correlation
        right, wrong = result.right / effect, (result.notes - result.right) / effect
        top, spread = curve.logit(OWNED_SHARE), 1 - curve.guess - curve.lapse
        # A share of exactly 0 or 1 would rule a tempo out for ever.
        least, most = max(curve.guess, 1e-9), min(1 - curve.lapse, 1 - 1e-9)
        for slope, weights in zip(self._slopes, self._weights, strict=True):
            for number, owned in enumerate(self._owned):
                share = curve.guess + spread * _logistic(top - slope * (tempo - owned))
                share = min(max(share, least), most)
                weights[number] += right * math.log(share) + wrong * math.log(1 - share)
        for number, share in enumerate(_FLAT_SHARES):
            self._flat[number] += right * math.log(share) + wrong * math.log(1 - share)
        self._notes += result.notes
        self._passes += 1

    def next_bpm(self) -> float:
        """Return the tempo of the next pass, in whole beats a minute: where aim_share is to be expected."""
        shift = self.curve.logit(OWNED_SHARE) - self.curve.logit(self.search.aim_share)
        total = mean = 0.0
        highest = max(max(weights) for weights in self._weights)
        for slope, weights in zip(self._slopes, self._weights, strict=True):
            for owned, weight in zip(self._owned, weights, strict=True):
                likely = math.exp(weight - highest)
                total += likely
                mean += likely * (owned + shift / slope)
        return min(max(float(round(math.exp(mean / total))), LEAST_BPM), MOST_BPM)

    def owned(self) -> OwnedTempo:
        """Return what is known now; before the first pass, what was assumed."""
        likely = self._likely()
        low, middle, high = (self._quantile(likely, share) for share in (0.025, 0.5, 0.975))
        step = self._owned[1] - self._owned[0]
        not_tempo, doubt = self._not_tempo(), None
        if self._passes and not_tempo > _DOUBTED:
            doubt = Doubt.NOT_TEMPO
        elif high >= self._owned[-1] - step:
            doubt = Doubt.FASTER
        elif low <= self._owned[0] + step:
            doubt = Doubt.SLOWER
        return OwnedTempo(
            math.exp(middle), math.exp(low), math.exp(high), self._notes, self._passes, not_tempo, doubt
        )

    def done(self, pass_notes: int) -> bool:
        """Say whether the search is over, so that no pass of so many notes is to come."""
        if self._passes and self._notes + pass_notes > self.search.most_notes:
            return True
        owned = self.owned()
        return owned.doubt is None and owned.within <= self.search.near_enough

    def _not_tempo(self) -> float:
        highest = max(*self._flat, *map(max, self._weights))
        flat = math.fsum(math.exp(weight - highest) for weight in self._flat)
        tempo = math.fsum(math.exp(weight - highest) for weights in self._weights for weight in weights)
        return flat / (flat + tempo)

    def _likely(self) -> list[float]:
        """How likely each owned tempo of the grid is, over all slopes; the sum is 1."""
        highest = max(max(weights) for weights in self._weights)
        summed = [0.0] * len(self._owned)
        for weights in self._weights:
            for number, weight in enumerate(weights):
                summed[number] += math.exp(weight - highest)
        total = math.fsum(summed)
        return [value / total for value in summed]

    def _quantile(self, likely: list[float], share: float) -> float:
        """Below which logarithm of the tempo this share lies; each point stands for the step around it."""
        step = self._owned[1] - self._owned[0]
        below = 0.0
        for owned, value in zip(self._owned, likely, strict=True):
            if below + value >= share:
                inside = (share - below) / value if value else 0.5
                return min(max(owned + step * (inside - 0.5), self._owned[0]), self._owned[-1])
            below += value
        return self._owned[-1]


def owned_tempo(
    passes: Iterable[PassResult],
    *,
    start_bpm: float | None = None,
    curve: Curve | None = None,
    search: Search | None = None,
) -> OwnedTempo:
    """Work out the owned tempo from passes that were kept. Their order does not matter to what they say.

    start_bpm: what the player began with; without it the tempo of the first pass given. Raises BadInput where
    there is no pass.
    """
    kept = list(passes)
    if not kept:
        raise BadInput("an owned tempo needs passes, and there are none", allowed="1 pass or more")
    staircase = Staircase(
        kept[0].tempo_bpm if start_bpm is None else start_bpm, curve or Curve(), search or Search()
    )
    for result in kept:
        staircase.take(result)
    return staircase.owned()


def _logistic(value: float) -> float:
    return 1 / (1 + math.exp(-value)) if value > -700 else 0.0
