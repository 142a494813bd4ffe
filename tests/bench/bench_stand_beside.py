"""`drill` in the terminal beside an open stand, and the stand itself: sent over JACK to told.

Beside: notes sent to the verdict shown, as bench_transport.py takes it, with nothing shown and on the full
screen; with no stand, which is the baseline, and with `midifret stand` in its hall and a page in Chromium
that is linked to it. Both, and both ways, take turns in each round.

At the stand: notes sent to the verdict told to the page's script. The program is a process of its own that
plays the same drill with the stand as its view. The page takes the moment on its own clock, before anything
else is done with a message. Chromium's clock starts at what it names NavigationStart, on the system's one
steady clock, which the sender reads too (Linux); how far the program's own comparison of the clocks is from
that is told besides. The worst notes are told with where the time went: until the program had the note, until
it had handed the verdict to the server, and until the page had it. A viewer of a few lines of Python on the
same server, in the process of this bench, is the baseline of the last part: what it is told late too is not
the browser's.

A turn of the program's loop that took long is told with what the kernel says of its thread: beside a load it
waits for a processor, for tenths of a second where several sessions compete, and no niceness helps, as Linux
divides the processors by sessions first (sched(7), autogroup). With --ahead all of this, browser and server
included, goes before all other work (SCHED_RR), which is nearly a machine with nothing else to do; that needs
the right to it.

Run: python tests/bench/bench_stand_beside.py [--ahead] [--only beside | stand] [--rounds 3] [--notes 200]
(Linux; needs jackd, python-rtmidi, Chromium and playwright; --no-realtime where the right to it is missing)
"""

import argparse
import json
import os
import random
import resource
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from bench_transport import at, pass_notes
from playwright.sync_api import sync_playwright
from transport_ends import PORT, Dated, exercise, jack_server, which
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

import midifret.stand
from midifret.cli.app import App
from midifret.cli.running import Table, known_player, play_once
from midifret.clock import RealClock
from midifret.files import Home
from midifret.gear import load_guitar
from midifret.serve import StandServer
from midifret.serve.answers import read_files
from midifret.serve.pages import Pages
from midifret.serve.view import StandView
from midifret.session.around import Setting
from midifret.session.screen import Press, Screen, Stage
from midifret.stand.access import Access
from midifret.stand.messages import SCHEMA
from midifret.wire.ports import open_source

WAYS = {"silent": "nothing shown", "screen": "on the screen"}
NOTES_S = 0.11  # from note to note, at most
GOAL_MS = 5.0  # sent to told, at rest
WORST = 5
STALL_S = 0.02
SCHEDSTAT = "/proc/thread-self/schedstat"  # ns on a processor, ns waiting for one, turns
# Keeps when each message came, before the page's own script sees it.
TAKE = """
window.taken = [];
window.WebSocket = class extends WebSocket {
  constructor(...given) {
    super(...given);
    this.addEventListener("message", (event) => {
      const at = performance.now();
      window.taken.push([at, event.data]);
    });
  }
};
"""


# --- the stand as a process ---------------------------------------------------------------------------


class Stamped(StandView):
    """The stand's view, which keeps when each verdict was handed to the server."""

    handed_s: list[float]
    stalls: list[tuple[float, float, float, int]]
    begun = False
    _last: tuple[float, float, float, int] | None = None

    def presses(self) -> list[Press]:
        """Called in each turn of the loop: tell of a turn that took long, and of what it was made.

        On a processor and waiting for one, by the kernel's account of this thread (schedstat); what is left
        is waiting for something else: another thread that holds the interpreter, a disk.
        """
        on_s, waited_s = (int(each) / 1e9 for each in Path(SCHEDSTAT).read_text().split()[:2])
        faults = resource.getrusage(resource.RUSAGE_THREAD).ru_majflt
        now = (time.perf_counter(), on_s, waited_s, faults)
        if self._last is not None and now[0] - self._last[0] > STALL_S:
            took_s, on, waited = (b - a for a, b in zip(self._last[:3], now[:3], strict=True))
            self.stalls.append((took_s, on, waited, faults - self._last[3]))
        self._last = now
        return super().presses()

    def show(self, screen: Screen) -> None:
        """Hand over, then stamp."""
        super().show(screen)
        now_s = time.perf_counter()
        while len(self.handed_s) < screen.answered:
            self.handed_s.append(now_s)
        if not self.begun and screen.stage is Stage.ASKING:
            self.begun = True
            print("ready", flush=True)


