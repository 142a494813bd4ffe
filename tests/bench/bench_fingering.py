"""Fingering: how much of printed fingerings it reproduces, how fast it is, and how its cost grows.

Run: python tests/bench/bench_fingering.py [FOLDER] [--weights FILE] [--brief] [--no-speed] [--no-quality]
FOLDER: scores in JSON with printed fingerings, one part a file (default ../shared/fingerings). Nothing that
is printed is given to the engine, but for the positions in the second table.
Floor 43% of fingers (lowest fret, finger = fret), two editors of one piece 94%; goal 70% free (accepted from
60%), 85% under a printed position. Speed goals: a melody of 1,000 notes in 0.5 s, two voices on ten pages in
5 s, 13 positions of a tune of 32 bars in 2 s, 300 MB.
"""

import argparse
import random
import resource
import sys
import time
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))  # run as a script

from midifret.files import read_document
from midifret.fingering import Choices, OpenStrings, Weights, finger
from midifret.gear.fingering import check_weights
from midifret.neck import spell
from midifret.terms.score import Score, ScoreNote
from tests.bench.printed import GUITAR, by_engine, lowest_fret, parts_in, table

ROOT = Path(__file__).parents[2]
NOTES_OF_TEN_PAGES = 1500  # some 150 notes in two voices on a page [ours]
NOTES_OF_32_BARS = 220  # in quavers and crotchets [ours]


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path, nargs="?", default=ROOT.parent / "shared" / "fingerings")
    parser.add_argument("--weights", type=Path, default=None, help="a YAML file instead of those shipped")
    parser.add_argument("--brief", action="store_true", help="no line for each part")
    parser.add_argument("--no-speed", action="store_true")
    parser.add_argument("--no-quality", action="store_true")
    chosen = parser.parse_args()
    if not chosen.no_quality:
        quality(chosen.folder, weights_in(chosen.weights), each=not chosen.brief)
    if not chosen.no_speed:
        speed(weights_in(chosen.weights))


def weights_in(path: Path | None) -> Weights:
    if path is None:
        return Weights()
    weights, problems = check_weights(read_document(path))
    if weights is None:
        sys.exit("\n".join(map(str, problems)))
    return weights


def quality(folder: Path, weights: Weights, *, each: bool) -> None:
    if not folder.is_dir():
        print(f"skipped: there is no folder {folder}")
        return
    parts = parts_in(folder)
    notes = sum(len(part.score.notes) for part in parts)
    print(f"{len(parts)} parts, {notes} notes")
    start_s = time.process_time()
    print("nothing given:")
    print(table(parts, lambda part: by_engine(part, weights, positions=False), under_marks=False, each=each))
    print("printed positions given, notes under them:")
    print(table(parts, lambda part: by_engine(part, weights, positions=True), under_marks=True, each=each))
    print("printed positions given, all notes:")
    print(table(parts, lambda part: by_engine(part, weights, positions=True), under_marks=False, each=False))
    print("lowest fret, finger = fret:")
    print(table(parts, lambda part: lowest_fret(part.score, GUITAR), under_marks=False, each=False))
    print("always the first finger:")
    print(table(parts, lambda part: [(None, 1)] * len(part.score.notes), under_marks=False, each=False))
    print(f"{time.process_time() - start_s:.0f} s of processor time for three fingerings of each part")


def speed(weights: Weights) -> None:
    """Processor times, on whatever else the machine does."""
    print("melody, steps of up to four semitones, quavers and crotchets:")
    for many in (250, 500, 1000, 2000, 4000):
        print(f"  {many:5} notes  {timed(melody(many), weights):6.2f} s")
    print(f"  leaps of up to an octave, 1000 notes  {timed(melody(1000, widest=12), weights):.2f} s")
    print("two voices:")
    for many in (375, 750, NOTES_OF_TEN_PAGES, 2 * NOTES_OF_TEN_PAGES):
        print(f"  {many:5} notes  {timed(two_voices(many), weights):6.2f} s")
    tune = melody(NOTES_OF_32_BARS)
    start_s = time.process_time()
    for position in range(13):
        finger(tune, GUITAR, Choices(position=position, open_strings=OpenStrings.NEEDED), weights)
    print(f"13 positions of {NOTES_OF_32_BARS} notes  {time.process_time() - start_s:.2f} s")
    print(f"largest memory  {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def timed(score: Score, weights: Weights) -> float:
    start_s = time.process_time()
    finger(score, GUITAR, Choices(), weights)
    return time.process_time() - start_s


def melody(many: int, *, widest: int = 4, seed: int = 1) -> Score:
    chance = random.Random(seed)
    midi, onset, notes = 60, Fraction(0), []
    for _ in range(many):
        midi = min(83, max(40, midi + chance.randint(-widest, widest)))
        duration = Fraction(chance.choice((1, 1, 2)), 2)
        notes.append((onset, duration, midi))
        onset += duration
    return made(notes)


def two_voices(many: int, *, seed: int = 1) -> Score:
    """A tune in quavers over a bass in crotchets."""
    chance = random.Random(seed)
    upper, lower, onset = 64, 45, Fraction(0)
    notes: list[tuple[Fraction, Fraction, int]] = []
    while len(notes) < many:
        if onset.denominator == 1:
            lower = min(57, max(40, lower + chance.randint(-4, 4)))
            notes.append((onset, Fraction(1), lower))
        upper = min(79, max(58, upper + chance.randint(-3, 3)))
        notes.append((onset, Fraction(1, 2), upper))
        onset += Fraction(1, 2)
    return made(notes)


def made(notes: list[tuple[Fraction, Fraction, int]]) -> Score:
    return Score(
        "",
        "",
        "made up",
        tuple(
            ScoreNote(n, onset, duration, midi, spell(midi)[0])
            for n, (onset, duration, midi) in enumerate(sorted(notes, key=lambda x: (x[0], x[2])), start=1)
        ),
    )


if __name__ == "__main__":
    main()
