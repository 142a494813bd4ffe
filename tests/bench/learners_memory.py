"""Three models of memory for the simulated learners; none adds up traces that decay as a power of time.

Half-lives, pools of several time scales, and instances that race. Each model is published (sources at each,
all from memory); its numbers are [ours] unless a source stands beside them. `new_learner` draws a learner.
They were set once, by how long the taught round takes under them, and are not changed to suit a plan.
"""

import heapq
import math
import random
from collections.abc import Callable
from dataclasses import dataclass

from tests.bench.learners import DAY_S, OPEN_POSITION, PLACES, Learner, Memory, drawn_traits

MINUTE_S, HOUR_S = 60.0, 3600.0
_SPREAD = 0.25  # standard deviation of the logarithm of single recall times
PRACTISED_DAYS, A_DAY = 30, 4  # the open position is known: so many rounds on so many days before the first


def _normal_below(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2))


def _hardness(chance: random.Random) -> list[float]:
    """How much harder each place is than the middle one, as a factor; places differ a good deal."""
    return [math.exp(0.35 * chance.gauss(0.0, 1.0)) for _ in PLACES]


@dataclass(slots=True)
class _Held:
    half_life_s: float = 0.0
    last_s: float = -math.inf
    fluency: float = 0.0


class HalfLives:
    """Retrievability and stability, and a speed of its own.

    A memory is gone by half after its half-life (Settles & Meeder 2016, half-life regression); recalling it
    makes that longer the more had gone (Wozniak, Gorzelanczyk & Murakowski 1995, two components of memory).
    The median recall time falls with practice as an exponential (Heathcote, Brown & Mewhort 2000), of which
    repetitions after less than some minutes count little, and is longer while the memory is weak.
    """

    def __init__(self, chance: random.Random) -> None:
        """Draw one learner's memory."""
        talent = math.exp(0.25 * chance.gauss(0.0, 1.0))
        self._hard = _hardness(chance)
        self._gain = 3.5 * talent
        self._first_s = 8 * MINUTE_S * talent
        self._rate = 0.1 * talent * math.exp(0.15 * chance.gauss(0.0, 1.0))
        self._floor_s = 0.5 * math.exp(0.1 * chance.gauss(0.0, 1.0))
        self._slow_s = 2.2
        self._held = [_Held() for _ in PLACES]

    def _chance(self, held: _Held, now_s: float) -> float:
        return 2.0 ** ((held.last_s - now_s) / held.half_life_s) if held.half_life_s else 0.0

    def _median_s(self, held: _Held, still: float) -> float:
        return self._floor_s + self._slow_s * (1 - held.fluency * (0.6 + 0.4 * still))

    def brought_by(self, number: int, within_s: float, now_s: float) -> float:
        """As in Memory."""
        held = self._held[number]
        still = self._chance(held, now_s)
        if still < 1e-6:
            return 0.0
        return still * _normal_below(math.log(within_s / self._median_s(held, still)) / _SPREAD)

    def draw(self, number: int, now_s: float, chance: random.Random) -> float:
        """As in Memory."""
        held = self._held[number]
        still = self._chance(held, now_s)
        if chance.random() >= still:
            return math.inf
        return self._median_s(held, still) * chance.lognormvariate(0.0, _SPREAD)

    def practised(self, number: int, now_s: float, chance: random.Random, *, brought: bool) -> None:
        """As in Memory."""
        held, hard = self._held[number], self._hard[number]
        gone = 1 - self._chance(held, now_s)
        if brought:
            held.half_life_s *= 1 + self._gain / hard * gone
        else:
            # Forgotten or never seen: savings make what is left of the half-life grow a little.
            grown_s = held.half_life_s * (1 + 0.4 * self._gain / hard * gone)
            held.half_life_s = max(self._first_s / hard, min(grown_s, 12 * HOUR_S), 0.5 * held.half_life_s)
        rested = 1 - 2.0 ** ((held.last_s - now_s) / (5 * MINUTE_S))
        held.fluency += self._rate / hard * (0.25 + 0.75 * rested) * (1 - held.fluency)
        held.last_s = now_s


