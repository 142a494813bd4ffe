"""Tunes of music21's corpus read, fingered and laddered: how many, how fast, and what could not be played.

    python tests/bench/bench_corpus.py [--tunes 520] [--seed 0]

Every tune goes the way a player's own file goes: its file is read in a process of its own, transposed as
little as fits the guitar, fingered with a free hand, and fingered in every position. An error in any of them
is printed and counted; the goal is none in at least 500 tunes.
"""

import argparse
import random
import resource
import statistics
import sys
import time
import traceback
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from midifret.fingering import finger, neck_for
from midifret.fingering.ladder import climb
from midifret.neck import Neck, Tuning
from midifret.scores import FIT, Choices, Octave, look_of, score_of
from midifret.scores.parse import parse
from midifret.terms import MidifretError

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
# Folder of the corpus, ending of its files, how many tunes to take from it, and at most from one file.
SOURCES = (
    ("ryansMammoth", ".abc", 200, 1),
    ("oneills1850", ".abc", 140, 5),
    ("essenFolksong", ".abc", 120, 5),
    ("bach", ".mxl", 60, 1),
)


def tunes(count: int, draw: random.Random) -> list[tuple[str, Path, int | None]]:
    """Return so many tunes, each as its folder, its file and its number in the file."""
    import music21

    found: list[tuple[str, Path, int | None]] = []
    whole = sum(wanted for _, _, wanted, _ in SOURCES)
    for folder, ending, wanted, a_file in SOURCES:
        paths = sorted(p for p in music21.corpus.getComposer(folder) if p.suffix == ending)
        share = -(-wanted * count // whole)
        chosen: list[tuple[str, Path, int | None]] = []
        for path in draw.sample(paths, len(paths)):
            if len(chosen) >= share:
                break
            if ending != ".abc":
                chosen.append((folder, path, None))
                continue
            numbers = numbers_in(path)
            chosen += [(folder, path, number) for number in draw.sample(numbers, min(a_file, len(numbers)))]
        found += chosen[:share]
    return found


def numbers_in(path: Path) -> list[int]:
    """The tunes of an ABC file (its lines X:), counted from 1."""
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    return list(range(1, sum(line.startswith("X:") for line in lines) + 1))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--tunes", type=int, default=520)
    parser.add_argument("--seed", type=int, default=0)
    arguments = parser.parse_args()
    totals: Counter[str] = Counter()
    took: dict[str, list[float]] = {"read": [], "finger": [], "ladder": []}
    refused: list[str] = []
    for folder, path, number in tunes(arguments.tunes, random.Random(arguments.seed)):
        name = f"{folder}/{path.name}" + (f" tune {number}" if number else "")
        try:
            one(path, number, totals, took)
        except MidifretError as error:
            totals["refused"] += 1
            refused.append(f"{name}: {error}")
        except Exception:
            totals["errors"] += 1
            print(f"ERROR {name}")
            traceback.print_exc()
    for line in refused:
        print(f"refused {line}")
    print("tunes {tunes}, notes {notes}, refused {refused}, errors {errors}".format_map(Default(totals)))
    print(
        "notes no hand can play {unplayable} in {gaps} places; tunes with a position that holds them whole "
        "{whole}".format_map(Default(totals))
    )
    for what, seconds in took.items():
        if seconds:
            print(
                f"{what:<7} median {statistics.median(seconds):.2f} s, most {max(seconds):.2f} s, "
                f"all {sum(seconds):.0f} s"
            )
    print(f"memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def one(path: Path, number: int | None, totals: Counter[str], took: dict[str, list[float]]) -> None:
    """Read one tune, finger it, climb its ladder; add up what came of it."""
    start_s = time.perf_counter()
    written = parse(path, number)
    part = next(part for part in look_of(written).parts if part.notes)
    choices = Choices(
        part=str(part.number),
        octave=None if part.octave is not None else Octave.SOUNDING,
        transpose=FIT,
        range_midis=NECK.compass,
        tune=number,
    )
    score = score_of(written, str(path), choices)
    took["read"].append(time.perf_counter() - start_s)
    neck = neck_for(score, NECK)
    start_s = time.perf_counter()
    fingering = finger(score, neck)
    took["finger"].append(time.perf_counter() - start_s)
    start_s = time.perf_counter()
    rungs = climb(score, neck, positions=range(13))
    took["ladder"].append(time.perf_counter() - start_s)
    totals["tunes"] += 1
    totals["notes"] += len(score.notes)
    totals["gaps"] += len(fingering.unplayable)
    totals["unplayable"] += sum(note.place is None for note in fingering.notes)
    totals["whole"] += any(rung.whole for rung in rungs)


class Default(dict[str, int]):
    """Nought for what never came."""

    def __missing__(self, key: str) -> int:
        return 0


if __name__ == "__main__":
    main()
