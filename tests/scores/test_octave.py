"""The guitar's octave: two legal ways in MusicXML, none, and what else decides it."""

from pathlib import Path

import pytest

from midifret.scores import Choices, Octave, look_at_score, read_score
from midifret.terms import BadInput
from tests.scores.writing import OCTAVE_CLEF, PLAIN_CLEF, kept, musicxml, note, read, technical

# facts.md, Notation: "The same four notes: 64,59,76,67 both ways" (MusicXML 4.0: clef-octave-change -1 with
# sounding pitches, or a plain clef with transpose/octave-change -1 and pitches an octave high).
SOUNDING = [64, 59, 76, 67]
AS_SOUNDED = "".join(note(p) for p in ("E4", "B3", "E5", "G4"))
OCTAVE_HIGH = "".join(note(p) for p in ("E5", "B4", "E6", "G5"))
OCTAVE_DOWN = (
    "<transpose><diatonic>0</diatonic><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
)
IN_SEMITONES = "<transpose><diatonic>-7</diatonic><chromatic>-12</chromatic></transpose>"


def midis(path: Path, **choices: object) -> list[int]:
    return [n.midi for n in read_score(path, Choices(**choices)).notes]  # type: ignore[arg-type]


def test_the_same_four_notes_both_legal_ways(tmp_path: Path) -> None:
    by_clef = kept(tmp_path, "clef.musicxml", musicxml(AS_SOUNDED, clef=OCTAVE_CLEF))
    assert midis(by_clef) == SOUNDING
    for transpose in (OCTAVE_DOWN, IN_SEMITONES):
        text = musicxml(OCTAVE_HIGH, clef=PLAIN_CLEF, attributes=transpose)
        assert midis(kept(tmp_path, "transpose.musicxml", text)) == SOUNDING


def test_neither_must_be_asked_about_with_the_evidence(tmp_path: Path) -> None:
    plain = kept(tmp_path, "plain.musicxml", musicxml(OCTAVE_HIGH, clef=PLAIN_CLEF))
    with pytest.raises(BadInput, match="does not say in which octave") as told:
        read_score(plain)
    # By hand: E5 B4 E6 G5 are MIDI 76 71 88 79; a guitar with 19 frets ends at 83.
    assert (
        "MIDI 71 to 88; of 4 notes 4 lie on a guitar with 19 frets an octave lower (written), 3 as they"
        in (str(told.value))
    )
    assert "plain.musicxml" in str(told.value)
    assert "octave written" in told.value.allowed
    assert midis(plain, octave=Octave.WRITTEN) == SOUNDING
    assert midis(plain, octave=Octave.SOUNDING) == [midi + 12 for midi in SOUNDING]


def test_a_choice_stands_above_the_file(tmp_path: Path) -> None:
    by_clef = kept(tmp_path, "clef.musicxml", musicxml(AS_SOUNDED))
    assert midis(by_clef, octave=Octave.WRITTEN) == [midi - 12 for midi in SOUNDING]


def test_printed_places_decide(tmp_path: Path) -> None:
    # Standard tuning: string 1 fret 3 sounds G4 = 67, string 2 fret 1 C4 = 60 (facts.md, The neck).
    def bar(*pitches: str) -> str:
        places = ((1, 3), (2, 1))
        return "".join(
            note(p, 2, inside=technical(f"<string>{s}</string><fret>{f}</fret>"))
            for p, (s, f) in zip(pitches, places, strict=True)
        )

    low = read(tmp_path, musicxml(bar("G4", "C4"), clef=PLAIN_CLEF))
    high = read(tmp_path, musicxml(bar("G5", "C5"), clef=PLAIN_CLEF))
    assert [n.midi for n in low.notes] == [n.midi for n in high.notes] == [67, 60]
    assert "2 of 2 printed places" in high.remarks[0]


def test_what_was_done_is_said_and_pitches_keep_their_spelling(tmp_path: Path) -> None:
    text = musicxml(note("Bb4") + note("F#5", 3), clef=PLAIN_CLEF, attributes=OCTAVE_DOWN)
    score = read(tmp_path, text)
    assert score.remarks == ("the pitches in the file sound an octave lower: the file transposes by -12",)
    assert [str(n.pitch) for n in score.notes] == ["Bb3", "F#4"]


def test_clef_and_transposition_together_are_asked_about_where_both_would_leave_the_guitar(
    tmp_path: Path,
) -> None:
    low = kept(tmp_path, "both.musicxml", musicxml(note("E2", 4), attributes=OCTAVE_DOWN))
    with pytest.raises(BadInput, match="does not say"):
        read_score(low)
    high = kept(tmp_path, "both.musicxml", musicxml(note("E4", 4), attributes=OCTAVE_DOWN))
    assert midis(high) == [52]  # MusicXML 4.0: transpose is added to the pitch, whatever the clef


def test_a_look_says_what_speaks_for_it(tmp_path: Path) -> None:
    part = look_at_score(kept(tmp_path, "clef.musicxml", musicxml(AS_SOUNDED))).parts[0]
    assert (part.octave, part.evidence) == (Octave.SOUNDING, "the clef has an 8 below it")
    assert (part.lowest_midi, part.highest_midi, part.notes, part.bars) == (59, 76, 4, 1)
    assert part.clefs == ("G2 8 below",)
    plain = look_at_score(kept(tmp_path, "plain.musicxml", musicxml(OCTAVE_HIGH, clef=PLAIN_CLEF))).parts[0]
    assert plain.octave is None
    assert "named after a guitar" in plain.evidence


@pytest.mark.parametrize(
    ("key", "shift"),
    [
        ("C", None),
        ("C clef=treble-8", -12),
        ("C treble-8", -12),
        ("C octave=-1", -12),
        ("C transpose=-12", -12),
    ],
)
def test_abc_clefs(tmp_path: Path, key: str, shift: int | None) -> None:
    # ABC 2.1, 4.6, from memory: with -8 beside the clef the player sounds an octave lower; C is middle C, 60.
    path = kept(tmp_path, "tune.abc", f"X:1\nT:t\nM:4/4\nL:1/4\nK:{key}\nCEGc|\n")
    if shift is None:
        with pytest.raises(BadInput, match="does not say"):
            read_score(path)
    else:
        assert midis(path) == [60 + shift, 64 + shift, 67 + shift, 72 + shift]


def test_kern_clef_with_an_octave_sounds_as_it_stands(tmp_path: Path) -> None:
    path = kept(tmp_path, "tune.krn", "**kern\n*clefGv2\n*M2/4\n=1\n4E\n4c\n==\n*-\n")
    assert midis(path) == [52, 60]  # Humdrum: E is the E below middle C = c
