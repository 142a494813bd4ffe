"""Fit the weights of fingering to printed fingerings, and say how well they do on works left out.

Run: python tests/bench/fit_fingering.py [FOLDER] [--rounds 3] [--weights FILE] [--to FILE]
It begins with round numbers. Each part is cut into passages; some usual chords are one more work. For each a
pool of fingerings is kept, each with the amount of every term and the number of printed fingers it misses.
Weights are found that make the misses least when the fingerings of a pool are drawn with a chance that falls
with their cost (expected misses, softened; scipy's L-BFGS-B on the logarithms of the weights, drawn towards
those it began with; a work weighs by the root of its fingers). With the new weights the passages are fingered
again, the pools grow, and so on. Then anew from the weights it began with, in three steps, without each work,
which is fingered with what is found; and in the same three steps with all works: those are the weights to
ship. What is printed in a work left out has a part in which fingerings the pools hold, none in which of them
are wanted. Takes some minutes a round.
"""

import argparse
import sys
import time
from collections import defaultdict
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).parents[2]))  # run as a script

from midifret.fingering import Choices, Kept, Weights, neck_for
from midifret.fingering.events import timeline
from midifret.fingering.hand import Hand
from midifret.fingering.playable import left_out
from midifret.fingering.search import Search
from midifret.fingering.weights import WEIGHT_NAMES
from midifret.neck import spell
from midifret.terms.score import Printed, Score, ScoreNote
from tests.bench.bench_fingering import ROOT, weights_in
from tests.bench.printed import GUITAR, Part, Share, agreement, by_engine, interval, parts_in, total

NOT_FITTED = {"hurry", "free_hand", "region", "own_finger"}  # not linear, or not heard of in print
NAMES = [name for name in WEIGHT_NAMES if name not in NOT_FITTED]
PASSAGE_NOTES = 50
LEAST, MOST = 0.003, 20.0
SOFTNESS = (1.0, 0.5)  # in units of cost: first wide, then narrow
STEPS, SHARE = 3, 0.45
EARLY_PULL = 0.6
POWER = 0.5  # of the number of its fingers, by which a work weighs
STRING_MISS = 0.5  # of a missed finger: fewer strings are printed, and fewer still count in the goal

# What the fit begins with: an earlier fit to all works in round numbers. Little of any one work is left,
# but not nothing: what is left out is not wholly unseen [ours].
BEGUN = Weights(
    shift=0.3,
    shift_begun=0.3,
    unguided=0.3,
    press=0.7,
    jump=0.4,
    across=0.1,
    roll=0.4,
    slide=0.9,
    swap=1.0,
    reach_back=1.5,
    stretch=2.0,
    stretch_fourth=2.0,
    squeeze=0.2,
    spread=0.1,
    order=1.0,
    barre=1.0,
    barre_string=0.1,
    hinge=1.0,
    small_barre=3.0,
    first=0.01,
    second=0.1,
    third=0.15,
    fourth=0.15,
    fretted=0.4,
    open=0.1,
    height=0.1,
    body=0.5,
    thick=0.02,
    third_high=0.2,
    fourth_low=0.1,
    open_high=0.1,
    let_go=6.0,
    lift=0.4,
    slur=2.0,
    printed_position=1.5,
    printed_open=2.5,
    printed_barre=1.5,
)
# Usual fingers of open chords and two barres, strings 1 to 6: frets, fingers [common practice, no source].
CHORDS = (
    ("01023-", "01023-"),
    ("2320--", "2310--"),
    ("001220", "001320"),
    ("01220-", "01320-"),
    ("000220", "000320"),
    ("112331", "112431"),
    ("23442-", "12431-"),
)
CHORD_WORK = "usual chords"

Fitted = np.ndarray
Pools = dict[tuple[int, bool], dict[tuple[float, ...], tuple[float, int]]]


def vector(weights: Weights) -> Fitted:
    return np.log([max(getattr(weights, name), 0.01) for name in NAMES])


def weights_of(fitted: Fitted, under: Weights) -> Weights:
    return replace(under, **{n: float(np.exp(x)) for n, x in zip(NAMES, fitted, strict=True)})


