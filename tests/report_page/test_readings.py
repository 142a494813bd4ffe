"""Readings on the report: the newest with their marked pages, or in words why there is none."""

import base64
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from midifret.cli.main import run
from midifret.players import Skill
from tests.cli.playing import Call
from tests.cli.test_read import SURE, call, take_of, tune

__all__ = ["call", "tune"]
UNSURE = Skill(accuracy=0.5, median_response_s=0.3, on_click=SURE.on_click)


@pytest.fixture
def read_home(call: Callable[..., Call], tune: Path, tmp_path: Path) -> Path:
    assert call("read", str(tune), "--position", "V", "--no-check", skill=UNSURE).exit_code in (0, 1)
    return tmp_path / "home"


def report(home: Path) -> str:
    file = home.parent / "report.html"
    assert run(["--home", str(home), "report", "--html", str(file), "--overwrite"]) == 0
    return file.read_text(encoding="utf-8")


def test_a_reading_is_there_with_its_marks(read_home: Path) -> None:
    text = report(read_home)
    assert "Small Tune" in text
    pictures = re.findall(r'src="data:image/svg\+xml;base64,([^"]+)" alt="([^"]+)"', text)
    assert pictures
    for words in ("right", "wrong", "one fret off"):  # the marks are told; their words stand beside them
        assert re.search(rf'alt=""> {words}</li>', text)
    svg = base64.b64decode(pictures[0][0]).decode()
    marks = re.findall(r'id="m\d+', svg)
    notes = re.findall(r'id="n(\d+)"', svg)
    assert set(notes) == {str(n) for n in range(1, 8)}
    assert marks  # half of what this player plays is wrong
    assert "the marked page" in pictures[0][1]


def test_a_take_that_is_gone_is_told(read_home: Path, tmp_path: Path) -> None:
    take_of(tmp_path).unlink()
    text = report(read_home)
    assert "Small Tune" in text
    assert "No page of it: its take is not there any more." in text
    assert "data:image" not in text


def test_a_marked_page_is_read_on_a_telephone(chromium: Any, read_home: Path) -> None:
    """Notes stay legible (a staff as wide as on paper, 6.7 inches of 96 dots), and the page is not wider."""
    report(read_home)
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    tab = chromium.new_context(viewport={"width": 360, "height": 800}).new_page()
    tab.goto((read_home.parent / "report.html").as_uri())
    tab.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    assert tab.evaluate("document.documentElement.scrollWidth") <= 360
    assert tab.evaluate("document.querySelector('.sheet img').getBoundingClientRect().width") > 600
    found = axe.run(tab).response
    assert [(each["id"], each["nodes"][0]["target"]) for each in found["violations"]] == []
    tab.context.close()
