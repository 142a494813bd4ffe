"""Cables pulled for real: the process that plays is killed and comes back, or the server dies."""

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from midifret.cli.app import App
from midifret.clock import RealClock
from midifret.files import Home
from midifret.terms import Exercise
from midifret.terms.marks import MarkKind
from midifret.wire.ports import list_ports, open_source
from midifret.wire.take import Take, read_take

from .conftest import SERVER, running_server, wait_until

pytestmark = pytest.mark.jack

# What must hold, and half of it again for what a busy machine adds to the printing and reading of a line.
NOTICED_S = 1.0
DRILL = "row-5-leap-1"
OPEN_MIDI = (64, 59, 55, 50, 45, 40)  # standard tuning, string 1 first
# A server that does not wait for its clients: one that waits (-S) stands still for five seconds when one of
# them is killed, and shows the dead port that long.
ASYNC = f"{SERVER}-async"

# Sends what it is told in lines of hex; "sense" and "quiet" turn active sensing on and off.
GUITAR = """
import select, sys, time
from midifret.wire.ports import open_sink
sink = open_sink("out", virtual=True, client_name=sys.argv[1])
print("ready", flush=True)
sensing = False
while True:
    if select.select([sys.stdin], [], [], 0.1)[0]:
        line = sys.stdin.readline().strip()
        if line in ("sense", "quiet"):
            sensing = line == "sense"
        elif line:
            sink.send(bytes.fromhex(line))
        else:
            break
    if sensing:
        sink.send(b"\\xfe")
sink.close()
"""


