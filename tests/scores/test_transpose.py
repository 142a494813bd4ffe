"""Moving a part so that a guitar can play it, and the part that is chosen where nobody says which."""

from pathlib import Path

import music21
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from midifret.cli.main import cli
from midifret.scores.transpose import fifths_of, fitting, moved, steps_for
from midifret.terms import BadInput, SpelledPitch
from tests.scores.test_formats import XML
from tests.scores.writing import kept, musicxml, note, read, technical


@pytest.mark.parametrize(
    ("lowest", "highest", "semitones"),
    [
        (40, 83, 0),
        (52, 88, -12),  # an octave keeps the key, though five semitones would do
        (30, 60, 12),
        (28, 50, 12),
        (45, 86, -3),  # no octave fits: the fewest semitones
        (38, 79, 2),
    ],
)
def test_the_smallest_change_that_fits(lowest: int, highest: int, semitones: int) -> None:
    # The compass of 19 frets in standard tuning is 40 to 83 (facts.md, The neck).
    assert fitting(lowest, highest, (40, 83)) == semitones


def test_a_compass_wider_than_the_guitar_fits_nowhere() -> None:
    with pytest.raises(BadInput, match="spans 44 semitones and the guitar 43"):
        fitting(40, 84, (40, 83))


@given(
    st.builds(SpelledPitch, st.sampled_from("CDEFGAB"), st.integers(-1, 1), st.integers(2, 5)),
    st.integers(-12, 12),
    st.integers(-6, 6),
)
def test_spelling_moves_as_music21_moves_it(pitch: SpelledPitch, semitones: int, fifths: int) -> None:
    steps = steps_for(semitones, fifths)
    new = moved(pitch, steps, semitones)
    assert new.midi == pitch.midi + semitones
    name = pitch.step + {1: "#", 0: "", -1: "-"}[pitch.alter] + str(pitch.octave)
    number = music21.pitch.Pitch(name).diatonicNoteNum + steps
    if abs(new.midi - SpelledPitch("CDEFGAB"[(number - 1) % 7], 0, (number - 1) // 7).midi) <= 2:
        assert music21.pitch.Pitch(f"{new.step}{new.octave}").diatonicNoteNum == number


def test_keys_move_with_the_music() -> None:
    # A whole tone up adds two sharps, a fifth up one, an octave none (circle of fifths).
    for semitones, gained in ((2, 2), (7, 1), (12, 0), (-3, 3), (5, -1)):
        assert fifths_of(steps_for(semitones, 0), semitones) == gained


def test_what_was_done_is_said_and_printed_places_no_longer_hold(tmp_path: Path) -> None:
    bar = note("E6", 4, inside=technical("<fingering>1</fingering>"))
    score = read(tmp_path, musicxml(bar), transpose="fit")
    assert [n.midi for n in score.notes] == [76]
    assert score.notes[0].printed.finger is None
    assert score.remarks[-1] == (
        "transposed by -12 semitones (an octave down); printed fingers, strings and positions no longer hold "
        "and are left out"
    )
    up = read(tmp_path, XML, transpose=2)
    assert (up.notes[0].midi, str(up.notes[0].pitch), up.keys[0].fifths) == (64, "E4", 3)


def test_notes_beyond_the_guitar_are_named(tmp_path: Path) -> None:
    score = read(tmp_path, musicxml(note("E3", 4), note("C2", 4)))
    assert "1 of 2 notes lie beyond the guitar's compass, in bars 2" in score.remarks


def two_parts(first: str, second: str) -> str:
    text = musicxml(note("E4", 4), name=first)
    part = text[text.index("<part id") : text.index("</score-partwise>")].replace('"P1"', '"P2"')
    return text.replace(
        "</part-list>", f'<score-part id="P2"><part-name>{second}</part-name></score-part></part-list>'
    ).replace("</score-partwise>", part.replace("<octave>4", "<octave>3") + "</score-partwise>")


def test_the_only_guitar_is_chosen_and_else_it_is_asked(tmp_path: Path) -> None:
    assert read(tmp_path, two_parts("Flute", "Guitar")).notes[0].midi == 52
    assert read(tmp_path, two_parts("Guitar", "Guitar 2"), part="2").notes[0].midi == 52
    assert read(tmp_path, two_parts("Flute", "Oboe"), part="oboe").notes[0].midi == 52
    for names in (("Flute", "Oboe"), ("Guitar 1", "Guitar 2")):
        with pytest.raises(BadInput, match="has 2 parts with notes: say which one") as told:
            read(tmp_path, two_parts(*names))
        assert names[1] in told.value.allowed


def test_the_command_shows_what_stands_in_a_file(tmp_path: Path) -> None:
    path = kept(tmp_path, "tune.musicxml", XML)
    shown = CliRunner().invoke(cli, ["score", str(path)])
    assert shown.exit_code == 0
    assert "Part 1 Guitar: 14 notes, bars 1 to 5, voice 1, MIDI 62 to 79" in shown.output
    assert "octave: sounding; the clef has an 8 below it" in shown.output
    assert '"octave": "sounding"' in CliRunner().invoke(cli, ["score", str(path), "--json"]).output
