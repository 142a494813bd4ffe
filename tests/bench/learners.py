"""Simulated learners of the neck: what they truly know of each place, and what they answer.

A learner answers by a race (Logan 1988, from memory): memory may bring the place, and beside it the learner
works it out from a place that is known; what comes first is played. What memory is made of is another file
(`learners_memory.py`), three models of it. Nothing here is a result about people: every number without a
source is [ours], chosen so that the taught round ends where teachers say it does (some minutes a day for each
row, one to two months until automatic; common practice, no source).
"""

import math
import random
from dataclasses import dataclass
from typing import Protocol

from midifret.terms import Place, Verdict

STRINGS, FRETS = 6, 13
PLACES = tuple(Place(string, fret) for string in range(1, STRINGS + 1) for fret in range(FRETS))
# Natural notes of the open position, from string 1: E F G, B C D, G A, D E F, A B C, E F G.
OPEN_POSITION = tuple(
    Place(string, fret)
    for string, frets in enumerate(((0, 1, 3), (0, 1, 3), (0, 2), (0, 2, 3), (0, 2, 3), (0, 1, 3)), start=1)
    for fret in frets
)
DAY_S = 86_400.0

RIGHT_SHARE, WITHIN_S = 0.95, 1.0  # of a place that is truly known: issue and design
ENOUGH = math.ceil(0.95 * len(PLACES))  # places: 75 of 78

LIMIT_S = 8.0  # [ours]: who has not found a place by then lets it go
USABLE_S = 1.5  # [ours]: a place that memory brings by then in half of all cases can be stepped from
_NEAR = 3  # frets: farther off nobody steps, but from the open string or fret 12


def index(place: Place) -> int:
    """Return where a place stands in PLACES."""
    return (place.string - 1) * FRETS + place.fret


class Memory(Protocol):
    """What a learner remembers of the 78 places. Places are numbers, as `index` gives them."""

    def brought_by(self, number: int, within_s: float, now_s: float) -> float:
        """Return the chance that memory brings the place within so long, 0 to 1; without noise."""

    def draw(self, number: int, now_s: float, chance: random.Random) -> float:
        """Draw after how many seconds memory brings the place; infinite: not at all."""

    def practised(self, number: int, now_s: float, chance: random.Random, *, brought: bool) -> None:
        """Take an answer into memory. brought: memory had it, be it first or not; else worked out or told."""


@dataclass(frozen=True, slots=True)
class Traits:
    """What a learner is like beside memory. All [ours].

    anchor_s, step_s: to work a place out, the place known and each step from it. step_slip: chance that a
    step goes wrong. slip: chance that a place that memory brought is missed by the hand. lapse: chance that
    the mind is elsewhere for lapse_s (least, most). warm_up: by which share recall is slower as a session
    begins; it is gone after some minutes (time constant warm_up_s). hands_s: from the cue to the pluck,
    less recall. A place worked out by one step takes about 1.5 s, by three 3 s: beyond 2 to 3 s it is worked
    out, about 1 s is automatic (facts: review by Crawford, citing Ashcraft 1982 and Logan 1988).
    """

    anchor_s: float = 0.7
    step_s: float = 0.8
    step_slip: float = 0.05
    slip: float = 0.02
    lapse: float = 0.03
    lapse_s: tuple[float, float] = (0.4, 1.6)
    warm_up: float = 0.25
    warm_up_s: float = 60.0
    hands_s: float = 0.45


def drawn_traits(chance: random.Random) -> Traits:
    """Draw one learner's traits; who works places out quickly is also a little surer of it."""
    quickness = chance.gauss(0.0, 1.0)
    return Traits(
        anchor_s=0.7 * math.exp(-0.1 * quickness),
        step_s=0.8 * math.exp(-0.15 * quickness + 0.1 * chance.gauss(0.0, 1.0)),
        step_slip=0.05 * math.exp(-0.2 * quickness + 0.3 * chance.gauss(0.0, 1.0)),
        slip=0.02 * math.exp(0.4 * chance.gauss(0.0, 1.0)),
        lapse=chance.uniform(0.01, 0.05),
        warm_up=chance.uniform(0.1, 0.4),
    )


@dataclass(frozen=True, slots=True)
class Attempt:
    """One answer: its verdict, and how long the recall took in seconds (LIMIT_S of one that was let go)."""

    verdict: Verdict
    recall_s: float

    @property
    def right(self) -> bool:
        """Whether the place was right at the first try."""
        return self.verdict is Verdict.RIGHT


