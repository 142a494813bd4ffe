"""Scores held against readers and writers that know nothing of us, on tunes that others engraved."""

import random
import warnings
from fractions import Fraction
from pathlib import Path

import pytest

from midifret.scores.child import read
from midifret.scores.choices import Choices, Octave
from midifret.scores.octave import Shift
from midifret.scores.played import notes_played
from midifret.scores.read import look_of, score_of
from midifret.scores.unfold import playing_order
from midifret.scores.written import WrittenPart
from tests.scores.test_formats import XML
from tests.scores.writing import kept, musicxml, note, technical

music21 = pytest.importorskip("music21")
CORPUS = Path(music21.__file__).parent / "corpus"
AS_IT_STANDS = Shift(0, 0, Octave.SOUNDING, "")
Heard = list[tuple[Fraction, Fraction, int]]


def ours(part: WrittenPart, *, repeats: bool = True) -> Heard:
    """What we read of a part, grace notes apart, at the pitches in the file."""
    order = playing_order(tuple(b.directions for b in part.bars)) if repeats else tuple(range(len(part.bars)))
    notes = notes_played(part, order, (), AS_IT_STANDS)
    return sorted((n.onset_quarter, n.duration_quarter, n.midi) for n in notes if n.duration_quarter)


def sample(suffixes: tuple[str, ...], count: int, seed: int) -> list[Path]:
    files = sorted(p for p in CORPUS.rglob("*") if p.suffix in suffixes and p.stat().st_size < 30_000)
    return random.Random(seed).sample(files, count)


def by_music21(part: object) -> Heard:
    """Repeats unfolded, then ties merged, by the library's own means and in that order (feasibility.md)."""
    found: Heard = []
    for element in part.expandRepeats().stripTies().flatten().notes:  # type: ignore[attr-defined]
        if isinstance(element, music21.harmony.Harmony) or element.duration.isGrace:
            continue
        onset = Fraction(element.offset).limit_denominator(65536)
        length = Fraction(element.duration.quarterLength).limit_denominator(65536)
        found += [(onset, length, pitch.midi) for pitch in element.pitches]
    return sorted(found)


def plainly_repeated(part: WrittenPart) -> bool:
    """Whether every passage that is repeated has a sign where it begins.

    Without one we go back to where the last one ended, as players do, and music21 to the start of the piece.
    """
    begun = True
    for bar in part.bars:
        begun = begun or bar.directions.repeat_start
        if bar.directions.repeat_end and not begun:
            return False
        if bar.directions.repeat_end and not bar.directions.endings:
            begun = False
    return True


def test_repeats_and_ties_against_music21() -> None:
    compared = differing = 0
    for path in [*sample((".mxl", ".xml"), 16, 11), *sample((".krn",), 8, 12)]:
        written = read(path.suffix, path.read_bytes())
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            kind = "humdrum" if path.suffix == ".krn" else "musicxml"
            text = path.read_text(encoding="latin-1") if path.suffix == ".krn" else _text(path)
            score = music21.converter.parseData(text, format=kind)
        assert len(score.parts) == len(written.parts), path.name
        for part, theirs in zip(written.parts, score.parts, strict=True):
            if not plainly_repeated(part):
                continue
            try:
                expected = by_music21(theirs)
            except music21.repeat.ExpanderException:
                continue
            compared += 1
            if ours(part) != expected:
                differing += 1
                print(path.name, part.name)
    print(f"{compared} parts compared with music21, {differing} differ")
    assert compared > 80
    # music21 joins chords only whole: where one note of a chord is tied and another is not, it leaves both.
    assert differing <= 0.03 * compared


def _text(path: Path) -> str:
    from midifret.scores.xml_safely import unpack

    data = path.read_bytes()
    data = unpack(data) if path.suffix == ".mxl" else data
    encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8"
    return data.decode(encoding)


def rounded(onset: object, length: object, midi: object) -> tuple[float, float, int]:
    return round(float(onset), 3), round(float(length), 3), int(midi)  # type: ignore[arg-type,call-overload]


def test_notes_against_partitura(tmp_path: Path) -> None:
    partitura = pytest.importorskip("partitura")
    compared = 0
    for path in sample((".mxl",), 25, 21):
        if not path.name.startswith("bwv"):
            continue
        written = read(path.suffix, path.read_bytes())
        text = kept(tmp_path, "tune.musicxml", _text(path).encode())
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            parts = list(partitura.load_musicxml(text).parts)
        assert len(parts) == len(written.parts)
        for part, theirs in zip(written.parts, parts, strict=True):
            array = theirs.note_array()
            start = min(array["onset_quarter"])
            expected = sorted(
                rounded(n["onset_quarter"] - start, n["duration_quarter"], n["pitch"])
                for n in array
                if n["duration_quarter"] > 0  # grace notes apart
            )
            mine = ours(part, repeats=False)
            first = min(onset for onset, _, _ in mine)
            assert [rounded(onset - first, length, m) for onset, length, m in mine] == expected, path.name
            compared += 1
    assert compared >= 30


