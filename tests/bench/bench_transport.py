"""Real MIDI ports (JACK's dummy driver): sent to verdict against raw queue polling, error of dates, bursts.

Sender and receiver are processes of their own, and both read the system's one steady clock. The baseline is
the bare driver's queue, looked at each millisecond, and nothing done with what it gives. Ours is the live run
as `midifret drill` plays it, journal and book included, up to the moment at which the view has shown the
verdict: a view that shows nothing, or the full screen on a pseudo-terminal of 80x24. Raw, silent and screen
take turns in each round. Idle; with both cores loaded; beside a thread of our own that holds the interpreter
lock for 10 ms at a time. "busy" is what all processors together had to do meanwhile.

Beside a load a JACK server without real-time priority stands still itself now and then, for tenths of a
second up to seconds: bare polling then gets several notes at one moment too. Such notes are taken as struck
together, of which only the first counts: the others are "not judged". With --realtime the server runs with
real-time priority, as players of live music set it up; that needs the right to it.

The error of a date is the date given to a note less the moment at which the sender sent it, median removed.
"held back" are notes that the server handed over less than 30 ms after the one before, sent 100 ms apart;
dates are told with them and without.
Run: python tests/bench/bench_transport.py [--only idle] [--rounds 3]   (Linux; needs jackd, python-rtmidi)
"""

import argparse
import itertools
import json
import multiprocessing
import os
import random
import signal
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from transport_ends import BURST, jack_server, receive, send

NOTES = 200  # a round
CONDITIONS = ("idle", "both cores loaded", "beside a thread that hogs the lock")
WAYS = ("raw", "silent", "screen")
HELD_S = 0.03
QUIET = 0.1  # share of all processors that are busy
NAMES = {
    "raw": "raw queue polling",
    "silent": "midifret, no screen",
    "screen": "midifret, on the screen",
}
# What may be added to raw queue polling at the 99th percentile, and by how much a date may be off.
ADDED_GOAL_MS = {"silent": 0.3, "screen": 7.0}
DATE_GOAL_MS = {CONDITIONS[0]: 1.0, CONDITIONS[1]: 2.5}


@dataclass(slots=True)
class Cell:
    """What one way did under one condition, in all rounds: delays and errors of dates in ms."""

    delays_ms: list[float] = field(default_factory=list)
    dates_ms: list[float] = field(default_factory=list)
    rounds_99_ms: list[float] = field(default_factory=list)
    lost: int = 0
    not_judged: int = 0  # heard, but together with another, as after a stall
    held_back: int = 0
    held_dates_ms: list[float] = field(default_factory=list)  # of those and the ones before them
    busy: list[float] = field(default_factory=list)


def at(values: Sequence[float], share: float) -> float:
    return sorted(values)[int(share * (len(values) - 1))]


def processor_time() -> tuple[float, float]:
    """Ticks of all processors that were busy, and all."""
    fields = [int(each) for each in Path("/proc/stat").read_text().split("\n")[0].split()[1:9]]
    return sum(fields) - fields[3] - fields[4], sum(fields)


def wait_for_quiet(within_s: float) -> None:
    """Wait until the machine has little else to do, but no longer than that."""
    end_s = time.monotonic() + within_s
    while time.monotonic() < end_s:
        before = processor_time()
        time.sleep(2.0)
        after = processor_time()
        if after[0] - before[0] < QUIET * (after[1] - before[1]):
            return


@contextmanager
def load(*, on: bool) -> Iterator[None]:
    """Keep as many processes busy as there are cores."""
    busy = [multiprocessing.Process(target=_spin, daemon=True) for _ in range(os.cpu_count() or 1)]
    for process in busy if on else ():
        process.start()
    try:
        yield
    finally:
        for process in busy if on else ():
            process.kill()
            process.join()


def _spin() -> None:
    while True:
        pass


