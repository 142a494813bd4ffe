"""Fuzzing: decoder, splitter, takes, drills and guitars are fed what nobody should send, in process.

Every input has to end in a result or in an error made for a person (BadInput, Unavailable), within a second,
and what it says has to hold together (fuzz_hearing.py, fuzz_files.py). Anything else is a finding: it is
printed once for each kind, made as short as it can be if it is a script of messages, and saved.

Run: python tests/bench/fuzz.py [--minutes 20] [--inputs 10000000] [--seed 1] [--what decoder,takes]
     [--save FOLDER] [--first 0]
It ends at the number of inputs or at the time, whichever comes first. Input n of a target follows from the
seed, the target and n alone: `--first n --inputs 1 --what TARGET` takes one up again. For systems with
SIGALRM. Exit code 1 if anything was found.
"""

import argparse
import random
import re
import resource
import signal
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

import fuzz_files
import fuzz_hearing
from fuzz_hearing import BrokenError, Script

from midifret.neck import Neck
from midifret.terms import MidifretError, Wiring

SLOW_S = 1.0  # of processor time: an input that takes longer is a finding [ours]
HANGS_S = 20.0  # and is given up after this [ours]
MOST_MEMORY_BYTES = 3_000_000_000
SAVED_OF_A_KIND = 3
SLICE_S = 0.5  # targets take turns of so long
LONGEST_STORY = 2000  # characters


class HangsError(Exception):
    """An input took too long by far."""


@dataclass(frozen=True, slots=True)
class Case:
    """One input: how to try it, its content for a file, and its messages if it is a script."""

    run: Callable[[], None]
    content: bytes
    suffix: str
    script: tuple[Neck, Wiring, Script] | None = None


def decoder_case(draw: random.Random) -> Case:
    neck = fuzz_hearing.any_neck(draw)
    wiring = fuzz_hearing.any_wiring(neck, draw)
    script = fuzz_hearing.any_script(neck, wiring, draw)
    if draw.random() < 0.3:
        script = fuzz_hearing.split(fuzz_hearing.as_bytes(script, draw))
    return Case(lambda: fuzz_hearing.check_decoder(neck, wiring, script), b"", ".txt", (neck, wiring, script))


def splitter_case(draw: random.Random) -> Case:
    data = fuzz_hearing.any_bytes(draw)
    cuts = [draw.randint(0, len(data)) for _ in range(draw.randint(0, 8))]
    return Case(lambda: fuzz_hearing.check_splitter(data, cuts), data, ".bin")


def takes_case(draw: random.Random) -> Case:
    data = fuzz_files.any_take(draw)
    return Case(lambda: fuzz_files.check_take(data, draw), data, ".mid")


def drills_case(draw: random.Random) -> Case:
    data = fuzz_files.any_file("drills", draw)
    return Case(lambda: fuzz_files.check_drill(data, draw), data, ".yaml")


def guitars_case(draw: random.Random) -> Case:
    kind = draw.choice(("guitar", "guitar", "tunings", "settings"))
    data = fuzz_files.any_file(kind, draw)
    return Case(lambda: fuzz_files.check_gear(kind, data, draw), data, f".{kind}.yaml")


TARGETS: dict[str, Callable[[random.Random], Case]] = {
    "decoder": decoder_case,
    "splitter": splitter_case,
    "takes": takes_case,
    "drills": drills_case,
    "guitars": guitars_case,
}


@dataclass(slots=True)
class Tally:
    """What came of one target's inputs."""

    inputs: int = 0
    results: int = 0
    refused: int = 0
    used_s: float = 0.0
    slowest_s: float = 0.0
    slowest: int = 0
    messages: int = 0
    found: Counter[str] = field(default_factory=Counter)


def failure(run: Callable[[], None]) -> tuple[str, str]:
    """Try an input. Return the kind of its failure and the story, or two empty texts, or "refused"."""
    try:
        run()
    except MidifretError as error:
        if str(error).strip():
            return "refused", ""
        return "an error without words", traceback.format_exc()
    except BrokenError as error:
        words = re.match(r"[a-z, ]*", re.sub(r"[0-9]+ ?", "", str(error)))
        return f"broken: {words[0].strip() if words else ''}", str(error)
    except (Exception, MemoryError) as error:
        frames = traceback.extract_tb(error.__traceback__)
        where = next((f for f in reversed(frames) if "/midifret/" in f.filename), frames[-1])
        return f"{type(error).__name__} in {Path(where.filename).name}:{where.lineno}", traceback.format_exc()
    return "", ""


