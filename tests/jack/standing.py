"""The stand over real ports: the program in a process of its own, for scripted pages and for a browser."""

import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from midifret.neck import Neck
from midifret.terms import Place
from midifret.wire.ports import PortSink

from .conftest import wait_until

PLACES = ("5:3", "4:2", "4:3")
START_S = 30.0  # a program that starts beside other work


@dataclass
class Program:
    """`midifret stand` in a process of its own."""

    process: subprocess.Popen[str]
    lines: list[str] = field(default_factory=list)

    @property
    def address(self) -> str:
        return next((line.partition(": ")[2] for line in self.lines if line.startswith("The stand: ")), "")


def free_port() -> int:
    """A port at which nobody serves now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        found: int = probe.getsockname()[1]
    return found


@contextmanager
def standing(
    home: Path, environment: dict[str, str], *options: str, port: int | None = None
) -> Iterator[Program]:
    """Start it, and end it if the test has not. port: where the page is served; None for one that is free."""
    command = [sys.executable, "-m", "midifret", "--home", str(home), "stand", "--no-browser"]
    command += ["--port", str(port or free_port()), "--countdown", "0", "--no-check", *options]
    process = subprocess.Popen(
        command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    program = Program(process)

    def read() -> None:
        assert process.stdout is not None
        for line in process.stdout:
            program.lines.append(line.rstrip())

    threading.Thread(target=read, daemon=True).start()
    try:
        wait_until(lambda: process.poll() is not None or program.address, "the address", deadline_s=START_S)
        assert process.poll() is None, program.lines
        yield program
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def pluck(sink: PortSink, neck: Neck, name: str) -> None:
    """Pluck a place, and let it ring for a tenth of a second."""
    place = Place.parse(name)
    channel, midi = place.string - 1, neck.midi(place)
    sink.send(bytes((0x90 | channel, midi, 90)))
    time.sleep(0.1)
    sink.send(bytes((0x80 | channel, midi, 0)))
