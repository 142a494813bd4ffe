"""`midifret report --html`: one page from a real book, whole, escaped, and with nothing fetched."""

import datetime as dt
import json
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from midifret.cli.main import run
from midifret.terms import Verdict
from tests.cli.test_report_command import play

Call = Callable[..., tuple[int, str, str]]
VOID = {"meta", "rect", "path", "circle", "polygon", "polyline", "img"}


class Page(HTMLParser):
    """Tags are closed in the order they were opened (HTML Living Standard, 13.1.2); addresses are kept."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.fetched: list[str] = []
        self.tags: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.fetched += [
            name
            for name, value in attrs
            if name in ("src", "href", "xlink:href", "srcset") and not (value or "").startswith("data:")
        ]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.fixture
def midifret(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Call:
    def call(*arguments: str) -> tuple[int, str, str]:
        code = run(["--home", str(tmp_path), *arguments])
        out, err = capsys.readouterr()
        return code, out, err

    return call


def page_of(midifret: Call, tmp_path: Path, *arguments: str) -> str:
    file = tmp_path / "report.html"
    code, _, err = midifret("report", "--html", str(file), "--overwrite", *arguments)
    assert (code, err) == (0, "")
    text = file.read_text(encoding="utf-8")
    page = Page(text)
    assert not page.open
    assert not page.fetched
    assert not {"script", "link", "iframe"} & set(page.tags)
    assert "url(" not in text
    assert "@import" not in text
    return text


def test_the_page_has_the_figures_of_the_book(midifret: Call, tmp_path: Path) -> None:
    play(tmp_path)
    text = page_of(midifret, tmp_path)
    assert "4 answers, 75% right at the first try" in text
    assert "string 4, open (D)" in text
    assert "one fret off" in text
    assert "Recall time, in seconds" not in text  # nothing was calibrated
    assert "For the teacher" in text
    assert "imulated" not in text


def test_an_empty_book_and_only_fails_have_a_page_too(midifret: Call, tmp_path: Path) -> None:
    assert "nothing in the practice book" in page_of(midifret, tmp_path)
    play(tmp_path, verdicts=(Verdict.WRONG,) * 4)
    text = page_of(midifret, tmp_path)
    assert "4 answers, 0% right" in text
    assert "Learn string 4, open (D)" in text


def test_a_name_with_markup_is_text_and_a_simulated_player_is_marked(midifret: Call, tmp_path: Path) -> None:
    play(tmp_path, player="<b>&Ann", simulated=True)
    text = page_of(midifret, tmp_path, "--player", "<b>&Ann")
    assert "&lt;b&gt;&amp;Ann" in text
    assert "<b>" not in text
    assert "Simulated player" in text


def test_since_tells_before_from_after(midifret: Call, tmp_path: Path) -> None:
    play(tmp_path, days_ago=9, verdicts=(Verdict.WRONG, Verdict.WRONG, Verdict.WRONG, Verdict.RIGHT))
    play(tmp_path, days_ago=1)
    day = (dt.date.today() - dt.timedelta(days=4)).isoformat()
    text = page_of(midifret, tmp_path, "--since", day)
    assert "<td>25% of 4</td><td>75% of 4</td>" in text
    code, out, _ = midifret("report", "--since", day, "--json")
    assert code == 0
    assert json.loads(out)["answers"] == 4


def test_what_cannot_be_is_refused(midifret: Call, tmp_path: Path) -> None:
    for arguments, told in (
        (("--since", "2999-01-01"), "2999-01-01"),
        (("--since", "yesterday"), "yesterday"),
        (("--since", "2026-01-01", "--days", "3"), "one or the other"),
        (("--left-handed",), "--left-handed is for the page"),
        (("--overwrite",), "--overwrite is for the page"),
        (("--html", str(tmp_path / "none" / "x.html")), "no folder"),
    ):
        code, _, err = midifret("report", *arguments)
        assert code == 2
        assert told in err
        assert "Traceback" not in err


def test_a_left_handed_neck_has_its_nut_at_the_right(midifret: Call, tmp_path: Path) -> None:
    play(tmp_path)
    right = page_of(midifret, tmp_path)
    left = page_of(midifret, tmp_path, "--left-handed")
    # One fret was asked, so the neck is one cell wide: the numbers of the strings move to the other side.
    assert '<text class="edge" x="15" y="51">1</text>' in right
    assert '<text class="edge" x="89" y="51">1</text>' in left


def test_notes_are_named_as_the_settings_say(midifret: Call, tmp_path: Path) -> None:
    (tmp_path / "settings.yaml").write_text("language: fixed-do\n")
    play(tmp_path)
    text = page_of(midifret, tmp_path)
    assert "string 4, open (re)" in text.lower()
    assert "string 4, open (D)" not in text


def test_a_file_that_is_there_stays_unless_it_is_to_go(midifret: Call, tmp_path: Path) -> None:
    file = tmp_path / "mine.html"
    file.write_text("mine", encoding="utf-8")
    code, _, err = midifret("report", "--html", str(file))
    assert (code, file.read_text(encoding="utf-8")) == (2, "mine")
    assert "there already (another name, or --overwrite)" in err
    midifret("report", "--html", str(file), "--overwrite")
    assert "<html" in file.read_text(encoding="utf-8")