def pass_notes(way: str, count: int, *, hog: bool, burst: bool = False) -> dict[str, list[Any]]:
    """Send and receive; return what either end says: sent, came, dates, which, or the notes of a burst."""
    command = [sys.executable, __file__]
    sender = subprocess.Popen(
        [*command, "--send", "burst" if burst else "notes", str(count)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert sender.stdin is not None
    assert sender.stdout is not None
    assert sender.stdout.readline().strip() == "ready"
    receiver = subprocess.Popen(
        [*command, "--receive", way, str(count), "hog" if hog else "-"], stdout=subprocess.PIPE, text=True
    )
    assert receiver.stdout is not None
    if receiver.stdout.readline().strip() != "ready":
        sys.exit(f"the receiver {way} did not begin")
    sender.stdin.write("\n")
    sender.stdin.flush()
    sent = json.loads(sender.stdout.readline())
    stopper = threading.Timer(
        3.0, receiver.send_signal, (signal.SIGINT,)
    )  # for one that waits for lost notes
    stopper.start()
    result = json.loads(receiver.stdout.readline())
    receiver.wait(10)
    stopper.cancel()
    sender.stdin.write("\n")
    sender.stdin.close()
    sender.wait(10)
    return {"sent": sent, **result}


def measure(condition: str, rounds: int, notes: int, quiet_s: float) -> dict[str, Cell]:
    cells = {way: Cell() for way in WAYS}
    for number in range(rounds):
        for way in random.Random(number).sample(WAYS, len(WAYS)):
            wait_for_quiet(quiet_s)
            before = processor_time()
            with load(on=condition == CONDITIONS[1]):
                result = pass_notes(way, notes, hog=condition == CONDITIONS[2])
            after = processor_time()
            cell = cells[way]
            cell.busy.append((after[0] - before[0]) / max(1.0, after[1] - before[1]))
            sent = result["sent"]
            heard = len(result["dates"])
            cell.lost += notes - heard
            which = result.get("which", range(heard))
            cell.not_judged += heard - len(which)
            if heard < notes or not which:
                continue  # which of them it was is not known, so no delay either
            delays_ms = [1000 * (s - sent[n]) for n, s in zip(which, result["came"], strict=True)]
            cell.delays_ms += delays_ms
            cell.rounds_99_ms.append(at(delays_ms, 0.99))
            off_ms = [1000 * (b - a) for a, b in zip(sent, result["dates"], strict=True)]
            middle_ms = statistics.median(off_ms)
            together = [n for n in range(1, notes) if result["dates"][n] - result["dates"][n - 1] < HELD_S]
            cell.held_back += len(together)
            stalled = {*together, *(n - 1 for n in together)}
            for n, each_ms in enumerate(off_ms):
                (cell.held_dates_ms if n in stalled else cell.dates_ms).append(abs(each_ms - middle_ms))
    return cells


def verdict(met: bool) -> str:
    return "met" if met else "MISSED"


def report(condition: str, cells: dict[str, Cell]) -> None:
    print(f" {condition}")
    raw = cells["raw"]
    for way in WAYS:
        cell = cells[way]
        if not cell.delays_ms:
            print(f"  {NAMES[way]:<24} lost {cell.lost}, not judged {cell.not_judged}; no delays")
            continue
        rounds = " ".join(f"{each:.2f}" for each in cell.rounds_99_ms)
        busy = " ".join(f"{100 * each:.0f}" for each in cell.busy)
        print(
            f"  {NAMES[way]:<24} median {statistics.median(cell.delays_ms):6.2f} ms   99% "
            f"{at(cell.delays_ms, 0.99):6.2f} ms (rounds {rounds})   lost {cell.lost}, "
            f"not judged {cell.not_judged}   "
            f"busy {busy}%"
        )
    for way in ("silent", "screen"):
        cell = cells[way]
        if not cell.delays_ms or not raw.delays_ms:
            continue
        added_ms = at(cell.delays_ms, 0.99) - at(raw.delays_ms, 0.99)
        median_ms = statistics.median(cell.delays_ms) - statistics.median(raw.delays_ms)
        spread = " ".join(f"{a - b:+.2f}" for a, b in zip(cell.rounds_99_ms, raw.rounds_99_ms, strict=False))
        goal = ""
        if condition == CONDITIONS[0]:
            goal = f"; goal at 99% {ADDED_GOAL_MS[way]} ms: {verdict(added_ms <= ADDED_GOAL_MS[way])}"
        print(
            f"  {NAMES[way]} adds: median {median_ms:+.2f} ms, 99% {added_ms:+.2f} ms (rounds {spread}), "
            f"ratio to raw {at(cell.delays_ms, 0.99) / at(raw.delays_ms, 0.99):.2f}{goal}"
        )
    for way in WAYS:
        cell = cells[way]
        if not cell.dates_ms:
            continue
        every_ms = cell.dates_ms + cell.held_dates_ms
        late_ms, goal = at(every_ms, 0.99), ""
        if way != "raw" and condition in DATE_GOAL_MS:
            goal = f"; goal {DATE_GOAL_MS[condition]} ms: {verdict(late_ms <= DATE_GOAL_MS[condition])}"
        named = "dated when read (raw)" if way == "raw" else f"date, {NAMES[way]}"
        print(f"  {named:<32} off by {late_ms:6.2f} ms at 99%, {max(every_ms):6.2f} at most{goal}")
        if cell.held_back:
            print(
                f"  {'':<32} {cell.held_back} held back; without: {at(cell.dates_ms, 0.99):.2f} ms at 99%, "
                f"{max(cell.dates_ms):.2f} at most"
            )


def bursts(rounds: int) -> None:
    print(f" a burst of {BURST} messages, {rounds} times; goal: none lost, order kept")
    for hog in (False, True):
        lost = turned = 0
        for _ in range(rounds):
            result = pass_notes("burst", BURST, hog=hog, burst=True)
            came = result["came"]
            lost += BURST - len(set(came))
            turned += sum(b <= a for a, b in itertools.pairwise(came))
        print(
            f"  {'beside the hog' if hog else 'idle':<24} lost {lost}, out of order or twice {turned}: "
            f"{verdict(not lost and not turned)}"
        )


def main(only: str | None, rounds: int, notes: int, quiet_s: float, *, realtime: bool) -> None:
    with jack_server(realtime=realtime) as server:
        print(f"bench_transport.py: {rounds} rounds of {notes} notes; {server}")
        for condition in CONDITIONS:
            if only is None or only in condition:
                report(condition, measure(condition, rounds, notes, quiet_s))
                sys.stdout.flush()
        if only is None or only in "burst":
            bursts(rounds)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", help="part of a condition's name, or burst")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--notes", type=int, default=NOTES, help="in each round")
    parser.add_argument(
        "--quiet", type=float, default=0.0, metavar="SECONDS", help="wait up to so long for an idle machine"
    )
    parser.add_argument("--realtime", action="store_true", help="run the JACK server with real-time priority")
    parser.add_argument("--send", nargs=2, metavar=("WHAT", "COUNT"), help=argparse.SUPPRESS)
    parser.add_argument("--receive", nargs=3, metavar=("WAY", "COUNT", "HOG"), help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.send:
        send(int(chosen.send[1]), burst=chosen.send[0] == "burst")
    elif chosen.receive:
        receive(chosen.receive[0], int(chosen.receive[1]), hog=chosen.receive[2] == "hog")
    else:
        main(chosen.only, chosen.rounds, chosen.notes, chosen.quiet, realtime=chosen.realtime)