def play_at_stand(count: int) -> None:
    """The program: serve, wait for a page and a line, play; say what came, and how the clocks are."""
    files = read_files(Path(midifret.stand.__file__).parent / "web")
    clock = RealClock()
    server = StandServer(files, Access(random.SystemRandom().randbytes), clock)
    server.start()
    print(server.address(), flush=True)
    sys.stdin.readline()
    view = Stamped(Pages(server), clock)
    view.handed_s, view.stalls = [], []
    with tempfile.TemporaryDirectory() as folder:
        app = App(Home.of(Path(folder)))
        source = Dated(open_source(PORT, clock, client_name="bench-ear"))
        with app.open_book() as book:
            setting = Setting(
                exercise=exercise(count),
                guitar=load_guitar("default", app.home),
                player=known_player(book, app, None),
                countdown_s=0,
            )
            table = Table(source=source, clock=clock, view=view, on_run=lambda setting: _begin(view))
            finished = play_once(app, book, setting, table)
        source.close()
    onsets_s = [answer.played.onset_s for answer in finished.answers if answer.played is not None]
    (viewer,) = (viewer for viewer in server.viewers if not viewer.ident.endswith(".bench"))
    zero = server.to_run_s(viewer.ident, 0.0)
    assert zero is not None
    result = {
        "handed": view.handed_s,
        "dates": source.dates_s,
        "which": which(onsets_s, source.dates_s),
        "stalls": view.stalls,
        "zero_s": zero.time_s,
        "sure": sum(answer.cue_sure for answer in finished.answers),
    }
    print(json.dumps(result), flush=True)
    sys.stdin.readline()
    server.stop()


def _begin(view: StandView) -> None:
    view.begin()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        found: int = probe.getsockname()[1]
    return found


# --- beside it ----------------------------------------------------------------------------------------


@contextmanager
def open_stand(browser: Any, *, on: bool) -> Iterator[None]:
    """`midifret stand` in its hall, with a page."""
    if not on:
        yield
        return
    with tempfile.TemporaryDirectory() as home:
        command = [sys.executable, "-m", "midifret", "--home", home, "stand", "--no-browser", "--virtual"]
        command += ["--port", str(free_port()), "--input", "bench-stand"]
        program = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            assert program.stdout is not None
            context = browser.new_context()
            page = context.new_page()
            page.goto(program.stdout.readline().strip().partition(": ")[2])
            page.locator("#hall").wait_for()
            page.wait_for_timeout(2000)  # until the first exchanges of clocks are over
            yield
            page.wait_for_timeout(50)
            if page.locator("body[data-link=linked]").count() != 1:
                sys.exit("the page was not linked all the time")
            context.close()
        finally:
            program.send_signal(signal.SIGINT)
            program.wait(20)


def beside(browser: Any, rounds: int, notes: int) -> None:
    delays: dict[tuple[str, bool], list[float]] = {(way, on): [] for way in WAYS for on in (False, True)}
    lost = dict.fromkeys(delays, 0)
    for number in range(rounds):
        draw = random.Random(number)
        for on in draw.sample((False, True), 2):
            with open_stand(browser, on=on):
                for way in draw.sample(list(WAYS), 2):
                    result = pass_notes(way, notes, hog=False)
                    sent, told = result["sent"], result["which"]
                    if len(result["dates"]) < notes or not told:
                        lost[way, on] += notes
                        continue
                    delays[way, on] += [
                        1000 * (s - sent[n]) for n, s in zip(told, result["came"], strict=True)
                    ]
    print(f" drill, sent to shown; {rounds} rounds of {notes} notes; baseline: the same with no stand")
    for way, words in WAYS.items():
        base, with_stand = delays[way, False], delays[way, True]
        for on, found in ((False, base), (True, with_stand)):
            where = "stand open, a page linked" if on else "no stand"
            print(f"  {words:<14} {where:<26} {figures(found)}; left out {lost[way, on]}")
        if base and with_stand:
            median = statistics.median(with_stand) / statistics.median(base)
            late = at(with_stand, 0.99) / at(base, 0.99)
            print(f"  {words:<14} ratio to no stand: median {median:.2f}, 99% {late:.2f}")


