"""The program itself over real ports: the virtual guitar plays a drill that runs in a process of its own."""

import json
import re
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from midifret.cli.app import App
from midifret.files import Home
from midifret.gear.guitar import Guitar
from midifret.players import Player, named_skill
from midifret.terms import Exercise, Verdict
from midifret.wire.ports import PortSink, list_ports, open_sink
from midifret.wire.take import read_take
from midifret.wire.virtual_guitar import VirtualGuitar

from .conftest import wait_until

pytestmark = pytest.mark.jack

PORT = "midifret-stage"


class Program:
    """`midifret drill` in a process of its own, its lines on standard error read as they come."""

    def __init__(self, home: Path, environment: dict[str, str], *arguments: str) -> None:
        command = [sys.executable, "-m", "midifret", "--home", str(home), "drill", *arguments]
        command += ["--port", PORT, "--virtual", "--countdown", "0", "--json"]
        self.process = subprocess.Popen(
            command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        self.lines: list[str] = []
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.lines.append(line.rstrip())

    def wait_for_cue(self, n: int) -> None:
        wait_until(
            lambda: any(f"{n}/" in line and "cue" in line for line in self.lines),
            f"cue {n}",
            deadline_s=15,
        )

    def finish(self) -> tuple[int, dict[str, object]]:
        assert self.process.stdout is not None
        output = self.process.stdout.read()
        code = self.process.wait(15)
        return code, json.loads(output) if output else {}


def exercise_of(drill: str, home: Path) -> tuple[Exercise, Guitar]:
    app = App(Home.of(home))
    guitar = app.guitar("default")
    return app.exercise(drill, guitar.neck, seed=0), guitar


def play(exercise: Exercise, guitar: Guitar, sink: PortSink, skill: str, *, first: int, last: int) -> None:
    """Play prompts first to last, each by the clock: a fifth of a second apart and as the skill has it."""
    player = Player(named_skill(skill, seed=3), guitar.neck)
    virtual = VirtualGuitar(guitar, player)
    time_s = 0.0
    sent_s = time.monotonic()
    for prompt in exercise.prompts[first - 1 : last]:
        virtual.cue(prompt, time_s)
        while (due_s := virtual.next_s()) is not None:
            time_s = due_s
            time.sleep(max(0.0, sent_s + time_s * 0.3 - time.monotonic()))  # three times as fast
            virtual.send_due(time_s, sink)
        time_s += 0.2


def connected_sink(program: Program) -> PortSink:
    wait_until(
        lambda: program.process.poll() is not None or any(PORT in name for name in list_ports().outputs),
        "the program's port",
        deadline_s=15,
    )
    assert program.process.poll() is None, program.lines
    return open_sink(PORT, client_name="midifret-virtual")


def test_a_perfect_player_over_real_ports(tmp_path: Path, jack_environment: dict[str, str]) -> None:
    program = Program(tmp_path, jack_environment, "row-5-leap-1")
    sink = connected_sink(program)
    try:
        exercise, guitar = exercise_of("row-5-leap-1", tmp_path)
        program.wait_for_cue(1)
        play(exercise, guitar, sink, "perfect", first=1, last=len(exercise.prompts))
        code, document = program.finish()
    finally:
        sink.close()
    answers = document["answers"]
    assert isinstance(answers, list)
    assert [answer["verdict"] for answer in answers] == ["right"] * 11
    assert code == 0
    [take_path] = (tmp_path / "takes").glob("*.mid")
    take = read_take(take_path)
    assert (take.drill, take.seed, take.guitar) == ("row-5-leap-1", 0, "default")
    assert [cue.n for cue in take.cues] == list(range(1, 12))
    assert len([m for m in take.messages if m.data[0] & 0xF0 == 0x90 and m.data[2]]) == 11
    judged = subprocess.run(
        [
            sys.executable,
            "-m",
            "midifret",
            "--home",
            str(tmp_path),
            "judge",
            "row-5-leap-1",
            str(take_path),
            "--json",
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    again = json.loads(judged.stdout)["answers"]
    assert [a["verdict"] for a in again] == [a["verdict"] for a in answers]
    for live, recorded in zip(answers, again, strict=True):
        # The take keeps times to 0.1 ms.
        assert recorded["response_s"] == pytest.approx(live["response_s"], abs=0.001)


def test_mistakes_over_real_ports_have_their_verdicts(
    tmp_path: Path, jack_environment: dict[str, str]
) -> None:
    program = Program(tmp_path, jack_environment, "row-7-leap-1")
    sink = connected_sink(program)
    try:
        exercise, guitar = exercise_of("row-7-leap-1", tmp_path)
        program.wait_for_cue(1)
        play(exercise, guitar, sink, "one-fret-off", first=1, last=len(exercise.prompts))
        code, document = program.finish()
    finally:
        sink.close()
    answers = document["answers"]
    assert isinstance(answers, list)
    verdicts = {answer["verdict"] for answer in answers}
    assert Verdict.FRET_OFF in verdicts
    assert verdicts <= {Verdict.FRET_OFF, Verdict.RIGHT}
    assert code == 1  # the gate asks for more
    for answer in answers:
        if answer["verdict"] == Verdict.FRET_OFF:
            [correction] = answer["corrections"]
            assert {"string": correction["string"], "fret": correction["fret"]} in answer["asked"]["places"]


def test_an_interrupted_run_is_kept(tmp_path: Path, jack_environment: dict[str, str]) -> None:
    program = Program(tmp_path, jack_environment, "row-5-leap-1")
    sink = connected_sink(program)
    try:
        exercise, guitar = exercise_of("row-5-leap-1", tmp_path)
        program.wait_for_cue(1)
        play(exercise, guitar, sink, "perfect", first=1, last=4)
        program.wait_for_cue(5)
        program.process.send_signal(2)  # Ctrl-C
        code, document = program.finish()
    finally:
        sink.close()
    assert code == 130
    assert len(document["answers"]) == 4  # type: ignore[arg-type]
    [take_path] = (tmp_path / "takes").glob("*.mid")
    assert [mark.kind for mark in read_take(take_path).marks] == ["ended early"]


def test_a_killed_run_loses_at_most_the_prompt_being_played(
    tmp_path: Path, jack_environment: dict[str, str]
) -> None:
    program = Program(tmp_path, jack_environment, "row-5-leap-1")
    sink = connected_sink(program)
    try:
        exercise, guitar = exercise_of("row-5-leap-1", tmp_path)
        program.wait_for_cue(1)
        play(exercise, guitar, sink, "perfect", first=1, last=4)
        program.wait_for_cue(5)
        [journal] = (tmp_path / "takes").glob("*.journal")
        wait_until(lambda: re.search(r"^c [\d.]+ 5$", journal.read_text(), re.M), "the fifth cue on disk")
        program.process.kill()
        program.process.wait(10)
    finally:
        sink.close()
    report = subprocess.run(
        [sys.executable, "-m", "midifret", "--home", str(tmp_path), "report", "--json"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert json.loads(report.stdout)["answers"] == 4
    assert not list((tmp_path / "takes").glob("*.mid"))
    from midifret.wire.journal import recover

    [recovered] = recover(tmp_path / "takes")
    assert recovered.take is not None
    assert len([m for m in recovered.take.messages if m.data[0] & 0xF0 == 0x90]) == 4
