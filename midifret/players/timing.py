"""The known parts of a simulated player's times, which what is measured can be held to."""

import math
import random
from dataclasses import dataclass

from midifret.tempo import Curve
from midifret.terms import Place


@dataclass(frozen=True, slots=True)
class Parts:
    """The truth about one pluck after a cue, in seconds. anticipated: it was not waited for the cue."""

    reaction_s: float
    recall_s: float = 0.0
    travel_s: float = 0.0
    lapse_s: float = 0.0
    anticipated: bool = False

    @property
    def after_cue_s(self) -> float:
        """From the cue to the pluck."""
        return self.reaction_s + self.recall_s + self.travel_s + self.lapse_s


@dataclass(frozen=True, slots=True)
class Timing:
    """How long a player needs from a cue to a pluck. Every number without a source is [ours].

    reaction_s, reaction_spread_s, reaction_tail_s: to what is seen: normal, and an exponential tail of this
    mean on top (Luce 1986, from memory). Together 230 ms, as simple reactions take (231 ms, Woods et al.
    2015), and never under 100 ms.
    recall_s: median where a place is not in `recalls`; of a fact known by heart 0.4 to 0.9 s (review by
    Crawford). recall_spread: standard deviation of its logarithm. Nothing is recalled where a cue shows the
    place itself.
    travel_s, travel_a_fret_s, travel_spread_s: of the left hand to a stopped place, and for each fret between
    it and the last; normal, never under 0. An open string needs none and leaves the hand where it is.
    lapses: share of answers that come later by lapse_s (least, most). anticipations: share of prompts with a
    fore-period that are plucked without waiting for the cue, within anticipated_s after it.
    """

    reaction_s: float = 0.19
    reaction_spread_s: float = 0.02
    reaction_tail_s: float = 0.04
    recall_s: float = 0.9
    recall_spread: float = 0.15
    recalls: tuple[tuple[Place, float], ...] = ()
    travel_s: float = 0.1
    travel_a_fret_s: float = 0.015
    travel_spread_s: float = 0.03
    lapses: float = 0.0
    lapse_s: tuple[float, float] = (0.3, 0.8)
    anticipations: float = 0.0
    anticipated_s: float = 0.08

    def __post_init__(self) -> None:
        """Check the ranges. Raises ValueError."""
        times_s = (
            self.reaction_spread_s,
            self.reaction_tail_s,
            self.travel_s,
            self.travel_a_fret_s,
            self.travel_spread_s,
            self.anticipated_s,
            self.recall_spread,
        )
        if not (self.reaction_s > 0 and all(time_s >= 0 for time_s in times_s)):
            raise ValueError("a reaction takes more than 0 s, nothing else less than 0 s")
        if not all(time_s > 0 for time_s in (self.recall_s, *(time_s for _, time_s in self.recalls))):
            raise ValueError("the median recall time of a place is more than 0 s")
        _check_shares(self.lapses, self.anticipations, self.lapse_s)

    def reaction(self, draw: random.Random) -> float:
        """Draw how long it takes to react to what is seen, in seconds."""
        tail_s = draw.expovariate(1 / self.reaction_tail_s) if self.reaction_tail_s else 0.0
        return max(SOONEST_S, draw.gauss(self.reaction_s, self.reaction_spread_s) + tail_s)

    def recall(self, median_s: float, draw: random.Random) -> float:
        """Draw how long it takes to recall a place whose median is known, in seconds."""
        return median_s * draw.lognormvariate(0.0, self.recall_spread)

    def travel(self, place: Place, hand: Place | None, draw: random.Random) -> float:
        """Draw how long the left hand needs from a place to another, in seconds; None: it is there."""
        if place.fret == 0:
            return 0.0
        frets = 0 if hand is None else abs(place.fret - hand.fret)
        mean_s = self.travel_s + self.travel_a_fret_s * frets
        return max(0.0, draw.gauss(mean_s, self.travel_spread_s))

    def lapse(self, draw: random.Random) -> float:
        """Draw by how much an answer is later because the player was elsewhere, in seconds; mostly 0."""
        return draw.uniform(*self.lapse_s) if draw.random() < self.lapses else 0.0


# No true reaction is faster (Luce 1986, Whelan 2008, and the rule for sprinters' starts: all from memory).
SOONEST_S = 0.1


@dataclass(frozen=True, slots=True)
class OnClick:
    """How a player plays to a click. Every number without a source is [ours].

    early_s: how far before the click notes are plucked, negative for after it; people come early by some tens
    of milliseconds (Repp 2005). spread_s: standard deviation of single notes around it. drift_s_a_minute: by
    how much they come later with each minute. follows: correlation of a note's deviation with that of the
    note before, -1 to 1. lapses, anticipations: share of notes that come later or earlier by off_s.
    owned_bpm: the tempo, one note a beat, at which nine of ten notes are right if accuracy is 1. half_at: at
    which multiple of it half of them are. lapse: share of notes wrong however slow. The curve is that of
    `tempo.Curve`.
    """

    early_s: float = 0.03
    spread_s: float = 0.012
    drift_s_a_minute: float = 0.0
    follows: float = 0.0
    lapses: float = 0.0
    anticipations: float = 0.0
    off_s: tuple[float, float] = (0.08, 0.25)
    owned_bpm: float = 100.0
    half_at: float = 1.25
    lapse: float = 0.02

    def __post_init__(self) -> None:
        """Check the ranges. Raises ValueError."""
        if not (self.spread_s >= 0 and -1 <= self.follows <= 1):
            raise ValueError("a spread is not less than 0 s, a correlation goes from -1 to 1")
        if not (self.owned_bpm > 0 and self.half_at > 1):
            raise ValueError(
                "an owned tempo is above 0, and half the notes are right at more than 1 times it"
            )
        _check_shares(self.lapses, self.anticipations, self.off_s)
        Curve(lapse=self.lapse)  # a share of lapses out of range is told

    def right_share(self, tempo_bpm: float) -> float:
        """Return the share of notes that are right at a tempo of one note a beat, 0 to 1."""
        return Curve(lapse=self.lapse).share(tempo_bpm, self.owned_bpm, self.half_at)

    def deviation(self, before: float | None, draw: random.Random) -> float:
        """Draw how a note deviates from the player's middle, in seconds. before: the last one, or None."""
        fresh = draw.gauss(0.0, self.spread_s)
        if before is None:
            return fresh
        return self.follows * before + math.sqrt(1 - self.follows**2) * fresh

    def off(self, draw: random.Random) -> float:
        """Draw by how much a lapse or an anticipation moves a note, in seconds; mostly 0."""
        drawn = draw.random()
        if drawn < self.lapses:
            return draw.uniform(*self.off_s)
        return -draw.uniform(*self.off_s) if drawn < self.lapses + self.anticipations else 0.0


def _check_shares(lapses: float, anticipations: float, within_s: tuple[float, float]) -> None:
    if not (lapses >= 0 and anticipations >= 0 and lapses + anticipations <= 1):
        raise ValueError("lapses and anticipations are shares of 1, not less than 0 and together not more")
    if not 0 <= within_s[0] <= within_s[1]:
        raise ValueError(f"a lapse takes from so long to so long, not {within_s}")
