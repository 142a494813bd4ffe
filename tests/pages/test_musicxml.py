"""MusicXML as written, read again by music21: the same notes and the same places."""

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import partitura
import pytest
import xmlschema
from music21 import articulations, converter
from music21 import stream as m21_stream

from midifret.fingering.printed_json import score_from_json
from midifret.neck import Neck, Tuning
from midifret.pages.bars import lay_out
from midifret.pages.beside import ANSWER, Beside, Stretch, beside
from midifret.pages.engraver import load_library
from midifret.pages.fold import as_in_print
from midifret.pages.musicxml import to_musicxml
from midifret.scores import Choices, Octave, read_score
from midifret.terms import Place
from midifret.terms.score import Barre, BarStart, KeyChange, MeterChange, Score, TempoChange
from tests.pages.folds import SIGNS, folded
from tests.pages.tunes import STANDARD, fingered, line, note, two_voices

PIECES = Path(__file__).parent.parent.parent.parent / "shared" / "fingerings"
MELODY = line("G4:1/2 F#4:1/2 E4 Bb3:1/3 A3:1/3 G#3:1/3 A3 C4:6 r:1 A4:3/2 D4:1/2", meter=(3, 4), fifths=-2)
PICK_UP = line("E4:1/2 A4 B4:1/2 C5 D5:1/2 A4:3/2", meter=(6, 8), pick_up=1)


@pytest.fixture(scope="module")
def schema() -> xmlschema.XMLSchema:
    """The schema of MusicXML 3.1 that travels with partitura; 4.0 only adds to it (MusicXML 4.0, changes)."""
    return xmlschema.XMLSchema(Path(partitura.__file__).parent / "assets" / "musicxml.xsd")


def _all_in_one() -> Score:
    """Graces, a slur, a harmonic, a triplet, silent bars of a lower voice, two tempos, a change of meter."""
    notes = (
        replace(note(1, 0, 1, "E4"), harmonic=True), note(2, 1, 0, "G4"), note(3, 1, 0, "G#4"),
        note(4, 1, 1, "A4"), note(5, 2, 1, "B4", slurred=True), note(6, 3, "1/3", "C5"),
        note(7, "10/3", "1/3", "D5"), note(8, "11/3", "1/3", "C5"), note(9, 4, 3, "A2", voice=2),
        note(10, 4, 3, "Bb3"), note(11, 7, 0, "C5"), note(12, 7, 2, "E5"), note(13, 9, 1, "Cbb4"),
    )  # fmt: skip
    return Score(
        "Title & <more>", "Some \"body\"", "", notes,
        meters=(MeterChange(Fraction(0), 4, 4), MeterChange(Fraction(4), 3, 4)),
        keys=(KeyChange(Fraction(0), -3), KeyChange(Fraction(4), 2)),
        tempos=(TempoChange(Fraction(0), 90.0), TempoChange(Fraction(9, 2), 72.5)),
    )  # fmt: skip


@pytest.mark.parametrize(
    "score", [MELODY, PICK_UP, two_voices(), _all_in_one(), *(folded(signs) for signs in SIGNS.values())]
)
def test_what_is_written_is_valid(score: Score, schema: xmlschema.XMLSchema) -> None:
    neck = Neck(Tuning("low", "Low", (64, 59, 55, 49, 45, 38)), capo=2)
    for played in (None, fingered(score, 2, neck)):
        printing = as_in_print(score, played)
        laid = lay_out(printing.score, printing.signs)
        text = to_musicxml(laid, beside(printing.score, printing.fingered, neck, ANSWER), neck)
        assert [f"{error.path}: {error.reason}" for error in schema.iter_errors(text)] == []


def test_the_schema_would_find_a_fault(schema: xmlschema.XMLSchema) -> None:
    text = to_musicxml(lay_out(MELODY), beside(MELODY, None, STANDARD, ANSWER), STANDARD)
    assert not schema.is_valid(text.replace("<duration>", "<dot/><duration>", 1))


def test_real_music_is_written_validly(schema: xmlschema.XMLSchema) -> None:
    if not PIECES.is_dir():
        pytest.skip("no pieces beside the checkout")
    for file in sorted(PIECES.glob("*.json")):
        score = score_from_json(file.read_bytes(), str(file))
        text = to_musicxml(lay_out(score), beside(score, None, STANDARD, ANSWER), STANDARD)
        assert [f"{file.name} {error.path}: {error.reason}" for error in schema.iter_errors(text)] == []