def shortest(neck: Neck, wiring: Wiring, script: Script, kind: str) -> Script:
    """Leave out every message without which the script fails in the same way."""
    again = True
    while again:
        again = False
        for at in reversed(range(len(script))):
            shorter = script[:at] + script[at + 1 :]
            if failure(lambda s=shorter: fuzz_hearing.check_decoder(neck, wiring, s))[0] == kind:
                script, again = shorter, True
    return script


def save(folder: Path, target: str, n: int, case: Case, kind: str, story: str) -> None:
    """Write an input that failed, and how."""
    content = case.content
    if case.script is not None:
        neck, wiring, script = case.script
        script = shortest(neck, wiring, script, kind)
        _, story = failure(lambda: fuzz_hearing.check_decoder(neck, wiring, script))
        lines = [repr(neck), repr(wiring), *(f"{time_s!r} {data.hex(' ')}" for time_s, data in script)]
        content = "\n".join(lines).encode()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{target}-{n}{case.suffix}").write_bytes(content)
    (folder / f"{target}-{n}.story.txt").write_text(f"{kind}\n{story}\n", encoding="utf-8")


def try_one(target: str, n: int, seed: int, tally: Tally, folder: Path) -> None:
    """Make input n of a target, try it, note what came of it."""
    signal.setitimer(signal.ITIMER_REAL, HANGS_S)
    try:
        draw = random.Random(f"{seed}:{target}:{n}")
        case = TARGETS[target](draw)
        started_s = time.process_time()
        kind, story = failure(case.run)
        took_s = time.process_time() - started_s
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
    tally.inputs += 1
    tally.messages += len(case.script[2]) if case.script is not None else 0
    tally.results += not kind
    tally.refused += kind == "refused"
    if took_s > tally.slowest_s:
        tally.slowest_s, tally.slowest = took_s, n
    if took_s > SLOW_S and kind in ("", "refused"):
        kind, story = f"slow: over {SLOW_S:g} s", f"{took_s:.2f} s of processor time"
    if kind not in ("", "refused"):
        tally.found[kind] += 1
        if tally.found[kind] == 1:
            print(f"FOUND in {target}, input {n}: {kind}\n{story[-LONGEST_STORY:]}", flush=True)
        if tally.found[kind] <= SAVED_OF_A_KIND:
            save(folder, target, n, case, kind, story)


def hangs(_number: int, _frame: FrameType | None) -> None:
    raise HangsError


def report(tallies: dict[str, Tally], took_s: float) -> None:
    print(
        f"{'target':<10}{'inputs':>12}{'results':>12}{'refused':>12}{'a second':>10}{'slowest ms':>12}  found"
    )
    for target, tally in tallies.items():
        rate = tally.inputs / tally.used_s if tally.used_s else 0.0
        print(
            f"{target:<10}{tally.inputs:>12,}{tally.results:>12,}{tally.refused:>12,}{rate:>10,.0f}"
            f"{tally.slowest_s * 1000:>12.1f}  {sum(tally.found.values())} (slowest: input {tally.slowest})"
        )
        for kind, count in tally.found.most_common():
            print(f"    {count:>8} x {kind}")
    total = sum(tally.inputs for tally in tallies.values())
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024  # kilobytes on Linux
    print(f"{total:,} inputs in {took_s:.0f} s; largest memory {peak_mb:.0f} MB")


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--inputs", type=int, default=10_000_000, help="of all targets together")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--what", default=",".join(TARGETS), help="targets, separated by commas")
    parser.add_argument("--save", type=Path, default=Path("findings"), help="folder for inputs that fail")
    parser.add_argument("--first", type=int, default=0, help="number of the first input of each target")
    options = parser.parse_args()
    targets = options.what.split(",")
    if unknown := set(targets) - set(TARGETS):
        parser.error(f"no such target: {', '.join(sorted(unknown))}; there are {', '.join(TARGETS)}")
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))
    signal.signal(signal.SIGALRM, hangs)
    fuzz_files.warm_up()
    tallies = {target: Tally() for target in targets}
    started_s = time.monotonic()
    left = options.inputs
    while left > 0 and time.monotonic() - started_s < options.minutes * 60:
        target = min(targets, key=lambda name: tallies[name].used_s)
        tally = tallies[target]
        turn_s = time.monotonic()
        while left > 0 and (now_s := time.monotonic()) - turn_s < SLICE_S:
            if now_s - started_s >= options.minutes * 60:
                break
            try_one(target, options.first + tally.inputs, options.seed, tally, options.save)
            left -= 1
        tally.used_s += time.monotonic() - turn_s
    report(tallies, time.monotonic() - started_s)
    return 1 if any(tally.found for tally in tallies.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
