"""The stand in this process: the real server, a scripted page in a thread of its own, a virtual guitar."""

import json
import signal
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from websockets.exceptions import ConnectionClosed

from midifret.cli.app import App
from midifret.cli.run_options import RunWishes
from midifret.cli.running import Table
from midifret.cli.stand import StandWishes, stand
from midifret.clock import RealClock
from midifret.files import Home
from midifret.gear import load_guitar
from midifret.gear.guitar import Guitar
from midifret.players.player import Action, Pluck, TimedPluck
from midifret.serve import StandServer
from midifret.stand.messages import ToPage
from midifret.terms import Judged, Prompt
from midifret.wire.virtual_guitar import VirtualGuitar, VirtualSource
from tests.serve.standing import WAIT_S, ScriptedPage, cookie

# How long the player of these tests takes from the cue; a page is told of the cue long before.
ANSWER_S = 0.15
PAINTS_AFTER_MS = 12.0


class Answers:
    """Plucks the suggested place of each prompt soon after its cue, or just on its beat."""

    in_tempo = True

    def answer(self, prompt: Prompt) -> Sequence[Action]:
        if prompt.judged is Judged.NAME:
            return ()
        return (Pluck(ANSWER_S, prompt.places[0], 90, 0.1),)

    def on_beat(self, prompt: Prompt, due_s: float) -> Sequence[TimedPluck]:
        return (TimedPluck(due_s, Pluck(0.0, prompt.places[0], 90, 0.1)),)


class OffBeat(Answers):
    """The same in free tempo."""

    in_tempo = False


class LivePage(ScriptedPage):
    """A page that answers as the real one does, from a thread of its own, and keeps what it was told."""

    def __init__(self, server: StandServer, text: str, *, viewer: str = "one", paints: bool = True) -> None:
        super().__init__(server, text, viewer=viewer, offset_ms=4_000.0)
        self.paints = paints
        self.told: list[dict[str, Any]] = []
        self.painted: dict[tuple[int, int], float] = {}
        self._more = threading.Condition()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        try:
            while True:
                message = json.loads(self.link.recv())
                came_ms = self.now_ms()
                if message["kind"] == "sync":
                    went_ms = self.now_ms()
                    self.say(kind="synced", number=message["number"], came_ms=came_ms, went_ms=went_ms)
                    continue
                self._paint(message)
                with self._more:
                    self.told.append(message)
                    self._more.notify_all()
        except ConnectionClosed:
            with self._more:
                self._more.notify_all()

    def _paint(self, message: dict[str, Any]) -> None:
        cue = message.get("cue")
        if message["kind"] != "screen" or cue is None or cue["waits"] or not self.paints:
            return
        key = message["run"], cue["n"]
        if key not in self.painted:
            self.painted[key] = self.now_ms() + PAINTS_AFTER_MS
            values = {"painted_ms": self.painted[key], "frame_ms": 16.7}
            self.say(kind="painted", run=key[0], n=key[1], **values)

    def until(self, holds: Callable[[dict[str, Any]], object], *, since: int = 0) -> dict[str, Any]:
        """Wait for a message of which something holds, among those since the so-manieth."""
        end_s = time.monotonic() + WAIT_S * 4
        with self._more:
            while True:
                for message in self.told[since:]:
                    if holds(message):
                        return message
                left_s = end_s - time.monotonic()
                assert left_s > 0, f"the page was never told so; last: {self.told[-1:]}"
                self._more.wait(left_s)

    def stage(self, stage: str, *, since: int = 0) -> dict[str, Any]:
        return self.until(lambda m: m["kind"] == "screen" and m["stage"] == stage, since=since)

    def hall(self, *, since: int = 0) -> dict[str, Any]:
        return self.until(lambda m: m["kind"] == "hall", since=since)

    def begin(self, what: str, **more: object) -> None:
        self.say(kind="begin", what=what, **more)

    def press(self, key: str) -> None:
        self.say(kind="pressed", key=key, pressed_ms=self.now_ms())

    def name(self, name: str) -> None:
        self.say(kind="named", name=name, pressed_ms=self.now_ms())

    def sound(self, *, latency_ms: float | None = 30.0) -> None:
        self.say(kind="sounding", ready=True, output_latency_ms=latency_ms, late=0)


@dataclass
class Ended:
    """How a stand ended: its exit code, and what its scripts raised."""

    code: int
    errors: list[BaseException]


def at_stand(
    home: Path,
    script: Callable[[StandServer], None],
    *,
    live: RunWishes | None = None,
    player: Answers | None = None,
    source: Callable[[Guitar], Any] | None = None,
) -> int:
    """Serve a stand and run a script beside it; when that is over the stand is interrupted.

    Returns its exit code. What the script raises is raised here.
    """
    app = App(Home(home))
    clock = RealClock()
    errors: list[BaseException] = []
    threads: list[threading.Thread] = []
    guitar = load_guitar("default", app.home)
    virtual = VirtualGuitar(guitar, player or OffBeat())
    heard = VirtualSource(virtual, clock)

    def run(server: StandServer) -> None:
        try:
            script(server)
        except BaseException as error:  # the test's own, told in its thread
            errors.append(error)
        finally:
            signal.raise_signal(signal.SIGINT)

    def started(server: StandServer) -> None:
        threads.append(threading.Thread(target=run, args=(server,), daemon=True))
        threads[0].start()

    def at_table(table: Table) -> Table:
        return replace(table, on_cue=virtual.cue, on_due=virtual.beat)

    code = stand(
        app,
        StandWishes(browser=False, port=0),
        live or RunWishes(countdown_s=0, no_check=True),
        None,
        None,
        clock=clock,
        source=source or (lambda _: heard),
        on_table=at_table,
        on_start=started,
    )
    for thread in threads:
        thread.join(WAIT_S)
    if errors:
        raise errors[0]
    return code


def sent(server: StandServer, wanted: Callable[[ToPage], object]) -> threading.Event:
    """Set when the program tells all pages something that is wanted, also where no page is there."""
    found = threading.Event()
    send = server.send

    def told(message: ToPage) -> None:
        send(message)
        if wanted(message):
            found.set()

    server.send = told  # type: ignore[method-assign]
    return found


def page_of(server: StandServer, *, viewer: str = "one", paints: bool = True) -> LivePage:
    """A page that was let in with the address that is printed."""
    return LivePage(server, cookie(server), viewer=viewer, paints=paints)
