"""`calibrate` with a simulated player: what it keeps, what it gives, and what it says is missing."""

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from midifret.book.book import Book
from midifret.cli import calibrate as calibrate_command
from midifret.cli.app import App
from midifret.cli.main import run as run_program
from midifret.cli.running import Table, calibrated, play_live, play_once, setting_for
from midifret.clock import SimulatedClock
from midifret.files import Home
from midifret.players import Player, Skill
from midifret.players.timing import OnClick, Timing
from midifret.session.around import Finished, Record, Recorder, Setting
from midifret.show.line_view import SilentView
from midifret.terms.calibration import CalibrationPart, Caveat
from midifret.wire.scenarios import CLEAN
from midifret.wire.take import read_take
from midifret.wire.virtual_guitar import VirtualGuitar, VirtualSource

from .playing import NECK, Call, Port, played_by

SLOW = replace(CLEAN, latency_fixed_s=0.006, latency_periods=2.0)  # 30 ms for E2, whose period is 12.13 ms
PLAYER = Skill(
    accuracy=1.0, timing=Timing(), on_click=OnClick(spread_s=0.012, owned_bpm=400.0, lapse=0.0), seed=5
)
POLL_S = 0.002


def with_player(skill: Skill) -> Callable[..., Finished]:
    def play(setting: Setting, table: Table, recorder: Recorder, record: Record) -> Finished:
        seated = played_by(skill, setting, table, poll_s=POLL_S, scenario=SLOW, seed=3)
        return play_live(setting, seated, recorder, record)

    return play


@pytest.fixture
def run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., Call]:
    def invoke(*arguments: str, skill: Skill = PLAYER) -> Call:
        monkeypatch.setattr(calibrate_command, "open_source", lambda *_, **__: Port())
        monkeypatch.setattr(calibrate_command, "RealClock", SimulatedClock)
        monkeypatch.setattr(calibrate_command, "play_live", with_player(skill))
        code = run_program(["--home", str(tmp_path), "calibrate", *arguments])
        return Call(code, *capsys.readouterr())

    return invoke


def document_of(result: Call) -> dict[str, Any]:
    found: dict[str, Any] = result.document["calibration"]
    return found


def test_all_three_parts_give_what_the_player_and_the_guitar_are(
    run: Callable[..., Call], tmp_path: Path
) -> None:
    result = run("--seed", "1", "--json")
    assert result.exit_code == 0, result.stderr
    document = document_of(result)
    assert [part["part"] for part in document["parts"]] == ["hands", "click", "reaction"]
    b = document["latency"]["b_periods"]
    assert b["low"] <= 2.0 <= b["high"]
    assert b["value"] == pytest.approx(2.0, rel=0.25)  # the 95th percentile of 96 plucks (bench_speed.py)
    # The reaction of 0.19 s and its tail of 0.04, and latency: 6 ms and two periods of the open strings.
    assert document["reaction"]["response_s"]["value"] == pytest.approx(0.25, abs=0.03)
    # Travel: 0.1 s, and 0.015 for each fret.
    assert document["travel"]["intercept_s"] == pytest.approx(0.1, abs=0.06)
    assert document["travel"]["slope_s_per_fret"] == pytest.approx(0.015, abs=0.01)
    takes = sorted((tmp_path / "takes").glob("*.mid"))
    assert {read_take(path).drill for path in takes} == {
        "calibrate-click",
        "calibrate-hands",
        "calibrate-reaction",
    }
    with App(Home.of(tmp_path)).open_book() as book:
        kept = book.measurements("me")
        assert {measurement.take_file for measurement in kept} == {path.name for path in takes}
        assert {measurement.port for measurement in kept} == {"simulated guitar"}
        # It is no practice.
        assert book.report("me").answers == 0


