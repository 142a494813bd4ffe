"""`drill` in tempo with a simulated player: searches, ladders and gates, and what is refused."""

import json
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from midifret.book.book import Book
from midifret.cli import drill as drill_command
from midifret.cli.app import App
from midifret.cli.main import run as run_program
from midifret.cli.passes import Climb
from midifret.cli.running import Table, play_once
from midifret.clock import SimulatedClock
from midifret.files import Home
from midifret.players import Skill
from midifret.players.timing import OnClick, Timing
from midifret.session.around import Finished, Leave, Setting
from midifret.tempo import PassResult

from .playing import Port, played_by

SURE = Skill(
    accuracy=1.0, timing=Timing(), on_click=OnClick(spread_s=0.005, owned_bpm=400.0, lapse=0.0), seed=5
)
POLL_S = 0.005


@dataclass
class Called:
    """What a call of the program left, and the runs that it played."""

    exit_code: int
    stdout: str
    stderr: str
    runs: list[tuple[Setting, Finished]] = field(default_factory=list)

    @property
    def document(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.stdout)
        return found


@pytest.fixture
def drill(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., Called]:
    def invoke(
        *arguments: str, skill: Skill = SURE, leaves: Leave | None = None, silent: bool = False
    ) -> Called:
        runs: list[tuple[Setting, Finished]] = []

        def play(app: App, book: Book, setting: Setting, table: Table) -> Finished:
            seated = replace(table, poll_s=POLL_S)
            if not silent:
                seated = played_by(skill, setting, table, poll_s=POLL_S, seed=len(runs))
            finished = play_once(app, book, replace(setting, wait_for_start=False), seated)
            finished = finished if leaves is None else replace(finished, leave=leaves)
            runs.append((setting, finished))
            return finished

        monkeypatch.setattr(drill_command, "open_source", lambda *_, **__: Port())
        monkeypatch.setattr(drill_command, "RealClock", SimulatedClock)
        monkeypatch.setattr(drill_command, "play_once", play)
        code = run_program(["--home", str(tmp_path), "drill", *arguments])
        return Called(code, *capsys.readouterr(), runs)

    return invoke


def test_a_ladder_takes_the_minutes_that_were_said(drill: Callable[..., Called]) -> None:
    # 11 notes, 4 beats of count-in and 2 for the way to the next pass, at 60 to 66 bpm: 15.5 to 17 s.
    called = drill("row-5-leap-1", "--ladder", "1", "--json")
    played_s = sum(finished.played_s for _, finished in called.runs)
    assert len(called.runs) == 3
    assert 40 < played_s <= 60
    assert called.document["ladder"]["end"] == "time"
    assert called.exit_code == 0


def test_a_ladder_counts_what_was_played_and_says_what_is_left() -> None:
    ladder = Climb(2.0, 60.0, notes=11, count_in_beats=4)
    assert ladder.words() == "The ladder begins at 60 bpm, for 2 minutes."
    ladder.take(PassResult(60.0, 11, 11), 17.0)
    assert ladder.words() == "Pass 2, at 60 bpm. 2 minutes left."
    ladder.take(PassResult(60.0, 11, 11), 62.0)
    assert ladder.words() == "Pass 3, at 63 bpm. Less than a minute left."
    ladder.take(PassResult(63.0, 11, 11), 106.0)
    assert ladder.tempo_bpm is None


def test_whoever_stops_just_after_the_end_of_a_pass_is_heard(drill: Callable[..., Called]) -> None:
    for leave, code in ((Leave.INTERRUPTED, 130), (Leave.QUIT, 0)):
        called = drill("row-5-leap-1", "--ladder", "2", "--json", leaves=leave)
        assert len(called.runs) == 1
        assert called.document["ladder"]["passes"] == 1  # it was played to its end, and counts
        assert called.exit_code == code


def test_a_search_is_no_matter_of_the_gate(drill: Callable[..., Called], tmp_path: Path) -> None:
    """A part of a drill meets no gate, and a search that has found the tempo has done what was asked."""
    halting = replace(SURE, on_click=OnClick(spread_s=0.01, owned_bpm=90.0, lapse=0.0))
    called = drill("row-5-shuffled", "--find-tempo", "--tempo", "90", "--no-check", "--json", skill=halting)
    assert called.exit_code == 0
    assert called.document["owned_tempo"]["notes"] >= 12
    assert called.document["summary"]["gate_met"] is None
    with App(Home.of(tmp_path)).open_book() as book:
        assert [run.gate_met for run in book.report("me").runs] == [None] * len(called.runs)


def test_passes_of_which_nothing_was_heard(drill: Callable[..., Called]) -> None:
    called = drill("row-5-leap-1", "--ladder", "0.5", "--tempo", "100", "--json", silent=True)
    assert called.exit_code == 1


@pytest.mark.parametrize(("tempo", "met"), [("40", True), ("39", False), ("10", False), ("80", True)])
def test_a_slow_beat_meets_no_gate_that_asks_for_speed(
    drill: Callable[..., Called], tempo: str, met: bool
) -> None:
    """The gate of row-5-leap-1 asks for a median of 1.5 s: a note each 1.5 s is 40 a minute."""
    called = drill("row-5-leap-1", "--tempo", tempo, "--json")
    summary = called.document["summary"]
    assert summary["right"] == 11
    assert summary["gate_met"] is met
    assert any("at most 1.50 s asked" in reason for reason in summary["gate_reasons"])
    assert called.exit_code == (0 if met else 1)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--free", "--window", "80"), "--free and --window"),
        (("--tempo", "80", "--window", "nan"), "a window of nan ms"),
        (("--click", "midi"), "--click midi needs a tempo"),
        (("--send-clock",), "--send-clock needs a tempo"),
        (("--click-port", "x"), "--click-port needs a tempo"),
        (("--follow-clock", "x", "--click", "sound"), "--click sound and --follow-clock"),
        (("--follow-clock", " "), "--follow-clock names no port"),
    ],
)
def test_options_that_would_do_nothing_are_refused(
    drill: Callable[..., Called], arguments: tuple[str, ...], told: str
) -> None:
    called = drill("row-5-leap-1", *arguments)
    assert called.exit_code == 2
    assert told in called.stderr
    assert not called.runs


def test_no_click_is_no_option_that_would_do_nothing(drill: Callable[..., Called]) -> None:
    assert drill("row-5-leap-1", "--click", "off", "--no-send-clock", "--json").exit_code in (0, 1)
