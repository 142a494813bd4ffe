"""Drills in tempo over real ports: played to the click that is heard, and to a MIDI clock that is sent."""

import statistics
import threading
import time
from pathlib import Path

import pytest

from midifret.clock import RealClock
from midifret.tempo import Stretch, clock_messages
from midifret.terms import Exercise
from midifret.wire.ports import PortSink, open_source
from midifret.wire.take import read_take

from .test_drill import Program, connected_sink, exercise_of

pytestmark = pytest.mark.jack

DRILL = "row-5-leap-1"
CLICK_PORT = "midifret-click-heard"


def pluck(sink: PortSink, exercise: Exercise, n: int) -> None:
    prompt = exercise.prompts[n - 1]
    channel = prompt.places[0].string - 1
    sink.send(bytes((0x90 | channel, prompt.midi, 90)))
    threading.Timer(0.15, sink.send, (bytes((0x80 | channel, prompt.midi, 0)),)).start()


def test_played_to_the_click_that_is_heard(tmp_path: Path, jack_environment: dict[str, str]) -> None:
    ear = open_source(CLICK_PORT, RealClock(), virtual=True, client_name="midifret-ear")
    program = Program(
        tmp_path, jack_environment, DRILL, "--tempo", "120", "--click", "midi", "--click-port", CLICK_PORT
    )
    try:
        sink = connected_sink(program)
        try:
            exercise, _ = exercise_of(DRILL, tmp_path)
            clicks = 0
            until_s = time.monotonic() + 20
            while clicks < 4 + len(exercise.prompts) and time.monotonic() < until_s:
                for _, data in ear.poll():
                    if data[0] & 0xF0 == 0x90 and data[2]:
                        clicks += 1
                        if clicks > 4:  # four to count in
                            pluck(sink, exercise, clicks - 4)
                time.sleep(0.0005)
            code, document = program.finish()
        finally:
            sink.close()
    finally:
        ear.close()
    answers = document["answers"]
    assert isinstance(answers, list)
    assert [answer["verdict"] for answer in answers] == ["right"] * 11
    late_ms = [answer["late_ms"] for answer in answers]
    # Out through the loop and JACK, in through JACK and the loop: about 1.5 ms each way (bench_transport.py);
    # a busy machine adds some.
    assert 0 < statistics.median(late_ms) < 15
    assert code == 0
    [take] = [read_take(path) for path in (tmp_path / "takes").glob("*.mid")]
    assert take.tempo_bpm == 120
    assert len(take.dues) == 11
    owned = document["owned_tempo"]
    assert isinstance(owned, dict)
    assert owned["notes"] == 11


def test_played_to_a_clock_that_comes_in_on_the_guitars_port(
    tmp_path: Path, jack_environment: dict[str, str]
) -> None:
    program = Program(tmp_path, jack_environment, DRILL, "--follow-clock", "midifret-stage")
    sink = connected_sink(program)
    try:
        exercise, _ = exercise_of(DRILL, tmp_path)
        begin_s = time.monotonic() + 0.1
        clocks = list(clock_messages([Stretch(60, 150)], 0.0))
        beats = 0
        first: int | None = None
        for message in clocks:
            time.sleep(max(0.0, begin_s + message.time_s - time.monotonic()))
            sink.send(message.data)
            if message.data[0] != 0xF8:
                continue
            if beats % 24 == 0:  # a beat; the count-in is shown in the lines
                counting = [line for line in program.lines if line.startswith("count-in")]
                if first is None and "count-in 1" in counting:
                    first = beats // 24  # that line came within the last beat: this one is the first note's
                if first is not None and beats // 24 - first < len(exercise.prompts):
                    pluck(sink, exercise, beats // 24 - first + 1)
            beats += 1
            if program.process.poll() is not None:
                break
        code, document = program.finish()
    finally:
        sink.close()
    answers = document["answers"]
    assert isinstance(answers, list)
    # A JACK server without real time stands still for some tenths of a second on a busy machine, and what
    # comes meanwhile is late through no fault of the program; mostly nothing is.
    right = [answer for answer in answers if answer["verdict"] == "right"]
    assert len(answers) == 11
    assert len(right) >= 8, program.lines
    assert code == (0 if len(right) == 11 else 1)
    summary = document["summary"]
    assert isinstance(summary, dict)
    assert summary["tempo"]["tempo_bpm"] == pytest.approx(150, rel=0.03)
    assert abs(statistics.median(answer["late_ms"] for answer in right)) < 15


def test_no_clock_is_told_and_ends_it(tmp_path: Path, jack_environment: dict[str, str]) -> None:
    program = Program(tmp_path, jack_environment, DRILL, "--follow-clock", "midifret-stage")
    sink = connected_sink(program)
    try:
        code = program.process.wait(20)
    finally:
        sink.close()
    assert code == 2
    assert any("No MIDI clock comes from" in line for line in program.lines), program.lines
    assert not any("Traceback" in line for line in program.lines)


def test_a_click_port_that_is_not_there(tmp_path: Path, jack_environment: dict[str, str]) -> None:
    program = Program(
        tmp_path, jack_environment, DRILL, "--tempo", "90", "--click", "midi", "--click-port", "nowhere"
    )
    assert program.process.wait(20) == 2
    assert any("nowhere" in line for line in program.lines), program.lines