def passages(parts: list[Part]) -> list[Part]:
    """The parts cut at onsets into some fifty notes each; those without prints left out."""
    found = []
    for part in parts:
        notes = part.score.notes
        begin = 0
        while begin < len(notes):
            end = min(len(notes), begin + PASSAGE_NOTES)
            while end < len(notes) and notes[end].onset_quarter == notes[end - 1].onset_quarter:
                end += 1
            if len(notes) - end < PASSAGE_NOTES // 3:
                end = len(notes)
            if any(printed.finger is not None for printed in part.prints[begin:end]):
                score = replace(part.score, notes=notes[begin:end])
                found.append(
                    Part(part.name, part.work, score, part.prints[begin:end], part.marked[begin:end])
                )
            begin = end
    return found


def usual_chords() -> list[Part]:
    """Each usual chord as a part of its own."""
    found = []
    for frets, fingers in CHORDS:
        strings = [string for string in range(6) if frets[string] != "-"]
        strings.sort(key=lambda string: -string)
        notes, prints = [], []
        for n, string in enumerate(strings, start=1):
            midi = GUITAR.tuning.open_midi[string] + int(frets[string])
            prints.append(Printed(int(fingers[string]), string + 1))
            notes.append(ScoreNote(n, Fraction(0), Fraction(2), midi, spell(midi)[0], printed=prints[-1]))
        score = Score("", "", "usual chord", tuple(notes))
        found.append(Part("chord", CHORD_WORK, score, tuple(prints), (False,) * len(notes)))
    return found


def amounts(score: Score, weights: Weights, kept: frozenset[Kept]) -> tuple[list[float], list]:
    """How much of each term the best fingering has, and string and finger of each note."""
    choices = Choices(kept=kept)
    hand = Hand(neck_for(score, GUITAR), weights, choices)
    line = timeline(score, choices.quarter_bpm)
    out, _ = left_out(hand, score.notes, line)
    search = Search(hand, score.notes, line, out)
    found = dict.fromkeys(NAMES, 0.0)
    played: list[tuple[int | None, int | None]] = [(None, None)] * len(score.notes)
    for number, state in enumerate(search.way_to(search.best())):
        for name, value in search.parts(state, number).items():
            if name in found and value:
                found[name] += value / getattr(weights, name)
        for index, put in zip(state.notes, state.form.puts, strict=True):
            played[index] = (put[0], put[2])
    for double, first in line.doubles.items():
        played[double] = played[first]
    return [found[name] for name in NAMES], played


def grow(pools: Pools, cut: list[Part], weights: Weights, *, told: bool = False) -> tuple[Share, Share]:
    """Finger every passage and keep what comes out; told: with what is printed given.

    Returns the fingers reproduced with nothing given, and under the printed positions.
    """
    shares = {False: Share(), True: Share()}
    for number, part in enumerate(cut):
        for positions in (False, True):
            if positions and not any(part.marked):
                continue
            kept = {Kept.POSITIONS} if positions else set()
            kept |= {Kept.FINGERS, Kept.STRINGS} if told else set()
            terms, played = amounts(part.score, weights, frozenset(kept))
            fingers, strings = agreement(part, played, under_marks=positions)
            shares[positions] += fingers
            misses = fingers.of - fingers.right + STRING_MISS * (strings.of - strings.right)
            pool = pools.setdefault((number, positions), {})
            pool[tuple(round(term, 6) for term in terms)] = (misses, fingers.of)
    return shares[False], shares[True]


