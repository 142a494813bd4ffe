"""The stand's server: told by the program to received by a page on this machine, and memory over hours.

The page is a client in a process of its own; both read the system's one steady clock. The baseline is a bare
server of the same library in the same program, on a thread of its own, which hands text that is already
written to its one link; ours writes a whole moment of a run as JSON, remembers it for pages to come, and
keeps a place for it in the page's outbox. They take turns. Meanwhile the main thread looks about each
millisecond, as the live loop does. "handed over" is how long `send` itself takes on the thread that calls
it.

Memory: two hours of a run at 20 moments a second, as fast as one page takes them, with an exchange of clocks
for each second of these hours and a page that comes anew each minute; resident memory of the program after a
tenth and at the end. Nothing is slept through: it is the messages of two hours, not their time.
Run: python tests/bench/bench_stand.py [--messages 2000] [--hours 2]   (Linux)
"""

import argparse
import asyncio
import gc
import json
import multiprocessing
import os
import random
import statistics
import sys
import threading
import time
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from websockets.asyncio.server import ServerConnection, serve
from websockets.sync.client import connect

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from bench_memory import resident_mb

from midifret.clock import RealClock
from midifret.serve import StandServer
from midifret.stand.access import Access
from midifret.stand.messages import Cue, RunScreen, dump
from midifret.stand.sync import ClockSync, Exchange
from tests.serve.standing import FILES, a_reading, a_screen, cookie

EVERY_S = 0.005
GOAL_99_MS = 5.0  # MIDI sent to told is to be 5 ms when idle; this is a part of it
MOMENTS_A_SECOND = 20


def moment(number: int) -> RunScreen:
    """A moment as a drill has it, some 600 bytes; its clock tells its number."""
    cue = Cue(number, "F♯ | G♭", 3, 11, "", "staff-42", "F sharp on the third string", "fourth position")
    rows = tuple(f"row {row}: some words of a figure" for row in range(4))
    return replace(a_screen(number), cue=cue, rows=rows, title="A drill of notes", progress=(number, 2000))


def page(port: int, cookie_text: str, numbers: Connection) -> None:
    """The other process: receive, and say when each number came; answer exchanges."""
    with connect(
        f"ws://127.0.0.1:{port}/socket",
        additional_headers={"Cookie": cookie_text},
        origin=f"http://127.0.0.1:{port}",  # type: ignore[arg-type]
        compression=None,
        max_size=None,
    ) as link:
        link.send(json.dumps({"kind": "hello", "schema": 1, "viewer": "bench", "sounds": False}))
        came: dict[int, float] = {}
        for text in link:
            now_s = time.perf_counter()
            message = json.loads(text)
            if message["kind"] == "sync":
                stamps = {"came_ms": now_s * 1000, "went_ms": time.perf_counter() * 1000}
                link.send(json.dumps({"kind": "synced", "number": message["number"], **stamps}))
            elif message["kind"] == "screen":
                came[int(message["clock"])] = now_s
                if message["stage"] == "ended":
                    numbers.send(came)
                    came = {}
                elif message["stage"] == "countdown":
                    numbers.send("ready")


class Bare:
    """The baseline: a server of the library, one link, text handed to it from another thread."""

    def __init__(self) -> None:
        """Start."""
        self.loop = asyncio.new_event_loop()
        self.link: ServerConnection | None = None
        self.port = 0
        ready = threading.Event()
        threading.Thread(target=self._live, args=(ready,), daemon=True).start()
        ready.wait()

    def _live(self, ready: threading.Event) -> None:
        async def handle(link: ServerConnection) -> None:
            self.link = link
            await link.wait_closed()

        async def run() -> None:
            async with serve(handle, "127.0.0.1", 0, compression=None) as server:
                self.port = server.sockets[0].getsockname()[1]
                ready.set()
                await asyncio.Future()

        self.loop.run_until_complete(run())

    def send(self, text: str) -> None:
        """Hand it over."""
        link = self.link
        assert link is not None
        self.loop.call_soon_threadsafe(lambda: self.loop.create_task(link.send(text)))


def figures(values_ms: list[float]) -> str:
    ordered = sorted(values_ms)
    return (
        f"median {statistics.median(ordered):.2f} ms, 99% {ordered[int(len(ordered) * 0.99)]:.2f} ms, "
        f"most {ordered[-1]:.2f} ms"
    )


