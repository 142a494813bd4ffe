"""The stand itself over real ports: the program in a process of its own, a page, and a guitar."""

import json
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import ClientConnection, connect

from midifret.cli.app import App
from midifret.files import Home
from midifret.stand.messages import SCHEMA
from midifret.wire.ports import list_ports, open_sink
from midifret.wire.take import read_take
from tests.cli.test_stand import DRILL

from .conftest import wait_until
from .standing import PLACES, pluck, standing

pytestmark = pytest.mark.jack

PORT = "midifret-standing"


class Page:
    """Answers exchanges and tells of cues, as the real page does, and keeps what it is told."""

    def __init__(self, address: str) -> None:
        self.host = address.split("/")[2]
        self.cookie = self._let_in(address)
        self.painted: set[tuple[int, int]] = set()
        self.connect()

    def _let_in(self, address: str) -> str:
        host, _, port = self.host.partition(":")
        with socket.create_connection((host, int(port)), timeout=5) as opened:
            path = "/" + address.split("/", 3)[3]
            opened.sendall(f"GET {path} HTTP/1.1\r\nHost: {self.host}\r\n\r\n".encode())
            answer = b""
            while part := opened.recv(65_536):
                answer += part
        lines = answer.decode().split("\r\n")
        return next(
            line.split(": ", 1)[1].partition(";")[0]
            for line in lines
            if line.lower().startswith("set-cookie")
        )

    def connect(self) -> None:
        """Connect, also again; what was told before is forgotten."""
        self.told: list[dict[str, Any]] = []
        self._opening = connect(
            f"ws://{self.host}/socket",
            additional_headers={"Cookie": self.cookie},
            origin=f"http://{self.host}",  # type: ignore[arg-type]
            compression=None,
        )
        self.link: ClientConnection = self._opening.__enter__()
        self.say(kind="hello", schema=SCHEMA, viewer="one", sounds=True)
        threading.Thread(target=self._read, args=(self.link,), daemon=True).start()

    def _read(self, link: ClientConnection) -> None:
        try:
            while True:
                message = json.loads(link.recv())
                came_ms = time.perf_counter() * 1000
                if message["kind"] == "sync":
                    stamps = {"came_ms": came_ms, "went_ms": time.perf_counter() * 1000}
                    link.send(json.dumps({"kind": "synced", "number": message["number"], **stamps}))
                    continue
                cue = message.get("cue")
                if cue and (message["run"], cue["n"]) not in self.painted:
                    self.painted.add((message["run"], cue["n"]))
                    told = {"run": message["run"], "n": cue["n"], "painted_ms": came_ms, "frame_ms": 16.7}
                    link.send(json.dumps({"kind": "painted", **told}))
                self.told.append(message)
        except ConnectionClosed:
            return

    def say(self, **message: object) -> None:
        self.link.send(json.dumps(message))

    def wait(self, what: str, **values: object) -> None:
        """Wait for a screen, of those still to be looked at, in which these values stand."""
        wait_until(
            lambda: any(all(m.get(key) == value for key, value in values.items()) for m in self.told),
            what,
            deadline_s=15,
        )

    def wait_for_cue(self, n: int) -> None:
        wait_until(lambda: any((m.get("cue") or {}).get("n") == n for m in self.told), f"cue {n}", 15)


def test_a_drill_and_a_lost_link_over_real_ports(tmp_path: Path, jack_environment: dict[str, str]) -> None:
    (tmp_path / "drills").mkdir()
    (tmp_path / "drills" / "three.yaml").write_text(DRILL, encoding="utf-8")
    neck = App(Home(tmp_path)).guitar("default").neck
    with standing(tmp_path, jack_environment, "--input", PORT, "--virtual") as program:
        wait_until(lambda: any(PORT in name for name in list_ports().outputs), "the program's port", 15)
        sink = open_sink(PORT, client_name="midifret-virtual")
        try:
            page = Page(program.address)
            page.wait("the hall with its drills", kind="hall")
            page.say(kind="begin", what="drill three")
            page.wait_for_cue(1)
            time.sleep(0.3)
            pluck(sink, neck, PLACES[0])
            page.wait_for_cue(2)
            page.link.close()  # a tablet out of reach
            time.sleep(2.0)
            pluck(sink, neck, "6:5")  # nobody sees the prompt: it counts for nothing
            page.connect()
            page.wait("it waits", stage="paused")
            page.wait("it goes on", stage="asking")
            for n in (2, 3):
                page.wait_for_cue(n)
                time.sleep(0.3)
                pluck(sink, neck, PLACES[n - 1])
            page.wait("its end", stage="ended")
            page.say(kind="pressed", key="enter", pressed_ms=time.perf_counter() * 1000)
            page.wait("the hall again", kind="hall", notice="Three places: 3 of 3 right.")
        finally:
            sink.close()
        program.process.send_signal(signal.SIGINT)
        assert program.process.wait(10) == 0
    (take,) = (tmp_path / "takes").glob("*.mid")
    recorded = read_take(take)
    assert [cue.n for cue in recorded.cues] == [1, 2, 3]
    assert all(cue.sure for cue in recorded.cues)
    judged = subprocess.run(
        [sys.executable, "-m", "midifret", "--home", str(tmp_path), "judge", "three", str(take), "--json"],
        capture_output=True,
        text=True,
        check=False,
    )
    answers = json.loads(judged.stdout)["answers"]
    assert [answer["verdict"] for answer in answers] == ["right"] * 3
    # The pause is no part of the second response.
    assert 0.2 < answers[0]["response_s"] < 2
    assert 0.2 < answers[1]["response_s"] < 3
