"""What is written for the engraver, read again by a library that knows nothing of us, and what is drawn."""

import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from music21 import converter

from midifret.neck import Neck, Tuning
from midifret.pages.bars import Laid, lay_out
from midifret.pages.beside import ANSWER, READING, Beside, Shown, Strings, beside
from midifret.pages.engraver import engrave
from midifret.pages.finish import finished
from midifret.pages.mei import one_note_mei, to_mei
from midifret.terms import BadInput, Place, SpelledPitch
from midifret.terms.fingered import FingeredNote, FingeredScore
from midifret.terms.score import Score
from tests.pages.tunes import STANDARD, fingered, line, moving, note, two_voices

MEI = "{http://www.music-encoding.org/ns/mei}"
ID = "{http://www.w3.org/XML/1998/namespace}id"
SVG = "{http://www.w3.org/2000/svg}"
MELODY = line(
    "G4:1/2 F#4:1/2 E4 A3 B3 Bb3:1/3 A3:1/3 G#3:1/3 A3:1/2 C4:1/4 D4:1/4 E4:3/2 D#4:1/2 C5:2 r:1 A4 F##4 B3",
    fifths=1,
)


def mei_of(
    score: Score, shown: Shown = ANSWER, *, tablature: bool = False, marks: bool = False
) -> tuple[Laid, str]:
    laid = lay_out(score)
    printed = beside(score, moving(score, {1: 1, 9: 5}), STANDARD, shown)
    return laid, to_mei(laid, printed, STANDARD, tablature=tablature, marks=marks)


def _offset(each, read) -> Fraction:  # type: ignore[no-untyped-def]
    """Onset in quarter notes; the library gives triplets as floats."""
    return Fraction(each.getOffsetInHierarchy(read)).limit_denominator(48)


@pytest.mark.parametrize("score", [MELODY, two_voices()])
def test_an_independent_library_reads_the_same_notes(score: Score) -> None:
    """music21 reads MEI; it takes the octaves as they stand and so does the engraver: they sound.

    Without fingers: in chords they stand among the signs, which the engraver alone knows for room.
    """
    _, mei = mei_of(score, READING)
    read = converter.parse(mei, format="mei").stripTies()
    theirs = Counter(
        (_offset(each, read), pitch.midi, each.duration.quarterLength)
        for each in read.recurse().notes
        for pitch in each.pitches
    )
    ours = Counter((n.onset_quarter, n.midi, n.duration_quarter) for n in score.notes)
    assert theirs == ours


def test_every_reference_has_its_element_and_every_id_is_used_once() -> None:
    _, mei = mei_of(two_voices(), tablature=True, marks=True)
    root = ElementTree.fromstring(mei)
    ids = [ident for element in root.iter() if (ident := element.get(ID))]
    assert len(ids) == len(set(ids))
    references = [
        value[1:]
        for element in root.iter()
        for name in ("startid", "endid")
        if (value := element.get(name)) is not None
    ]
    assert references
    assert set(references) <= set(ids)


@pytest.mark.parametrize("score", [MELODY, two_voices()])
def test_every_head_finger_and_circle_is_drawn_once(score: Score) -> None:
    laid, mei = mei_of(score, replace(ANSWER, strings=Strings.ALL), marks=True)
    drawn = Counter(
        ident
        for svg in engrave(mei, width_mm=174, staff_mm=7)
        for ident in re.findall(r'id="([nfsm]\d+(?:_[\d-]+)?)"', svg)
    )
    heads = {ident for idents in laid.heads.values() for ident in idents}
    assert {ident for ident in drawn if ident.startswith("n")} == heads
    assert set(drawn.values()) == {1}
    for letter in "fsm" if score is MELODY else "sm":
        assert {f"{letter}{n.n}" for n in score.notes} == {i for i in drawn if i.startswith(letter)}


def test_a_reading_page_shows_the_position_and_nothing_else() -> None:
    score = MELODY
    mei = to_mei(lay_out(score), beside(score, fingered(score, 5), STANDARD, READING, 5), STANDARD)
    root = ElementTree.fromstring(mei)
    assert [("".join(d.itertext()), d.get("startid")) for d in root.iter(f"{MEI}dir")] == [("V", "#n1")]
    assert list(root.iter(f"{MEI}fing")) == []