@pytest.mark.parametrize("score", [MELODY, PICK_UP, two_voices()])
def test_two_more_libraries_open_it(score: Score, tmp_path: Path) -> None:
    """partitura: notes; verovio: it loads, and draws a head for each."""
    laid = lay_out(score)
    text = to_musicxml(laid, beside(score, fingered(score, 2), STANDARD, ANSWER), STANDARD)
    file = tmp_path / "tune.musicxml"
    file.write_text(text, encoding="utf-8")
    theirs = partitura.load_musicxml(str(file)).note_array()
    assert Counter(theirs["pitch"].tolist()) == Counter(n.midi for n in score.notes)
    toolkit = load_library().toolkit()
    assert toolkit.loadData(text)
    drawn = "".join(toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1))
    assert drawn.count('class="notehead"') == sum(len(heads) for heads in laid.heads.values())


def test_positions_and_how_far_they_hold_come_back(tmp_path: Path) -> None:
    """By our reader, two voices and a grace note at the begin and at the end of a line among them."""
    notes = [
        note(1, 0, 1, "A4"), note(2, 0, 4, "A2", voice=2), note(3, 1, 1, "B4"), note(4, 2, 0, "C5"),
        note(5, 2, 1, "D5"), note(6, 3, 1, "E5"), note(7, 4, 4, "D3", voice=2), note(8, 4, 1, "A4"),
        note(9, 5, 0, "C5"), note(10, 5, 1, "B4"), note(11, 6, 2, "A4"),
    ]  # fmt: skip
    score = Score("", "", "", tuple(notes), meters=(MeterChange(Fraction(0), 4, 4),))
    stretches = (
        Stretch("V", 1, 3, line=True), Stretch("VII", 4, 6, line=True), Stretch("½CV", 8, 9, line=True),
        Stretch("III", 11, 11, line=False),
    )  # fmt: skip
    file = tmp_path / "positions.musicxml"
    file.write_text(to_musicxml(lay_out(score), Beside(stretches=stretches), STANDARD), encoding="utf-8")
    found = [
        (float(mark.onset_quarter), mark.position, mark.barre, mark.end_quarter)
        for mark in read_score(file).positions
    ]
    assert found == [
        (0.0, 5, None, 2), (2.0, 7, None, 4), (4.0, 5, Barre.PARTIAL, 6), (6.0, 3, None, None),
    ]  # fmt: skip


def test_a_silent_pick_up_is_no_full_bar(tmp_path: Path) -> None:
    bars = (BarStart(Fraction(0), "0"), BarStart(Fraction(1), "1"), BarStart(Fraction(5), "2"))
    notes = (note(1, 1, 4, "E4"), note(2, 5, 4, "C4"))
    score = Score("", "", "", notes, meters=(MeterChange(Fraction(0), 4, 4),), bars=bars)
    file = tmp_path / "silent.musicxml"
    file.write_text(to_musicxml(lay_out(score), Beside(), STANDARD), encoding="utf-8")
    assert [n.onset_quarter for n in read_score(file).notes] == [1, 5]


def read_again(score: Score) -> m21_stream.Score:
    laid = lay_out(score)
    text = to_musicxml(laid, beside(score, fingered(score, 2), STANDARD, ANSWER), STANDARD)
    return converter.parse(text, format="musicxml", forceSource=True)


def _offset(each, read) -> Fraction:  # type: ignore[no-untyped-def]
    """Onset in quarter notes; the library gives triplets as floats."""
    return Fraction(each.getOffsetInHierarchy(read)).limit_denominator(48)


@pytest.mark.parametrize("score", [MELODY, PICK_UP, two_voices()])
def test_notes_come_back(score: Score) -> None:
    read = read_again(score).stripTies()
    theirs = Counter(
        (_offset(each, read), pitch.midi, each.duration.quarterLength)
        for each in read.recurse().notes
        for pitch in each.pitches
    )
    assert theirs == Counter((n.onset_quarter, n.midi, n.duration_quarter) for n in score.notes)


@pytest.mark.parametrize("score", [MELODY, PICK_UP])
def test_places_and_fingers_come_back(score: Score) -> None:
    """Of melodies: in a chord music21 puts all numbers to the first note (run)."""
    theirs = []
    for each in read_again(score).recurse().notes:
        found = {type(a): a for a in each.articulations}
        if articulations.StringIndication in found:
            theirs.append(
                (
                    each.pitch.midi,
                    found[articulations.StringIndication].number,
                    int(found[articulations.FretIndication].number),
                    int(found[articulations.Fingering].fingerNumber),
                )
            )
    printed = fingered(score, 2).notes
    assert theirs == [
        (n.midi, p.place.string, p.place.fret, p.finger)
        for n, p in zip(score.notes, printed, strict=True)
        if p.place is not None
    ]