# --- at it --------------------------------------------------------------------------------------------


def at_stand(browser: Any, rounds: int, notes: int) -> None:
    delays: list[float] = []
    parts: list[tuple[float, ...]] = []
    off_ms: list[float] = []
    stalls: list[tuple[float, float, float, int]] = []
    sure = missing = 0
    for number in range(rounds):
        result, came_s, beside_s, zero_s = one_round(browser, notes)
        off_ms.append(1000 * (result["zero_s"] - zero_s))
        sure += result["sure"]
        stalls += map(tuple, result["stalls"])
        for answer, n in enumerate(result["which"]):
            if answer not in came_s or answer not in beside_s:
                missing += 1
                continue
            sent_s, date_s, handed_s = result["sent"][n], result["dates"][n], result["handed"][answer]
            delays.append(1000 * (came_s[answer] - sent_s))
            steps = (
                date_s - sent_s,
                handed_s - date_s,
                came_s[answer] - handed_s,
                beside_s[answer] - handed_s,
            )
            parts.append((delays[-1], *(1000 * step for step in steps), number * notes + n))
    print(f" the stand, sent to told to the script; {rounds} rounds of {notes} notes; goal {GOAL_MS:.0f} ms")
    print(f"  {figures(delays)}; {len(delays)} told, {missing} not told; {sure} cues with a sure time")
    legs = ("to the program's date", "to the server", "to the script", "to the listener, likewise")
    for leg, words in enumerate(legs, 1):
        print(f"  {words:<26} {figures([part[leg] for part in parts])}")
    for part in sorted(parts, reverse=True)[:WORST]:
        print("  worst: {:.2f} ms = {:.2f} + {:.2f} + {:.2f} (listener {:.2f}), note {}".format(*part))
    print(f"  turns of the program's loop of more than {1000 * STALL_S:.0f} ms: {len(stalls)}")
    for took_s, on_s, waited_s, faults in sorted(stalls, reverse=True)[:WORST]:
        left_s = took_s - on_s - waited_s
        print(
            f"  worst: {1000 * took_s:.1f} ms = {1000 * on_s:.1f} on a processor + {1000 * waited_s:.1f} "
            f"waiting for one + {1000 * left_s:.1f} else; {faults} pages from disk"
        )
    print(f"  the program's clock of the page is off by {', '.join(f'{each:+.2f}' for each in off_ms)} ms")
    met = bool(delays) and at(delays, 0.99) <= GOAL_MS
    print(f"  goal at 99%: {'met' if met else 'MISSED'}")


def one_round(browser: Any, notes: int) -> tuple[dict[str, Any], dict[int, float], dict[int, float], float]:
    """Play one run; return all times told, when page and listener had each answer, the page's zero."""
    sender = started("bench_transport.py", "--send", "notes", str(notes))
    program = started(Path(__file__).name, "--play", str(notes))
    assert readline(sender) == "ready"
    context = browser.new_context()
    page = context.new_page()
    page.add_init_script(TAKE)
    page.goto(readline(program))
    page.locator("body[data-link=linked]").wait_for()
    listener = Listener(page)
    page.wait_for_timeout(1500)
    say(program)
    assert readline(program) == "ready"
    page.wait_for_timeout(300)  # it sees the first cue
    say(sender)
    page.wait_for_timeout(1000 * NOTES_S * notes)
    sent = json.loads(readline(sender))
    # Each waits for the other's answers no longer than it lasts; a note that was lost would leave it waiting.
    with stopped_after(program, 5.0):
        result = json.loads(readline(program))
    taken = page.evaluate("window.taken")
    session = context.new_cdp_session(page)
    session.send("Performance.enable")
    metrics = {each["name"]: each["value"] for each in session.send("Performance.getMetrics")["metrics"]}
    zero_s = float(metrics["NavigationStart"])
    came_s = answers_told(taken, zero_s)
    beside_s = answers_told(listener.taken, 0.0)
    listener.link.close()
    context.close()
    for process in (program, sender):
        say(process)
        process.wait(10)
    return {**result, "sent": sent}, came_s, beside_s, zero_s


