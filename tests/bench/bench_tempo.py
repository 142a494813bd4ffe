"""Finding the owned tempo: how near, how sure and in how many notes, on simulated players of known tempo.

Two methods: the Bayesian staircase that the program has, and weighted up-down steps (Kaernbach 1991 [mem]:
the logarithm of the tempo up by s after a right note, down by 9 s after a wrong one, as 0.9 / 0.1 asks). A
pass is played at one tempo, so the steps of its notes are added up after it. Also players who are under 90%
right at any tempo: how many of them are told so.
Run: python tests/bench/bench_tempo.py [--players 1000] [--seed 1] [--aims]
"""

import argparse
import itertools
import math
import random
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

from midifret.tempo import LEAST_BPM, MOST_BPM, Curve, Doubt, PassResult, Search, Staircase

PASS_NOTES, MOST_NOTES = 8, 120
ERROR_GOAL, COVER_GOAL = 0.05, (0.90, 0.99)
HALF_AT = 1.25  # the stated slope: half of the notes right at 1.25 times the owned tempo [ours]
STEPS = (0.005, 0.01, 0.02)
# Upper 2.5% of Student's t for 2 to 8 degrees of freedom (any table).
T_975 = {2: 4.303, 3: 3.182, 4: 2.776, 5: 2.571, 6: 2.447, 7: 2.365, 8: 2.306}
FLAT_SHARES = (0.6, 0.7, 0.75, 0.8, 0.85)


@dataclass(frozen=True, slots=True)
class Simulated:
    """A player of known owned tempo.

    correlation: of notes within a pass (beta-binomial). runs: correlation of a note with the one before.
    gain: by which share the owned tempo rises over MOST_NOTES.
    """

    owned_bpm: float
    half_at: float = HALF_AT
    lapse: float = 0.02
    correlation: float = 0.0
    gain: float = 0.0
    runs: float = 0.0

    def play(self, tempo_bpm: float, notes: int, draw: random.Random, *, after: int = 0) -> PassResult:
        owned_bpm = self.owned_bpm * (1 + self.gain * after / MOST_NOTES)
        share = Curve(lapse=self.lapse).share(tempo_bpm, owned_bpm, self.half_at)
        if self.correlation:
            size = 1 / self.correlation - 1
            share = draw.betavariate(max(share * size, 1e-9), max((1 - share) * size, 1e-9))
        right, wrong_before = 0, False
        for number in range(notes):
            wrong = 1 - share
            if number:  # errors in runs, with the same share of them in the long run
                wrong = self.runs + (1 - self.runs) * wrong if wrong_before else (1 - self.runs) * wrong
            wrong_before = draw.random() < wrong
            right += not wrong_before
        return PassResult(tempo_bpm, notes, right)


@dataclass(frozen=True, slots=True)
class Found:
    tempo_bpm: float
    low_bpm: float
    high_bpm: float
    notes: int
    doubt: Doubt | None = None


def staircase(player: Simulated, start_bpm: float, draw: random.Random, search: Search) -> Found:
    stairs, played = Staircase(start_bpm, search=search), 0
    while not stairs.done(PASS_NOTES):
        stairs.take(player.play(stairs.next_bpm(), PASS_NOTES, draw, after=played))
        played += PASS_NOTES
    owned = stairs.owned()
    return Found(owned.tempo_bpm, owned.low_bpm, owned.high_bpm, owned.notes, owned.doubt)


