"""`midifret read` over real ports: a restart and a wrong note, judged live and from the take alike."""

import json
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from midifret.cli.app import App
from midifret.files import Home
from midifret.terms import Place
from midifret.wire.ports import PortSink, list_ports, open_sink
from midifret.wire.virtual_guitar import VirtualGuitar
from tests.cli.test_read import music_xml

from .conftest import wait_until

pytestmark = pytest.mark.jack

PORT = "midifret-music"
# Small Tune in position V (tests/cli/test_read.py): bar 1 G C E A at fret 5; bar 2 E C B.
PLAYED = [(4, 5), (3, 5), (2, 5), (4, 5), (3, 5), (2, 5), (1, 5), (2, 6), (2, 5), (3, 5), (4, 9)]


def pluck_all(sink: PortSink, home: Path) -> None:
    guitar = VirtualGuitar(App(Home.of(home)).guitar("default"))
    for number, (string, fret) in enumerate(PLAYED):
        guitar.pluck(Place(string, fret), 0.3 * number, hold_s=0.2)
    begun_s = time.monotonic()
    while (due_s := guitar.next_s()) is not None:
        time.sleep(max(0.0, begun_s + due_s - time.monotonic()))
        guitar.send_due(due_s, sink)


def test_a_reading_over_real_ports(tmp_path: Path, jack_environment: dict[str, str]) -> None:
    tune = tmp_path / "tune.musicxml"
    tune.write_text(music_xml(), encoding="utf-8")
    home = tmp_path / "home"
    command = [sys.executable, "-m", "midifret", "--home", str(home)]
    program = subprocess.Popen(
        [
            *command,
            "read",
            str(tune),
            "--position",
            "V",
            "--port",
            PORT,
            "--virtual",
            "--countdown",
            "0",
            "--json",
        ],
        env=jack_environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    lines: list[str] = []
    assert program.stderr is not None
    assert program.stdout is not None
    reader = threading.Thread(target=lambda: lines.extend(program.stderr or ()), daemon=True)
    reader.start()
    wait_until(
        lambda: program.poll() is not None or any(PORT in name for name in list_ports().outputs),
        "the program's port",
        deadline_s=20,
    )
    assert program.poll() is None, lines
    sink = open_sink(PORT, client_name="midifret-virtual")
    try:
        wait_until(lambda: any("1/7 cue" in line for line in lines), "the first note", deadline_s=20)
        pluck_all(sink, home)
        document = json.loads(program.stdout.read())
        assert program.wait(15) == 0
    finally:
        sink.close()
    verdicts = [answer["verdict"] for answer in document["answers"]]
    assert verdicts == ["right"] * 4 + ["fret-off", "right", "right"]
    assert [item["n"] for item in document["alignment"]] == [1, 2, 3, 1, 2, 3, 4, None, 5, 6, 7]
    (take,) = (home / "takes").glob("*.mid")
    again = subprocess.run(
        [*command, "judge", document["drill"], str(take), "--json"],
        env=jack_environment,
        capture_output=True,
        text=True,
        check=True,
    )
    judged = json.loads(again.stdout)
    assert [answer["verdict"] for answer in judged["answers"]] == verdicts
    assert judged["bars"] == document["bars"]
