"""`drill` in tempo with a simulated player: one run, the owned tempo looked for, the ladder climbed."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from midifret.book.book import Book
from midifret.cli import drill as drill_command
from midifret.cli.app import App
from midifret.cli.in_tempo import why_not_counted
from midifret.cli.main import run as run_program
from midifret.cli.running import Table, play_once
from midifret.clock import SimulatedClock
from midifret.files import Home
from midifret.play import summarise
from midifret.players import Skill
from midifret.players.timing import OnClick
from midifret.session.around import Finished, Leave, Setting
from midifret.terms import Exercise, Judged, Tempo
from midifret.wire.take import read_take

from .playing import Call, Port, played_by

WALK = "row-5-leap-1"
SURE = Skill(accuracy=1.0, on_click=OnClick(spread_s=0.01, owned_bpm=400.0, lapse=0.0))


NONE_ASKED = Exercise("d", "D", "s", "t", (1, 2), Judged.PLACE, (), tempo=Tempo(90.0))
FINISHED = Finished((), summarise(NONE_ASKED, ()), False, 1.0, Leave.DONE)


@pytest.fixture
def play(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., Call]:
    def call(*arguments: str, skill: Skill = SURE) -> Call:
        passes = 0

        def with_player(app: App, book: Book, setting: Setting, table: Table) -> Finished:
            nonlocal passes
            passes += 1
            another = replace(skill, seed=skill.seed + passes)
            return play_once(app, book, setting, played_by(another, setting, table))

        monkeypatch.setattr(drill_command, "open_source", lambda *_, **__: Port())
        monkeypatch.setattr(drill_command, "RealClock", SimulatedClock)
        monkeypatch.setattr(drill_command, "play_once", with_player)
        code = run_program(["--home", str(tmp_path), "drill", *arguments, "--json", "--no-check"])
        return Call(code, *capsys.readouterr())

    return call


def test_one_run_in_tempo_is_kept_with_its_tempo(play: Callable[..., Call], tmp_path: Path) -> None:
    call = play(WALK, "--tempo", "96")
    assert call.exit_code == 0, call.stderr
    assert [answer["verdict"] for answer in call.document["answers"]] == ["right"] * 11
    tempo = call.document["summary"]["tempo"]
    assert tempo["tempo_bpm"] == 96
    # The player comes 30 ms early, and spreads by 10.
    assert tempo["mean_ms"]["low"] <= -30 <= tempo["mean_ms"]["high"]
    assert tempo["flags"] == ["with latency"]
    [path] = (tmp_path / "takes").glob("*.mid")
    assert read_take(path).tempo_bpm == 96
    with App(Home.of(tmp_path)).open_book() as book:
        [kept] = book.owned_tempos("me")
        assert (kept.drill, kept.notes, kept.passes, kept.names_cued) == (WALK, 11, 1, False)


def test_a_pass_in_another_window_counts_for_no_owned_tempo(
    play: Callable[..., Call], tmp_path: Path
) -> None:
    narrow = play(WALK, "--tempo", "96", "--window", "60")
    assert narrow.exit_code == 0, narrow.stderr
    assert narrow.document["owned_tempo"] is None
    assert narrow.document["counts_for_owned_tempo"] is False
    own = play(WALK, "--tempo", "96", "--window", "150")  # as without the option
    assert own.document["counts_for_owned_tempo"] is True
    assert own.document["owned_tempo"]["passes"] == 1
    with App(Home.of(tmp_path)).open_book() as book:
        [kept] = book.owned_tempos("me")
    assert kept.passes == 1


def test_a_pass_whose_followed_tempo_moved_counts_for_no_owned_tempo() -> None:
    finished = replace(FINISHED, tempo_moved=0.02)
    assert why_not_counted(NONE_ASKED, finished, 150.0) == ""
    moved = why_not_counted(NONE_ASKED, replace(finished, tempo_moved=0.12), 150.0)
    assert moved.startswith("The clock moved by 12% of its tempo")


def test_the_owned_tempo_is_found_in_at_most_120_notes(play: Callable[..., Call], tmp_path: Path) -> None:
    player = Skill(accuracy=1.0, on_click=OnClick(spread_s=0.01, owned_bpm=110.0, half_at=1.25), seed=11)
    call = play(WALK, "--find-tempo", "--tempo", "80", skill=player)
    owned = call.document["owned_tempo"]
    assert owned["notes"] <= 120
    assert owned["low_bpm"] <= 110 <= owned["high_bpm"]
    assert owned["tempo_bpm"] == pytest.approx(110, rel=0.1)  # median 2.6%, tests/bench/bench_tempo.py
    passes = call.document["passes"]
    assert len(passes) == owned["passes"]
    assert sum(one["prompts"] for one in passes) == owned["notes"]
    assert len({one["tempo_bpm"] for one in passes}) > 3  # the tempo follows the player
    with App(Home.of(tmp_path)).open_book() as book:
        [kept] = book.owned_tempos("me")
    assert kept.tempo_bpm == pytest.approx(owned["tempo_bpm"], abs=0.01)


def test_only_what_is_cued_and_shuffled_may_count_for_naming(
    play: Callable[..., Call], tmp_path: Path
) -> None:
    play(WALK, "--tempo", "70")
    play("row-5-shuffled", "--tempo", "70")
    with App(Home.of(tmp_path)).open_book() as book:
        counts = {kept.drill: kept.names_cued for kept in book.owned_tempos("me")}
    assert counts == {WALK: False, "row-5-shuffled": True}


def test_the_ladder_goes_up_after_clean_passes_and_ends_in_time(play: Callable[..., Call]) -> None:
    call = play(WALK, "--ladder", "2", "--tempo", "100")
    ladder = call.document["ladder"]
    tempos = [one["tempo_bpm"] for one in call.document["passes"]]
    assert tempos[0] == 100
    assert tempos == sorted(tempos)
    assert tempos[-1] > 110
    assert ladder["end"] == "time"
    assert ladder["best_bpm"] == pytest.approx(max(tempos))
    # 11 notes, 4 beats of count-in and 2 to breathe: 17 beats at 100 bpm or more are 10 s at most.
    assert 12 <= len(tempos) <= 14


def test_the_ladder_goes_down_after_bad_passes(play: Callable[..., Call]) -> None:
    slow = Skill(accuracy=1.0, on_click=OnClick(spread_s=0.01, owned_bpm=50.0), seed=3)
    call = play(WALK, "--ladder", "1", "--tempo", "120", skill=slow)
    tempos = [one["tempo_bpm"] for one in call.document["passes"]]
    assert tempos[-1] < 120


def test_each_take_of_a_pass_is_judged_as_it_was(
    play: Callable[..., Call], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    player = Skill(accuracy=0.8, on_click=OnClick(spread_s=0.02, owned_bpm=90.0), seed=5)
    call = play("open-position-in-order", "--find-tempo", skill=player)
    if call.exit_code == 2:
        pytest.fail(call.stderr)
    found = []
    for path in sorted((tmp_path / "takes").glob("*.mid"), key=lambda path: path.stat().st_mtime_ns):
        run_program(["--home", str(tmp_path), "judge", "open-position-in-order", str(path), "--json"])
        answers = json.loads(capsys.readouterr().out)["answers"]
        found.append((len(answers), sum(answer["verdict"] == "right" for answer in answers)))
    assert found == [(one["prompts"], one["right"]) for one in call.document["passes"]]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--tempo", "5"], "10 to 400 bpm"),
        (["--tempo", "60", "--free"], "cannot go together"),
        (["--find-tempo", "--ladder", "3"], "cannot go together"),
        (["--window", "50"], "needs a tempo"),
        (["--follow-clock", "x", "--tempo", "60"], "cannot go together"),
        (["--ladder", "0.5", "--tempo", "20"], "does not fit"),
    ],
)
def test_what_cannot_be_is_told(play: Callable[..., Call], arguments: list[str], words: str) -> None:
    call = play(WALK, *arguments)
    assert call.exit_code == 2
    assert words in call.stderr
    assert "Traceback" not in call.stderr


def test_names_to_be_typed_have_no_tempo(play: Callable[..., Call]) -> None:
    call = play("open-position-naming", "--tempo", "60")
    assert call.exit_code == 2
    assert "no beat can wait for" in call.stderr