class Listener:
    """Another viewer, which keeps when each message came and does nothing else."""

    def __init__(self, page: Any) -> None:
        """Link with the cookie of a page."""
        address = page.url.split("/")[2]
        (cookie,) = page.context.cookies()
        self.taken: list[tuple[float, str | bytes]] = []
        self._opening = connect(
            f"ws://{address}/socket",
            additional_headers={"Cookie": f"{cookie['name']}={cookie['value']}"},
            origin=f"http://{address}",  # type: ignore[arg-type]
            compression=None,
        )
        self.link = self._opening.__enter__()  # closed by hand
        self.link.send(json.dumps({"kind": "hello", "schema": SCHEMA, "viewer": "bench", "sounds": False}))
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        with suppress(ConnectionClosed):
            while True:
                text = self.link.recv()
                self.taken.append((1000 * time.perf_counter(), text))


def answers_told(taken: Sequence[Sequence[Any]], zero_s: float) -> dict[int, float]:
    """When each answer was told first, from messages with their times in ms from zero_s."""
    came_s: dict[int, float] = {}
    for at_ms, text in taken:
        message = json.loads(text)
        if message["kind"] == "screen":
            for answer in range(len(came_s), message["progress"][0]):
                came_s[answer] = zero_s + at_ms / 1000
    return came_s


def started(file: str, *options: str) -> "subprocess.Popen[str]":
    """A process of this or the other bench, spoken to by lines."""
    command = [sys.executable, str(Path(__file__).with_name(file)), *options]
    return subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def readline(process: "subprocess.Popen[str]") -> str:
    assert process.stdout is not None
    return process.stdout.readline().strip()


def say(process: "subprocess.Popen[str]") -> None:
    assert process.stdin is not None
    process.stdin.write("\n")
    process.stdin.flush()


@contextmanager
def stopped_after(process: "subprocess.Popen[str]", after_s: float) -> Iterator[None]:
    """Interrupt a run that does not end by itself, as with notes that were lost."""
    timer = threading.Timer(after_s, process.send_signal, (signal.SIGINT,))
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def figures(values_ms: list[float]) -> str:
    if not values_ms:
        return "nothing"
    return (
        f"median {statistics.median(values_ms):.2f} ms, 99% {at(values_ms, 0.99):.2f} ms, "
        f"most {max(values_ms):.2f} ms"
    )


def main(only: str | None, rounds: int, notes: int, *, realtime: bool, ahead: bool) -> None:
    if ahead:
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(1))  # all that is started from here has it too
    with jack_server(realtime=realtime) as server:
        print(f"bench_stand_beside.py: {server}; {os.cpu_count()} processors, ", end="")
        print(f"of all programs {os.getloadavg()[0]:.1f} want to run", end="")
        print("; ahead of all other work" if ahead else "")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox"]
            )
            if only != "stand":
                beside(browser, rounds, notes)
                sys.stdout.flush()
            if only != "beside":
                at_stand(browser, rounds, notes)
            browser.close()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--only", choices=("beside", "stand"))
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--notes", type=int, default=200, help="in each round")
    parser.add_argument("--no-realtime", action="store_true", help="run the JACK server without priority")
    parser.add_argument("--ahead", action="store_true", help="go before all other work of the machine")
    parser.add_argument("--play", type=int, metavar="COUNT", help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.play:
        play_at_stand(chosen.play)
    else:
        main(chosen.only, chosen.rounds, chosen.notes, realtime=not chosen.no_realtime, ahead=chosen.ahead)
