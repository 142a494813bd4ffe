"""How often the forecast's 90% intervals hold the day on which a row or the neck truly came.

Simulated learners of three published models of memory practise by our choice of places, with a day in seven
or so left out, and each morning is told what `look_ahead` says. Told apart by model and by how far off it
truly was. Goal: 85 to 95% in every model. --fit prints what AheadRules would be on these learners, the
spread that is left where nothing is known of the player, and how often the intervals of levels and spreads
near by would have held: choose by one seed, quote another.
Run: python tests/bench/bench_ahead.py [--learners 20] [--seed 9] [--minutes 15] [--processes 1] [--fit]
"""

import argparse
import itertools
import math
import statistics
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))  # the learners are those of the tests

from midifret.practice.ahead import LEAST_DAYS, Outlook, Pace
from tests.bench.learners_ahead import Told, forecasts
from tests.bench.learners_memory import MODELS

NINETY = statistics.NormalDist().inv_cdf(0.95)
LEVELS, SPREADS = (0.0, 0.05, 0.1, 0.15, 0.2), (0.75, 0.8, 0.85, 0.9)
SHARES = {"under 5 days": (0, 5), "5 to 9": (5, 10), "10 to 19": (10, 20), "20 and more": (20, 10_000)}


def of_learner(job: tuple[str, int], *, minutes: float, missed: float) -> tuple[list[Told], float | None]:
    model, own = job
    return forecasts(model, own, minutes=minutes, missed=missed)


def covered(told: Sequence[Told]) -> str:
    """Return the share within, the share that came sooner, and how many forecasts of whom that rests on."""
    known = [each for each in told if each.was_within is not None]
    if not known:
        return "   none"
    within = statistics.fmean(bool(each.was_within) for each in known)
    sooner = statistics.fmean(each.came_sooner for each in known)
    learners = len({(each.model, each.own) for each in known})
    return f"{within:6.1%}   sooner {sooner:5.1%}   {len(known):5} forecasts of {learners} learners"


def fitted(told: Sequence[Told], share: float) -> tuple[float, float, float]:
    """Days of practice by the slowest place, least squares of logarithms: level, power, spread.

    Each model counts alike, however many forecasts there are of it.
    """
    known = [each for each in told if each.days]
    forecasts = Counter(each.model for each in known)
    x = np.log([each.slowest_s for each in known])
    y = np.log([each.days * share for each in known])
    weights = np.array([1 / forecasts[each.model] for each in known])
    power, level = np.polyfit(x, y, 1, w=weights**0.5)
    return level, power, float(np.average((y - level - power * x) ** 2, weights=weights) ** 0.5)


def held(told: Sequence[Told], share: float, pace: Pace) -> dict[str, float]:
    """Return by model how often intervals of a pace would have held the true day."""
    found = {}
    for model in MODELS:
        known = [each for each in told if each.days and each.model == model]
        within = 0
        for each in known:
            middle = pace.level + pace.power * math.log(each.slowest_s) - math.log(share)
            ends = (middle + sign * NINETY * pace.spread for sign in (-1, 1))
            first, last = (max(round(math.exp(end)), 1) for end in ends)
            within += first <= each.days <= last
        found[model] = within / len(known)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--learners", type=int, default=20, help="of each model")
    parser.add_argument("--seed", type=int, default=9)
    parser.add_argument("--minutes", type=float, default=15.0)
    parser.add_argument("--missed", type=float, default=0.15)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--fit", action="store_true")
    chosen = parser.parse_args()
    jobs = [(model, chosen.seed * 100_000 + n) for n in range(chosen.learners) for model in MODELS]
    made = partial(of_learner, minutes=chosen.minutes, missed=chosen.missed)
    with ProcessPoolExecutor(chosen.processes) as processes:
        found = list(processes.map(made, jobs))
    told = [each for of_one, _ in found for each in of_one if each.practised >= LEAST_DAYS]
    print(
        f"{chosen.learners} learners of each model, {chosen.minutes:g} minutes a day, "
        f"{chosen.missed:.0%} of days missed, seed {chosen.seed}; 90% intervals that hold the true day"
    )
    for what, is_neck in (("a stage of the rows", False), ("the whole neck", True)):
        print(what)
        of_kind = [each for each in told if each.is_neck is is_neck]
        for model in MODELS:
            of_model = [each for each in of_kind if each.model == model]
            said = statistics.fmean(each.said.outlook is Outlook.HOLDS for each in of_model)
            print(f"  {model:<12} {covered(of_model)}   said to hold too soon {said:5.1%}")
        for name, (low, high) in SHARES.items():
            print(f"  {name:<12} {covered([e for e in of_kind if e.days and low <= e.days < high])}")
    for model in MODELS:
        minutes = [took for (of, _), (_, took) in zip(jobs, found, strict=True) if of == model]
        done = [took for took in minutes if took is not None]
        logs = [math.log(took) for took in done]
        if len(logs) > 1:
            error = statistics.stdev(logs) / len(logs) ** 0.5
            print(
                f"  {model:<12} minutes until the neck was known: logarithm {statistics.fmean(logs):.3f}"
                f" (error {error:.3f}), {len(minutes) - len(done)} unfinished"
            )
    if chosen.fit:
        share = 1 - chosen.missed
        by_kind: dict[str, Callable[[Told], bool]] = {
            "row": lambda e: not e.is_neck,
            "neck": lambda e: e.is_neck,
        }
        for name, belongs in by_kind.items():
            own = [each for each in told if belongs(each)]
            level, power, spread = fitted(own, share)
            alike = statistics.pstdev(math.log(each.days) for each in own if each.days)
            print(f"  {name}: Pace({level:.2f}, {power:.2f}, {spread:.2f}), spread without {alike:.2f}")
            dated = [each for each in own if each.said.outlook in (Outlook.DATED, Outlook.BEYOND)]
            for more, other in itertools.product(LEVELS, SPREADS):
                pace = Pace(level + more, power, other)
                shares = ", ".join(f"{model} {one:.1%}" for model, one in held(dated, share, pace).items())
                print(f"    level {pace.level:.2f}, spread {other:.2f}: {shares}")


if __name__ == "__main__":
    main()
