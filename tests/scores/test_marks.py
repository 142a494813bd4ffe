"""What is printed for a guitarist: fingers, strings, frets, positions, slurs, harmonics, tuning, capo."""

from pathlib import Path

import pytest

from midifret.scores.position_words import position_words
from midifret.terms.score import Barre, Printed
from tests.scores.writing import OCTAVE_CLEF, musicxml, notations, note, read, sounding, technical, words


def test_every_note_of_a_chord_keeps_its_own_finger_string_and_fret(tmp_path: Path) -> None:
    chord = (
        note("C3", 4, inside=technical("<fingering>3</fingering><string>5</string><fret>3</fret>"))
        + note("E3", 4, before="<chord/>", inside=technical("<fingering>2</fingering><string>4</string>"))
        + note("G3", 4, before="<chord/>", inside=technical("<fingering>0</fingering>"))
        + note("C4", 4, before="<chord/>")
    )
    score = read(tmp_path, musicxml(chord))
    assert [(n.midi, n.printed) for n in score.notes] == [
        (48, Printed(3, 5, 3)), (52, Printed(2, 4)), (55, Printed(0)), (60, Printed()),
    ]  # fmt: skip


def test_fingers_of_the_right_hand_and_others_are_no_left_hand_fingers(tmp_path: Path) -> None:
    inside = technical("<pluck>p</pluck><fingering>5</fingering>")
    assert read(tmp_path, musicxml(note("C4", 4, inside=inside))).notes[0].printed == Printed()


def test_an_open_string_sign_is_finger_0(tmp_path: Path) -> None:
    score = read(tmp_path, musicxml(note("E4", 4, inside=technical("<open-string/>"))))
    assert score.notes[0].printed == Printed(finger=0)


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        # How editions print them [common practice, no source].
        ("V", (5, None)),
        ("VII", (7, None)),
        ("IX pos.", (9, None)),
        ("Pos. III", (3, None)),
        ("2nd position", (2, None)),
        ("CIII", (3, Barre.FULL)),
        ("C III", (3, Barre.FULL)),
        ("C3", (3, Barre.FULL)),
        ("C.3", (3, Barre.FULL)),
        ("BII", (2, Barre.FULL)),
        ("B VII - - -", (7, Barre.FULL)),
        ("barre V", (5, Barre.FULL)),
        ("Barré 5", (5, Barre.FULL)),
        ("½CII", (2, Barre.PARTIAL)),
        ("1/2 C II", (2, Barre.PARTIAL)),
        ("2/3 CIV", (4, Barre.PARTIAL)),
        ("C 1/2 IV", (4, Barre.PARTIAL)),
        ("half barre V", (5, Barre.PARTIAL)),
        ("mezzo barre III", (3, Barre.PARTIAL)),
        ("¢II", (2, Barre.PARTIAL)),
        ("XII", (12, None)),
        ("3", None),
        ("iv", None),
        ("C", None),
        ("V7", None),
        ("B7", None),
        ("Coda", None),
        ("C major", None),
        ("dim.", None),
        ("I love you", None),
        ("IC", None),
        ("C 99", None),
        ("", None),
    ],
)
def test_position_words(text: str, meaning: tuple[int, Barre | None] | None) -> None:
    assert position_words(text) == meaning


def test_a_barre_lasts_as_long_as_its_line(tmp_path: Path) -> None:
    def line(kind: str) -> str:
        return f'<direction><direction-type><dashes type="{kind}" number="1"/></direction-type></direction>'

    score = read(
        tmp_path,
        musicxml(
            note("C4", 2) + words("CIII") + line("start") + note("D4", 2),
            note("E4", 2) + line("stop") + words("V") + note("F4", 2),
        ),
    )
    assert [(str(m.onset_quarter), m.position, m.barre, str(m.end_quarter)) for m in score.positions] == [
        ("2", 3, Barre.FULL, "6"), ("6", 5, None, "None"),
    ]  # fmt: skip


def slur(kind: str) -> str:
    return notations(f'<slur type="{kind}" number="1"/>')


def test_under_a_slur_every_note_but_the_first_is_hammered_on_or_pulled_off(tmp_path: Path) -> None:
    score = read(
        tmp_path,
        musicxml(
            note("C4", 1, inside=slur("start")) + note("D4") + note("E4", 1, inside=slur("stop")) + note("F4")
        ),
    )
    assert [n.slurred for n in score.notes] == [False, True, True, False]


def test_a_slur_over_a_repeated_pitch_or_over_a_phrase_is_none(tmp_path: Path) -> None:
    same = musicxml(note("C4", 2, inside=slur("start")) + note("C4", 2, inside=slur("stop")))
    assert [n.slurred for n in read(tmp_path, same).notes] == [False, False]
    middle = "".join(note(p, 0.5) for p in ("D4", "E4", "F4", "G4", "A4", "B4"))
    phrase = musicxml(note("C4", 0.5, inside=slur("start")) + middle + note("C5", 0.5, inside=slur("stop")))
    assert not any(n.slurred for n in read(tmp_path, phrase).notes)


def test_hammer_on_and_pull_off(tmp_path: Path) -> None:
    def mark(kind: str, end: str) -> str:
        return technical(f'<{kind} number="1" type="{end}"/>')

    score = read(
        tmp_path,
        musicxml(
            note("C4", 1, inside=mark("hammer-on", "start")) + note("D4", 1, inside=mark("hammer-on", "stop"))
            + note("D4", 1, inside=mark("pull-off", "start")) + note("C4", 1, inside=mark("pull-off", "stop"))
        ),
    )  # fmt: skip
    assert [n.slurred for n in score.notes] == [False, True, False, True]


