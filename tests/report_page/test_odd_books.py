"""Odd books: nothing in them, nothing right, long names with markup, other names of notes, very much."""

import datetime as dt
from pathlib import Path
from typing import Any

import pypdf
import pytest

from midifret.cli.main import run
from tests.report_page.weeks import weeks

NAME = "<script>alert(1)</script>&'\"" + "x" * 36  # 64 letters, as many as a name may have
BOOKS: dict[str, dict[str, Any]] = {
    "nothing right": {"days": 10, "right": 0.0},
    "all right": {"days": 10, "right": 1.0},
    "one day": {"days": 1, "seed": 3},
    "a name with markup": {"days": 12, "player": NAME},
    "a year and more": {"days": 400},
    "nothing": {"days": 0},
}


@pytest.fixture(scope="module", params=BOOKS)
def odd(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path, Path]:
    """The book's name, and its report as a page and as a PDF; since a week ago, notes named in German."""
    home = tmp_path_factory.mktemp("odd")
    now = dt.datetime.now(dt.UTC)
    weeks(home, now, **BOOKS[request.param])
    (home / "settings.yaml").write_text("language: german\n", encoding="utf-8")
    page, pdf = home / "r.html", home / "r.pdf"
    player = str(BOOKS[request.param].get("player", "me"))
    week = (now - dt.timedelta(days=7)).date().isoformat()
    arguments = ["report", "--player", player, "--since", week, "--html", str(page), "--pdf", str(pdf)]
    assert run(["--home", str(home), *arguments]) == 0
    return request.param, page, pdf


@pytest.mark.parametrize("width", [360, 1100])
def test_odd_books_have_a_page_without_faults(chromium: Any, odd: tuple[str, Path, Path], width: int) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    _, page, _ = odd
    tab = chromium.new_context(viewport={"width": width, "height": 800}).new_page()
    talked: list[str] = []
    tab.on("dialog", lambda dialog: (talked.append("dialog"), dialog.dismiss()))
    tab.on("console", lambda message: talked.append(message.text))
    tab.goto(page.as_uri())
    tab.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    assert talked == []
    found = axe.run(tab).response
    assert [(each["id"], each["nodes"][0]["target"]) for each in found["violations"]] == []
    tab.context.close()


def test_odd_books_have_a_pdf(odd: tuple[str, Path, Path]) -> None:
    name, _, pdf = odd
    pages = [" ".join(one.extract_text().split()) for one in pypdf.PdfReader(pdf).pages]
    text = " ".join(pages)
    told = {
        "nothing right": "0% right at the first try",
        "all right": "100% right at the first try",
        "one day": "No place was asked both before and since",
        "a name with markup": "<script>alert(1)</script>",
        "a year and more": "practice like this leads to",
        "nothing": "There is nothing in the practice book",
    }[name]
    assert told in text
    assert len(pages) <= 10
    if name != "nothing":
        assert "open (H)" in text  # B in German


def test_a_year_keeps_its_tables_short(odd: tuple[str, Path, Path]) -> None:
    name, page, _ = odd
    text = page.read_text(encoding="utf-8")
    assert len(text) < 400_000
    if name == "a year and more":
        assert "day by day, the newest 60 of" in text
