"""Reading scores: all tunes of music21's corpus, a usual piece whole, and what files at the limits cost.

Run: python tests/bench/bench_scores.py [--all]   (500 tunes, or all with --all)
"""

import random
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import music21

from midifret.scores import FIT, Choices, Octave, look_of, read_score, score_of
from midifret.scores.child import read
from midifret.scores.faults import ScoreFault
from midifret.scores.limits import MOST_MEMORY_BYTES, MOST_NOTES, MOST_WALL_S
from midifret.terms import BadInput
from tests.scores.long import LONG_KINDS, long_tune, midi_with_bends
from tests.scores.test_safety import BOMB, LAUGHS
from tests.scores.writing import kept, musicxml, note

GOAL_S = 3.0
TUNES = 500


def corpus(count: int | None) -> None:
    """Read tunes, and every part that fits a guitar for a guitar."""
    folder = Path(music21.__file__).parent / "corpus"
    suffixes = (".mxl", ".xml", ".musicxml", ".krn", ".abc")
    files = sorted(path for path in folder.rglob("*") if path.suffix in suffixes)
    random.Random(1).shuffle(files)
    kinds: Counter[str] = Counter()
    parts = notes = wide = 0
    failed: list[str] = []
    times: list[float] = []
    for path in files[:count]:
        began = time.perf_counter()
        try:
            written = read(path.suffix, path.read_bytes(), 1 if path.suffix == ".abc" else None)
        except ScoreFault as fault:
            failed.append(f"{path.name}: {fault.message}")
            continue
        for part in look_of(written).parts:
            if not part.notes:
                continue
            choices = Choices(part=str(part.number), octave=Octave.SOUNDING, transpose=FIT)
            try:
                score = score_of(written, path.name, choices)
            except BadInput as error:
                wide += "fits in no key" in error.message
                if "fits in no key" not in error.message:
                    failed.append(f"{path.name}: {error}")
                continue
            parts, notes = parts + 1, notes + len(score.notes)
        kinds[path.suffix] += 1
        times.append(time.perf_counter() - began)
    print(f"corpus: {sum(kinds.values())} files read ({dict(kinds)}), {len(failed)} not")
    print(f"  {parts} parts read for a guitar, {notes} notes; {wide} parts span more than a guitar")
    print(f"  seconds a file: median {statistics.median(times):.3f}, longest {max(times):.2f}")
    for line in failed:
        print(f"  not read: {line}")


def whole(folder: Path) -> None:
    """A usual piece from the file to the score, the process and its start included."""
    bars = ["".join(note(p, 0.25) for p in ("E4", "G4", "B3", "E3") * 4) for _ in range(64)]
    path = kept(folder, "piece.musicxml", musicxml(*bars))
    seconds = []
    for _ in range(5):
        began = time.perf_counter()
        score = read_score(path)
        seconds.append(time.perf_counter() - began)
    print(f"64 bars and {len(score.notes)} notes, whole: median {statistics.median(seconds):.2f} s "
          f"(goal under {GOAL_S})")  # fmt: skip
    code = (
        "import re, sys\nfrom pathlib import Path\nfrom midifret.scores import read_score\n"
        "def most():\n"
        "    return re.search(r'VmHWM:\\s+(\\d+)', Path('/proc/self/status').read_text())[1]\n"
        f"before = most()\nread_score(Path({str(path)!r}))\n"
        "print(before, most(), 'music21' in sys.modules)\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    before, after, loaded = run.stdout.split()
    print(f"  memory of the one who asks: {int(before) / 1024:.0f} MB, then {int(after) / 1024:.0f} MB; "
          f"music21 in it: {loaded}")  # fmt: skip


def limits(folder: Path) -> None:
    """What a file at the limits and hostile ones cost, in memory where the system tells it."""
    full = MOST_NOTES - 100
    cases = (
        *((f"{full} notes{suffix}", f"full{suffix}", long_tune(suffix, full)) for suffix in LONG_KINDS),
        *((f"120,000 notes{suffix}", f"huge{suffix}", long_tune(suffix, 120_000)) for suffix in LONG_KINDS),
        ("a million bends", "bends.mid", midi_with_bends(4_000, 250)),
        ("zip bomb", "bomb.mxl", BOMB),
        ("billion laughs", "laughs.musicxml", LAUGHS),
    )
    for title, name, content in cases:
        path = kept(folder, name, content)
        began = time.perf_counter()
        try:
            said = f"{len(read_score(path).notes)} notes"
        except BadInput as error:
            said = " ".join(str(error).split())[-90:]
        took = time.perf_counter() - began
        most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        print(f"{title}: {took:.1f} s, children so far at most {most:.0f} MB; {said}")
    print(f"  limits: {MOST_WALL_S:.0f} s, {MOST_MEMORY_BYTES // 1024 // 1024} MB")


def main() -> None:
    print("bench_scores.py")
    with tempfile.TemporaryDirectory() as folder:
        whole(Path(folder))
        limits(Path(folder))
    corpus(None if "--all" in sys.argv else TUNES)


if __name__ == "__main__":
    main()
