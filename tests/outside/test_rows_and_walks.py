"""Rows, walks and places of the shipped drills against tables and libraries of others."""

import collections
from itertools import pairwise

import mingus.core.notes as mingus_notes
import pytest
from mingus.extra.tunings import get_tuning
from music21.scale import ChromaticScale, MajorScale

from midifret.drills import build
from midifret.drills.library import find
from midifret.files import Home
from midifret.terms import Place

HOME = Home.of("no-such-folder")
MINGUS_OCTAVE = 12  # mingus counts its notes an octave lower: int(Note) is MIDI - 12


def _strings(exercise):
    return [prompt.places[0].string for prompt in exercise.prompts]


def _names(exercise):
    return [f"{p.pitch.step}{'#' * p.pitch.alter}" for p in exercise.prompts]


@pytest.mark.parametrize(
    ("drill", "strings", "names"),
    [  # common practice, no source: the walks that the teacher wrote out
        ("row-5-leap-1", "6 5 4 3 2 1 2 3 4 5 6", "A D G C E A E C G D A"),
        (
            "row-5-leap-2",
            "6 4 5 3 4 2 3 1 2 1 3 2 4 3 5 4 6 5 6",
            "A G D C G E C A E A C E G C D G A D A",
        ),
        ("row-10-leap-3", "6 3 5 2 4 1 3 1 4 2 5 3 6 4 6", "D F G A C D F D C A G F D C D"),
    ],
)
def test_rows_are_walked_as_written_out(neck, drill, strings, names):
    exercise = build(find(drill, HOME), neck)
    assert _strings(exercise) == [int(string) for string in strings.split()]
    assert _names(exercise) == names.split()


@pytest.mark.parametrize(
    ("fret", "names"),
    [(5, "A D G C E A"), (7, "B E A D F# B"), (10, "D G C F A D"), (12, "E A D G B E")],  # common practice
)
def test_landmark_rows(neck, fret, names):
    assert _names(build(find(f"row-{fret}-leap-1", HOME), neck))[:6] == names.split()


@pytest.mark.parametrize("fret", range(13))
def test_every_row_sounds_as_mingus_has_it(neck, fret):
    tuning = get_tuning("Guitar", "standard").tuning  # the lowest string first
    exercise = build(find(f"row-{fret}-leap-1", HOME), neck)
    assert [p.midi for p in exercise.prompts[:6]] == [int(note) + MINGUS_OCTAVE + fret for note in tuning]
    for prompt in exercise.prompts:
        name = f"{prompt.pitch.step}{'#' * prompt.pitch.alter}"
        assert mingus_notes.note_to_int(name) == prompt.midi % 12


def test_open_position_holds_the_naturals_of_music21_and_comes_home(neck):
    exercise = build(find("open-position-in-order", HOME), neck)
    scale = [pitch.midi for pitch in MajorScale("C").getPitches("E2", "G4")]
    midis = [prompt.midi for prompt in exercise.prompts]
    assert len(scale) == 17  # common practice: E..G on frets 0 to 3
    assert midis == [*scale, *scale[-2::-1]]
    assert len(midis) == 33
    assert max(prompt.places[0].fret for prompt in exercise.prompts) == 3
    assert all(prompt.places == (Place(2, 0),) for prompt in exercise.prompts if prompt.midi == 59)  # B3


def test_open_position_in_broken_thirds(neck):
    exercise = build(find("open-position-in-thirds", HOME), neck)
    scale = [pitch.midi for pitch in MajorScale("C").getPitches("E2", "G4")]
    rising = [midi for pair in zip(scale, scale[2:], strict=False) for midi in pair]
    assert [prompt.midi for prompt in exercise.prompts] == [*rising, *rising[-2::-1]]
    names = _names(exercise)
    assert len(names) == 59  # common practice: E G F A ... E G, then E F D ... G E, the top note once
    assert names[:4] == ["E", "G", "F", "A"]
    assert names[28:33] == ["E", "G", "E", "F", "D"]
    assert names[-2:] == ["G", "E"]


@pytest.mark.parametrize("string", range(1, 7))
def test_each_string_rises_as_the_chromatic_scale_of_music21(neck, string):
    exercise = build(find(f"string-{string}", HOME), neck)
    rising = [prompt.midi for prompt in exercise.prompts[:13]]
    pitches = ChromaticScale("C").getPitches("C2", "C6")
    first = neck.midi(Place(string, 0))
    assert rising == [p.midi for p in pitches if first <= p.midi <= first + 12]
    assert {prompt.places[0].string for prompt in exercise.prompts} == {string}
    naturals = [p.midi for p in exercise.prompts[:13] if p.pitch.alter == 0]
    pairs = [low for low, high in pairwise(naturals) if high - low == 1]
    assert sorted(low % 12 for low in pairs)[:2] == [4, 11]  # E-F and B-C: no note between (common practice)


def test_places_of_the_naturals_are_those_that_mingus_finds(neck):
    tuning = get_tuning("Guitar", "standard")
    for letter in "CDEFGAB":
        exercise = build(find(f"places-of-{letter.lower()}", HOME), neck)
        expected = set()
        for octave in range(1, 7):
            frets = tuning.find_frets(f"{letter}-{octave}", 19)  # the lowest string first
            expected |= {Place(6 - i, fret) for i, fret in enumerate(frets) if fret is not None}
        first_round = exercise.prompts[: len(exercise.prompts) // 2]
        assert set(first_round[0].places) == expected
        assert [p.places[0] for p in first_round] == list(first_round[0].places)


def test_rows_and_their_neighbours_cover_the_neck_to_fret_12():
    beside = collections.Counter(abs(f) for row in (0, 3, 5, 7, 10, 12) for f in (row - 1, row, row + 1))
    assert set(range(13)) <= set(beside)  # facts of the trade: landmarks and one step either side
    for fret in range(13):
        for kind in ("leap-1", "leap-2", "leap-3", "shuffled"):
            assert find(f"row-{fret}-{kind}", HOME).name == f"row-{fret}-{kind}"
