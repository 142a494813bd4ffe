"""Every prompt of every shipped drill against mingus and music21: sound, spelling, rows and keys."""

import re
from collections import Counter

import mingus.core.notes as mingus_notes
import music21
import pytest
from mingus.extra.tunings import get_tuning
from music21.tablature import FretNote, GuitarFretBoard

from midifret.drills import Drill, build
from midifret.drills.library import load_all
from midifret.files import Home, shipped_folder
from midifret.neck import Neck, Tuning, parse_scale
from midifret.terms import Judged, Place, Prompt, SpelledPitch

DRILLS = load_all(Home.of("no-such-folder"))[0]
STANDARD = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
MINGUS_OCTAVE = 12  # int(mingus Note) is the MIDI number less 12 [ran]
SCALES = {
    "major": music21.scale.MajorScale,
    "minor": music21.scale.MinorScale,
    "harmonic minor": music21.scale.HarmonicMinorScale,
}
LANDMARKS = (*range(4), 5, 7, 10, 12)


def theirs(pitch: SpelledPitch) -> music21.pitch.Pitch:
    """The same spelling in music21, which writes a flat as a minus."""
    return music21.pitch.Pitch(f"{pitch.step}{'#' * pitch.alter}{'-' * -pitch.alter}{pitch.octave}")


def sounding(place: Place) -> int:
    """What sounds at a place by music21's fret board, whose string 1 is the high E."""
    board = GuitarFretBoard(fretNotes=[FretNote(string=place.string, fret=place.fret)])
    [pitch] = [pitch for pitch in board.getPitches() if pitch is not None]
    return int(pitch.midi)


@pytest.fixture(scope="module")
def fret_board() -> dict[Place, int]:
    return {place: sounding(place) for place in STANDARD.all_places()}


def each_place_asked() -> list[tuple[Drill, tuple[Prompt, ...]]]:
    return [(drill, build(drill, STANDARD, seed=4).prompts) for drill in DRILLS]


def test_every_asked_place_sounds_as_it_is_spelled(fret_board: dict[Place, int]) -> None:
    prompts = 0
    for drill, asked in each_place_asked():
        for prompt in asked:
            assert prompt.midis == tuple(fret_board[place] for place in prompt.places), drill.name
            assert prompt.midi == theirs(prompt.pitch).midi == prompt.pitch.midi, drill.name
            assert mingus_notes.note_to_int(str(prompt.pitch)[:-1]) == prompt.midi % 12, drill.name
            prompts += 1
    assert prompts > 2000


def test_every_other_answer_sounds_the_same_name(fret_board: dict[Place, int]) -> None:
    for drill, asked in each_place_asked():
        for prompt in asked:
            assert {fret_board[place] % 12 for place in prompt.places} == {prompt.midi % 12}, drill.name


def test_notes_between_the_naturals_have_two_names_that_are_both_asked() -> None:
    """Rows beside a landmark and places of accidentals: by both names (music21's enharmonics)."""
    for drill, asked in each_place_asked():
        if "-from-" not in drill.name and "-sharp" not in drill.name:
            continue
        names: dict[Place, set[str]] = {}
        for prompt in asked:
            names.setdefault(prompt.places[0], set()).add(str(prompt.pitch))
        for place, called in names.items():
            natural = sounding(place) % 12 in (0, 2, 4, 5, 7, 9, 11)  # the major scale on C
            assert len(called) == (1 if natural else 2), (drill.name, place)
            assert len({theirs(_parsed(name)).midi for name in called}) == 1


def _parsed(name: str) -> SpelledPitch:
    return SpelledPitch(name[0], name.count("#") - name[1:].count("b"), int(name[-1]))


@pytest.mark.parametrize("fret", range(13))
def test_every_row_has_the_names_that_mingus_gives_it(fret: int) -> None:
    by_name = {drill.name: drill for drill in DRILLS}
    strings = get_tuning("Guitar", "standard").tuning  # the lowest first
    names = [mingus_notes.int_to_note((int(open_note) + fret) % 12) for open_note in strings]
    for kind in ("leap-1", "leap-2", "leap-3"):
        prompts = build(by_name[f"row-{fret}-{kind}"], STANDARD).prompts
        for prompt in prompts:
            assert prompt.places == (Place(prompt.places[0].string, fret),)
            assert str(prompt.pitch)[:-1] == names[6 - prompt.places[0].string]
    shuffled = build(by_name[f"row-{fret}-shuffled"], STANDARD).prompts
    assert all(prompt.cue for prompt in shuffled)
    ints = {mingus_notes.note_to_int(name) for name in names}
    assert {mingus_notes.note_to_int(str(p.pitch)[:-1]) for p in shuffled} == ints