def test_midi_against_pretty_midi(tmp_path: Path) -> None:
    pretty_midi = pytest.importorskip("pretty_midi")
    # Chorales: elsewhere parts meet on one pitch, and each reader then pairs ends with beginnings in its way.
    for path in [p for p in sample((".mxl",), 40, 31) if p.name.startswith("bwv")][:6]:
        target = tmp_path / "tune.mid"
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            music21.converter.parse(path, forceSource=True, storePickle=False).write("midi", fp=str(target))
        song = pretty_midi.PrettyMIDI(str(target))
        written = read(".mid", target.read_bytes())
        theirs = sorted(
            (round(song.time_to_tick(n.start) / song.resolution, 2), n.pitch)
            for instrument in song.instruments
            if not instrument.is_drum
            for n in instrument.notes
        )
        mine = sorted(
            (round(float(onset), 2), midi) for part in written.parts for onset, _, midi in ours(part)
        )
        assert len(mine) == len(theirs), path.name
        assert [midi for _, midi in mine] == [midi for _, midi in theirs]
        assert max(abs(a - b) for (a, _), (b, _) in zip(mine, theirs, strict=True)) <= 0.05  # the grid


def test_mei_that_verovio_makes_of_musicxml_reads_the_same() -> None:
    verovio = pytest.importorskip("verovio")
    toolkit = verovio.toolkit()
    chord = note("C3", 4, inside=technical("<string>5</string><fret>3</fret>")) + note(
        "E3", 4, before="<chord/>", inside=technical("<fingering>2</fingering>")
    )
    for text in (XML, musicxml(chord)):
        assert toolkit.loadData(text)
        as_mei = read(".mei", toolkit.getMEI().encode())
        as_xml = read(".musicxml", text.encode())
        assert ours(as_mei.parts[0]) == ours(as_xml.parts[0])
        assert as_mei.parts[0].clef_octave == -1
        assert [(n.finger, n.string, n.fret) for n in as_mei.parts[0].notes] == [
            (n.finger, n.string, n.fret) for n in as_xml.parts[0].notes
        ]


def test_abc_that_music21_read_and_wrote_as_musicxml(tmp_path: Path) -> None:
    """Pitches of ABC tunes; those with broken rhythms apart, which music21 may read wrongly."""
    compared = 0
    for path in sample((".abc",), 60, 41):
        text = path.read_text(encoding="utf-8", errors="replace")
        if any(sign in text for sign in "<>") or text.count("X:") != 1:
            continue
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            score = music21.converter.parseData(text, format="abc")
            target = score.write("musicxml", fp=str(tmp_path / "tune.musicxml"))
        mine, theirs = read(".abc", path.read_bytes()), read(".musicxml", Path(target).read_bytes())
        assert len(mine.parts) == len(theirs.parts)
        for one, other in zip(mine.parts, theirs.parts, strict=True):
            midis = [n.midi for n in notes_played(one, tuple(range(len(one.bars))), (), AS_IT_STANDS)]
            assert midis == [
                n.midi for n in notes_played(other, tuple(range(len(other.bars))), (), AS_IT_STANDS)
            ], path.name
        compared += 1
    assert compared >= 8


def test_a_sample_of_the_corpus_is_read_for_a_guitar() -> None:
    """60 tunes of the corpus; tests/bench/bench_scores.py reads all of it."""
    read_whole = notes = 0
    for path in sample((".mxl", ".xml", ".krn", ".abc"), 60, 51):
        written = read(path.suffix, path.read_bytes(), 1 if path.suffix == ".abc" else None)
        look = look_of(written)
        part = next((p for p in look.parts if p.notes), None)
        if part is None:
            continue
        choices = Choices(part=str(part.number), octave=Octave.SOUNDING, transpose="fit")
        highest = (part.highest_midi or 0) - (part.lowest_midi or 0)
        if highest > 43:  # wider than any guitar
            continue
        score = score_of(written, path.name, choices)
        assert all(40 <= n.midi <= 83 and n.pitch.midi == n.midi for n in score.notes)
        assert [n.n for n in score.notes] == list(range(1, len(score.notes) + 1))
        read_whole, notes = read_whole + 1, notes + len(score.notes)
    print(f"{read_whole} tunes, {notes} notes")
    assert read_whole >= 50


def corpus_parts(name: str) -> tuple[WrittenPart, ...]:
    path = CORPUS / "beethoven" / name
    return read(path.suffix, path.read_bytes()).parts


# Where we differ from music21's expandRepeats and stripTies, in larger files: three reasons, each looked up
# in the MusicXML of one of them, which says what we read. Of 24 parts of larger files 9 differed: 4 by the
# first reason as it seems, one by the second, 4 by the third.


def test_one_note_of_a_chord_may_be_tied_alone() -> None:
    """music21 joins chords only whole. opus18no1, Violin II: of two notes the C4 is tied on for 1 more."""
    second = corpus_parts("opus18no1/movement1.mxl")[1]
    found = [(length, midi) for onset, length, midi in ours(second, repeats=False) if onset == 120]
    assert found == [(3, 63), (4, 60)]


def test_a_tie_stays_in_its_voice() -> None:
    """opus59no2, 2nd movement, 1st Violin, bar 52, divisions 1024: F#5 2048 tied to 1792 in voice 1, while
    voice 3 begins a trill of notes of 120 on the same F#5, to which music21 ties the second half."""
    first = corpus_parts("opus59no2/movement2.mxl")[0]
    lengths = [length for onset, length, midi in ours(first, repeats=False) if (onset, midi) == (204, 78)]
    assert lengths == [Fraction(120, 1024), Fraction(2048 + 1792, 1024)]


def test_what_is_no_note_makes_no_bar_longer() -> None:
    """opus59no3, 1st movement: bar 10 of three quarters, which music21 makes longer, by another bit in each
    of the four parts, so that they part company."""
    parts = corpus_parts("opus59no3/movement1.mxl")
    starts = {tuple(bar.onset_quarter for bar in part.bars[9:14]) for part in parts}
    assert starts == {(27, 30, 33, 36, 39)}
