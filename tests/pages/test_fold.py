"""Repeats on paper: bars once, with their signs, and one fingering for all the times they are played."""

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from music21 import converter

from midifret.cli.page_score import as_printed, ready
from midifret.fingering import Choices, Kept, Weights, finger
from midifret.pages.bars import lay_out
from midifret.pages.beside import ANSWER, READING, beside
from midifret.pages.fold import as_in_print
from midifret.pages.musicxml import to_musicxml
from midifret.pages.score_page import engraved_page, score_document
from midifret.scores import Octave, read_score
from midifret.scores.choices import Choices as ScoreChoices
from midifret.terms import Place
from midifret.terms.score import Directions, Score
from tests.pages.folds import SIGNS, folded
from tests.pages.tunes import STANDARD, fingered, line

SVG = "{http://www.w3.org/2000/svg}"


def page_of(score: Score) -> ElementTree.Element:
    printing = as_in_print(score)
    page = engraved_page(printing.score, neck=STANDARD, shown=READING, signs=printing.signs)
    (system,) = page.systems
    return ElementTree.fromstring(system)


@pytest.mark.parametrize("name", SIGNS)
def test_each_bar_is_engraved_once_with_its_number(name: str) -> None:
    signs = SIGNS[name]
    root = page_of(folded(signs))
    measures = [g.get("id") for g in root.iter(f"{SVG}g") if g.get("class") == "measure"]
    assert measures == [f"bar{n}" for n in range(1, len(signs) + 1)]
    heads = [g for g in root.iter(f"{SVG}g") if g.get("class") == "notehead"]
    assert len(heads) == 4 * len(signs)


@pytest.mark.parametrize(
    ("name", "ids", "words"),
    [
        ("three times", ["bar2times"], ["3 times"]),
        ("da capo", ["bar2fine", "bar4jump"], ["Fine", "D.C. al Fine"]),
        ("coda", ["bar2segno", "bar3coda", "bar4jump", "bar5coda"], ["D.S. al Coda"]),
    ],
)
def test_jumps_are_told_in_words_and_signs(name: str, ids: list[str], words: list[str]) -> None:
    groups = {g.get("id", ""): g for g in page_of(folded(SIGNS[name])).iter(f"{SVG}g")}
    found = [ident for ident in groups if re.fullmatch(r"bar\d+(segno|coda|fine|jump|times)", ident)]
    assert sorted(found) == sorted(ids)
    told = ["".join(groups[ident].itertext()).strip() for ident in ids]
    assert [word for word in told if word] == words


def test_endings_have_their_brackets() -> None:
    endings = [
        "".join(g.itertext()).split()
        for g in page_of(folded(SIGNS["endings"])).iter(f"{SVG}g")
        if g.get("class", "").startswith("ending") and "".join(g.itertext()).strip()
    ]
    assert endings == [["1.", "2."], ["3."]]


@pytest.mark.parametrize("name", SIGNS)
def test_musicxml_with_signs_is_played_as_it_was(name: str, tmp_path: Path) -> None:
    """By our reader and by music21's own unfolding, which knows nothing of ours."""
    score = folded(SIGNS[name])
    printing = as_in_print(score, as_printed(score, finger(score, STANDARD)))
    laid = lay_out(printing.score, printing.signs)
    file = tmp_path / "again.musicxml"
    text = to_musicxml(laid, beside(printing.score, printing.fingered, STANDARD, ANSWER), STANDARD)
    file.write_text(text, encoding="utf-8")
    again = read_score(file, ScoreChoices(octave=Octave.SOUNDING))
    assert [(n.onset_quarter, n.midi) for n in again.notes] == [
        (n.onset_quarter, n.midi) for n in score.notes
    ]
    assert [(b.number, b.played) for b in again.bars] == [(b.number, b.played) for b in score.bars]
    assert all(
        STANDARD.midi(Place(n.printed.string, n.printed.fret)) == n.midi
        for n in again.notes
        if n.printed.string is not None and n.printed.fret is not None
    )
    theirs = converter.parse(text, format="musicxml", forceSource=True).parts[0].expandRepeats()
    assert [n.pitch.midi for n in theirs.recurse().notes] == [n.midi for n in score.notes]


@pytest.mark.parametrize("name", SIGNS)
@pytest.mark.parametrize("position", [None, 2, 5])
def test_what_comes_again_is_fingered_as_the_first_time(name: str, position: int | None) -> None:
    score = folded(SIGNS[name])
    printing = ready(score, STANDARD, Weights(), position=position)
    assert printing.warnings == ()
    assert printing.fingered is not None
    for note, found in zip(printing.score.notes, printing.fingered.notes, strict=True):
        assert found.n == note.n
        assert found.place is None or STANDARD.midi(found.place) == note.midi


def test_times_that_are_fingered_otherwise_are_told() -> None:
    """Here the first bar is played in position I and, when it comes again, in position V."""
    score = folded(SIGNS["repeat"])
    low, high = fingered(score, 1), fingered(score, 5)
    mixed = replace(low, notes=low.notes[:8] + high.notes[8:])
    printing = as_in_print(score, mixed)
    assert printing.warnings == (
        "bars 1, 2: printed as fingered the first time; when repeated it is fingered otherwise",
    )
    assert printing.fingered is not None
    assert printing.fingered.notes[:8] == low.notes[:8]
    assert as_in_print(score, low).warnings == ()


def test_the_engine_alone_would_finger_this_repeat_otherwise() -> None:
    """The first ending lies low, the second high: alone, each time would lead to its own ending."""
    signs = (Directions(), Directions(endings=(1,), repeat_end=2), Directions(endings=(2,)))
    score = folded(signs, ("E4 F4 G4 A4", "G4 F4 E4 C4", "C5 E5 G5 C5"))
    alone = finger(score, STANDARD, Choices(kept=frozenset(Kept)), Weights())
    assert as_in_print(score, as_printed(score, alone)).warnings
    assert ready(score, STANDARD, Weights()).warnings == ()


def test_a_tune_without_repeats_is_left_alone() -> None:
    score = line("C4 D4 E4 F4")
    printing = as_in_print(score, fingered(score, 1))
    assert (printing.score, printing.signs) == (score, ())


def test_repeats_written_out_are_named_on_the_page() -> None:
    score = folded(SIGNS["repeat"])
    document, _ = score_document(score, neck=STANDARD)
    assert "repeats written out" in document.about
    printing = as_in_print(score)
    document, _ = score_document(printing.score, neck=STANDARD, signs=printing.signs)
    assert "written out" not in document.about
