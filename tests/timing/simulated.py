"""Simulated players of known latency, reaction, travel and recall, calibrated and asked as people are.

Latency: one period of the note at least, two as a rule, up to four (Derrien, DAFx-14; Fonseca & Tavares 2020;
Dieleman 2009). Plucks: 48 of E2 and 48 of B5, the ends of a neck of 19 frets. Reactions: a normal part and an
exponential tail, the usual description (from memory). Everything else is [ours].
"""

import datetime as dt
import math
import random
import statistics
from dataclasses import dataclass

from scipy import stats

from midifret.terms.calibration import Calibration, Latency, Missing, Recall, Travel, period_s
from midifret.timing import Pluck, Reacted, fit_latency, fit_reaction, recall, recall_figure, travel_to

OPEN = (64, 59, 55, 50, 45, 40)  # standard tuning (music21, mingus)
NOW = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
LOWEST, HIGHEST = 40, 83


@dataclass(frozen=True, slots=True)
class Traits:
    """What a kind of player and guitar has, in seconds.

    spread_s: of plucks on the click. steady_s, tail_s: spread of the normal part of reactions, mean of their
    exponential tail. recall_steady_s, recall_tail_s: likewise of single recall times. lapses: share of all
    plucks that come 0.3 to 0.7 s late. plucks, reactions, shown, answers: how many are played.
    travels: whether the hands need anything to a place at all.
    """

    spread_s: float = 0.012
    steady_s: float = 0.015
    tail_s: float = 0.026  # with the steady part a spread of 30 ms
    recall_steady_s: float = 0.0
    recall_tail_s: float = 0.0
    lapses: float = 0.0
    plucks: int = 96
    reactions: int = 24
    shown: int = 12
    answers: int = 12
    travels: bool = True


@dataclass(frozen=True, slots=True)
class Asked:
    """What came of one place: its recall times with travel in them and, where travel was shown, without.

    with_travel_s, without_s: what they truly are: the mean of the middle three fifths of all recall times
    that the player could have there (`scipy.stats.trim_mean`), which is the mean where there is no tail.
    """

    midi: int
    with_travel: tuple[Recall, ...]
    without: tuple[Recall, ...]
    with_travel_s: float
    without_s: float


