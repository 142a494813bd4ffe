"""Every kind of question becomes the prompts that it should, and every fault is told with its place."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.drills import Drill, build
from midifret.drills.models import DrillFile
from midifret.files import check_model, parse_document
from midifret.neck import Neck, Tuning
from midifret.terms import BadInput, CueKind, Judged, Place

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))


def _places(*texts):
    return tuple(Place.parse(text) for text in texts)


def test_a_name_that_stands_twice_in_a_row_shows_its_string(made):
    exercise = made("ask: {row: {fret: 5}}\nshow: name\norder: shuffled\n")
    shows = {p.places[0].string: CueKind.STRING in p.cue for p in exercise.prompts}
    assert shows == {6: True, 5: False, 4: False, 3: False, 2: False, 1: True}  # A D G C E A
    assert all(len(p.places) == 1 for p in exercise.prompts)


def test_beside_a_row_accidentals_come_by_both_names_and_the_landmark_may_be_played(made):
    exercise = made("ask: {beside_row: {row: 5, side: above}}\norder: shuffled\n")
    asked = sorted(f"{p.places[0].string}{str(p.pitch)[:-1]}" for p in exercise.prompts)
    # Row 6 is A# D# G# C# F A#, one fret above A D G C E A; F is the only natural.
    assert asked == ["1A#", "1Bb", "2F", "3C#", "3Db", "4Ab", "4G#", "5D#", "5Eb", "6A#", "6Bb"]
    assert all(p.may_play == (Place(p.places[0].string, 5),) for p in exercise.prompts)


def test_places_of_a_note_are_each_suggested_once(made):
    prompts = made("ask: {places_of: {note: C4}}\nrepeat: 2\n").prompts
    assert [p.places[0] for p in prompts[:4]] == list(_places("5:15", "4:10", "3:5", "2:1"))
    assert all(set(p.places) == set(prompts[0].places) for p in prompts)
    assert [p.each_once for p in prompts] == [1] * 4 + [2] * 4


def test_the_same_pitch_is_asked_away_from_the_place_shown(made):
    (prompt,) = made("ask: {same_pitch: {frets: 0, strings: 1}}\n").prompts
    assert prompt.given == Place(1, 0)
    assert prompt.may_play == (Place(1, 0),)
    assert set(prompt.places) == set(_places("2:5", "3:9", "4:14", "5:19"))  # E4 elsewhere, NECK table


def test_octaves_follow_their_root_within_reach(made):
    root, octave = made("ask: {octaves: {strings: 6, frets: 3}}\n").prompts
    assert root.places == (Place(6, 3),)
    assert set(octave.places) == set(_places("4:5", "3:0"))
    assert octave.midi - root.midi == octave.interval_semitones == 12
    assert (octave.given, octave.hint) == (Place(6, 3), "an octave higher")


def test_the_taken_string_leaves_the_held_one_out(made):
    held, other = made("ask: {taken_string: {pairs: [[2:1, 2:0]]}}\n").prompts
    assert held.places == (Place(2, 1),)
    assert (other.held, other.may_play) == (Place(2, 1), (Place(2, 1),))
    assert other.places == (Place(3, 4),)  # B3 at 3:4; 4:9 is out of the hand's reach


def test_judged_by_pitch_every_place_answers_and_by_position_those_in_reach(made):
    by_pitch = made("ask: {notes: [E4]}\nshow: staff\njudge: pitch\n").prompts[0]
    assert set(by_pitch.places) == set(_places("1:0", "2:5", "3:9", "4:14", "5:19"))
    by_position = made("ask: {notes: [E4]}\nshow: staff\njudge: position V\n").prompts[0]
    assert by_position.places == _places("2:5", "3:9")  # under the hand, then by stretching
    assert by_position.judged is Judged.POSITION


def test_naming_shows_the_place_and_hides_the_name(made):
    prompt = made("ask: {places: [6:5]}\njudge: name\n").prompts[0]
    assert (prompt.judged, prompt.given, prompt.cue) == (Judged.NAME, Place(6, 5), (CueKind.PLACE,))


def test_naming_questions_are_sprinkled_at_the_rate(made):
    exercise = made("ask: {row: {fret: 5, leap: 2}}\nshow: nothing\nnaming_rate: 0.5\n")
    naming = [p for p in exercise.prompts if p.judged is Judged.NAME]
    assert len(naming) == round(0.5 * 19)
    assert exercise.judged is Judged.PLACE
    before = {p.n: p for p in exercise.prompts}
    assert all(before[p.n - 1].places[0] == p.given for p in naming)


def test_a_key_spells_its_notes(made):
    exercise = made("ask: {walk: {through: Ab major, from: 6:4, to: G#3, back: no}}\n")
    assert [str(p.pitch) for p in exercise.prompts] == ["Ab2", "Bb2", "C3", "Db3", "Eb3", "F3", "G3", "Ab3"]


def test_a_chromatic_walk_has_sharps_up_and_flats_down(made):
    exercise = made("ask: {string: {number: 6, frets: 0-2}}\n")
    assert [str(p.pitch) for p in exercise.prompts] == ["E2", "F2", "F#2", "F2", "E2"]
    exercise = made("ask: {string: {number: 6, frets: 0-3}}\n")
    assert [str(p.pitch) for p in exercise.prompts] == ["E2", "F2", "F#2", "G2", "Gb2", "F2", "E2"]


def test_names_are_read_in_the_language_of_the_file(made):
    exercise = made("language: german\nask: {notes: [H3, B3, Fis3]}\n")
    assert [str(p.pitch) for p in exercise.prompts] == ["B3", "Bb3", "F#3"]


@pytest.mark.parametrize(
    ("text", "line", "column", "said"),
    [
        ("ask: {places: [6:5, 7:1, 1:20]}\n", 4, 21, "no place 7:1"),
        ("ask: {row: {fret: 20}}\n", 4, 19, "no fret 20"),
        ("ask: {row: {fret: 5, leap: 6}}\n", 4, 28, "leap of 6"),
        ("ask: {beside_row: {row: 0, side: below}}\n", 4, 34, "no fret -1"),
        ("ask: {walk: {from: 6:0, to: 6:0}}\n", 4, 6 + 7, "only one note"),
        ("ask: {walk: {from: 6:1, to: 6:0, through: D major}}\n", 4, 20, "does not belong"),
        ("ask: {walk: {from: E, to: 1:3}}\n", 4, 20, "lacks its octave"),
        ("ask: {walk: {from: 6:0, to: 1:3, strings: 6}}\n", 4, 13, "not found here"),
        ("ask: {walk: {from: 6:5, to: 4:5}}\n", 4, 20, "lowest fret"),
        ("ask: {walk: {from: 6:0, to: 1:3, through: H major}}\n", 4, 43, "not a note name"),
        ("ask: {notes: [E4, E9]}\n", 4, 19, "E9 is not found"),
        ("ask: {draw: {frets: 1, strings: 1}}\n", 4, 13, "only one note"),
        ("ask: {region: {frets: 0, notes: accidentals}}\n", 4, 15, "no note of accidentals"),
        ("ask: {region: {strings: 0-7}}\n", 4, 25, "no string 0"),
        ("ask: {octaves: {frets: 0-3}}\njudge: pitch\n", 4, 16, "judged by place only"),
        ("ask: {places: [6:5]}\njudge: name\nshow: name\n", 6, 7, "give the answer away"),
        ("ask: {places: [6:5]}\nshow: nothing\n", 4, 6, "nothing shown"),
        ("ask: {places: [6:0]}\njudge: position IX\n", 4, 6, ""),
        ("ask: {places_of: {note: E4}}\nask2: 1\n", 5, 1, "unknown key"),
    ],
)
def test_faults_are_told_with_line_and_column(text, line, column, said):
    document = parse_document(("title: T\nstage: S\ntrains: W.\n" + text).encode(), "t.yaml")
    content, problems = check_model(document, DrillFile)
    if content is not None:
        try:
            build(Drill("t", content, document), NECK)
        except BadInput as error:
            problems = error.problems
    if not said:
        assert problems == ()  # the open string is in reach where nothing else is
        return
    assert said in problems[0].message
    assert (problems[0].line, problems[0].column) == (line, column)


def test_all_missing_places_come_at_once(made):
    with pytest.raises(BadInput) as caught:
        made("ask:\n  - places: [6:5, 7:1, 1:20]\n  - row: {fret: 23}\n")
    assert [(p.line, p.column) for p in caught.value.problems] == [(5, 19), (5, 24), (6, 17)]


@given(
    low=st.integers(40, 70),
    size=st.integers(2, 13),
    key=st.sampled_from(["naturals", "chromatic", "Eb major", "F# harmonic minor"]),
    seed=st.integers(0, 9),
)
def test_any_walk_lies_on_the_neck_and_comes_out_the_same(low, size, key, seed):
    places = [NECK.places(midi)[0] for midi in (low, low + size)]
    walk = f"{{through: {key!r}, from: '{places[0]}', to: '{places[1]}'}}"
    text = f"title: T\nstage: S\ntrains: W.\nask: {{walk: {walk}}}\n"
    document = parse_document(text.encode(), "t.yaml")
    content, problems = check_model(document, DrillFile)
    assert problems == ()
    drill = Drill("t", content, document)
    try:
        exercise = build(drill, NECK, seed=seed)
    except BadInput as error:
        assert all(p.line and p.column for p in error.problems)  # noqa: PT017 - refusing is one right outcome
        return
    assert exercise == build(drill, NECK, seed=seed)
    for prompt in exercise.prompts:
        assert all(NECK.has(place) for place in prompt.places)
        assert prompt.midis == tuple(NECK.midi(place) for place in prompt.places)
        assert prompt.midi == prompt.pitch.midi
    assert exercise.prompts[0].midi == exercise.prompts[-1].midi


@given(st.integers(0, 1000))
def test_a_draw_is_the_same_for_the_same_seed_and_never_repeats_at_once(seed):
    text = "title: T\nstage: S\ntrains: W.\nask: {draw: {frets: 0-12, count: 30}}\nshow: [name, string]\n"
    document = parse_document(text.encode(), "t.yaml")
    content, _ = check_model(document, DrillFile)
    drill = Drill("t", content, document)
    exercise = build(drill, NECK, seed=seed)
    assert exercise == build(drill, NECK, seed=seed)
    firsts = [prompt.places[0] for prompt in exercise.prompts]
    assert all(a != b for a, b in pairwise(firsts))
