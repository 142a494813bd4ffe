"""How often a played note is put where it belongs in the score, by kind of fault, and what that costs.

Simulated readers of known truth (tests/reading/simulated.py), beside a general alignment library with the
same costs (Biopython) and, where it is installed, a library that aligns performances with scores (parangonar,
Apache 2.0), which takes only the same pitch for a match and knows no way back.

    python tests/bench/bench_alignment.py [--readings 100] [--seed 0]
"""

import argparse
import sys
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from midifret.reading.alignment import COSTS, Aligned, Follower, Kind, align
from midifret.reading.events import events_of
from midifret.terms import Exercise
from tests.outside.test_alignment import by_library, library, without_places
from tests.reading.simulated import Faults, Played, melody, perform, reading, shares

ONE_OF_EACH = Faults(wrong=0.04, corrected=0.03, extra=0.03, missed=0.03, repeated=0.03)
RESTARTS = replace(ONE_OF_EACH, restarts=0.02, mid_bar_restarts=0.005, skips=0.002)


def by_parangonar(exercise: Exercise, played: list[Played]) -> list[Aligned] | None:
    """What parangonar's matcher makes of a performance; None where it is not installed."""
    try:
        import numpy as np
        import parangonar
    except ImportError:
        return None
    assert exercise.score is not None
    timed = [
        ("onset_beat", "f4"),
        ("duration_beat", "f4"),
        ("onset_quarter", "f4"),
        ("duration_quarter", "f4"),
    ]
    score = np.array(
        [
            (*(2 * (float(note.onset_quarter), float(note.duration_quarter))), note.midi, 1, f"s{note.n}")
            for note in exercise.score.notes
        ],
        dtype=[*timed, ("pitch", "i4"), ("voice", "i4"), ("id", "U16")],
    )
    performance = np.array(
        [(p.note.onset_s, 0.3, p.note.midi, 80, 0, 0, f"p{i}") for i, p in enumerate(played)],
        dtype=[
            ("onset_sec", "f4"),
            ("duration_sec", "f4"),
            ("pitch", "i4"),
            ("velocity", "i4"),
            ("track", "i4"),
            ("channel", "i4"),
            ("id", "U16"),
        ],
    )
    matched: Any = parangonar.AutomaticNoteMatcher()(score, performance, verbose_time=False)
    n_of = {pair["performance_id"]: int(pair["score_id"][1:]) for pair in matched if pair["label"] == "match"}
    return [
        Aligned(item.note, n_of.get(f"p{i}", 0), Kind.MATCHED if f"p{i}" in n_of else Kind.EXTRA)
        for i, item in enumerate(played)
    ]


def measure(faults: Faults, chords: float, readings: int, seed: int) -> None:
    """Print one table."""
    right: dict[str, Counter[str]] = {"ours": Counter(), "Biopython": Counter(), "parangonar": Counter()}
    total: Counter[str] = Counter()
    aligner = library(COSTS)
    for number in range(readings):
        exercise = reading(melody(100, 10_000 * seed + number, chords=chords))
        assert exercise.score is not None
        played = perform(exercise, faults, 10_000 * seed + number)
        found = {"ours": list(align(events_of(exercise), [item.note for item in played]).notes)}
        if not chords:
            found["Biopython"] = by_library(aligner, exercise, without_places(played))[0]
        theirs = by_parangonar(exercise, played)
        if theirs is not None:
            found["parangonar"] = theirs
        for who, notes in found.items():
            counted, of_each = shares(played, notes, exercise.score)
            right[who] += counted
        total += of_each
    known = [who for who, counted in right.items() if counted]
    print(f"{'':22}{'notes':>8}" + "".join(f"{who:>12}" for who in known))
    for kind, count in total.most_common():
        print(f"  {kind:20}{count:8}" + "".join(f"{right[who][kind] / count:12.3f}" for who in known))
    whole = sum(total.values())
    print(f"  {'all':20}{whole:8}" + "".join(f"{sum(right[who].values()) / whole:12.3f}" for who in known))


def speed(seed: int) -> None:
    """Print what one note of a long piece costs, in ms of this process."""
    exercise = reading(melody(1000, seed, chords=0.2))
    follower = Follower(events_of(exercise))
    cells, times_ms = follower.start(), []
    for item in perform(exercise, RESTARTS, seed):
        begin_s = time.process_time()
        cells = follower.hear(cells, item.note)
        times_ms.append(1000 * (time.process_time() - begin_s))
    times_ms.sort()
    middle, late = times_ms[len(times_ms) // 2], times_ms[int(0.99 * len(times_ms))]
    print(
        f"{len(exercise.prompts)} written notes, {len(times_ms)} played: median"
        f" {middle:.2f} ms, 99th percentile {late:.2f} ms"
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readings", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0)
    wishes = parser.parse_args()
    for chords in (0.0, 0.3):
        for name, faults in (("without restarts", ONE_OF_EACH), ("with restarts", RESTARTS)):
            print(f"\n{'Chords' if chords else 'Single notes'}, {name}, {wishes.readings} readings")
            measure(faults, chords, wishes.readings, wishes.seed)
    print()
    speed(wishes.seed)


if __name__ == "__main__":
    main()
