"""The same invented tunes in MusicXML, ABC, MEI, kern and MIDI give the same notes."""

import io
from fractions import Fraction
from pathlib import Path

import mido
import pytest

from midifret.scores import Octave
from midifret.scores.spelling import spelled
from midifret.terms.score import Score
from tests.scores.writing import (
    PLAIN_CLEF,
    REPEAT_START,
    ending,
    musicxml,
    notations,
    note,
    read,
)

# Invented: in G, a pick-up, a repeated passage with a triplet, a tie over a bar line and two endings.
THIRD = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"


def triplet(*pitches: str) -> str:
    marks = [notations(f'<tuplet type="{kind}"/>') if kind else "" for kind in ("start", "", "stop")]
    return "".join(
        note(pitch, 1 / 3, inside=mark).replace("</type>", f"</type>{THIRD}")
        for pitch, mark in zip(pitches, marks, strict=True)
    )


ON, OFF = notations('<tied type="start"/>'), notations('<tied type="stop"/>')
XML = musicxml(
    note("D4"),
    REPEAT_START + note("G4") + note("A4", 0.5) + note("B4", 0.5) + note("C5"),
    triplet("D5", "E5", "F#5") + note("G5", 2, inside=ON),
    ending("1", "start") + note("G5", 1, inside=OFF) + note("D4", 2) + ending("1", "stop", repeat=True),
    ending("2", "start") + note("G5", 1, inside=OFF) + note("B4") + note("G4") + ending("2", "discontinue"),
    time="3/4",
).replace("<fifths>0", "<fifths>1")
ABC = """X:1
T:A tune
M:3/4
L:1/4
K:G clef=treble-8
D|:G A/B/ c|(3d/e/f/ g2-|1 gD2:|2 gBG|]
"""
KERN = """!!!OTL: A tune
**kern
*clefGv2
*k[f#]
*G:
*M3/4
4d
=1!|:
4g
8a
8b
4cc
=2
12dd
12ee
12ff#
[2gg
=3
4gg]
2d
=:|!
*-
"""
MEI = """<?xml version="1.0" encoding="UTF-8"?>
<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0"><meiHead><fileDesc><titleStmt>
<title>A tune</title></titleStmt><pubStmt/></fileDesc></meiHead><music><body><mdiv><score>
<scoreDef meter.count="3" meter.unit="4" key.sig="1s"><staffGrp><staffDef n="1" lines="5" clef.shape="G"
 clef.line="2" clef.dis="8" clef.dis.place="below"><label>Guitar</label></staffDef></staffGrp></scoreDef>
<section><measure n="0" metcon="false"><staff n="1"><layer n="1"><note dur="4" pname="d" oct="4"/></layer>
</staff>
</measure>
<measure n="1" left="rptstart"><staff n="1"><layer n="1"><note dur="4" pname="g" oct="4"/>
<beam><note dur="8" pname="a" oct="4"/><note dur="8" pname="b" oct="4"/></beam>
<note dur="4" pname="c" oct="5"/>
</layer></staff></measure>
<measure n="2"><staff n="1"><layer n="1"><tuplet num="3" numbase="2"><note dur="8" pname="d" oct="5"/>
<note dur="8" pname="e" oct="5"/><note dur="8" pname="f" accid.ges="s" oct="5"/></tuplet>
<note xml:id="held" dur="2" pname="g" oct="5" tie="i"/></layer></staff></measure>
<ending n="1"><measure n="3" right="rptend"><staff n="1"><layer n="1">
<note dur="4" pname="g" oct="5" tie="t"/>
<note dur="2" pname="d" oct="4"/></layer></staff></measure></ending>
<ending n="2"><measure n="4" right="end"><staff n="1"><layer n="1"><note dur="4" pname="g" oct="5" tie="t"/>
<note dur="4" pname="b" oct="4"/><note dur="4" pname="g" oct="4"/></layer></staff></measure></ending>
</section></score></mdiv></body></music></mei>
"""
# By hand, from the tune as it is read: onset, duration in quarters, pitch as sounded (octave clef: as written
# in MusicXML, MEI and kern; ABC letters with -8 an octave above).
PASSAGE = [
    ("0", "1", 67), ("1", "1/2", 69), ("3/2", "1/2", 71), ("2", "1", 72),
    ("3", "1/3", 74), ("10/3", "1/3", 76), ("11/3", "1/3", 78), ("4", "3", 79),
]  # fmt: skip


