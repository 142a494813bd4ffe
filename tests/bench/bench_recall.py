"""Recall times of places on simulated players: how far off, and how often their intervals hold the truth.

Values only, no MIDI: latency, reaction, travel and recall time as the program works them out, against what
the player truly has. Goal: within 30 ms (median over places and players; the 95th percentile is told
too), and 95% intervals that hold the truth 90 to 99% of the time.
Run: python tests/bench/bench_recall.py [--players 300] [--places 12] [--seed 1]
"""

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))  # the simulated players are those of the tests

from tests.timing.simulated import Traits, measure

ERROR_GOAL_S, COVER_GOAL = 0.030, (0.90, 0.99)

KINDS: dict[str, Traits] = {
    "recall always the same": Traits(),
    "no travel": Traits(travels=False, shown=0),
    "recall spreads by 60 ms": Traits(recall_steady_s=0.06),
    "recall with a tail of 200 ms": Traits(recall_steady_s=0.1, recall_tail_s=0.2),
    "2% lapses": Traits(lapses=0.02),
    "reactions with a tail of 60 ms": Traits(tail_s=0.06),
    "5 plucks of the shown place": Traits(shown=5),
    "2 answers": Traits(answers=2),
    "3 answers": Traits(answers=3),
    "5 answers": Traits(answers=5),
    "5 answers, 60 ms": Traits(answers=5, recall_steady_s=0.06),
    "200 answers, 60 ms": Traits(answers=200, recall_steady_s=0.06),
    "200 answers, tail of 200 ms": Traits(answers=200, recall_steady_s=0.1, recall_tail_s=0.2),
    "14 reactions": Traits(reactions=14),
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--players", type=int, default=300)
    parser.add_argument("--places", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    start_s = time.process_time()
    print(
        f"{chosen.players} players, {chosen.places} places each, {Traits().plucks} plucks, "
        f"{Traits().reactions} reactions, {Traits().answers} answers but where it says otherwise; goal: "
        f"median {ERROR_GOAL_S * 1000:.0f} ms, covered {COVER_GOAL[0]:.0%} to {COVER_GOAL[1]:.0%}"
    )
    for title, traits in KINDS.items():
        with_travel, without = measure(traits, chosen.players, chosen.places, chosen.seed)
        print(f"{title}\n  with travel   {with_travel}")
        if without is not None:
            print(f"  travel off    {without}")
    print(f"{time.process_time() - start_s:.0f} s of processor time")


if __name__ == "__main__":
    main()
