"""The report as a PDF: pages of the paper asked for, with all that the page says; and clear errors."""

import datetime as dt
from pathlib import Path

import pypdf
import pytest

from midifret.cli.main import run

# ISO 216 and ANSI Y14.1, in points of 1/72 inch.
SIZES = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}


@pytest.mark.parametrize("paper", SIZES)
def test_a_pdf_of_the_paper_asked_for(home: Path, tmp_path: Path, paper: str) -> None:
    file = tmp_path / "report.pdf"
    assert run(["--home", str(home), "report", "--pdf", str(file), "--paper", paper]) == 0
    read = pypdf.PdfReader(file)
    for one in read.pages:
        assert (float(one.mediabox.width), float(one.mediabox.height)) == pytest.approx(SIZES[paper], abs=0.5)
    text = " ".join(one.extract_text() for one in read.pages)
    for words in (
        "Next steps",
        "Row by row",
        "Row 10",
        "What was not right",
        "For the teacher",
        "Every state",
    ):
        assert words in text


def test_the_pdf_says_what_the_page_says(home: Path, tmp_path: Path) -> None:
    page, pdf = tmp_path / "r.html", tmp_path / "r.pdf"
    assert run(["--home", str(home), "report", "--html", str(page), "--pdf", str(pdf)]) == 0
    text = " ".join(" ".join(one.extract_text().split()) for one in pypdf.PdfReader(pdf).pages)
    html = page.read_text(encoding="utf-8")
    share = html.split(" right at the first try", 1)[0].rsplit(" ", 1)[1]
    assert f"{share} right at the first try" in text


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--paper", "a4"], "it needs --pdf FILE"),
        (["--pdf", "x.pdf", "--json"], "one or the other"),
        (["--pdf", "x.pdf", "--paper", "a3"], "'a4', 'letter'"),
    ],
)
def test_what_does_not_go_together(
    home: Path, arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["--home", str(home), "report", *arguments]) == 2
    assert words in capsys.readouterr().err


def test_nothing_is_written_over_unasked(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "mine.pdf"
    file.write_bytes(b"mine")
    assert run(["--home", str(home), "report", "--pdf", str(file)]) == 2
    assert "mine.pdf" in capsys.readouterr().err
    assert file.read_bytes() == b"mine"


def test_rows_have_a_trend_and_mistakes_are_ones_own(home: Path, page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert "practice like this leads to" in text  # the book was made of exponentials
    months = {f"{dt.datetime.now(dt.UTC) - dt.timedelta(days=ago):%B}" for ago in range(16)}
    assert any(f"{month}: " in text for month in months)
    assert "came sooner since" in text
