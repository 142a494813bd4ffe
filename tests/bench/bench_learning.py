"""Minutes of practice until the neck is known, on simulated learners, by who chooses what is practised.

Each learner practises 15 minutes a day; measured are the minutes until 75 of the 78 places of frets 0 to 12
are truly known as a session begins (`Learner.knows`), so that forgetting counts. Minutes go up by whole
sessions. The median is that of Kaplan and Meier, with its bootstrap interval of 95%; ratios are of
medians to the policy named first, paired by learner; slower: share of learners who need more minutes than
under that policy. Goal of a plan: a ratio of 0.7 or less to the best of the others, fewer than 5% slower
than taught. choice: our chooser over all places; plan: sessions as `practice` has them, without readings.
rounds-N: no way to practise but a bound on days: all places N times in each session, at no cost of time.
seer: no way to practise either, for it sees the learner's true memory.
Another policy: its module and the name of what makes it from a seed, as tests.bench.some:Plan.
Run: python tests/bench/bench_learning.py [--learners 200] [--days 60] [--policy taught ...] [--seed 1]
"""

import argparse
import importlib
import math
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))  # the learners are those of the tests

from tests.bench.learners_memory import MODELS, new_learner
from tests.bench.learners_ours import ByChoice, ByPlan
from tests.bench.learners_rounds import POLICIES, Policy, Seer
from tests.bench.learners_trial import (
    Course,
    censored_median,
    median_interval,
    ratio_of_medians,
    run_course,
    run_rounds,
    slower_share,
    unfinished_share,
)

SEER = "seer"
OURS: dict[str, Callable[[int], Policy]] = {"choice": ByChoice, "plan": ByPlan}


def course_of(
    number: int, *, model: str, policy: str, seed: int, days: int, minutes: float, missed: float
) -> tuple[Course, float]:
    """Return the course of one learner and the seconds of processor time that it took."""
    own = seed * 100_000 + number
    learner = new_learner(model, own)
    start_s = time.process_time()
    if policy.startswith("rounds-"):
        course = run_rounds(learner, int(policy.removeprefix("rounds-")), days, minutes=minutes, seed=own)
    else:
        chooser = Seer(learner, own) if policy == SEER else policy_named(policy)(own)
        course = run_course(learner, chooser, days, minutes=minutes, missed=missed, seed=own)
    return course, time.process_time() - start_s


def policy_named(name: str) -> Callable[[int], Policy]:
    """Return what makes a policy from a seed. Exits with what is allowed for a name that there is not."""
    known = POLICIES | OURS
    if name in known:
        return known[name]
    module, _, made_by = name.partition(":")
    if not made_by:
        sys.exit(
            f"there is no policy {name!r}; there are {', '.join(known)}, {SEER}, rounds-N, or say module:name"
        )
    return getattr(importlib.import_module(module), made_by)


def told(name: str, courses: list[Course], beside: list[Course] | None, processor_s: float) -> str:
    """Return one line of the table. beside: the courses that it is compared with."""
    low, high = median_interval(courses)
    known = sorted(course.known[-1] for course in courses)
    line = (
        f"  {name:<14} {in_minutes(censored_median(courses))} ({in_minutes(low)} to {in_minutes(high)})"
        f"   unfinished {unfinished_share(courses):5.1%}   known at the end, 5th percentile"
        f" {known[len(known) // 20]:2}   {processor_s:4.0f} s"
    )
    if beside is not None:
        ratio, low, high = ratio_of_medians(courses, beside)
        line += f"   ratio {ratio:.2f} ({low:.2f} to {high:.2f}), slower {slower_share(courses, beside):5.1%}"
    return line


def in_minutes(minutes: float) -> str:
    """Return minutes in words of the table."""
    return " never" if math.isinf(minutes) else f"{minutes:6.0f}"


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--learners", type=int, default=200)
    parser.add_argument("--days", type=int, default=60)
    parser.add_argument("--minutes", type=float, default=15.0, help="of a session")
    parser.add_argument("--missed", type=float, default=0.0, help="chance that a day has no practice")
    parser.add_argument("--policy", nargs="+", default=[*POLICIES, *OURS])
    parser.add_argument("--model", nargs="+", default=list(MODELS), choices=list(MODELS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=1)
    chosen = parser.parse_args()
    for name in chosen.policy:
        if name != SEER and not name.startswith("rounds-"):
            policy_named(name)
    print(
        f"{chosen.learners} learners, {chosen.minutes:g} minutes on each of {chosen.days} days, "
        f"missed {chosen.missed:.0%}, seed {chosen.seed}; minutes until 75 of 78 places are known"
    )
    with ProcessPoolExecutor(chosen.processes) as processes:
        for model in chosen.model:
            print(model)
            first: list[Course] | None = None
            for name in chosen.policy:
                of_learner = partial(
                    course_of,
                    model=model,
                    policy=name,
                    seed=chosen.seed,
                    days=chosen.days,
                    minutes=chosen.minutes,
                    missed=chosen.missed,
                )
                found = list(processes.map(of_learner, range(chosen.learners)))
                courses = [course for course, _ in found]
                print(told(name, courses, first, sum(took_s for _, took_s in found)), flush=True)
                first = courses if first is None else first


if __name__ == "__main__":
    main()
