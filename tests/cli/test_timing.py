"""`monitor --timing`: good, coarse, contradictory and missing time steps, drift, and gaps in time."""

import json
from collections import deque
from pathlib import Path

import click.testing
import pytest

from midifret.cli import monitor
from midifret.cli.timing import drift_words, jump_words, timing_document, timing_line, timing_lines
from midifret.clock import Jump, JumpKind, MessageDater, SimulatedClock
from midifret.wire.ports import PortSource
from tests.clock.sending import Sent, read, send, stalls


def words(sent: Sent, kept: list[tuple[float, float]] | None = None) -> str:
    dater = MessageDater()
    read(sent, dater=dater, kept=kept or [])
    return "\n".join(timing_lines(dater.figures(), []))


def test_good_steps() -> None:
    said = words(send(300.0, seed=1))
    assert "steps  good" in said
    assert "0 (0.0%)" in said
    assert "none to be seen" in said
    assert "0.001 ms or finer" in said
    assert "0, where dating had to begin anew" in said


def test_a_clock_that_runs_fast_is_told_in_ms_a_minute() -> None:
    # 100 parts in a million of a minute are 6 ms [calc].
    said = words(send(600.0, seed=2, drift_ppm=100.0))
    assert "the driver's runs fast by 6.0" in said
    assert ", corrected" in said
    assert "the driver's runs slow by 6.0" in words(send(600.0, seed=2, drift_ppm=-100.0))


def test_whole_milliseconds_are_called_coarse() -> None:
    assert "1 ms, coarse" in words(send(60.0, seed=3, grid_s=1e-3))


def test_late_reading_is_shown() -> None:
    late = words(send(60.0, seed=3), stalls(60.0, seed=4, every_s=0.08, lasting_s=0.036))
    assert float(late.split("at most ")[1].split()[0]) > 36


def test_missing_and_contradictory_steps_are_flagged() -> None:
    sent = send(60.0, seed=5)
    assert "MISSING" in words(Sent(sent.sent_s, [0.0] * len(sent.sent_s)))
    doubled = words(Sent(sent.sent_s, [2 * delta_s for delta_s in sent.deltas_s]))
    assert "CONTRADICTORY" in doubled
    assert "not believed just now" in doubled


def test_before_a_minute_nothing_is_said_of_drift() -> None:
    assert "not known yet" in words(send(30.0, seed=6))
    assert "too few messages" in words(send(1.0, seed=6))
    empty = MessageDater().figures()
    assert timing_lines(empty, [])[0] == "Timing of 0 messages:"
    assert "steps unknown" in timing_line(empty)
    assert "read within -" in timing_line(empty)
    assert drift_words(empty) == "not known yet, it takes a minute of playing"


def test_gaps_in_time_are_told() -> None:
    assert jump_words(Jump(1.0, 1.0, JumpKind.SUSPENDED, 12.34)) == "The computer slept for 12.3 s."
    assert "0.50 s" in jump_words(Jump(1.0, 1.5, JumpKind.STALLED, 0.5))
    assert "back by 3600.0 s" in jump_words(Jump(1.0, 1.0, JumpKind.WALL_CLOCK_SET, -3600.0))


def test_the_document_has_numbers_with_their_units() -> None:
    dater = MessageDater()
    read(send(300.0, seed=1, drift_ppm=50.0), dater=dater)
    document = timing_document(dater.figures(), [Jump(7.0, 8.0, JumpKind.STALLED, 1.0)], 5.0)
    assert json.loads(json.dumps(document)) == document
    assert document["drift_low_ppm"] <= 50.0 <= document["drift_high_ppm"]
    assert (document["steps"], document["resolution_ms"], document["untrusted_share"]) == ("good", 0.001, 0.0)
    assert document["jumps"] == [{"time_s": 3.0, "kind": "stalled", "lost_s": 1.0}]


class Played:
    """A driver's input on a simulated clock: note-ons and note-offs, each with its step."""

    def __init__(self, clock: SimulatedClock, sent: Sent) -> None:
        self.clock = clock
        self.waiting = deque(zip(sent.sent_s, sent.deltas_s, strict=True))
        self.given = 0

    def port_names(self) -> list[str]:
        return ["played"]

    def read(self) -> tuple[bytes, float] | None:
        if not self.waiting or self.waiting[0][0] > self.clock.now_s():
            return None
        self.given += 1
        return bytes((0x90, 64, 80 * (self.given % 2))), self.waiting.popleft()[1]

    def open(self, index: int) -> None: ...

    def open_virtual(self, name: str) -> None: ...

    def close(self) -> None: ...


def listen(monkeypatch: pytest.MonkeyPatch, home: Path, sent: Sent, *arguments: str) -> click.testing.Result:
    clock = SimulatedClock(1000.0)
    monkeypatch.setattr(monitor, "RealClock", lambda: clock)
    port = Played(clock, sent)
    monkeypatch.setattr(monitor, "open_source", lambda part, clock: PortSource(port, "played", clock))
    runner = click.testing.CliRunner()
    return runner.invoke(
        monitor.command, ["--seconds", "80", *arguments], obj=str(home), standalone_mode=False
    )


def test_the_monitor_shows_it_every_five_seconds_and_at_the_end(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    result = listen(monkeypatch, tmp_path, send(79.0, seed=8), "--timing")
    assert result.return_value == 0
    assert sum("timing: steps" in line for line in result.stdout.splitlines()) in (15, 16)
    assert "Timing of" in result.stdout
    assert result.stderr == ""


def test_without_the_flag_nothing_of_it_is_shown(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    result = listen(monkeypatch, tmp_path, send(20.0, seed=8))
    assert "iming" not in result.stdout


def test_the_document_of_the_monitor_has_it_under_timing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    sent = send(79.0, seed=8)
    result = listen(monkeypatch, tmp_path, sent, "--timing", "--json")
    timing = json.loads(result.stdout)["timing"]
    assert timing["messages"] == len(sent.sent_s)
    assert timing["steps"] == "good"
    assert timing["jumps"] == []
    assert 0 <= timing["disagreement_median_ms"] <= timing["disagreement_99_ms"] <= 2.1  # the monitor's poll