def test_tablature_shows_the_fret_of_every_note_once() -> None:
    score = two_voices()
    laid = lay_out(score)
    printed = beside(score, fingered(score, 1), STANDARD, ANSWER)
    root = ElementTree.fromstring(to_mei(laid, printed, STANDARD, tablature=True))
    frets = Counter(
        (int(n.get("tab.course", "0")), int(n.get("tab.fret", "-1")))
        for n in root.iter(f"{MEI}note")
        if n.get("tab.course")
    )
    assert frets == Counter((p.string, p.fret) for p in printed.places.values())


def test_slurs_ties_harmonics_and_graces_are_written() -> None:
    notes = (
        replace(note(1, 0, 1, "E4"), harmonic=True),
        note(2, 1, 0, "G4"),
        note(3, 1, 1, "A4"),
        note(4, 2, 1, "B4", slurred=True),
        note(5, 3, 1, "C5", slurred=True),
    )
    score = Score("", "", "", notes)
    root = ElementTree.fromstring(to_mei(lay_out(score), Beside(), STANDARD))
    assert [(s.get("startid"), s.get("endid")) for s in root.iter(f"{MEI}slur")] == [("#n3", "#n5")]
    by_id = {n.get(ID): n for n in root.iter(f"{MEI}note")}
    assert by_id["n1"].get("head.shape") == "diamond"
    assert by_id["n2"].get("grace") == "unacc"


def test_words_of_positions_and_barres() -> None:
    score = two_voices()
    printed = beside(score, moving(score, {1: 1, 12: 5, 25: 2}), STANDARD, ANSWER)
    assert [(s.words, s.line) for s in printed.stretches] == [
        ("I", True), ("V", True), ("CV", True), ("II", True), ("½CII", False),
    ]  # fmt: skip
    assert next((s.first, s.last) for s in printed.stretches)[0] == 1


def test_a_string_is_shown_where_the_position_leaves_a_choice() -> None:
    """E4 in position II: on string 2 or the open first. A3: on string 3 alone."""
    score = line("E4 A3")
    places = fingered(score, 2).notes
    held = FingeredScore(
        (replace(places[0], place=places[0].place, position=2), replace(places[1], position=2)), 0, 0, 0.0
    )
    shown = replace(ANSWER, strings=Strings.NEEDED)
    assert set(beside(score, held, STANDARD, shown).strings) == {1}


def test_what_is_struck_again_is_not_said_again() -> None:
    score = line("A3 A3 B3")
    printed = beside(score, fingered(score, 2), STANDARD, replace(ANSWER, strings=Strings.ALL))
    assert set(printed.fingers) == {1, 3}
    assert set(printed.strings) == {1, 2, 3}


def test_a_note_that_no_hand_plays_is_drawn_without_a_place() -> None:
    score = line("A3 B3")
    half = FingeredScore((FingeredNote(1, None, None, None), fingered(score, 2).notes[1]), 0, 0, 0.0)
    laid = lay_out(score)
    mei = to_mei(laid, beside(score, half, STANDARD, ANSWER), STANDARD, tablature=True)
    assert 'xml:id="n1"' in mei
    assert 'xml:id="f1"' not in mei
    (svg,) = engrave(mei, width_mm=174, staff_mm=7)
    assert svg.count('class="tabGrp"') == 1


def test_digits_stand_clear_of_stems() -> None:
    """The middle of a digit, at the height of a stem, keeps 160 units from it: half a digit and air."""
    laid, mei = mei_of(two_voices())
    fingers = beside(laid.score, moving(laid.score, {1: 1, 9: 5}), STANDARD, ANSWER).fingers
    checked = 0
    for svg in engrave(mei, width_mm=174, staff_mm=7):
        root = ElementTree.fromstring(finished(svg, font="Libertinus Serif", fingers=fingers))
        stems = [
            [float(n) for n in re.findall(r"[\d.]+", path.get("d", ""))]
            for group in root.iter(f"{SVG}g")
            if group.get("class") == "stem"
            for path in group.iter(f"{SVG}path")
        ]
        for group in root.iter(f"{SVG}g"):
            if re.fullmatch(r"f\d+", group.get("id", "")):
                text = next(group.iter(f"{SVG}text"))
                x, y = float(text.get("x", "0")), float(text.get("y", "0"))
                for x1, y1, _, y2 in stems:
                    if min(y1, y2) < y and y - 200 < max(y1, y2):
                        checked += 1
                        assert abs(x - x1) >= 160
    assert checked > 50