def test_its_takes_are_judged_again(
    run: Callable[..., Call], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("--seed", "1", "--part", "click", "--plucks", "20").exit_code == 0
    [path] = (tmp_path / "takes").glob("*.mid")
    run_program(["--home", str(tmp_path), "judge", "calibrate-click", str(path), "--json"])
    answers = json.loads(capsys.readouterr().out)["answers"]
    with App(Home.of(tmp_path)).open_book() as book:
        [kept] = book.measurements("me")
    assert len(answers) == 20
    late_ms = [answer["late_ms"] for answer in answers if answer["late_ms"] is not None]
    assert late_ms == pytest.approx([1000 * reading.time_s for reading in kept.readings], abs=0.2)


def test_one_part_alone_and_then_more_of_it(run: Callable[..., Call]) -> None:
    result = run("--part", "click", "--plucks", "8", "--seed", "2")
    assert result.exit_code == 1
    assert "play 8 more" in result.stderr
    result = run("--part", "click", "--plucks", "24", "--seed", "3", "--json")
    assert result.exit_code == 0
    assert document_of(result)["latency"]["plucks"] >= 30  # both sittings are one


def test_hands_without_a_reaction_say_what_they_need(run: Callable[..., Call]) -> None:
    result = run("--part", "hands", "--plucks", "12")
    assert result.exit_code == 1
    assert "needs the reaction too" in result.stderr


def test_plucks_that_contradict_one_another_are_told(run: Callable[..., Call]) -> None:
    wild = replace(PLAYER, on_click=OnClick(spread_s=0.15, owned_bpm=400.0, lapse=0.0))
    result = run("--part", "click", "--seed", "4", skill=wild)
    assert result.exit_code == 1
    assert "click:" in result.stderr
    assert "more" in result.stderr or "again" in result.stderr


def test_people_read_what_was_found_and_that_no_click_was_heard(run: Callable[..., Call]) -> None:
    result = run("--seed", "1")
    assert result.exit_code == 0
    assert "periods" in result.out
    assert "No click is heard, only seen" in result.stderr + result.out


def played_after(app: App, book: Book, *, port: str) -> Setting:
    guitar = app.guitar("default")
    exercise = app.exercise("row-5-shuffled", guitar.neck, seed=1)
    return replace(
        setting_for(app, book, exercise, guitar, "me", port),
        countdown_s=0,
        check_strings=False,
        wait_for_start=False,
    )


def test_a_drill_after_it_has_recall_times(run: Callable[..., Call], tmp_path: Path) -> None:
    assert run("--seed", "1").exit_code == 0
    app = App(Home.of(tmp_path))
    with app.open_book() as book:
        setting = played_after(app, book, port="simulated guitar")
        clock = SimulatedClock()
        skill = replace(PLAYER, timing=replace(Timing(), recall_s=0.9, recall_spread=0.05))
        virtual = VirtualGuitar(setting.guitar, Player(skill, NECK), scenario=SLOW, seed=9)
        table = Table(VirtualSource(virtual, clock), clock, SilentView(), on_cue=virtual.cue, poll_s=POLL_S)
        finished = play_once(app, book, setting, table)
        assert finished.summary.median_recall_s == pytest.approx(0.9, abs=0.06)
        assert finished.summary.median_response_s is not None
        assert finished.summary.median_response_s > 1.15  # reaction, travel and latency on top
        assert finished.summary.recall_caveats == frozenset()
        kept = book.answers_of(1)
        assert [answer.recall for answer in kept] == [answer.recall for answer in finished.answers]


def test_on_another_port_or_much_later_it_is_flagged(run: Callable[..., Call], tmp_path: Path) -> None:
    assert run("--seed", "1").exit_code == 0
    app = App(Home.of(tmp_path))
    with app.open_book() as book:
        assert played_after(app, book, port="another").times.caveats == {Caveat.OTHER_PORT}
        assert not played_after(app, book, port="another").times.knows_latency
        other = calibrated(app, book, "me", "cheap", "simulated guitar")
        assert other.times.caveats == {Caveat.OTHER_GUITAR}
        [newest, *_] = book.measurements("me")
        later = newest.measured_utc + dt.timedelta(days=91)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("midifret.cli.running.now_utc", lambda: later)
            assert Caveat.STALE in calibrated(app, book, "me", "default", "simulated guitar").times.caveats


def test_every_part_is_named() -> None:
    assert {part.value for part in CalibrationPart} == {"reaction", "click", "hands"}