def up_down(player: Simulated, start_bpm: float, draw: random.Random, step: float, least: float) -> Found:
    """step: at first; halved at each turn, down to least.

    The tempo: mean of the logarithms after the first turn, or of the last half. The interval: by t from the
    middles between turns; where there are under three of them, all tempos.
    """
    tempo, before = math.log(start_bpm), 0
    tempos: list[float] = []
    turns: list[int] = []
    for number in range(MOST_NOTES // PASS_NOTES):
        tempos.append(tempo)
        result = player.play(math.exp(tempo), PASS_NOTES, draw, after=number * PASS_NOTES)
        move = step * (result.right - 9 * (PASS_NOTES - result.right))
        sign = 1 if move > 0 else -1
        if before and sign != before:
            turns.append(number)
            step = max(step / 2, least)
        before = sign
        tempo = min(max(tempo + move, math.log(LEAST_BPM) + 1e-9), math.log(MOST_BPM) - 1e-9)
    kept = tempos[turns[0] :] if turns else tempos[len(tempos) // 2 :]
    middle = statistics.fmean(kept)
    between = [(tempos[a] + tempos[b]) / 2 for a, b in itertools.pairwise(turns)]
    if len(between) < 3:
        return Found(math.exp(middle), LEAST_BPM, MOST_BPM, MOST_NOTES)
    half = T_975.get(len(between) - 1, 2.2) * statistics.stdev(between) / math.sqrt(len(between))
    return Found(math.exp(middle), math.exp(middle - half), math.exp(middle + half), MOST_NOTES)


Method = Callable[[Simulated, float, random.Random], Found]


def by_staircase(search: Search) -> Method:
    return lambda player, start_bpm, draw: staircase(player, start_bpm, draw, search)


def by_up_down(step: float, least: float) -> Method:
    return lambda player, start_bpm, draw: up_down(player, start_bpm, draw, step, least)


def measure(title: str, method: Method, players: int, seed: int, traits: dict[str, float]) -> str:
    """Players own 40 to 240 bpm, evenly in the logarithm; two of three start within a factor of 1.65."""
    draw = random.Random(seed)
    errors, widths, notes, covered, doubted = [], [], [], 0, 0
    for _ in range(players):
        owned_bpm = math.exp(draw.uniform(math.log(40), math.log(240)))
        start_bpm = min(max(owned_bpm * math.exp(draw.gauss(0, 0.5)), LEAST_BPM), MOST_BPM)
        player = Simulated(owned_bpm, **traits)
        found = method(player, start_bpm, draw)
        truth_bpm = owned_bpm * (1 + player.gain * found.notes / MOST_NOTES / 2)  # on average over the search
        errors.append(math.log(found.tempo_bpm / truth_bpm))
        covered += found.low_bpm <= truth_bpm <= found.high_bpm
        doubted += found.doubt is not None
        widths.append(math.sqrt(found.high_bpm / found.low_bpm) - 1)
        notes.append(found.notes)
    off = sorted(abs(math.expm1(error)) for error in errors)
    off_95 = off[math.ceil(0.95 * players) - 1]
    return (
        f"  {title:<34} off {statistics.median(off):5.1%} median {off_95:6.1%} 95th"
        f"  bias {math.expm1(statistics.fmean(errors)):+6.1%}"
        f"  covered {covered / players:6.1%} by +-{statistics.median(widths):5.1%}"
        f"  notes {statistics.median(notes):.0f} median {max(notes)} most"
        f"  doubted {doubted / players:5.1%}"
    )


def told(share: float, players: int, seed: int) -> str:
    """How many players of one share of right notes at any tempo are told that it does not hang on tempo."""
    draw, doubts = random.Random(seed), []
    for _ in range(players):
        stairs = Staircase(math.exp(draw.uniform(math.log(50), math.log(200))))
        while not stairs.done(PASS_NOTES):
            right = sum(draw.random() < share for _ in range(PASS_NOTES))
            stairs.take(PassResult(stairs.next_bpm(), PASS_NOTES, right))
        doubts.append(stairs.owned().doubt)
    return f"  {share:.0%} right at any tempo: {doubts.count(Doubt.NOT_TEMPO) / players:.0%} are told"


def bound(at_share: float) -> float:
    """Least standard error of the log tempo: all notes at one share, slope known, independent (Cramer-Rao).

    The tempo of 90% follows from the known slope, wherever the notes are played.
    """
    curve = Curve()
    inner = (at_share - curve.guess) / (1 - curve.guess - curve.lapse)
    rise = (1 - curve.guess - curve.lapse) * inner * (1 - inner) * curve.slope(HALF_AT)
    return math.sqrt(at_share * (1 - at_share) / MOST_NOTES) / rise


SCENES: dict[str, dict[str, float]] = {
    "stated slope, independent notes": {},
    "steeper: half right at 1.12": {"half_at": 1.12},
    "flatter: half right at 1.5": {"half_at": 1.5},
    "notes of a pass correlate by 0.05": {"correlation": 0.05},
    "notes of a pass correlate by 0.1": {"correlation": 0.1},
    "a note goes with the one before, 0.3": {"runs": 0.3},
    "no lapses": {"lapse": 0.0},
    "lapses 0.05": {"lapse": 0.05},
    "gains 5% while searching": {"gain": 0.05},
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--players", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--aims", action="store_true", help="also compare where passes are played")
    chosen = parser.parse_args()
    start_s = time.process_time()
    print(
        f"{chosen.players} players each, passes of {PASS_NOTES} notes, at most {MOST_NOTES}; goal: off by "
        f"{ERROR_GOAL:.0%} median, covered {COVER_GOAL[0]:.0%} to {COVER_GOAL[1]:.0%}"
    )
    for share in (0.9, 0.5):
        error = bound(share)
        print(
            f"  bound, stated slope, all notes at {share:.0%} right: standard error {error:.1%}, "
            f"median {0.6745 * error:.1%}, 95th {1.96 * error:.1%}"
        )
    for title, traits in SCENES.items():
        print(title)
        print(measure("staircase", by_staircase(Search()), chosen.players, chosen.seed, traits))
        for step in STEPS:
            method = by_up_down(step, step)
            print(measure(f"up-down, {step:.1%}", method, chosen.players, chosen.seed, traits))
        method = by_up_down(0.01, 0.0025)
        print(measure("up-down, 1.0% halved to 0.25%", method, chosen.players, chosen.seed, traits))
    if chosen.aims:
        for title in list(SCENES)[:3]:
            print(f"{title}, by where passes are played")
            for aim in (0.95, 0.9, 0.85, 0.8, 0.75, 0.7):
                method = by_staircase(Search(aim_share=aim))
                print(measure(f"staircase at {aim:.0%}", method, chosen.players, chosen.seed, SCENES[title]))
    print("players whom slower does not help")
    for share in FLAT_SHARES:
        print(told(share, max(chosen.players // 5, 1), chosen.seed))
    print(f"{time.process_time() - start_s:.0f} s of processor time")


if __name__ == "__main__":
    main()