class Pools:
    """The multiscale context model (Mozer, Pashler, Cepeda, Lindsey & Vul 2009).

    Each place has pools that leak, from minutes to months, each filled by what the quicker ones together do
    not yet hold: so practice at once fills the quick ones only, and practice spaced out the slow ones. The
    chance of recall is the strength of all. A pool fills faster when the place was recalled; the ratio of the
    paper (9) is for words learned in a few trials, here 1.5. Each pool lasts 6 times as long as the
    one before and weighs less, 0.82 of it. The median recall time falls exponentially with
    strength, as it does with practice (Heathcote, Brown & Mewhort 2000).
    """

    def __init__(self, chance: random.Random) -> None:
        """Draw one learner's memory."""
        talent = math.exp(0.25 * chance.gauss(0.0, 1.0))
        self._hard = _hardness(chance)
        slowness = math.exp(0.2 * chance.gauss(0.0, 1.0))
        self._lasts_s = tuple(4 * MINUTE_S * slowness * 6.0**pool for pool in range(7))
        share = 0.82
        whole = sum(share**pool for pool in range(7))
        self._weights = tuple(share**pool / whole for pool in range(7))
        self._fill = 0.12 * talent
        self._recalled_fill = 1.5 * self._fill
        self._floor_s = 0.42 * math.exp(0.1 * chance.gauss(0.0, 1.0))
        self._slow_s = 2.6
        self._held = [[0.0] * 7 for _ in PLACES]
        self._last_s = [-math.inf] * len(PLACES)

    def _strength(self, number: int, now_s: float) -> float:
        since_s = self._last_s[number] - now_s
        strength = 0.0
        for held, lasts_s, weight in zip(self._held[number], self._lasts_s, self._weights, strict=True):
            strength += weight * held * math.exp(since_s / lasts_s)
        return strength

    def _median_s(self, strength: float) -> float:
        return self._floor_s + self._slow_s * math.exp(-3.2 * strength)

    def brought_by(self, number: int, within_s: float, now_s: float) -> float:
        """As in Memory."""
        strength = self._strength(number, now_s)
        in_time = _normal_below(math.log(within_s / self._median_s(strength)) / _SPREAD)
        return min(1.0, strength) * in_time

    def draw(self, number: int, now_s: float, chance: random.Random) -> float:
        """As in Memory."""
        strength = self._strength(number, now_s)
        if chance.random() >= strength:
            return math.inf
        return self._median_s(strength) * chance.lognormvariate(0.0, _SPREAD)

    def practised(self, number: int, now_s: float, chance: random.Random, *, brought: bool) -> None:
        """As in Memory."""
        pools = self._held[number]
        since_s = self._last_s[number] - now_s
        fill = (self._recalled_fill if brought else self._fill) / self._hard[number]
        together = weights = 0.0
        for pool, (lasts_s, weight) in enumerate(zip(self._lasts_s, self._weights, strict=True)):
            held = pools[pool] * math.exp(since_s / lasts_s)
            together += weight * held
            weights += weight
            pools[pool] = held + fill * max(0.0, 1 - together / weights)
        self._last_s[number] = now_s


class Instances:
    """Traces of single answers that race with working it out (Logan 1988, instance theory of automatization).

    The time of each trace is Weibull, so that of the first of n is too, and falls as n to a power. A trace is
    laid the more surely the longer ago the last was; many are gone within hours, the others within weeks:
    each ends at a moment of its own, drawn when it is laid.
    """

    def __init__(self, chance: random.Random) -> None:
        """Draw one learner's memory."""
        talent = math.exp(0.25 * chance.gauss(0.0, 1.0))
        self._hard = _hardness(chance)
        self._laid = 0.7 * talent
        self._kept = 0.45 * math.exp(0.15 * chance.gauss(0.0, 1.0))
        self._weeks_s = 40 * DAY_S * math.exp(0.2 * chance.gauss(0.0, 1.0))
        self._floor_s = 0.35 * math.exp(0.1 * chance.gauss(0.0, 1.0))
        self._scale_s = 3.1
        self._shape = 1.5
        self._ends_s: list[list[float]] = [[] for _ in PLACES]
        self._last_s = [-math.inf] * len(PLACES)

    def _traces(self, number: int, now_s: float) -> int:
        ends_s = self._ends_s[number]
        while ends_s and ends_s[0] < now_s:
            heapq.heappop(ends_s)
        return len(ends_s)

    def brought_by(self, number: int, within_s: float, now_s: float) -> float:
        """As in Memory."""
        if within_s <= self._floor_s:
            return 0.0
        reached = ((within_s - self._floor_s) / self._scale_s) ** self._shape
        return 1 - math.exp(-self._traces(number, now_s) * reached)

    def draw(self, number: int, now_s: float, chance: random.Random) -> float:
        """As in Memory."""
        traces = self._traces(number, now_s)
        if not traces:
            return math.inf
        return self._floor_s + chance.weibullvariate(self._scale_s, self._shape) * traces ** (
            -1 / self._shape
        )

    def practised(self, number: int, now_s: float, chance: random.Random, *, brought: bool) -> None:
        """As in Memory; whether memory had it or not makes no difference to a trace."""
        rested = 1 - math.exp((self._last_s[number] - now_s) / (3 * MINUTE_S))
        self._last_s[number] = now_s
        if chance.random() >= self._laid / self._hard[number] * (0.2 + 0.8 * rested):
            return
        lasts_s = self._weeks_s if chance.random() < self._kept else 6 * HOUR_S
        heapq.heappush(self._ends_s[number], now_s + chance.expovariate(1 / lasts_s))


MODELS: dict[str, Callable[[random.Random], Memory]] = {
    "half-lives": HalfLives,
    "pools": Pools,
    "instances": Instances,
}


def new_learner(model: str, seed: int) -> Learner:
    """Return a learner who knows the open position, as drawn by this seed. model: a key of MODELS."""
    chance = random.Random(f"{model} {seed}")
    memory = MODELS[model](chance)
    learner = Learner(memory, drawn_traits(chance), seed=chance.getrandbits(32))
    learner.recall_before(OPEN_POSITION, PRACTISED_DAYS, A_DAY)
    return learner