def test_words_stand_at_the_beginning_of_their_line() -> None:
    _, mei = mei_of(two_voices())
    svgs = engrave(mei, width_mm=174, staff_mm=7)
    root = ElementTree.fromstring(finished(svgs[0], font="Libertinus Serif"))
    groups = {group.get("id"): group for group in root.iter(f"{SVG}g")}
    text = next(groups["p1"].iter(f"{SVG}text"))
    path = next(groups["e1"].iter(f"{SVG}path"))
    start, y, _, _ = (float(n) for n in re.findall(r"[\d.]+", path.get("d", "")))
    assert float(text.get("x", "0")) < start
    assert 0 < float(text.get("y", "0")) - y < 200  # half a capital


def test_a_single_note_for_a_question() -> None:
    (svg,) = engrave(one_note_mei(SpelledPitch("F", 1, 4)), width_mm=20, staff_mm=5)
    assert svg.count('class="notehead"') == 1
    assert 'class="accid"' in svg


def test_what_the_engraver_does_not_take_is_told() -> None:
    with pytest.raises(BadInput, match="does not take"):
        engrave("<mei", width_mm=100, staff_mm=7)


def test_fingers_of_a_chord_stand_left_of_their_heads_each_at_its_height() -> None:
    notes = tuple(note(n, 0, 2, name) for n, name in enumerate(("C3", "E3", "G#3", "C4", "E4"), 1))
    score = Score("", "", "", notes)
    printed = Beside(fingers={1: 3, 2: 2, 3: 1, 4: 1, 5: 0})
    mei = to_mei(lay_out(score), printed, STANDARD)
    (svg,) = engrave(mei, width_mm=174, staff_mm=7)
    root = ElementTree.fromstring(finished(svg, font="Libertinus Serif", fingers=printed.fingers))
    groups = {group.get("id"): group for group in root.iter(f"{SVG}g")}
    where = {}
    for n, finger in printed.fingers.items():
        text = next(groups[f"f{n}"].iter(f"{SVG}text"))
        head = next(g for g in groups[f"n{n}"].iter(f"{SVG}g") if g.get("class") == "notehead")
        x, y = _at(head)
        assert "".join(text.itertext()) == str(finger)
        assert float(text.get("x", "0")) + 133 < x  # a digit is half as wide as high: 265 / 2
        assert abs(float(text.get("y", "0")) - 265 * 0.33 - y) < 1  # the middle of digit and head
        where[n] = (float(text.get("x", "0")), y)
    sign = next(g for g in groups["n3"].iter(f"{SVG}g") if g.get("class") == "accid")
    assert abs(where[3][0] - _at(sign)[0]) > 133  # beside the sharp
    for (x, y), (other_x, other_y) in pairwise(where.values()):
        assert abs(y - other_y) >= 0.65 * 265 or abs(x - other_x) >= 133  # no digit in another


def _at(group: ElementTree.Element) -> tuple[float, float]:
    """Where the glyph of a group stands."""
    glyph = next(group.iter(f"{SVG}use"))
    x, y = re.findall(r"-?[\d.]+", glyph.get("transform", ""))[:2]
    return float(x), float(y)


def test_an_open_string_is_told_by_zero_in_every_position() -> None:
    """Not by the number of its string, which would depend on where the hand is; two of one pitch alone."""
    score = Score("", "", "", (note(1, 0, 1, "A2"), note(2, 0, 1, "E4"), note(3, 0, 1, "C4")))
    places = (Place(5, 0), Place(1, 0), Place(2, 1))
    shown = Shown(strings=Strings.NEEDED)
    for position in (1, 2, 5):
        notes = [FingeredNote(n, p, min(p.fret, 1), position) for n, p in enumerate(places, 1)]
        found = beside(score, FingeredScore(tuple(notes), 0, 2, 0.0), STANDARD, shown, position)
        assert (found.fingers[1], found.fingers[2], set(found.strings) & {1, 2}) == (0, 0, set())
    all_of_them = replace(shown, strings=Strings.ALL)
    assert beside(score, FingeredScore(tuple(notes), 0, 2, 0.0), STANDARD, all_of_them).strings[2] == 1
    unison = Neck(Tuning("unison", "Unison", (64, 64, 55, 50, 45, 40)))
    found = beside(score, FingeredScore(tuple(notes), 0, 2, 0.0), unison, shown)
    assert (found.fingers, found.strings[2]) == ({1: 0}, 1)