class Guitar:
    """A process that plays on a port of its own and can be killed."""

    def __init__(self, client_name: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", GUITAR, client_name],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            bufsize=1,
        )
        assert self.process.stdout is not None
        assert self.process.stdout.readline() == "ready\n"

    def say(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")

    def pluck(self, string: int, fret: int) -> None:
        channel, midi = string - 1, OPEN_MIDI[string - 1] + fret
        self.say(bytes((0x90 | channel, midi, 80)).hex())
        time.sleep(0.1)
        self.say(bytes((0x80 | channel, midi, 0)).hex())

    def kill(self) -> float:
        """Kill it and return when, on the monotonic clock."""
        self.process.kill()
        killed_s = time.monotonic()
        self.process.wait()
        return killed_s


@contextmanager
def guitars() -> Iterator[Any]:
    """Make guitars that are all gone in the end."""
    made: list[Guitar] = []

    def make(client_name: str) -> Guitar:
        made.append(Guitar(client_name))
        return made[-1]

    try:
        yield make
    finally:
        for guitar in made:
            guitar.kill()


class Program:
    """`midifret drill` in a process of its own; its lines with the times at which they came."""

    def __init__(self, home: Path, port: str) -> None:
        self.home = home
        command = [sys.executable, "-m", "midifret", "--home", str(home), "drill", DRILL]
        command += ["--port", port, "--countdown", "0", "--json"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.lines: list[tuple[float, str]] = []
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.lines.append((time.monotonic(), line.rstrip()))

    def wait_for(self, text: str, *, after: int = 0, deadline_s: float = 15) -> float:
        """Wait for a line that holds the text; return when it came."""
        found: list[float] = []

        def came() -> bool:
            found[:] = [at_s for at_s, line in self.lines[after:] if text in line]
            return bool(found) or self.process.poll() is not None

        wait_until(came, f"{text!r} in {self.lines}", deadline_s=deadline_s)
        assert found, self.lines
        return found[0]

    def finish(self) -> list[dict[str, Any]]:
        """Wait for its end; return the answers it printed."""
        assert self.process.stdout is not None
        output = self.process.stdout.read()
        self.process.wait(15)
        answers: list[dict[str, Any]] = json.loads(output)["answers"]
        return answers

    def take(self) -> tuple[Path, Take]:
        [path] = (self.home / "takes").glob("*.mid")
        return path, read_take(path)

    def check_kept(self, answers: list[dict[str, Any]]) -> None:
        """Check that book and take say what was printed."""
        start = [sys.executable, "-m", "midifret", "--home", str(self.home)]
        path, _ = self.take()
        judged = subprocess.run(
            [*start, "judge", DRILL, str(path), "--json"], capture_output=True, text=True, check=False
        )
        again = json.loads(judged.stdout)["answers"]
        assert [answer["verdict"] for answer in again] == [answer["verdict"] for answer in answers]
        for live, recorded in zip(answers, again, strict=True):
            # The take keeps times to 0.1 ms, rounded: four of them make up the response across a pause.
            assert recorded["response_s"] == pytest.approx(live["response_s"], abs=0.001)
        report = subprocess.run([*start, "report", "--json"], capture_output=True, text=True, check=True)
        assert json.loads(report.stdout)["answers"] == len(answers)


@contextmanager
def drilling(home: Path, port: str) -> Iterator[Program]:
    """Run the drill; whatever happens it is gone in the end."""
    program = Program(home, port)
    try:
        yield program
    finally:
        if program.process.poll() is None:
            program.process.kill()
        program.process.wait()


def asked(home: Path) -> Exercise:
    app = App(Home.of(home))
    return app.exercise(DRILL, app.guitar("default").neck, seed=0)


def play(program: Program, guitar: Guitar, exercise: Exercise, first: int, last: int) -> None:
    """Answer prompts first to last, each when it is asked."""
    for prompt in exercise.prompts[first - 1 : last]:
        program.wait_for(f"{prompt.n}/{len(exercise.prompts)} cue")
        time.sleep(0.15)
        guitar.pluck(prompt.places[0].string, prompt.places[0].fret)


def test_the_guitar_is_killed_and_comes_back(tmp_path: Path) -> None:
    exercise = asked(tmp_path)
    last = len(exercise.prompts)
    with running_server(ASYNC), guitars() as make:
        guitar = make("cable-guitar")
        with drilling(tmp_path, "cable-guitar") as program:
            play(program, guitar, exercise, 1, 4)
            program.wait_for(f"5/{last} cue")
            killed_s = guitar.kill()
            assert program.wait_for("paused") - killed_s < 1.5 * NOTICED_S
            assert program.wait_for("note: The guitar's port is gone (cable-guitar:out).") > killed_s
            time.sleep(1.0)
            guitar = make("cable-guitar")
            back_s = time.monotonic()
            assert program.wait_for("count 3") - back_s < 1.5 * NOTICED_S
            going_on_s = program.wait_for("go on") - program.wait_for("count 3")
            assert 2.8 < going_on_s < 3.5
            time.sleep(0.3)
            guitar.pluck(exercise.prompts[4].places[0].string, exercise.prompts[4].places[0].fret)
            play(program, guitar, exercise, 6, last)
            answers = program.finish()
        assert program.process.returncode == 0
    assert [answer["verdict"] for answer in answers] == ["right"] * last
    _, take = program.take()
    assert [mark.kind for mark in take.marks] == [MarkKind.GONE, MarkKind.PAUSE, MarkKind.RESUME]
    gone, paused, resumed = take.marks
    assert gone.time_s == paused.time_s
    assert resumed.time_s - paused.time_s > 4.0  # a second away, and the count
    assert answers[4]["response_s"] < 1.5  # the time without a guitar is not the player's
    program.check_kept(answers)


def test_of_two_guitars_the_right_one_is_taken_again_though_its_name_has_changed(tmp_path: Path) -> None:
    exercise = asked(tmp_path)
    last = len(exercise.prompts)
    with running_server(ASYNC), guitars() as make:
        guitar, other = make("cable-guitar"), make("cable-guitar-01")
        assert {"cable-guitar:out", "cable-guitar-01:out"} <= set(list_ports().inputs)
        with drilling(tmp_path, "cable-guitar:out") as program:
            play(program, guitar, exercise, 1, 3)
            program.wait_for(f"4/{last} cue")
            guitar.kill()
            program.wait_for("port is gone")
            time.sleep(1.0)
            other.pluck(6, 12)
            assert not any(
                "count 3" in line for _, line in program.lines
            )  # the other one is not taken for it
            guitar = make("cable-guitar-02")
            program.wait_for("go on")
            other.pluck(6, 12)
            time.sleep(0.2)
            guitar.pluck(exercise.prompts[3].places[0].string, exercise.prompts[3].places[0].fret)
            play(program, guitar, exercise, 5, last)
            answers = program.finish()
    assert [answer["verdict"] for answer in answers] == ["right"] * last
    program.check_kept(answers)


def test_a_run_is_left_while_the_guitar_is_away(tmp_path: Path) -> None:
    exercise = asked(tmp_path)
    with running_server(ASYNC), guitars() as make:
        guitar = make("cable-guitar")
        with drilling(tmp_path, "cable-guitar") as program:
            play(program, guitar, exercise, 1, 4)
            program.wait_for("5/")
            guitar.kill()
            program.wait_for("paused")
            program.process.send_signal(2)  # Ctrl-C
            answers = program.finish()
        assert program.process.returncode == 130
    assert len(answers) == 4
    program.check_kept(answers)


@pytest.mark.parametrize("how", ["killed", "stopped"])
def test_the_server_dies_and_is_started_again(tmp_path: Path, how: str) -> None:
    exercise = asked(tmp_path)
    last = len(exercise.prompts)
    with guitars() as make:
        with running_server(ASYNC) as server:
            guitar = make("cable-guitar")
            program_of = drilling(tmp_path, "cable-guitar")
            program = program_of.__enter__()
            try:
                play(program, guitar, exercise, 1, 4)
                program.wait_for(f"5/{last} cue")
                server.send_signal(9 if how == "killed" else 2)
                died_s = time.monotonic()
                noticed_s = program.wait_for("The MIDI system (JACK) has stopped.")
                assert noticed_s - died_s < 1.5 * NOTICED_S
                guitar.kill()
                server.wait(10)
            except BaseException:
                program_of.__exit__(None, None, None)
                raise
        try:
            with running_server(ASYNC):
                guitar = make("cable-guitar")
                program.wait_for("go on")
                time.sleep(0.2)
                guitar.pluck(exercise.prompts[4].places[0].string, exercise.prompts[4].places[0].fret)
                play(program, guitar, exercise, 6, last)
                answers = program.finish()
        finally:
            program_of.__exit__(None, None, None)
    assert [answer["verdict"] for answer in answers] == ["right"] * last
    assert not any("socket" in line for _, line in program.lines)  # nothing of JACK's on the screen
    program.check_kept(answers)


def test_a_guitar_whose_active_sensing_stops_is_gone_though_its_port_is_there() -> None:
    with running_server(ASYNC), guitars() as make:
        guitar = make("cable-guitar")
        clock = RealClock()
        source = open_source("cable-guitar", clock)
        try:
            guitar.say("sense")

            def there(*, wanted: bool) -> bool:
                source.poll()
                return source.connected() is wanted

            wait_until(lambda: there(wanted=True) and source.sensed_s is not None, "active sensing")
            end_s = time.monotonic() + 2.0
            while time.monotonic() < end_s:
                assert there(wanted=True)
                time.sleep(0.01)
            guitar.say("quiet")
            quiet_s = time.monotonic()
            wait_until(lambda: there(wanted=False), "the silence")
            assert 0.3 < time.monotonic() - quiet_s < 1.5 * NOTICED_S
            assert "cable-guitar:out" in list_ports().inputs
            guitar.say("sense")
            wait_until(lambda: there(wanted=True), "the return")
        finally:
            source.close()


def test_a_port_is_opened_anew_without_a_long_wait() -> None:
    with running_server(ASYNC), guitars() as make:
        guitar = make("cable-guitar")
        source = open_source("cable-guitar", RealClock())
        longest_s = 0.0

        def looks(*, wanted: bool) -> bool:
            nonlocal longest_s
            start_s = time.perf_counter()
            there = source.connected(at_once=True)
            longest_s = max(longest_s, time.perf_counter() - start_s)
            return there is wanted

        def heard_from(guitar: Guitar) -> bool:
            guitar.say("904040")  # more than one: the server may not have joined the two yet
            return {message.data for message in source.poll()} == {b"\x90\x40\x40"}

        try:
            for _ in range(3):
                guitar.kill()
                wait_until(lambda: looks(wanted=False), "the loss")
                guitar = make("cable-guitar")
                wait_until(lambda: looks(wanted=True), "the return")
                wait_until(partial(heard_from, guitar), "a note")
        finally:
            source.close()
        print(f"longest look {longest_s * 1000:.1f} ms", file=sys.stderr)
        assert longest_s < 0.5  # 20 to 40 ms on a quiet machine


def test_a_drill_without_its_guitar_says_what_is_there(tmp_path: Path) -> None:
    with running_server(ASYNC):
        command = [sys.executable, "-m", "midifret", "--home", str(tmp_path), "drill", DRILL]
        done = subprocess.run(
            [*command, "--port", "cable-guitar"], capture_output=True, text=True, env=os.environ, check=False
        )
    assert done.returncode == 2
    assert "cable-guitar" in done.stderr
    assert "Traceback" not in done.stderr