def fit(pools: Pools, cut: list[Part], start: Fitted, *, pull: float, without: str | None = None) -> Fitted:
    """The weights that make the expected misses least, drawn towards the start."""
    counted = {key: pool for key, pool in pools.items() if next(iter(pool.values()))[1]}
    keys = [key for key in counted if cut[key[0]].work != without]
    chosen = [counted[key] for key in keys]
    fingers: dict[str, int] = defaultdict(int)
    for (number, _), pool in counted.items():
        fingers[cut[number].work] += next(iter(pool.values()))[1]
    # A work weighs by the root of its fingers, so that the longest do not rule.
    weighs = [fingers[cut[number].work] ** (POWER - 1) for number, _ in keys]
    arrays = [
        (np.array(list(pool)), np.array([miss for miss, _ in pool.values()]) * weigh)
        for pool, weigh in zip(chosen, weighs, strict=True)
    ]
    of = sum(next(iter(pool.values()))[1] * weigh for pool, weigh in zip(chosen, weighs, strict=True))
    fitted = start

    def expected(point: Fitted, soft: float) -> tuple[float, Fitted]:
        weights = np.exp(point)
        value, slope = 0.0, np.zeros_like(point)
        for terms, misses in arrays:
            exponent = -(terms @ weights) / soft
            chance = np.exp(exponent - exponent.max())
            chance /= chance.sum()
            mean = chance @ misses
            value += mean
            slope -= ((chance * (misses - mean)) @ terms) / soft * weights
        away = point - start
        return value / of + pull * float(np.mean(away**2)), slope / of + 2 * pull * away / len(point)

    for soft in SOFTNESS:
        bounds = [(np.log(LEAST), np.log(MOST))] * len(start)
        fitted = minimize(expected, fitted, args=(soft,), jac=True, method="L-BFGS-B", bounds=bounds).x
    return fitted


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path, nargs="?", default=ROOT.parent / "shared" / "fingerings")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--weights", type=Path, default=None, help="a YAML file to begin with")
    parser.add_argument("--to", type=Path, default=None, help="write the weights found there, as YAML")
    parser.add_argument("--pull", type=float, default=0.15, help="towards the weights begun with")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    begun = BEGUN if chosen.weights is None else weights_in(chosen.weights)
    parts = parts_in(chosen.folder)
    cut = passages(parts) + usual_chords()
    chance = np.random.default_rng(chosen.seed)
    pools: Pools = {}
    start = best = vector(begun)
    best_right = 0.0
    start_s = time.monotonic()
    grow(pools, cut, begun, told=True)
    for number in range(chosen.rounds + 1):
        free, marked = grow(pools, cut, weights_of(start, begun))
        right = free.right / free.of + marked.right / max(1, marked.of)
        print(f"{number}: {free}, under positions {marked} ({time.monotonic() - start_s:.0f} s)", flush=True)
        if right > best_right:
            best, best_right = start, right
        near = weights_of(best + chance.normal(0, 0.2, len(best)), begun)
        grow(pools, cut, near, told=number % 3 == 2)
        # Small pools know little: what is fitted to them stays nearer to what it began with.
        start = fit(pools, cut, vector(begun), pull=max(chosen.pull, EARLY_PULL / (number + 1)))
    leave_one_out(pools, cut, parts, begun, pull=chosen.pull)
    found = stepwise(pools, cut, begun, pull=chosen.pull)
    lines = [f"{name}: {getattr(found, name):.3f}" for name in NAMES]
    print("\n".join(lines))
    if chosen.to is not None:
        chosen.to.write_text("\n".join(lines) + "\n", encoding="utf-8")


def stepwise(
    pools: Pools, cut: list[Part], begun: Weights, *, pull: float, without: str | None = None
) -> Weights:
    """Three fits one after the other, the pools growing between them by about half of the passages."""
    chance = np.random.default_rng(1)
    for step in range(STEPS):
        fitted = fit(pools, cut, vector(begun), pull=pull, without=without)
        if step < STEPS - 1:
            some = [i for i, part in enumerate(cut) if part.work != without and chance.random() < SHARE]
            grown: Pools = {}
            grow(grown, [cut[i] for i in some], weights_of(fitted, begun))
            for (number, positions), pool in grown.items():
                pools.setdefault((some[number], positions), {}).update(pool)
    return weights_of(fitted, begun)


def leave_one_out(pools: Pools, cut: list[Part], parts: list[Part], begun: Weights, *, pull: float) -> None:
    """Fit without each work, from the weights begun with, and finger that work."""
    by_work: dict[bool, dict[str, Share]] = {False: defaultdict(Share), True: defaultdict(Share)}
    for work in sorted({part.work for part in parts}):
        weights = stepwise(pools, cut, begun, pull=pull, without=work)
        for part in parts:
            if part.work == work:
                for positions in (False, True):
                    played = by_engine(part, weights, positions=positions)
                    by_work[positions][work] += agreement(part, played, under_marks=positions)[0]
        print(f"without {work[:60]}: {by_work[False][work]}, under positions {by_work[True][work]}")
    for positions, title in ((False, "nothing given"), (True, "under printed positions")):
        low, high = interval(by_work[positions])
        print(f"left out, {title}: {total(list(by_work[positions].values()))} (95% {low:.1%} to {high:.1%})")


if __name__ == "__main__":
    main()