def delays(messages: int) -> bool:
    """Measure ours and the baseline in turns of 100 messages."""
    with_server = StandServer(FILES, Access(random.SystemRandom().randbytes), RealClock())
    with_server.start()
    bare = Bare()
    ends: dict[str, Connection] = {}
    processes = []
    for name, port, text in (("midifret", with_server.port, cookie(with_server)), ("bare", bare.port, "")):
        ends[name], theirs = multiprocessing.Pipe()
        processes.append(multiprocessing.Process(target=page, args=(port, text, theirs), daemon=True))
        processes[-1].start()
    while not with_server.viewers or bare.link is None:
        time.sleep(0.01)
    time.sleep(1.5)  # the first exchanges of clocks

    took: dict[str, list[float]] = {name: [] for name in ends}
    handed: dict[str, list[float]] = {name: [] for name in ends}
    for start in range(0, messages, 100):
        for name in ends:
            sent: dict[int, float] = {}
            for number in range(start, start + 100):
                made = replace(moment(number), stage="ended" if number == start + 99 else "asking")
                text = dump(made)
                begin_s = time.perf_counter()
                while (now_s := time.perf_counter()) < begin_s + EVERY_S:
                    time.sleep(0.001)  # as the live loop
                sent[number] = now_s
                if name == "midifret":
                    with_server.send(made)
                else:
                    bare.send(text)
                handed[name].append((time.perf_counter() - now_s) * 1000)
            came: dict[int, float] = ends[name].recv()
            took[name] += [(came[number] - at_s) * 1000 for number, at_s in sent.items() if number in came]
    for process in processes:
        process.kill()
    with_server.stop()
    print(
        f"{messages} moments of {len(dump(moment(1)))} bytes each, one each {EVERY_S * 1000:.0f} ms; ", end=""
    )
    print(f"{os.cpu_count()} processors, of all programs {os.getloadavg()[0]:.1f} want to run")
    for name, label in (("midifret", "the stand"), ("bare", "a bare server of the library")):
        print(f"{label}: told to received {figures(took[name])}; {len(took[name])} received")
        print(f"{' ' * len(label)}  handed over {figures(handed[name])}")
    ninety_nine = sorted(took["midifret"])[int(len(took["midifret"]) * 0.99)]
    return ninety_nine < GOAL_99_MS


def memory(hours: float) -> bool:
    """Measure resident memory after a tenth of these hours' messages and at their end."""
    server = StandServer(FILES, Access(random.SystemRandom().randbytes), RealClock())
    server.start()
    let_in = cookie(server)
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.Process(target=page, args=(server.port, let_in, theirs), daemon=True)
    process.start()
    while not server.viewers:
        time.sleep(0.01)
    # The link's own exchanges come with the seconds that pass, so those of hours are played to one like it.
    sync, draw = ClockSync(), random.Random(1)
    seconds = int(hours * 3600)
    early_mb = 0.0
    for second in range(seconds):
        for part in range(MOMENTS_A_SECOND):
            number = second * MOMENTS_A_SECOND + part
            reading = a_reading((f"n{number % 5000}", "right"))
            server.send(replace(moment(number), reading=reading, run=second // 600))
        server.send(replace(moment(number), stage="ended", run=second // 600))
        ours.recv()  # it has what came, so that nothing waits
        there_s = second + 1000 + draw.expovariate(1000)
        back_s = there_s + draw.expovariate(1000)
        sync.add(Exchange(second + 1000.0, there_s * 1000, there_s * 1000 + 0.05, back_s + 0.00005))
        if second % 60 == 0:
            other: Any = connect(
                f"ws://127.0.0.1:{server.port}/socket",
                additional_headers={"Cookie": let_in},
                origin=f"http://127.0.0.1:{server.port}",  # type: ignore[arg-type]
                compression=None,
            )
            with other as link:
                link.send(json.dumps({"kind": "hello", "schema": 1, "viewer": f"v{second}", "sounds": False}))
                link.recv()
        if second == seconds // 10:
            early_mb = resident_mb_here()
    late_mb = resident_mb_here()
    process.kill()
    server.stop()
    print(f"{seconds * MOMENTS_A_SECOND} moments, {seconds // 60} pages that came and went: ", end="")
    print(f"{early_mb:.1f} MB after a tenth, {late_mb:.1f} MB at the end")
    return late_mb - early_mb < 2


def resident_mb_here() -> float:
    gc.collect()
    return resident_mb(os.getpid())


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--messages", type=int, default=2000)
    options.add_argument("--hours", type=float, default=2.0)
    chosen = options.parse_args()
    quick = delays(chosen.messages)
    flat = memory(chosen.hours)
    print(f"goals: 99% under {GOAL_99_MS:.0f} ms {'met' if quick else 'NOT met'}, ", end="")
    print(f"under 2 MB more at the end {'met' if flat else 'NOT met'}")
    sys.exit(0 if quick and flat else 1)


if __name__ == "__main__":
    main()
