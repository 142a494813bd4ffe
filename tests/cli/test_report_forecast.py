"""The forecast in `midifret report`: for people who practised, in text and in JSON; for nobody else."""

import datetime as dt
import json
from pathlib import Path

import pytest

from midifret.cli.main import run
from midifret.terms import Place
from tests.cli.practised import OPEN_POSITION, practise, practise_days

NOW = dt.datetime.now(dt.UTC)
ROW_5 = tuple(Place(string, 5) for string in range(6, 0, -1))


@pytest.fixture
def home(tmp_path: Path) -> Path:
    practise_days(tmp_path, NOW, range(9, 0, -1), OPEN_POSITION)
    practise_days(tmp_path, NOW, range(5, 0, -1), ROW_5, recall_s=1.8)
    practise(tmp_path, NOW - dt.timedelta(hours=3), ROW_5, player="few")
    return tmp_path


def forecast(home: Path, player: str, capsys: pytest.CaptureFixture[str]) -> dict | None:
    assert run(["--home", str(home), "report", "--player", player, "--json"]) == 0
    return json.loads(capsys.readouterr().out)["forecast"]


def test_it_is_in_the_text_with_its_interval(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--home", str(home), "report"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Nobody can promise it" in said
    assert "Row 5: between" in said
    assert "The whole neck: too little of it was begun to say." in said


def test_the_document_has_days_and_outlooks(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = forecast(home, "me", capsys)
    stages = {stage["stage"]: stage for stage in found["stages"]}
    assert stages["open-position"]["outlook"] == "holds"
    row_5 = stages["row-5"]
    assert row_5["outlook"] == "dated"
    assert found["day"] < row_5["first_day"] <= row_5["middle_day"] <= row_5["last_day"]
    assert stages["row-7"]["outlook"] == "unbegun"
    assert stages["row-7"]["first_day"] is None


def test_with_little_practice_nothing_is_dated(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = forecast(home, "few", capsys)
    assert {stage["outlook"] for stage in (*found["stages"], found["neck"])} == {"early"}
    assert run(["--home", str(home), "report", "--player", "few"]) == 0
    assert "Too early to say" in capsys.readouterr().out


def test_an_empty_book_has_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--home", str(tmp_path), "report", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["forecast"] is None


def test_no_forecast_is_made_for_who_is_no_person(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--home", str(tmp_path), "demo", "--fast"]) == 0
    capsys.readouterr()
    assert forecast(tmp_path, "demo", capsys) is None