def passage(at: int, closing: list[tuple[str, str, int]]) -> list[tuple[Fraction, Fraction, int]]:
    return [(at + Fraction(on), Fraction(length), midi) for on, length, midi in [*PASSAGE, *closing]]


FIRST, SECOND = [("7", "2", 62)], [("7", "1", 71), ("8", "1", 67)]
TUNE = [(Fraction(0), Fraction(1), 62), *passage(1, FIRST), *passage(10, SECOND)]
# kern states no endings: its passage is played twice with the first one.
IN_KERN = [(Fraction(0), Fraction(1), 62), *passage(1, FIRST), *passage(10, FIRST)]


def notes(score: Score) -> list[tuple[Fraction, Fraction, int]]:
    return [(n.onset_quarter, n.duration_quarter, n.midi) for n in score.notes]


@pytest.mark.parametrize(
    ("name", "text", "lower", "tune"),
    [
        ("tune.musicxml", XML, 0, TUNE),
        ("tune.mei", MEI, 0, TUNE),
        ("tune.abc", ABC, 12, TUNE),
        ("tune.krn", KERN, 0, IN_KERN),
    ],
)
def test_the_same_tune(
    tmp_path: Path, name: str, text: str, lower: int, tune: list[tuple[Fraction, Fraction, int]]
) -> None:
    score = read(tmp_path, text, name)
    assert notes(score) == [(onset, length, midi - lower) for onset, length, midi in tune]
    assert [str(n.pitch)[:-1] for n in score.notes][:8] == ["D", "G", "A", "B", "C", "D", "E", "F#"]
    assert [(m.beats, m.beat_type) for m in score.meters] == [(3, 4)]
    assert [k.fifths for k in score.keys] == [1]
    assert (score.bars[0].duration_quarter, score.bars[1].duration_quarter) == (1, 3)


def test_timewise_musicxml(tmp_path: Path) -> None:
    # MusicXML 4.0: a score-timewise holds the same, measures outside and parts inside.
    timewise = (
        XML.replace("score-partwise", "score-timewise")
        .replace('<part id="P1">', "").replace("</part></", "</")
        .replace('<measure number="', '<measure NUMBER="')
    )  # fmt: skip
    pieces = timewise.split("<measure ")
    text = pieces[0] + "".join(
        "<measure " + piece.replace(">", '><part id="P1">', 1).replace("</measure>", "</part></measure>")
        for piece in pieces[1:]
    ).replace("NUMBER", "number")
    assert notes(read(tmp_path, text)) == TUNE


def midi_file(
    *, name: str = "Lead", channel: int = 0, notes: list[tuple[int, int, int]], key: str | None = None
) -> bytes:
    """A type-1 file of one track at 480 ticks a quarter; notes as (tick, length, number)."""
    song = mido.MidiFile(type=1, ticks_per_beat=480)
    track = mido.MidiTrack([mido.MetaMessage("track_name", name=name, time=0)])
    track.append(mido.MetaMessage("time_signature", numerator=3, denominator=4, time=0))
    if key is not None:
        track.append(mido.MetaMessage("key_signature", key=key, time=0))
    events = [(tick, 1, number) for tick, _, number in notes] + [(t + n, 0, m) for t, n, m in notes]
    now = 0
    for tick, on, number in sorted(events):
        kind = "note_on" if on else "note_off"
        track.append(mido.Message(kind, note=number, channel=channel, velocity=64, time=tick - now))
        now = tick
    song.tracks.append(track)
    stream = io.BytesIO()
    song.save(file=stream)
    return stream.getvalue()


def test_midi_sounds_as_it_is(tmp_path: Path) -> None:
    data = midi_file(
        notes=[(0, 480, 64), (480, 160, 66), (640, 160, 67), (800, 160, 69), (960, 480, 40)], key="D"
    )
    score = read(tmp_path, data, "tune.mid")
    assert notes(score) == [
        (0, 1, 64), (1, Fraction(1, 3), 66), (Fraction(4, 3), Fraction(1, 3), 67),
        (Fraction(5, 3), Fraction(1, 3), 69), (2, 1, 40),
    ]  # fmt: skip
    assert [n.bar for n in score.notes] == ["1"] * 5
    assert score.remarks == ("the pitches in the file sound as they stand: the file states what sounds",)


