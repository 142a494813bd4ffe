"""The ends of bench_transport.py: the server, a sender that stamps what it sends, receivers that stamp."""

import bisect
import fcntl
import json
import os
import pty
import random
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from rich.console import Console

from midifret.cli.app import App
from midifret.cli.running import Table, known_player, play_once
from midifret.clock import RealClock
from midifret.files import Home
from midifret.gear import load_guitar
from midifret.neck import Neck, Tuning
from midifret.session.around import Setting
from midifret.session.screen import Screen, Stage, View
from midifret.show.drill_screen import DrillScreen
from midifret.show.keys import KeyReader
from midifret.show.line_view import SilentView
from midifret.terms import CueKind, Exercise, Judged, Place, Prompt, SpelledPitch, TimedMessage, Unavailable
from midifret.wire import driver
from midifret.wire.ports import open_sink, open_source

PORT = "bench-guitar"
SERVER = "midifret-bench"
POLL_S = 0.001
# Notes up to 80 ms apart may be one stroke, a signal; uneven, so that no beat with the polling shows.
LEAST_GAP_S, MORE_GAP_S = 0.100, 0.010
RINGS_S = 0.045
BURST = 1000
HOG_S = 0.01
SAME_S = 1e-6
NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))


@contextmanager
def jack_server(*, realtime: bool) -> Iterator[str]:
    """A JACK server with its dummy driver, for all programs begun meanwhile; yields how it was started."""
    priority = "--realtime" if realtime else "--no-realtime"
    server = subprocess.Popen(
        ["jackd", "-S", priority, "-n", SERVER, "-d", "dummy", "-r", "48000", "-p", "64"],
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
        yield f"jackd -S {priority} -p 64"
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(10)


def place(n: int) -> Place:
    """The n-th note: every string and frets 0 to 12 in turn."""
    return Place(n % 6 + 1, n // 6 % 13)


def note(n: int) -> bytes:
    string, fret = place(n).string, place(n).fret
    return bytes((0x90 | string - 1, NECK.open_midi(string) + fret, 100))


def of_burst(n: int) -> bytes:
    """The n-th message of a burst, like no other: channel, key and velocity count up."""
    return bytes((0x90 | n >> 11 & 0xF, n >> 4 & 0x7F, 1 + (n & 0xF)))


def number_in_burst(data: bytes) -> int:
    return (data[0] & 0xF) << 11 | data[1] << 4 | data[2] - 1


def send(count: int, *, burst: bool) -> None:
    """The one process: send and print when each was sent."""
    sink = open_sink(PORT, virtual=True, client_name="bench-sender")
    print("ready", flush=True)
    sys.stdin.readline()
    sent: list[float] = []
    time.sleep(0.1)
    if burst:
        for n in range(count):
            sink.send(of_burst(n))
            if n % 40 == 39:  # the sending side's own buffer is not ours
                time.sleep(0.004)
    else:
        draw, next_s = random.Random(count), time.perf_counter()
        for n in range(count):
            wait_until(next_s)
            sent.append(time.perf_counter())
            sink.send(note(n))
            wait_until(next_s + RINGS_S)
            sink.send(bytes((note(n)[0] & 0x8F, note(n)[1], 0)))
            next_s += LEAST_GAP_S + MORE_GAP_S * draw.random()
    time.sleep(0.3)
    print(json.dumps(sent), flush=True)
    sys.stdin.readline()
    sink.close()


def wait_until(moment_s: float) -> None:
    while (left_s := moment_s - time.perf_counter()) > 0:
        time.sleep(min(0.0005, left_s))


def receive(way: str, count: int, *, hog: bool) -> None:
    """The other process: print what came of it, and when."""
    if hog:
        threading.Thread(target=_hog, daemon=True).start()
    if way == "raw":
        result = receive_raw(count)
    elif way == "burst":
        result = receive_burst(count)
    else:
        result = receive_live(count, on_screen=way == "screen")
    print(json.dumps(result), flush=True)


def _hog() -> None:
    """Hold the interpreter lock for about 10 ms at a time, as a parser or a renderer in C does."""
    size = 1000
    while True:  # find the size that takes that long here
        start_s = time.perf_counter()
        sum(range(size))
        if time.perf_counter() - start_s >= HOG_S:
            break
        size = int(size * 1.5)
    while True:
        sum(range(size))
        time.sleep(0.001)


def receive_raw(count: int) -> dict[str, list[float]]:
    """The baseline: the driver's queue, and nothing done with what it gives."""
    port = driver.open_input("bench-raw", driver.find_system())
    names = port.port_names()
    port.open(next(i for i, name in enumerate(names) if PORT in name))
    print("ready", flush=True)
    came: list[float] = []
    try:
        while len(came) < count:
            while (message := port.read()) is not None:
                if message[0][0] & 0xF0 == 0x90:
                    came.append(time.perf_counter())
            time.sleep(POLL_S)
    except KeyboardInterrupt:
        pass
    port.close()
    return {"came": came, "dates": came}


def receive_burst(count: int) -> dict[str, list[int]]:
    """What comes out of a PortSource of a burst: the numbers of its messages."""
    source = open_source(PORT, RealClock(), client_name="bench-ear")
    print("ready", flush=True)
    came: list[int] = []
    try:
        while len(came) < count:
            came += [number_in_burst(message.data) for message in source.poll()]
            time.sleep(POLL_S)
    except KeyboardInterrupt:
        pass
    source.close()
    return {"came": came}


class Stamping(View):
    """Passes all on to a view, and keeps when it had shown each answer."""

    def __init__(self, inner: View) -> None:
        self.inner = inner
        self.shown_s: list[float] = []
        self.begun = False

    def show(self, screen: Screen) -> None:
        self.inner.show(screen)
        now_s = time.perf_counter()
        while len(self.shown_s) < screen.answered:
            self.shown_s.append(now_s)
        if not self.begun and screen.stage is Stage.ASKING:
            self.begun = True
            print("ready", flush=True)

    def keys(self) -> list[str]:
        return self.inner.keys()


class Dated:
    """A source that also keeps the dates of all note-ons."""

    def __init__(self, inner: Any) -> None:
        self.inner = inner
        self.dates_s: list[float] = []

    def __getattr__(self, name: str) -> Any:
        return getattr(self.inner, name)

    def poll(self) -> list[TimedMessage]:
        messages: list[TimedMessage] = self.inner.poll()
        for time_s, data in messages:
            if data[0] & 0xF0 == 0x90:
                self.dates_s.append(time_s)
        return messages


def receive_live(count: int, *, on_screen: bool) -> dict[str, Sequence[float]]:
    """A run as `midifret drill` plays it: journal, book and all. `which`: numbers of the notes judged."""
    with tempfile.TemporaryDirectory() as home, terminal(on=on_screen) as inner:
        app = App(Home.of(Path(home)))
        source = Dated(open_source(PORT, RealClock(), client_name="bench-ear"))
        view = Stamping(inner)
        with app.open_book() as book:
            player = known_player(book, app, None)
            setting = Setting(
                exercise=exercise(count),
                guitar=load_guitar("default", app.home),
                player=player,
                countdown_s=0,
            )
            table = Table(source=source, clock=RealClock(), view=view)
            finished = play_once(app, book, setting, table)
        source.close()
    onsets_s = [answer.played.onset_s for answer in finished.answers if answer.played is not None]
    return {"came": view.shown_s, "dates": source.dates_s, "which": which(onsets_s, source.dates_s)}


def which(onsets_s: Sequence[float], dates_s: Sequence[float]) -> list[int]:
    """The number of the date of each onset: onsets are told from another start, and some notes have none."""
    for began_s in (date_s - onsets_s[0] for date_s in dates_s if onsets_s):
        found = [bisect.bisect_left(dates_s, began_s + onset_s - SAME_S) for onset_s in onsets_s]
        if all(
            n < len(dates_s) and abs(dates_s[n] - began_s - onset_s) <= SAME_S
            for n, onset_s in zip(found, onsets_s, strict=True)
        ):
            return found
    return []


@contextmanager
def terminal(*, on: bool) -> Iterator[View]:
    """The full screen on a pseudo-terminal that another process reads, or a view that shows nothing."""
    if not on:
        yield SilentView()
        return
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    reader = subprocess.Popen(["cat"], stdin=master, stdout=subprocess.DEVNULL)
    try:
        device = Path(os.ttyname(slave))
        with device.open("w", encoding="utf-8") as output, device.open(encoding="utf-8") as keys:
            console = Console(file=output, force_terminal=True, color_system="256", width=80, height=24)
            with DrillScreen(console, KeyReader(keys)) as screen:
                yield screen
    finally:
        reader.kill()
        reader.wait()
        os.close(master)
        os.close(slave)


def exercise(count: int) -> Exercise:
    """What a player of these notes is asked: every verdict is right.

    Any place answers any prompt. A note that was not judged, because others came at the same moment, would
    otherwise leave the run at its prompt, as nobody here plays it again.
    """
    places = tuple(place(n) for n in range(6 * 13))
    keys = tuple(sorted({note(n)[1] for n in range(6 * 13)}))
    prompts = []
    for n in range(count):
        pitch = SpelledPitch("C", 0, 4)
        prompts.append(Prompt(n + 1, (CueKind.NAME,), Judged.PLACE, places, keys, pitch))
    return Exercise("bench", "Bench", "", "", (3, 5), Judged.PLACE, tuple(prompts))
