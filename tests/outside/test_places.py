"""Note table, tunings, places and names against mingus and music21, for every place.

Compared by MIDI number or pitch class, never by octave name: the libraries number octaves differently.
"""

import music21
import pytest
from mingus.core import notes as mingus_notes
from mingus.extra import tunings as mingus_tunings
from music21.tablature import FretNote, GuitarFretBoard

from midifret.files import Home
from midifret.gear import load_tunings
from midifret.neck import Accidentals, Language, Neck, pitch_name, spell
from midifret.terms import Place, SpelledPitch

MINGUS_OCTAVE = 12  # int(mingus Note) is the MIDI number less 12 [ran]


def tunings() -> dict[str, tuple[int, ...]]:
    return {t.name: t.open_midi for t in load_tunings(Home.of("no-such-folder"))}


@pytest.fixture(scope="module")
def standard_neck() -> Neck:
    [standard] = [t for t in load_tunings(Home.of("no-such-folder")) if t.name == "standard"]
    return Neck(standard, frets=24)


def test_open_strings_against_music21_and_mingus(standard_neck: Neck) -> None:
    music21_strings = [pitch.midi for pitch in music21.instrument.Guitar().stringPitches]
    assert sorted(standard_neck.tuning.open_midi) == sorted(music21_strings)
    mingus_strings = mingus_tunings.get_tuning("Guitar", "standard").tuning
    assert [int(note) + MINGUS_OCTAVE for note in mingus_strings] == list(
        reversed(standard_neck.tuning.open_midi)
    )


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("standard", ["E-2", "A-2", "D-3", "G-3", "B-3", "E-4"]),
        ("dropped-d", ["D-2", "A-2", "D-3", "G-3", "B-3", "E-4"]),
        ("lute", ["E-2", "A-2", "D-3", "F#-3", "B-3", "E-4"]),
        ("dropped-d-fifth-g", ["D-2", "G-2", "D-3", "G-3", "B-3", "E-4"]),
    ],
)
def test_shipped_tunings_against_mingus_arithmetic(ours: str, theirs: list[str]) -> None:
    """The strings by name are common practice; mingus turns the names into numbers."""
    tuning = mingus_tunings.StringTuning("Guitar", "test", theirs)
    assert [int(note) + MINGUS_OCTAVE for note in reversed(tuning.tuning)] == list(tunings()[ours])


def test_seven_and_eight_strings_are_shipped() -> None:
    assert {len(open_midi) for open_midi in tunings().values()} == {6, 7, 8}


def test_every_place_against_mingus(standard_neck: Neck) -> None:
    """mingus gives, for a note, the fret on each string up to fret 24, low string first."""
    tuning = mingus_tunings.get_tuning("Guitar", "standard")
    compared = 0
    for midi in range(40, 89):
        name = spell(midi)[0]
        frets = tuning.find_frets(f"{name.step}{'#' * name.alter}-{name.octave}", 24)
        theirs = {Place(6 - i, fret) for i, fret in enumerate(frets) if fret is not None}
        assert set(standard_neck.places(midi)) == theirs
        compared += len(theirs)
    assert compared == 150  # six strings, frets 0 to 24


def test_every_place_against_music21(standard_neck: Neck) -> None:
    """music21's fret board: string 1 is the high E; it gives the pitch that sounds."""
    for place in standard_neck.all_places():
        board = GuitarFretBoard(fretNotes=[FretNote(string=place.string, fret=place.fret)])
        [sounding] = [pitch for pitch in board.getPitches() if pitch is not None]
        assert sounding.midi == standard_neck.midi(place)


@pytest.mark.parametrize("accidentals", Accidentals)
def test_every_spelling_against_music21_and_mingus(accidentals: Accidentals) -> None:
    for midi in range(12, 108):
        for pitch in spell(midi, accidentals):
            theirs = music21.pitch.Pitch(f"{pitch.step}{'#' * pitch.alter}{'-' * -pitch.alter}{pitch.octave}")
            assert theirs.midi == midi
            assert mingus_notes.note_to_int(str(pitch)[:-1]) == midi % 12


def test_written_octaves_of_altered_notes_against_music21() -> None:
    for step in "CDEFGAB":
        for alter in range(-2, 3):
            pitch = SpelledPitch(step, alter, 4)
            sign = "#" * alter if alter > 0 else "-" * -alter
            assert pitch.midi == music21.pitch.Pitch(f"{step}{sign}4").ps


def test_german_names_against_music21() -> None:
    for step in "CDEFGAB":
        for alter in range(-1, 2):
            sign = "#" * alter if alter > 0 else "-" * -alter
            assert (
                pitch_name(SpelledPitch(step, alter, 4), Language.GERMAN)
                == music21.pitch.Pitch(f"{step}{sign}4").german
            )


def test_fixed_do_names_against_music21() -> None:
    """music21's Italian names; it writes accidentals as words, so naturals only."""
    for step in "CDEFGAB":
        assert (
            pitch_name(SpelledPitch(step, 0, 4), Language.FIXED_DO) == music21.pitch.Pitch(f"{step}4").italian
        )


def test_only_the_naturals_b_c_and_e_f_are_half_steps_apart() -> None:
    """facts.md: no note between B-C and E-F; counted here with mingus' note numbers."""
    naturals = "CDEFGABC"
    half_steps = [
        naturals[i : i + 2]
        for i in range(7)
        if (mingus_notes.note_to_int(naturals[i + 1]) - mingus_notes.note_to_int(naturals[i])) % 12 == 1
    ]
    assert half_steps == ["EF", "BC"]