def test_grace_notes_come_first_in_their_order_and_last_nothing(tmp_path: Path) -> None:
    grace = "<grace slash='yes'/>"
    bar = (
        note("D5", before=grace) + note("B4", before=grace) + note("C5", 4) + note("E4", 4, before="<chord/>")
    )
    score = read(tmp_path, musicxml(bar))
    assert sounding(score) == [("0", "0", 74), ("0", "0", 71), ("0", "4", 64), ("0", "4", 72)]
    assert [n.n for n in score.notes] == [1, 2, 3, 4]


@pytest.mark.parametrize(
    ("inside", "written", "sounds"),
    [
        # Touched at a half, a third, a quarter of its length a string sounds its octave, twelfth and double
        # octave (harmonic series). String 6 is E2 = 40, string 5 A2 = 45.
        ("<harmonic><natural/></harmonic>", "E3", 52),
        ("<harmonic><natural/><sounding-pitch/></harmonic>", "B3", 59),
        ("<harmonic><natural/><touching-pitch/></harmonic><string>6</string>", "E3", 52),
        ("<harmonic><natural/><touching-pitch/></harmonic><string>6</string>", "B2", 59),
        ("<harmonic><natural/><touching-pitch/></harmonic><string>5</string>", "D3", 69),
        ("<harmonic><natural/><base-pitch/></harmonic><string>6</string><fret>7</fret>", "E2", 59),
    ],
)
def test_natural_harmonics(tmp_path: Path, inside: str, written: str, sounds: int) -> None:
    score = read(tmp_path, musicxml(note(written, 4, inside=technical(inside)), name="x"))
    assert (score.notes[0].midi, score.notes[0].harmonic) == (sounds, True)


def test_artificial_harmonics_are_told(tmp_path: Path) -> None:
    score = read(tmp_path, musicxml(note("E4", 4, inside=technical("<harmonic><artificial/></harmonic>"))))
    assert not score.notes[0].harmonic
    assert "artificial harmonics are read as the pitches that are written" in score.remarks


def tuning(*lines: tuple[int, str, int]) -> str:
    tuned = "".join(
        f'<staff-tuning line="{line}"><tuning-step>{step}</tuning-step>'
        f"<tuning-octave>{octave}</tuning-octave></staff-tuning>"
        for line, step, octave in lines
    )
    return f"<staff-details>{tuned}<capo>2</capo></staff-details>"


DROP_D = ((1, "D", 2), (2, "A", 2), (3, "D", 3), (4, "G", 3), (5, "B", 3), (6, "E", 4))


def test_tuning_and_capo(tmp_path: Path) -> None:
    # MusicXML 4.0: lines of a staff-tuning count from the bottom, strings from the highest; facts.md too.
    score = read(tmp_path, musicxml(note("D3", 4), attributes=tuning(*DROP_D)))
    assert score.tuning_midis == (64, 59, 55, 50, 45, 38)
    assert score.capo == 2


def test_a_tablature_staff_gives_its_places_to_the_notes(tmp_path: Path) -> None:
    clefs = OCTAVE_CLEF.replace("<clef>", '<clef number="1">') + (
        '<clef number="2"><sign>TAB</sign><line>5</line></clef>'
    )

    def staff(number: int, text: str) -> str:
        return text.replace("</note>", f"<staff>{number}</staff></note>")

    place = technical("<string>2</string><fret>1</fret>")
    # `staff` stands before the notations of a note (MusicXML 4.0).
    tab = note("C4", 4, voice=5).replace("</note>", f"<staff>2</staff>{place}</note>")
    bar = staff(1, note("C4", 4)) + "<backup><duration>96</duration></backup>" + tab
    text = musicxml(bar, clef=clefs).replace("</time>", "</time><staves>2</staves>", 1)
    score = read(tmp_path, text)
    assert [(n.midi, n.printed) for n in score.notes] == [(60, Printed(None, 2, 1))]


def test_voices_and_ids(tmp_path: Path) -> None:
    bar = note("E4", 4).replace("<note>", '<note id="top">') + (
        "<backup><duration>96</duration></backup>" + note("E2", 2, voice=2) + note("B2", 2, voice=2)
    )
    score = read(tmp_path, musicxml(bar))
    assert [(n.midi, n.voice, n.ident) for n in score.notes] == [(40, 2, ""), (64, 1, "top"), (47, 2, "")]
    assert [n.midi for n in read(tmp_path, musicxml(bar), voices=(2,)).notes] == [40, 47]


def test_tuplets_are_exact(tmp_path: Path) -> None:
    third = (
        "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
    )
    bar = "".join(note(p, 1 / 3).replace("</type>", f"</type>{third}") for p in ("C4", "D4", "E4")) + note(
        "F4", 3
    )
    assert sounding(read(tmp_path, musicxml(bar))) == [
        ("0", "1/3", 60), ("1/3", "1/3", 62), ("2/3", "1/3", 64), ("1", "3", 65),
    ]  # fmt: skip


def test_tempo_key_and_meter(tmp_path: Path) -> None:
    mark = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        "<per-minute>60</per-minute></metronome></direction-type></direction>"
    )
    change = (
        "<attributes><key><fifths>-3</fifths><mode>minor</mode></key>"
        "<time><beats>2</beats><beat-type>2</beat-type></time></attributes>"
    )
    score = read(tmp_path, musicxml(mark + note("C4", 3), change + note("C4", 4), time="6/8"))
    assert [(str(t.onset_quarter), t.quarter_bpm) for t in score.tempos] == [("0", 90.0)]
    assert [(m.beats, m.beat_type) for m in score.meters] == [(6, 8), (2, 2)]
    assert [(str(k.onset_quarter), k.fifths, k.mode) for k in score.keys] == [
        ("0", 0, ""),
        ("3", -3, "minor"),
    ]