def test_a_chord_keeps_each_note_with_its_place() -> None:
    """By the order of the elements: each note of MusicXML carries its own technical marks."""
    from xml.etree import ElementTree

    score = two_voices()
    printed = beside(score, fingered(score, 1), STANDARD, ANSWER)
    root = ElementTree.fromstring(to_musicxml(lay_out(score), printed, STANDARD))
    steps = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}  # the major scale
    found = Counter()
    for each in root.iter("note"):
        if each.find(".//string") is not None:
            octave, step = int(each.findtext("pitch/octave")), each.findtext("pitch/step")
            midi = 12 * (octave + 1) + steps[step] + int(each.findtext("pitch/alter") or 0)
            found[midi, int(each.findtext(".//string")), int(each.findtext(".//fret"))] += 1
    assert found == Counter(
        (n.midi, printed.places[n.n].string, printed.places[n.n].fret) for n in score.notes
    )
    open_midis = {string: STANDARD.open_midi(string) for string in range(1, 7)}
    assert all(midi == open_midis[string] + fret for midi, string, fret in found)


def test_title_key_meter_tempo_slurs_graces_and_harmonics_come_back() -> None:
    notes = (
        replace(note(1, 0, 1, "E4"), harmonic=True),
        note(2, 1, 0, "G4"),
        note(3, 1, 1, "A4"),
        note(4, 2, 1, "B4", slurred=True),
    )
    score = Score(
        "Title & <more>", "Somebody", "", notes,
        meters=(MeterChange(Fraction(0), 3, 4),), keys=(KeyChange(Fraction(0), 2),),
        tempos=(TempoChange(Fraction(0), 90.0),),
    )  # fmt: skip
    read = read_again(score)
    assert read.metadata.title == "Title & <more>"
    assert read.metadata.composer == "Somebody"
    assert [k.sharps for k in read.recurse().getElementsByClass("KeySignature")] == [2]
    assert [t.ratioString for t in read.recurse().getElementsByClass("TimeSignature")] == ["3/4"]
    assert [m.number for m in read.recurse().getElementsByClass("MetronomeMark")] == [90]
    assert len(list(read.recurse().getElementsByClass("Slur"))) == 1
    played = list(read.recurse().notes)
    assert [each.duration.isGrace for each in played] == [False, True, False, False]
    assert played[0].notehead == "diamond"


def test_a_capo_alone_and_the_usual_tuning_are_no_tablature(tmp_path: Path) -> None:
    """Read in again by us, the frets count from the capo; the engraver draws heads."""
    neck = Neck(STANDARD.tuning, capo=3)
    score = replace(line("C4 E4 G4 A4"), capo=3)
    text = to_musicxml(lay_out(score), beside(score, fingered(score, 1, neck), neck, ANSWER), neck)
    assert "<staff-tuning" not in text
    file = tmp_path / "capo.musicxml"
    file.write_text(text, encoding="utf-8")
    again = read_score(file)
    assert again.capo == 3
    places = [Place(n.printed.string or 0, n.printed.fret or 0) for n in again.notes]
    assert [neck.midi(place) for place in places] == [60, 64, 67, 69]  # C4 is 60 (facts of MIDI)
    toolkit = load_library().toolkit()
    assert toolkit.loadData(text)
    assert toolkit.renderToSVG(1).count('class="notehead"') == 4


def test_tuning_and_capo_are_written_line_one_the_lowest_string() -> None:
    """MusicXML 4.0: `line` counts from the bottom (facts of the standard)."""
    from xml.etree import ElementTree

    neck = Neck(Tuning("drop-d", "Drop D", (64, 59, 55, 50, 45, 38)), capo=2)
    score = line("E4")
    root = ElementTree.fromstring(to_musicxml(lay_out(score), beside(score, None, neck, ANSWER), neck))
    lowest = next(t for t in root.iter("staff-tuning") if t.get("line") == "1")
    assert (lowest.findtext("tuning-step"), lowest.findtext("tuning-octave")) == ("D", "2")
    assert root.findtext(".//capo") == "2"
    assert root.findtext(".//clef-octave-change") == "-1"


def test_real_polyphony_comes_back_through_our_own_reader(tmp_path: Path) -> None:
    """Pieces laid beside the checkout; music21 alone leaves ties between voices as they are (run)."""
    if not PIECES.is_dir():
        pytest.skip("no pieces beside the checkout")
    for name in ("lagrima", "Sor_Etude_Opus35_14", "moonlight-guitar-duo__s0p0"):
        file = PIECES / f"{name}.json"
        score = score_from_json(file.read_bytes(), str(file))
        laid = lay_out(score)
        assert laid.warnings == ()
        out = tmp_path / f"{name}.musicxml"
        out.write_text(to_musicxml(laid, beside(score, None, STANDARD, ANSWER), STANDARD), encoding="utf-8")
        read = read_score(out, Choices(octave=Octave.SOUNDING))
        ours = Counter((n.onset_quarter, n.midi, n.duration_quarter) for n in score.notes)
        assert Counter((n.onset_quarter, n.midi, n.duration_quarter) for n in read.notes) == ours