def test_midi_a_little_off_the_grid_is_moved_and_told(tmp_path: Path) -> None:
    score = read(tmp_path, midi_file(notes=[(3, 470, 64), (476, 470, 65)]), "tune.mid")
    assert notes(score) == [(0, 1, 64), (1, 1, 65)]
    assert "2 of 2 notes moved to the grid, by at most 0.008 of a quarter" in score.remarks


def test_midi_an_octave_up_may_be_said_to_be(tmp_path: Path) -> None:
    score = read(tmp_path, midi_file(notes=[(0, 480, 76)]), "tune.mid", octave=Octave.WRITTEN)
    assert [n.midi for n in score.notes] == [64]


@pytest.mark.parametrize(
    ("midi", "fifths", "name"),
    [
        # Harmonic minor's leading notes and the usual chromatic ones [common practice, no source].
        (61, 0, "C#"), (63, 0, "Eb"), (66, 0, "F#"), (68, 0, "G#"), (70, 0, "Bb"),
        (66, 1, "F#"), (63, 4, "D#"), (61, -4, "Db"), (71, -6, "Cb"), (65, 7, "E#"),
    ],
)  # fmt: skip
def test_midi_is_spelled_by_its_key(midi: int, fifths: int, name: str) -> None:
    step, alter, octave = spelled(midi, fifths)
    assert step + "#" * alter + "b" * -alter == name
    assert 12 * (octave + 1) + {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[step] + alter == midi


def test_abc_faults_of_the_library_are_kept_from_it(tmp_path: Path) -> None:
    # feasibility.md: music21 reads a broken rhythm with a decoration between wrongly. ABC 2.1, 4.4: A>B is a
    # dotted eighth and a sixteenth, and a decoration changes no length.
    tune = 'X:1\nM:4/4\nL:1/8\nK:C treble-8\nA>~B c>!trill!d "Am"e2 u.f2|\n'
    lengths = [str(n.duration_quarter) for n in read(tmp_path, tune, "tune.abc").notes]
    assert lengths == ["3/4", "1/4", "3/4", "1/4", "1", "1"]


def test_abc_without_bar_lines(tmp_path: Path) -> None:
    assert len(read(tmp_path, "X:1\nM:2/4\nL:1/4\nK:C treble-8\nCDEF GABc\n", "tune.abc").notes) == 8


def test_one_tune_of_several(tmp_path: Path) -> None:
    text = "M:4/4\nL:1/4\n\nX:7\nT:One\nK:C treble-8\nCDEF|\n\nX:9\nT:Two\nK:C treble-8\nGABc|\n"
    assert [n.midi for n in read(tmp_path, text, "tune.abc", tune=2).notes] == [55, 57, 59, 60]


def test_mei_fingers_strings_positions_and_tuning(tmp_path: Path) -> None:
    marks = (
        '<fing startid="#held">4</fing><dir startid="#held"><rend rend="circle">1</rend></dir>'
        '<dir tstamp="2" tstamp2="0m+4">CV</dir>'
    )
    text = MEI.replace('tie="i"/></layer></staff></measure>', f'tie="i"/></layer></staff>{marks}</measure>')
    score = read(tmp_path, text, "tune.mei", repeats=False)
    held = next(n for n in score.notes if n.midi == 79)
    assert (held.printed.finger, held.printed.string, held.ident) == (4, 1, "held")
    assert [(str(m.onset_quarter), m.position, str(m.end_quarter)) for m in score.positions] == [
        ("5", 5, "7")
    ]


def test_the_octave_is_asked_for_once_in_every_format(tmp_path: Path) -> None:
    plain = XML.replace("<clef-octave-change>-1</clef-octave-change>", "")
    assert PLAIN_CLEF in plain
    assert notes(read(tmp_path, plain, octave=Octave.SOUNDING)) == TUNE


def test_abc_bars_are_counted_from_one_and_a_pick_up_is_none(tmp_path: Path) -> None:
    whole = read(tmp_path, "X:1\nM:2/4\nL:1/4\nK:C treble-8\n|: CD | EF :|\n", "whole.abc")
    assert [note.bar for note in whole.notes][:4] == ["1", "1", "2", "2"]
    pick_up = read(tmp_path, "X:1\nM:2/4\nL:1/4\nK:C treble-8\nC | DE | F2 |\n", "pick-up.abc")
    assert [note.bar for note in pick_up.notes] == ["0", "1", "1", "2"]
