"""Finding the owned tempo: how near, how sure and in how many notes, on simulated players of known tempo.

Two methods: the Bayesian staircase that the program has, and weighted up-down steps (Kaernbach 1991 [mem]:
log tempo up by s after a right note, down by 9 s after a wrong one, as 0.9 / 0.1 asks). A pass is played at one
tempo, so the steps of its notes are added up after it.
Run: python tests/bench/bench_tempo.py [--players 1000] [--seed 1]
"""

import argparse
import math
import random
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

from midifret.tempo.owned import Curve, PassResult, Search, Staircase

PASS_NOTES, MOST_NOTES = 8, 120
ERROR_GOAL, COVER_GOAL = 0.05, (0.90, 0.99)
HALF_AT = 1.25  # the stated slope: half of the notes right at 1.25 times the owned tempo [ours]


@dataclass(frozen=True, slots=True)
class Simulated:
    """A player of known owned tempo. correlation: within a pass (beta-binomial). gain: rise of the owned
    tempo over the search, as a share. runs: chance that a wrong note makes the next one wrong too."""

    owned_bpm: float
    half_at: float = HALF_AT
    lapse: float = 0.02
    correlation: float = 0.0
    gain: float = 0.0
    runs: float = 0.0

    def play(self, tempo_bpm: float, notes: int, draw: random.Random, *, after: int = 0) -> PassResult:
        curve = Curve(lapse=self.lapse)
        owned_bpm = self.owned_bpm * (1 + self.gain * after / MOST_NOTES)
        share = curve.share(tempo_bpm, owned_bpm, self.half_at)
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


def staircase(
    player: Simulated, start_bpm: float, draw: random.Random, search: Search, curve: Curve | None = None
) -> Found:
    search_ = Staircase(start_bpm, curve or Curve(), search)
    while not search_.done(PASS_NOTES):
        search_.take(player.play(search_.next_bpm(), PASS_NOTES, draw, after=search_.owned().notes))
    owned = search_.owned()
    return Found(owned.tempo_bpm, owned.low_bpm, owned.high_bpm, owned.notes)


