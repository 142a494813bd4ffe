"""Real MIDI ports (JACK's dummy driver): send-to-verdict time over raw queue polling, and notes lost.

The sender is a process of its own; both ends read the system's one steady clock. The baseline is the bare
driver's queue looked at each millisecond; ours is the same queue through dating, splitting, hearing and
judging, up to the verdict. Also: a burst of 1,000 notes, and a thread that hogs the interpreter lock.
Run: python tests/bench/bench_transport.py   (needs jackd and python-rtmidi)
"""

import argparse
import os
import signal
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress

from midifret.clock import RealClock
from midifret.hear import Decoder
from midifret.neck import Neck, Tuning
from midifret.play import Judgement, Run
from midifret.terms import CueKind, Exercise, Judged, Note, Place, Prompt, SpelledPitch, Unavailable, Wiring
from midifret.wire import driver
from midifret.wire.ports import PortSource, open_sink, open_source

SERVER = "midifret-bench"
NOTES, GAP_S, POLL_S = 500, 0.05, 0.001  # closer notes are one stroke to a run, and not judged
BURST = 1000
PORT = "bench-guitar"
HOG_S = 0.01
NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
CHANNELS = (1, 2, 3, 4, 5, 6) + (None,) * 10


def note(n: int) -> bytes:
    """The n-th note: every string and frets 0 to 12 in turn."""
    string = n % 6
    return bytes((0x90 | string, NECK.open_midi(string + 1) + n // 6 % 13, 1 + n % 127))


def send(count: int, gap_s: float) -> None:
    """The other process: send notes and print when each was sent."""
    sink = open_sink(PORT, virtual=True, client_name="bench-sender")
    print("ready", flush=True)
    sys.stdin.readline()
    sent = []
    next_s = time.perf_counter() + 0.1
    for n in range(count):
        while time.perf_counter() < next_s:
            time.sleep(min(0.0005, max(0.0, next_s - time.perf_counter())))
        sent.append(time.perf_counter())
        sink.send(note(n))
        sink.send(bytes((note(n)[0] & 0x8F, note(n)[1], 0)))
        # Without a gap: forty in a row, then time for the sending side's own buffer, which is not ours.
        next_s += gap_s if gap_s else (0.004 if n % 40 == 39 else 0.0)
    time.sleep(0.3)
    print(" ".join(f"{time_s:.7f}" for time_s in sent), flush=True)
    sys.stdin.readline()
    sink.close()


def exercise(count: int) -> Exercise:
    """What a player of these notes is asked: every verdict is right."""
    prompts = []
    for n in range(count):
        _, key, _ = note(n)
        place = Place(n % 6 + 1, n // 6 % 13)
        pitch = SpelledPitch("C", 0, 4)
        prompts.append(Prompt(n + 1, (CueKind.NAME,), Judged.PLACE, (place,), (key,), pitch))
    return Exercise("bench", "Bench", "", "", (3, 5), Judged.PLACE, tuple(prompts))


class Raw:
    """The baseline: the driver's queue, and nothing done with what it gives."""

    def __init__(self) -> None:
        system = driver.find_system()
        self.port = driver.open_input("bench-raw", system)
        names = self.port.port_names()
        self.port.open(next(i for i, name in enumerate(names) if PORT in name))

    def step(self) -> int:
        count = 0
        while (message := self.port.read()) is not None:
            count += message[0][0] & 0xF0 == 0x90
        return count

    def close(self) -> None:
        self.port.close()


class Ours:
    """The whole way to the verdict."""

    def __init__(self, count: int) -> None:
        self.source: PortSource = open_source(PORT, RealClock(), client_name="bench-ear")
        self.decoder = Decoder(NECK, Wiring(CHANNELS))
        self.run = Run(exercise(count))
        self.run.start(time.perf_counter())
        self.judged = 0

    def step(self) -> int:
        heard = 0
        for time_s, data in self.source.poll():
            for event in self.decoder.feed(time_s, data):
                heard += isinstance(event, Note)
                self.judged += sum(isinstance(output, Judgement) for output in self.run.hear(event))
        return heard

    def close(self) -> None:
        self.source.close()


def measure(
    make: Callable[[], Raw | Ours], count: int, gap_s: float, *, hog: bool
) -> tuple[list[float], int]:
    """Return the milliseconds from send to result of each note that came, and how many were lost."""
    child = subprocess.Popen(
        [sys.executable, __file__, "--send", str(count), str(gap_s)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert child.stdin is not None
    assert child.stdout is not None
    assert child.stdout.readline().strip() == "ready"
    receiver = make()
    stop = threading.Event()
    if hog:
        threading.Thread(target=_hog, args=(stop,), daemon=True).start()
    arrived: list[float] = []
    child.stdin.write("\n")
    child.stdin.flush()
    end_s = time.perf_counter() + 3.0 + count * max(gap_s, 0.001) * (3 if hog else 1)
    while len(arrived) < count and time.perf_counter() < end_s:
        came = receiver.step()
        arrived += [time.perf_counter()] * came
        time.sleep(POLL_S)
    stop.set()
    if isinstance(receiver, Ours) and gap_s and receiver.judged != len(arrived):
        print(f"  {len(arrived) - receiver.judged} notes came without a verdict: dated as one stroke")
    sent = [float(text) for text in child.stdout.readline().split()]
    receiver.close()
    child.stdin.write("\n")
    child.stdin.close()
    child.wait(10)
    delays_ms = [(a - b) * 1000 for a, b in zip(arrived, sent, strict=False)]
    return delays_ms, count - len(arrived)


def _hog(stop: threading.Event) -> None:
    """Hold the interpreter lock for about 10 ms at a time, as a parser or a renderer in C does."""
    size = 1000
    while True:  # find the size that takes that long here
        start_s = time.perf_counter()
        sum(range(size))
        if time.perf_counter() - start_s >= HOG_S:
            break
        size = int(size * 1.5)
    while not stop.is_set():
        sum(range(size))
        time.sleep(0.001)


def show(name: str, delays_ms: list[float], lost: int) -> tuple[float, float]:
    """Print one line; return median and 99th percentile."""
    ordered = sorted(delays_ms)
    median_ms = statistics.median(ordered)
    late_ms = ordered[int(0.99 * (len(ordered) - 1))]
    print(f"  {name:<34} median {median_ms:6.2f} ms   99% {late_ms:7.2f} ms   lost {lost}")
    return median_ms, late_ms


def main() -> None:
    server = subprocess.Popen(
        ["jackd", "-S", "--no-realtime", "-n", SERVER, "-d", "dummy", "-r", "48000", "-p", "64"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.environ |= {"JACK_DEFAULT_SERVER": SERVER, "MIDIFRET_MIDI_SYSTEM": "JACK"}
    try:
        for _ in range(100):
            time.sleep(0.05)
            with suppress(Unavailable):
                driver.find_system()
                break
        print(f"bench_transport.py: {NOTES} notes, one each {GAP_S * 1000:.0f} ms; jackd -S, polled each ms")
        for title, hog in (("idle", False), ("beside a thread that hogs the lock", True)):
            print(f" {title}")
            raw = show("raw queue polling", *measure(Raw, NOTES, GAP_S, hog=hog))
            ours = show("midifret to the verdict", *measure(lambda: Ours(NOTES), NOTES, GAP_S, hog=hog))
            print(
                f"  added: median {ours[0] - raw[0]:+.2f} ms, 99% {ours[1] - raw[1]:+.2f} ms; "
                f"ratio of medians {ours[0] / raw[0]:.2f}"
            )
        print(f" a burst of {BURST} (goal: none lost)")
        for title, hog in (("idle", False), ("beside the hog", True)):
            _, lost = measure(lambda: Ours(BURST), BURST, 0.0, hog=hog)
            print(f"  {title:<34} lost {lost}")
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(10)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--send", nargs=2, metavar=("COUNT", "GAP_S"))
    chosen = parser.parse_args()
    if chosen.send:
        send(int(chosen.send[0]), float(chosen.send[1]))
    else:
        main()
