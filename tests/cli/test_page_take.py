"""`midifret page --verdicts`: what was read, on paper, each note with its mark."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from midifret.cli import page as page_command
from midifret.cli.main import run
from midifret.pages.document import Document, Drawing
from midifret.pages.marks import MARKS
from midifret.terms import Verdict
from tests.cli.test_read import SURE, Call, call, take_of, tune

__all__ = ["call", "tune"]  # fixtures
SVG = "{http://www.w3.org/2000/svg}"


def page(tmp_path: Path, *arguments: str) -> int:
    return run(["--home", str(tmp_path / "home"), "page", *arguments])


def test_a_reading_is_printed_with_its_verdicts(
    call: Callable[..., Call],
    tune: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Beside each note the shape of its verdict, which the legend explains."""
    skill = replace(SURE, accuracy=0.5, seed=3)
    read = call("read", str(tune), "--position", "5", "--no-check", skill=skill).document
    verdicts = [Verdict(answer["verdict"]) for answer in read["answers"]]
    assert len(set(verdicts)) > 1
    out = tmp_path / "read.pdf"
    documents: list[Document] = []
    real = page_command.printed
    monkeypatch.setattr(page_command, "printed", lambda d, f: documents.append(d) or real(d, f))
    assert page(tmp_path, str(take_of(tmp_path)), "--verdicts", "--out", str(out)) == 0
    drawings = [block.svg for block in documents[0].blocks if isinstance(block, Drawing)]
    marked = {}
    for group in ElementTree.fromstring(drawings[0]).iter(f"{SVG}g"):
        if group.get("class") == "mark":
            paths = [path.get("d") for path in group.iter(f"{SVG}path")]
            marked[int(group.get("id", "").removeprefix("m"))] = paths
    assert marked == {n: [MARKS[verdict].path] for n, verdict in enumerate(verdicts, 1)}
    text = PdfReader(out).pages[0].extract_text()
    for words in ("Small Tune", "Position V", *(MARKS[verdict].words for verdict in verdicts)):
        assert words in text


def test_anything_else_is_told(
    tune: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    out = str(tmp_path / "page.pdf")
    assert page(tmp_path, str(tmp_path / "none.mid"), "--verdicts", "--out", out) == 2
    assert "none.mid" in capsys.readouterr().err
    assert page(tmp_path, str(tune), "--verdicts", "--out", out) == 2
    assert "Traceback" not in capsys.readouterr().err
    assert page(tmp_path, str(tune), "--verdicts", "--position", "5", "--out", out) == 2
    assert "a take is printed as it was read" in capsys.readouterr().err
    assert page(tmp_path, str(tune), "--verdicts", "--out", str(tmp_path / "x.musicxml")) == 2
    assert not Path(out).exists()


def test_the_ladder_shows_what_was_read(
    call: Callable[..., Call],
    tune: Path,
) -> None:
    """Read twice in position V and never elsewhere: the better share of right notes stands there alone."""
    before = call("ladder", str(tune)).document["rungs"]
    assert {(rung["times_read"], rung["best_accuracy"]) for rung in before} == {(0, None)}
    poor = call("read", str(tune), "--position", "5", "--no-check", skill=replace(SURE, accuracy=0.5, seed=3))
    call("read", str(tune), "--position", "5", "--no-check")
    assert poor.document["summary"]["accuracy"] < 1
    rungs = {rung["position"]: rung for rung in call("ladder", str(tune)).document["rungs"]}
    assert (rungs[5]["times_read"], rungs[5]["best_accuracy"]) == (2, 1.0)
    assert all(rungs[n]["times_read"] == 0 for n in rungs if n != 5)
    rows = call("ladder", str(tune), as_json=False).out.splitlines()
    assert [row.split()[1] for row in rows if row.endswith("2x, best 100%")] == ["V"]