def up_down(player: Simulated, start_bpm: float, draw: random.Random, step: float = 0.02) -> Found:
    """Estimate: mean of the log tempos after the first turn down (or of the last half); 95% interval from t
    of the means between turns, as far as there are three."""
    tempo, tempos, turns, before = math.log(start_bpm), [], [], 0
    for number in range(MOST_NOTES // PASS_NOTES):
        tempos.append(tempo)
        result = player.play(min(max(math.exp(tempo), 10), 400), PASS_NOTES, draw, after=number * PASS_NOTES)
        move = step * (result.right - 9 * (PASS_NOTES - result.right))
        sign = 1 if move > 0 else -1
        if before and sign != before:
            turns.append((number, tempo))
        before, tempo = sign, min(max(tempo + move, math.log(10)), math.log(400))
    kept = tempos[turns[0][0] :] if turns else tempos[len(tempos) // 2 :]
    middle = statistics.fmean(kept)
    halves = [(a[1] + b[1]) / 2 for a, b in zip(turns, turns[1:], strict=False)]
    if len(halves) < 3:
        return Found(math.exp(middle), 10, 400, MOST_NOTES)
    t = {2: 4.303, 3: 3.182, 4: 2.776, 5: 2.571, 6: 2.447, 7: 2.365, 8: 2.306}.get(len(halves) - 1, 2.2)
    half = t * statistics.stdev(halves) / math.sqrt(len(halves))
    return Found(math.exp(middle), math.exp(middle - half), math.exp(middle + half), MOST_NOTES)


Method = Callable[[Simulated, float, random.Random], Found]


@dataclass(frozen=True, slots=True)
class Summary:
    median_error: float
    error_95: float
    bias: float
    covered: float
    half_width: float
    notes: float
    most_notes: int


def measure(method: Method, players: int, seed: int, **traits: float) -> Summary:
    """Players own 40 to 240 bpm (evenly in the logarithm) and start within a factor of 1.65, two of three."""
    draw = random.Random(seed)
    errors, widths, notes, covered = [], [], [], 0
    for _ in range(players):
        owned_bpm = math.exp(draw.uniform(math.log(40), math.log(240)))
        start_bpm = min(max(owned_bpm * math.exp(draw.gauss(0, 0.5)), 10), 400)
        player = Simulated(owned_bpm, **traits)
        found = method(player, start_bpm, draw)
        truth_bpm = owned_bpm * (1 + player.gain * found.notes / MOST_NOTES / 2)  # what it was on average
        errors.append(math.log(found.tempo_bpm / truth_bpm))
        covered += found.low_bpm <= truth_bpm <= found.high_bpm
        widths.append(math.sqrt(found.high_bpm / found.low_bpm) - 1)
        notes.append(found.notes)
    off = sorted(abs(math.expm1(error)) for error in errors)
    return Summary(
        statistics.median(off),
        off[math.ceil(0.95 * len(off)) - 1],
        math.expm1(statistics.fmean(errors)),
        covered / players,
        statistics.median(widths),
        statistics.median(notes),
        max(notes),
    )


def line(title: str, found: Summary) -> str:
    return (
        f"  {title:<44} off {found.median_error:5.1%} median {found.error_95:6.1%} 95th, bias {found.bias:+6.1%}, "
        f"interval covers {found.covered:6.1%}, +-{found.half_width:5.1%}; "
        f"{found.notes:.0f} notes median, {found.most_notes} most"
    )


def bound(half_at: float, notes: int, at_share: float) -> float:
    """Least standard error of log tempo: every note at at_share, slope known, notes independent (Cramer-Rao)."""
    curve = Curve()
    inner = (at_share - curve.guess) / (1 - curve.guess - curve.lapse)
    rise = (1 - curve.guess - curve.lapse) * inner * (1 - inner) * curve.slope(half_at)
    return math.sqrt(at_share * (1 - at_share) / notes) / rise


SCENES: dict[str, dict[str, float]] = {
    "stated slope, independent notes": {},
    "steeper: half right at 1.12": {"half_at": 1.12},
    "flatter: half right at 1.5": {"half_at": 1.5},
    "notes of a pass correlate by 0.05": {"correlation": 0.05},
    "notes of a pass correlate by 0.1": {"correlation": 0.1},
    "a wrong note brings the next, 0.3": {"runs": 0.3},
    "lapses 0": {"lapse": 0.0},
    "lapses 0.05": {"lapse": 0.05},
    "gains 5% while searching": {"gain": 0.05},
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--players", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--aims", action="store_true", help="also compare where passes are played")
    chosen = parser.parse_args()
    print(
        f"{chosen.players} players each, passes of {PASS_NOTES} notes, at most {MOST_NOTES}; goal: off by "
        f"{ERROR_GOAL:.0%} median, covered {COVER_GOAL[0]:.0%} to {COVER_GOAL[1]:.0%}"
    )
    for share in (0.9, 0.85, 0.5):
        print(f"  bound at {share:.0%} right: standard error {bound(HALF_AT, MOST_NOTES, share):.1%}")
    plain, no_stop = Search(), Search(near_enough=1e-6)
    start_s = time.process_time()
    for title, traits in SCENES.items():
        print(title)
        print(
            line(
                "staircase",
                measure(lambda p, s, d: staircase(p, s, d, plain), chosen.players, chosen.seed, **traits),
            )
        )
        print(
            line(
                "staircase, no early end",
                measure(lambda p, s, d: staircase(p, s, d, no_stop), chosen.players, chosen.seed, **traits),
            )
        )
        for step in (0.005, 0.01, 0.02):
            print(
                line(
                    f"up-down, {step:.1%} a right note",
                    measure(
                        lambda p, s, d, step=step: up_down(p, s, d, step),
                        chosen.players,
                        chosen.seed,
                        **traits,
                    ),
                )
            )
    if chosen.aims:
        for aim in (0.95, 0.9, 0.85, 0.8, 0.75, 0.7):
            search = Search(aim_share=aim, near_enough=1e-6)
            for title in list(SCENES)[:3]:
                print(
                    line(
                        f"aim {aim:.0%}, {title}"[:44],
                        measure(
                            lambda p, s, d, search=search: staircase(p, s, d, search),
                            chosen.players,
                            chosen.seed,
                            **SCENES[title],
                        ),
                    )
                )
    print(f"{time.process_time() - start_s:.0f} s of processor time")


if __name__ == "__main__":
    main()
