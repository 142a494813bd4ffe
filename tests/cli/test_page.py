"""`midifret page`: what it writes, and what it says of what it cannot write."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from midifret.cli.main import run
from midifret.cli.page_score import as_hand_plays, as_printed
from midifret.fingering import Choices, Fingering, Weights, finger
from midifret.fingering import FingeredNote as Played
from midifret.neck import Neck, pitch_name
from midifret.pages.bars import lay_out
from midifret.pages.beside import ANSWER, READING, beside
from midifret.pages.musicxml import to_musicxml
from midifret.pages.score_page import score_document
from midifret.scores import read_score
from midifret.terms import Place
from midifret.terms.score import Barre, Score
from tests.pages.tunes import STANDARD, fingered, line, note, two_voices


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    score = two_voices()
    printed = beside(score, fingered(score, 1), STANDARD, ANSWER)
    path = tmp_path / "two.musicxml"
    path.write_text(to_musicxml(lay_out(score), printed, STANDARD), encoding="utf-8")
    return path


def page(tmp_path: Path, *arguments: str) -> int:
    return run(["--home", str(tmp_path / "home"), "page", *arguments])


def text_of(path: Path) -> str:
    return "".join(each.extract_text() for each in PdfReader(path).pages)


def test_a_score_becomes_a_page_to_read_from_in_its_position(tmp_path: Path, tune: Path) -> None:
    out = tmp_path / "page.pdf"
    assert page(tmp_path, str(tune), "--position", "V", "--out", str(out)) == 0
    text = text_of(out)
    assert "Two voices" in text
    assert "Position V" in text
    more = tmp_path / "answers.pdf"
    assert page(tmp_path, str(tune), "--position", "5", "--answers", "--tablature", "--out", str(more)) == 0
    assert len(text_of(more)) > len(text) + 50  # digits of fingers, strings and frets
    assert len(PdfReader(more).pages) == 1


@pytest.mark.parametrize(("rule", "opened"), [("freely", True), ("needed", False), ("never", False)])
def test_the_rule_for_open_strings_holds_on_the_page(tmp_path: Path, rule: str, opened: bool) -> None:
    """E4 in position II: the first string open, or fret 5 of the second."""
    out = tmp_path / "again.musicxml"
    file = tmp_path / "line.musicxml"
    score = line("D4 E4 F#4 E4")
    plain = to_musicxml(lay_out(score), beside(score, None, STANDARD, READING), STANDARD)
    file.write_text(plain, encoding="utf-8")
    assert page(tmp_path, str(file), "--position", "2", "--open", rule, "--answers", "--out", str(out)) == 0
    found = [n.printed.fret for n in read_score(out).notes if n.midi == 64]
    assert found == ([0, 0] if opened else [5, 5])


def test_music_written_out_is_read_in_again_with_the_same_notes_and_places(
    tmp_path: Path, tune: Path
) -> None:
    out = tmp_path / "again.musicxml"
    assert page(tmp_path, str(tune), "--answers", "--out", str(out)) == 0
    before, after = read_score(tune), read_score(out)
    kept = [(n.onset_quarter, n.duration_quarter, n.midi, n.pitch) for n in before.notes]
    assert [(n.onset_quarter, n.duration_quarter, n.midi, n.pitch) for n in after.notes] == kept
    for each in after.notes:
        assert each.printed.string is not None
        assert each.printed.fret is not None
        assert STANDARD.midi(Place(each.printed.string, each.printed.fret)) == each.midi


@pytest.mark.parametrize("ending", ["pdf", "png", "svg"])
def test_a_drill_becomes_a_sheet(tmp_path: Path, ending: str) -> None:
    out = tmp_path / f"sheet.{ending}"
    assert page(tmp_path, "row-7-leap-2", "--out", str(out)) == 0
    begin = {"pdf": b"%PDF-", "png": b"\x89PNG", "svg": b"<svg"}[ending]
    assert out.read_bytes().startswith(begin)
    assert list(tmp_path.glob("*sheet*")) == [out]  # nothing half-written beside it


def test_the_answers_name_what_the_sheet_asks(tmp_path: Path) -> None:
    asked, answered = tmp_path / "q.pdf", tmp_path / "a.pdf"
    assert page(tmp_path, "row-7-shuffled", "--seed", "3", "--out", str(asked)) == 0
    assert page(tmp_path, "row-7-shuffled", "--seed", "3", "--answers", "--out", str(answered)) == 0
    assert "fret 7" in text_of(answered)
    assert "row-7-shuffled" in text_of(asked)


def test_several_pages_become_several_files(tmp_path: Path) -> None:
    assert page(tmp_path, "open-position-by-staff", "--out", str(tmp_path / "s.png")) == 0
    assert sorted(path.name for path in tmp_path.glob("*.png")) == ["s-1.png", "s-2.png"]


@pytest.mark.parametrize(
    ("out", "words"),
    [
        ("page.doc", "page.doc: the ending '.doc' names no kind of page (.pdf, .png, .svg, .musicxml)"),
        ("page", "page: no ending names no kind of page"),
        ("none/page.pdf", "there is no folder"),
        ("folder.pdf", "this is a folder"),
        ("drill.musicxml", "this cannot be written as MusicXML (.pdf, .png, .svg)"),
    ],
)
def test_files_that_cannot_be_written_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], out: str, words: str
) -> None:
    (tmp_path / "folder.pdf").mkdir()
    assert page(tmp_path, "row-7-leap-2", "--out", str(tmp_path / out)) == 2
    told = capsys.readouterr().err
    assert words in told
    assert "Traceback" not in told


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_of_others_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o500)
    assert page(tmp_path, "row-7-leap-2", "--out", str(closed / "page.pdf")) == 2
    assert "nothing may be written there" in capsys.readouterr().err


def test_bad_positions_scores_and_mixtures_are_told(
    tmp_path: Path, tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = str(tmp_path / "page.pdf")
    assert page(tmp_path, str(tune), "--position", "IIX", "--out", out) == 2
    assert page(tmp_path, str(tmp_path / "none.musicxml"), "--out", out) == 2
    assert page(tmp_path, "row-7-leap-2", "--tablature", "--out", out) == 2
    assert page(tmp_path, "no-such-drill", "--out", out) == 2
    told = capsys.readouterr().err
    assert "IIX" in told
    assert "none.musicxml" in told
    assert "a drill is printed as it is" in told
    assert "no-such-drill" in told
    assert not Path(out).exists()


def played(score: Score, *held: tuple[int, int, int]) -> Fingering:
    """A fingering from (string, fret, finger)."""
    notes = tuple(
        Played(n.n, Place(string, fret), finger, 5)
        for n, (string, fret, finger) in zip(score.notes, held, strict=True)
    )
    return Fingering(notes, 0, 0, 0.0, (), 0.0, None, ())


def test_a_barre_is_printed_where_the_first_finger_holds_several_strings() -> None:
    notes = (note(1, 0, 4, "A2"), note(2, 1, 1, "C4"), note(3, 2, 1, "D4"))
    score = Score("", "", "", notes)
    barres = [n.barre for n in as_printed(score, played(score, (6, 5, 1), (3, 5, 1), (3, 7, 3))).notes]
    assert barres == [Barre.FULL, Barre.FULL, None]
    later = Score("", "", "", (note(1, 0, 1, "A2"), note(2, 1, 1, "C4")))
    assert [n.barre for n in as_printed(later, played(later, (6, 5, 1), (3, 5, 1))).notes] == [None, None]
    small = Score("", "", "", (note(1, 0, 1, "C4"), note(2, 0, 1, "E4")))
    assert [n.barre for n in as_printed(small, played(small, (3, 5, 1), (2, 5, 1))).notes] == [
        Barre.PARTIAL
    ] * 2


def test_what_the_engine_fingers_can_be_printed() -> None:
    score = line("A3 B3 C4 D4")
    fingering = as_printed(score, finger(score, STANDARD, Choices(position=5), Weights()))
    assert [STANDARD.midi(n.place) for n in fingering.notes if n.place] == [n.midi for n in score.notes]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    full = tmp_path / "full.pdf"
    full.symlink_to("/dev/full")  # every write to it fails with "No space left on device" (full(4))
    assert page(tmp_path, "row-7-leap-2", "--out", str(full)) == 2
    assert "full.pdf: it cannot be written: No space left on device" in capsys.readouterr().err


@pytest.mark.parametrize("library", ["verovio", "typst"])
def test_a_missing_library_is_told_with_what_to_install(tmp_path: Path, tune: Path, library: str) -> None:
    """Over whole processes, the engraver's own among them."""
    (tmp_path / "without").mkdir()
    (tmp_path / "without" / f"{library}.py").write_text("raise ImportError\n")
    environment = os.environ | {"PYTHONPATH": f"{tmp_path / 'without'}{os.pathsep}{Path.cwd()}"}
    done = subprocess.run(
        [sys.executable, "-m", "midifret", "page", str(tune), "--out", str(tmp_path / "page.pdf")],
        env=environment, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert f"the library {library} is missing (pip install 'midifret[pages]')" in done.stderr
    assert "Traceback" not in done.stderr


def test_under_a_capo_the_page_has_what_the_hand_plays(tmp_path: Path) -> None:
    """Capo III: what sounds as E flat major is played, and written, as C major [common practice]."""
    score = replace(line("Eb4 G4 Bb4 Ab4 F#4", fifths=-3), capo=3)
    written = as_hand_plays(score, 3)
    assert written.keys[0].fifths == 0
    assert [str(pitch_name(n.pitch, signs=False)) for n in written.notes] == ["C", "E", "G", "F", "D#"]
    assert [n.midi for n in written.notes] == [n.midi - 3 for n in score.notes]
    assert as_hand_plays(score, 0) == score
    neck = Neck(STANDARD.tuning, capo=3)
    for drawn, words in ((written, "notes as the hand plays them"), (None, "notes as they sound")):
        document, _ = score_document(score, neck=neck, drawn=drawn)
        assert document.about == f"Capo III, {words}"
    file = tmp_path / "capo.musicxml"
    text = to_musicxml(lay_out(score), beside(score, None, neck, ANSWER), neck)
    file.write_text(text, encoding="utf-8")
    heads = {}
    for option in ((), ("--sounding",)):
        out = tmp_path / f"page{len(option)}.svg"
        assert page(tmp_path, str(file), "--octave", "sounding", *option, "--out", str(out)) == 0
        heads[option] = out.read_text(encoding="utf-8")
    assert heads[()] != heads["--sounding",]


@pytest.mark.parametrize("fifths", range(-7, 8))
@pytest.mark.parametrize("capo", range(1, 8))
def test_keys_under_a_capo_have_at_most_seven_signs(fifths: int, capo: int) -> None:
    """The tonic moves with the notes: a fifth is 7 semitones, so 7 * fifths is the tonic's height."""
    written = as_hand_plays(line("C4", fifths=fifths), capo)
    assert abs(written.keys[0].fifths) <= 7
    assert (7 * (written.keys[0].fifths - fifths) + capo) % 12 == 0
    assert written.notes[0].pitch.midi == 60 - capo


def test_nothing_is_overwritten_unasked(
    tmp_path: Path, tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = tune.read_bytes()
    assert page(tmp_path, str(tune), "--overwrite", "--out", str(tune)) == 2
    assert "this is the score itself" in capsys.readouterr().err
    assert tune.read_bytes() == before
    out = tmp_path / "page.pdf"
    out.write_bytes(b"mine")
    assert page(tmp_path, str(tune), "--out", str(out)) == 2
    assert "page.pdf: this file is there already (another name, or --overwrite)" in capsys.readouterr().err
    assert out.read_bytes() == b"mine"
    assert page(tmp_path, str(tune), "--overwrite", "--out", str(out)) == 0
    assert out.read_bytes().startswith(b"%PDF-")
    second = tmp_path / "s-2.png"
    second.write_bytes(b"mine")
    assert page(tmp_path, "open-position-by-staff", "--out", str(tmp_path / "s.png")) == 2
    assert not (tmp_path / "s-1.png").exists()
    assert second.read_bytes() == b"mine"


def test_a_left_handed_neck_is_for_drills(
    tmp_path: Path, tune: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert page(tmp_path, str(tune), "--left-handed", "--out", str(tmp_path / "page.svg")) == 2
    assert "the page of a score shows no neck" in capsys.readouterr().err
    pages = []
    for option in ((), ("--left-handed",)):
        out = tmp_path / f"neck{len(option)}.svg"
        assert page(tmp_path, "row-7-leap-2", "--answers", *option, "--out", str(out)) == 0
        pages.append(out.read_bytes())
    assert pages[0] != pages[1]