class Learner:
    """One learner. Times are seconds on one clock, day n from n * DAY_S on; negative before the first."""

    def __init__(self, memory: Memory, traits: Traits, seed: int) -> None:
        """Make a learner who knows nothing but how to count up from the names of the open strings."""
        self.memory = memory
        self.traits = traits
        self._chance = random.Random(seed)
        self._usable = [False] * len(PLACES)
        self._began_s = 0.0

    def begin(self, now_s: float) -> None:
        """Begin a session: the hand is cold, and what was forgotten overnight is no longer stepped from."""
        self._began_s = now_s
        for number in range(len(PLACES)):
            self._look(number, now_s)

    def answer(self, place: Place, now_s: float) -> Attempt:
        """Answer a prompt that is shown at this time, and learn from it.

        A wrong answer is put right at once, so that the place is told and kept as if it had been read.
        """
        number, traits, chance = index(place), self.traits, self._chance
        memory_s = self.memory.draw(number, now_s, chance)
        worked_s, sure = self._worked_out(number)
        worked_s *= chance.lognormvariate(0.0, 0.2)
        by_memory = memory_s <= worked_s
        recall_s = memory_s if by_memory else worked_s
        recall_s *= 1 + traits.warm_up * math.exp((self._began_s - now_s) / traits.warm_up_s)
        if chance.random() < traits.lapse:
            recall_s += chance.uniform(*traits.lapse_s)
        verdict = Verdict.RIGHT
        if recall_s >= LIMIT_S:
            verdict, recall_s = Verdict.MISSED, LIMIT_S
        elif by_memory:
            if chance.random() < traits.slip:
                verdict = Verdict.STRING_OFF if chance.random() < 0.6 else Verdict.FRET_OFF
        elif chance.random() > sure:
            verdict = Verdict.FRET_OFF if chance.random() < 0.8 else Verdict.WRONG
        self.memory.practised(number, now_s, chance, brought=memory_s < LIMIT_S)
        self._look(number, now_s)
        return Attempt(verdict, recall_s)

    def recall_before(self, places: tuple[Place, ...], days: int, a_day: int) -> None:
        """Let the learner have gone through places on so many days before the first, at noon.

        a_day: rounds on each of the days, the places 3 s after one another.
        """
        for day in range(-days, 0):
            for offset, place in enumerate(places * a_day):
                now_s = (day + 0.5) * DAY_S + 3.0 * offset
                number = index(place)
                brought = self.memory.draw(number, now_s, self._chance) < LIMIT_S
                self.memory.practised(number, now_s, self._chance, brought=brought)

    def chance_right(self, place: Place, now_s: float) -> float:
        """Return the chance of being right, slips and lapses left out. Begin or answer first."""
        worked_s, sure = self._worked_out(index(place))
        brought = self.memory.brought_by(index(place), worked_s, now_s)
        return brought + (1 - brought) * sure

    def knows(self, place: Place, now_s: float) -> bool:
        """Whether the place is truly known: right with RIGHT_SHARE, the median recall within WITHIN_S.

        Noise, slips, lapses and warm-up are left out. Where working out takes longer than WITHIN_S, the
        median is within it just if memory brings the place by then in at least half of all cases.
        """
        worked_s, _ = self._worked_out(index(place))
        quick = worked_s <= WITHIN_S or self.memory.brought_by(index(place), WITHIN_S, now_s) >= 0.5
        return quick and self.chance_right(place, now_s) >= RIGHT_SHARE

    def known(self, now_s: float) -> int:
        """Return how many of the places are truly known."""
        return sum(self.knows(place, now_s) for place in PLACES)

    def _look(self, number: int, now_s: float) -> None:
        self._usable[number] = self.memory.brought_by(number, USABLE_S, now_s) >= 0.5

    def _worked_out(self, number: int) -> tuple[float, float]:
        """Seconds to work a place out, and the chance that it is then right: by the way of fewest steps."""
        steps, traits = self._steps(number), self.traits
        return traits.anchor_s + steps * traits.step_s, (1 - traits.step_slip) ** steps

    def _steps(self, number: int) -> int:
        """How many steps lead from a place that is known: along the string, or by an octave."""
        fret = number % FRETS
        fewest = max(fret, 1)  # counted up from the open string, whose name everybody knows
        # Fret 12 has the name of the open string, which is one step to think; from there downwards.
        fewest = min(fewest, 13 - fret)
        usable = self._usable
        for away in range(1, min(_NEAR, fewest - 1) + 1):
            if (fret >= away and usable[number - away]) or (fret + away < FRETS and usable[number + away]):
                fewest = away
                break
        if fewest > 2:
            # The octave below: two strings lower, 2 frets back, or 3 from strings 1 and 2 (standard tuning).
            back = 3 if number < 2 * FRETS else 2
            if number < 4 * FRETS and fret >= back and usable[number + 2 * FRETS - back]:
                fewest = 2
        return fewest
