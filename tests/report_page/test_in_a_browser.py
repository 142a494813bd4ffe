"""The report in a browser: accessible, readable at every width, nothing fetched, whole on paper."""

import io
from pathlib import Path
from typing import Any

import pypdf
import pytest

SCHEMES, WIDTHS = ("light", "dark"), (360, 1100)


def opened(chromium: Any, page: Path, **more: Any) -> Any:
    tab = chromium.new_context(**more).new_page()
    tab.goto(page.as_uri())
    return tab


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("width", WIDTHS)
def test_axe_finds_nothing(chromium: Any, page: Path, scheme: str, width: int) -> None:
    """Axe-core by Deque, through axe-playwright-python: every rule that is on by default."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    tab = opened(chromium, page, viewport={"width": width, "height": 800}, color_scheme=scheme)
    tab.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    found = axe.run(tab).response
    assert [(each["id"], each["nodes"][0]["target"]) for each in found["violations"]] == []
    assert len(found["passes"]) > 10  # it did look
    tab.context.close()


@pytest.mark.parametrize("width", [360, 768, 1100, 3840])
def test_nothing_is_wider_than_the_screen(chromium: Any, page: Path, width: int) -> None:
    tab = opened(chromium, page, viewport={"width": width, "height": 800})
    tab.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    tab.context.close()


def test_nothing_is_fetched(chromium: Any, page: Path) -> None:
    tab = chromium.new_context().new_page()
    asked: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(page.as_uri())
    tab.wait_for_load_state("networkidle")
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    tab.context.close()


def test_every_part_is_reached_by_keys(chromium: Any, page: Path) -> None:
    tab = opened(chromium, page)
    stops = tab.evaluate("document.querySelectorAll('summary, [tabindex=\"0\"]').length")
    hidden = tab.evaluate("document.querySelectorAll('details [tabindex=\"0\"]').length")
    seen = set()
    for _ in range(stops):
        tab.keyboard.press("Tab")
        seen.add(tab.evaluate("[...document.querySelectorAll('*')].indexOf(document.activeElement)"))
    assert len(seen - {-1}) >= stops - hidden
    tab.locator("summary").first.focus()
    tab.keyboard.press("Enter")
    assert tab.evaluate("document.querySelector('details').open")
    tab.context.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_on_paper_nothing_is_folded_or_cut_off(chromium: Any, page: Path, paper: str) -> None:
    tab = opened(chromium, page)
    printed = pypdf.PdfReader(io.BytesIO(tab.pdf(format=paper)))
    text = " ".join(one.extract_text() for one in printed.pages)
    # The last column of the widest table, and what is folded on the screen.
    assert "What helps" in text
    assert "Recall time (95%" in text
    assert text.count("string 6, fret 10") >= 2
    assert len(printed.pages) <= 12
    tab.emulate_media(media="print")
    width = {"A4": 210, "Letter": 215.9}[paper] - 30  # mm between the page's own margins
    tab.set_viewport_size({"width": int(width / 25.4 * 96), "height": 900})
    assert tab.evaluate(
        "Math.max(...[...document.querySelectorAll('table, svg')].map(e => e.getBoundingClientRect().right))"
        " <= innerWidth + 1"
    )
    tab.context.close()


def test_motion_is_none(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert "animation" not in text
    assert "transition" not in text