def test_there_is_one_drill_for_each_row_and_leap_judged_by_place_in_free_tempo() -> None:
    found: Counter[tuple[int, int]] = Counter()
    for drill in DRILLS:
        items = drill.content.ask
        if len(items) == 1 and items[0].row is not None and items[0].row.leap is not None:
            found[items[0].row.fret, items[0].row.leap] += 1
            exercise = build(drill, STANDARD)
            assert {prompt.judged for prompt in exercise.prompts} == {Judged.PLACE}
            assert exercise.tempo is None
            assert exercise.time_limit_s is None
    assert found == {(fret, leap): 1 for fret in range(13) for leap in (1, 2, 3)}


def test_landmarks_and_one_step_either_side_cover_every_fret_to_12() -> None:
    """facts.md [common practice, no source]; counted from the drills that are shipped."""
    frets = {
        place.fret
        for drill, asked in each_place_asked()
        if drill.name in {f"row-{fret}-leap-1" for fret in LANDMARKS} or "-from-" in drill.name
        for prompt in asked
        for place in prompt.places
    }
    assert frets == set(range(13))
    beside = [d.content.ask[0].beside_row for d in DRILLS if "-from-" in d.name]
    assert {item.row for item in beside if item is not None} <= set(LANDMARKS)


@pytest.mark.parametrize("mode", ["major", "minor", "harmonic minor", "melodic minor"])
@pytest.mark.parametrize("tonic", ["C", "G", "D", "A", "E", "B", "F#", "F", "Bb", "Eb", "Ab", "Db", "C#"])
def test_keys_against_music21(tonic: str, mode: str) -> None:
    name = tonic.replace("b", "-")
    span = (f"{name}3", f"{name}4")
    if mode == "melodic minor":
        rising = music21.scale.Direction.ASCENDING
        pitches = music21.scale.MelodicMinorScale(name).getPitches(*span, direction=rising)
    else:
        pitches = SCALES[mode](name).getPitches(*span)
    scale = parse_scale(f"{tonic} {mode}")
    assert [(p.step, int(p.alter)) for p in pitches[:7]] == list(scale.notes)
    if mode in ("major", "minor"):
        key = music21.key.Key(name if mode == "major" else name[0].lower() + name[1:])
        assert {p.name for p in key.getScale(mode).pitches} == {p.name for p in pitches}
    for pitch in pitches:
        spelled = scale.spell(int(pitch.ps))
        assert spelled is not None
        assert (spelled.step, spelled.alter, spelled.octave) == (pitch.step, int(pitch.alter), pitch.octave)


@pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.name)
def test_a_drill_says_in_two_sentences_what_it_trains_and_for_how_long(drill: Drill) -> None:
    exercise = build(drill, STANDARD)
    least, most = exercise.minutes
    assert 3 <= least <= most <= 5
    assert f"{most} minutes" in exercise.trains


def test_the_rows_written_out_for_the_teacher_are_those_that_mingus_gives() -> None:
    """The comment at the head of a row's file names its notes, the sixth string first."""
    strings = get_tuning("Guitar", "standard").tuning
    compared = 0
    for path in sorted(shipped_folder("drills").rglob("row-*.yaml")):
        head = path.read_text(encoding="utf-8").splitlines()[0]
        fret = int(path.stem.split("-")[1])
        rows = dict(re.findall(r"Row (\d+): ((?:[A-G]#? ?){6})", head))
        if not rows:
            rows = {str(fret): head.partition("first: ")[2].partition(" (")[0]}
        assert str(fret) in rows, path.name
        for row, names in rows.items():
            ints = [mingus_notes.note_to_int(name) for name in names.split()]
            assert ints == [(int(open_note) + int(row)) % 12 for open_note in strings], path.name
            compared += 1
    assert compared >= 52  # thirteen rows: three leaps and the shuffled one
