"""`midifret practice` over real ports: played, broken off, taken up, and judged from its takes alike."""

import json
import re
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from midifret.cli.app import App
from midifret.files import Home
from midifret.neck import Neck, parse_name
from midifret.terms import Place, SpelledPitch
from midifret.wire.ports import PortSink, list_ports, open_sink
from midifret.wire.virtual_guitar import VirtualGuitar

from .conftest import wait_until

pytestmark = pytest.mark.jack

PORT = "midifret-session"
# As lines are written where there is no screen: show/line_view.py and show/words.py.
_NAMED = re.compile(r"(\d+)(?:/\d+)? cue: ([A-G][♯♭#b]?) on string (\d)(?:; (.*))?$")


class Session:
    """One call of the program, whose cues by name a guitar answers."""

    def __init__(self, home: Path, environment: dict[str, str], *arguments: str) -> None:
        self.lines: list[str] = []
        self._neck = App(Home.of(home)).guitar("default").neck
        self._home = home
        command = [sys.executable, "-m", "midifret", "--home", str(home), "practice", "--port", PORT]
        self.program = subprocess.Popen(
            [*command, "--virtual", "--countdown", "0", "--json", *arguments],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.program.stderr is not None
        self.lines.extend(line.rstrip("\n") for line in self.program.stderr)

    def answer(self, count: int) -> None:
        """Answer so many cues, then break off as ctrl-c does."""
        wait_until(
            lambda: self.program.poll() is not None or any(PORT in name for name in list_ports().outputs),
            "the program's port",
            deadline_s=20,
        )
        assert self.program.poll() is None, self.lines
        sink = open_sink(PORT, client_name="midifret-virtual")
        try:
            read = answered = 0
            end_s = time.monotonic() + 60
            while answered < count:
                assert time.monotonic() < end_s, self.lines
                assert self.program.poll() is None, self.lines
                for line in self.lines[read:]:
                    read += 1
                    place = asked_place(line, self._neck)
                    if place is not None and answered < count:
                        pluck(sink, self._home, place)
                        answered += 1
                time.sleep(0.01)
            wait_until(lambda: len([x for x in self.lines if " right" in x]) >= count, "all are judged")
            self.program.send_signal(signal.SIGINT)
            assert self.program.stdout is not None
            out = self.program.stdout.read()
            assert self.program.wait(15) == 130
        finally:
            sink.close()
            if self.program.poll() is None:
                self.program.kill()
        self.document: dict[str, Any] = json.loads(out)


def asked_place(line: str, neck: Neck) -> Place | None:
    """Where a cue by name is played."""
    match = _NAMED.search(line)
    if match is None:
        return None
    step, alter, _ = parse_name(match[2])
    string = int(match[3])
    fret = (SpelledPitch(step, alter, 4).pitch_class - neck.midi(Place(string, 0))) % 12
    return Place(string, 12 if fret == 0 and "higher" in (match[4] or "") else fret)


def pluck(sink: PortSink, home: Path, place: Place) -> None:
    guitar = VirtualGuitar(App(Home.of(home)).guitar("default"))
    guitar.pluck(place, 0.05, hold_s=0.1)
    begun_s = time.monotonic()
    while (due_s := guitar.next_s()) is not None:
        time.sleep(max(0.0, begun_s + due_s - time.monotonic()))
        guitar.send_due(due_s, sink)


def test_a_session_over_real_ports(tmp_path: Path, jack_environment: dict[str, str]) -> None:
    home = tmp_path / "home"
    # Three minutes are too short for a drill beside what is new: places are asked at once.
    first = Session(home, jack_environment, "--minutes", "3")
    first.answer(6)
    session = first.document["session"]
    assert session["ended"] is False
    assert session["blocks"][0]["answers"] == session["blocks"][0]["right"] == 6
    assert session["tomorrow"] is None
    again = Session(home, jack_environment)
    again.answer(4)
    assert any(line.startswith("You began a session today") for line in again.lines)
    taken_up = again.document["session"]
    assert taken_up["minutes"] == session["minutes"]
    assert taken_up["blocks"][0]["answers"] == 10
    takes = sorted((home / "takes").glob("*.mid"))
    assert len(takes) == 2
    for take, answers in zip(takes, (6, 4), strict=True):
        judged = subprocess.run(
            [
                sys.executable,
                "-m",
                "midifret",
                "--home",
                str(home),
                "judge",
                "asked:new",
                str(take),
                "--json",
            ],
            env=jack_environment,
            capture_output=True,
            text=True,
            check=False,
        )
        document = json.loads(judged.stdout)
        assert [answer["verdict"] for answer in document["answers"]] == ["right"] * answers
