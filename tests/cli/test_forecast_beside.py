"""A report waits for no long memory: that is told, and made up for by `today`."""

import datetime as dt
from pathlib import Path

import pytest

from midifret.cli import forecast
from midifret.cli.main import run
from tests.report_page.weeks import weeks


def test_a_long_memory_is_left_out_and_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    weeks(tmp_path, dt.datetime.now(dt.UTC), days=20)
    home, page = ["--home", str(tmp_path)], tmp_path / "r.html"
    report = [*home, "report", "--html", str(page), "--overwrite"]
    monkeypatch.setattr(forecast, "MOST_WAITING", 100)
    assert run(report) == 0
    assert "answers wait" in capsys.readouterr().err
    assert "Today, in this order" not in page.read_text(encoding="utf-8")
    assert run([*home, "report"]) == 0
    assert "answers wait" in capsys.readouterr().err
    assert run([*home, "today"]) == 0
    capsys.readouterr()
    assert run(report) == 0
    assert capsys.readouterr().err == ""
    assert "Today, in this order" in page.read_text(encoding="utf-8")


def test_what_was_kept_by_other_rules_waits_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    weeks(tmp_path, dt.datetime.now(dt.UTC), days=20)
    assert run(["--home", str(tmp_path), "today"]) == 0
    capsys.readouterr()
    monkeypatch.setattr(forecast, "MOST_WAITING", 100)
    monkeypatch.setattr("midifret.cli.remembering._kept", lambda document: None)
    assert run(["--home", str(tmp_path), "report"]) == 0
    assert "answers wait" in capsys.readouterr().err