class Player:
    """One player with a guitar, who first is calibrated."""

    def __init__(self, seed: int, traits: Traits) -> None:
        self.lots = random.Random(seed)
        self.traits = traits
        self.a_s = self.lots.uniform(0.0, 0.06)  # system, screen and converter, whatever the note
        self.b = self.lots.uniform(1.0, 4.0)
        self.early_s = self.lots.gauss(-0.02, 0.03)  # on the click, at other times nobody is early
        self.reaction_s = self.lots.uniform(0.15, 0.25)

    def told_s(self, midi: int) -> float:
        return self.a_s + self.b * period_s(midi)

    def react_s(self) -> float:
        lots, traits = self.lots, self.traits
        late_s = lots.uniform(0.3, 0.7) if lots.random() < traits.lapses else 0.0
        tail_s = lots.expovariate(1 / traits.tail_s) if traits.tail_s else 0.0
        return lots.gauss(self.reaction_s, traits.steady_s) + tail_s + late_s

    def reacted(self, number: int) -> Reacted:
        midi = OPEN[number % 6]
        return Reacted(midi, self.react_s() + self.told_s(midi))

    def recall_s(self, middle_s: float) -> float:
        traits = self.traits
        tail_s = self.lots.expovariate(1 / traits.recall_tail_s) if traits.recall_tail_s else 0.0
        return self.lots.gauss(middle_s, traits.recall_steady_s) + tail_s

    def calibrated(self) -> Calibration:
        lots, traits = self.lots, self.traits
        ends = [LOWEST, HIGHEST] * (traits.plucks // 2)
        lots.shuffle(ends)
        plucks = []
        for midi in ends:
            late_s = lots.uniform(0.3, 0.7) if lots.random() < traits.lapses else 0.0
            offset_s = self.early_s + lots.gauss(0, traits.spread_s) + self.told_s(midi) + late_s
            plucks.append(Pluck(midi, offset_s))
        latency = fit_latency(plucks)
        assert isinstance(latency, Latency), latency
        reactions = [self.reacted(i) for i in range(traits.reactions)]
        reaction = fit_reaction(reactions, latency)
        while isinstance(reaction, Missing):
            reactions += [self.reacted(len(reactions) + i) for i in range(reaction.more)]
            reaction = fit_reaction(reactions, latency)
        return Calibration("mine", "port", NOW, latency, reaction)

    def asked(self, midi: int, calibration: Calibration) -> Asked:
        """A place of this pitch, recalled in 0.3 to 3 s, with 0.1 to 0.5 s of travel."""
        lots, traits = self.lots, self.traits
        travel_s = lots.uniform(0.1, 0.5) if traits.travels else 0.0
        middle_s = lots.uniform(0.3, 3.0)
        shown = [
            recall(self.react_s() + travel_s + self.told_s(midi), midi, calibration)
            for _ in range(traits.shown)
        ]
        travel = travel_to(shown, midi) if shown else None
        responses_s = [
            self.react_s() + travel_s + self.recall_s(middle_s) + self.told_s(midi)
            for _ in range(traits.answers)
        ]
        truth_s = middle_s + trimmed_tail_s(traits)
        return Asked(
            midi,
            tuple(recall(response_s, midi, calibration) for response_s in responses_s),
            tuple(recall(response_s, midi, calibration, travel=travel) for response_s in responses_s)
            if isinstance(travel, Travel)
            else (),
            truth_s + travel_s,
            truth_s,
        )


_TAILS: dict[tuple[float, float], float] = {}


def trimmed_tail_s(traits: Traits) -> float:
    """The middle of what single recall times are over the steady part's middle."""
    key = (traits.recall_steady_s, traits.recall_tail_s)
    if not traits.recall_tail_s:
        return 0.0
    if key not in _TAILS:
        lots = random.Random(1)
        values = [lots.gauss(0, key[0]) + lots.expovariate(1 / key[1]) for _ in range(200_000)]
        _TAILS[key] = float(stats.trim_mean(values, 0.2))
    return _TAILS[key]


@dataclass(frozen=True, slots=True)
class Measured:
    """How far off a kind of figure is, in seconds, and which share of its intervals holds the truth."""

    median_s: float
    off_95_s: float
    bias_s: float
    covered: float
    reach_s: float
    count: int

    def __str__(self) -> str:
        return (
            f"off {self.median_s * 1000:5.1f} ms median {self.off_95_s * 1000:6.1f} ms 95th"
            f"  bias {self.bias_s * 1000:+5.1f} ms  covered {self.covered:6.1%} by "
            f"+-{self.reach_s * 1000:5.1f} ms  {self.count} places"
        )


def measure(traits: Traits, players: int, places: int, seed: int) -> tuple[Measured, Measured | None]:
    """Recall times with travel in them, and without where it was shown."""
    outcomes: tuple[list[tuple[float, float, bool]], ...] = ([], [])
    for number in range(players):
        player = Player(seed * 1_000_003 + number, traits)
        calibration = player.calibrated()
        midis = random.Random(number).choices(range(LOWEST, HIGHEST + 1), k=places)
        for midi in midis:
            asked = player.asked(midi, calibration)
            _note(outcomes[0], asked.with_travel, asked.with_travel_s)
            if asked.without:
                _note(outcomes[1], asked.without, asked.without_s)
    with_travel, without = (_summed(each) if each else None for each in outcomes)
    assert with_travel is not None
    return with_travel, without


def _note(outcomes: list[tuple[float, float, bool]], recalls: tuple[Recall, ...], truth_s: float) -> None:
    figure = recall_figure(recalls)
    assert figure is not None
    ends = figure.interval
    outcomes.append((figure.time_s - truth_s, (ends.high - ends.low) / 2, ends.low <= truth_s <= ends.high))


def _summed(outcomes: list[tuple[float, float, bool]]) -> Measured:
    off_s = sorted(abs(error_s) for error_s, _, _ in outcomes)
    return Measured(
        statistics.median(off_s),
        off_s[math.ceil(0.95 * len(off_s)) - 1],
        statistics.fmean(error_s for error_s, _, _ in outcomes),
        sum(inside for _, _, inside in outcomes) / len(outcomes),
        statistics.median(reach_s for _, reach_s, _ in outcomes),
        len(outcomes),
    )
