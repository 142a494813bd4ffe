"""What a fingering says: choices kept, what no hand can play, what is held, let go and printed."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.fingering import (
    MOST_NOTES,
    Choices,
    Fingering,
    Kept,
    OpenStrings,
    cost_with,
    finger,
    finger_ways,
    neck_for,
)
from midifret.neck import in_reach
from midifret.terms import BadInput, Place
from midifret.terms.score import Barre, PositionMark, Printed, Score
from tests.fingering.scores import GUITAR, melody, score

# C major, one octave from the fifth string, third fret (MIDI numbers).
C_MAJOR = (48, 50, 52, 53, 55, 57, 59, 60)


def frets(fingering: Fingering) -> list[tuple[int, int] | None]:
    return [None if note.place is None else (note.place.string, note.place.fret) for note in fingering.notes]


def test_c_major_in_the_open_position_is_played_one_finger_a_fret() -> None:
    # The first scale of every method: A string 3, D string open 2 3, G string open 2, B string open 1
    # [common practice, no source].
    found = finger(melody(*C_MAJOR), GUITAR, Choices(position=0, open_strings=OpenStrings.FREELY))
    assert frets(found) == [(5, 3), (4, 0), (4, 2), (4, 3), (3, 0), (3, 2), (2, 0), (2, 1)]
    assert [note.finger for note in found.notes] == [3, 0, 2, 3, 0, 2, 0, 1]
    assert (found.shifts, found.open_strings, found.unplayable) == (0, 3, ())


def test_a_position_is_kept_with_its_reach_and_the_stretch() -> None:
    # design.md, "Reach of a position": N to N+3, N+4 by the fourth finger; frets below N are barred.
    for position in range(1, 13):
        pitches = [
            midi
            for midi in range(40, 84)
            if any(not reached.open_only for reached in in_reach(GUITAR, position, midi))
        ]
        found = finger(melody(*pitches), GUITAR, Choices(position=position, open_strings=OpenStrings.NEEDED))
        for note in found.notes:
            assert note.place is not None
            assert position <= note.place.fret <= position + 4
            assert note.position == position
            assert not note.against
            if note.place.fret == position + 4:
                assert note.finger == 4
        assert found.shifts == 0
        assert found.open_strings == 0


def test_open_strings_only_where_the_position_has_no_other_place() -> None:
    # E2 (40) lies nowhere but on the open sixth string; G3 (55) is in reach in position V (4:5).
    found = finger(melody(40, 55), GUITAR, Choices(position=5, open_strings=OpenStrings.NEEDED))
    assert frets(found) == [(6, 0), (4, 5)]


def test_a_note_out_of_reach_is_a_shift_that_is_told_and_counted() -> None:
    # B5 (83) lies at fret 19 only; the hand is locked in position V.
    found = finger(melody(60, 83, 60), GUITAR, Choices(position=5, open_strings=OpenStrings.NEEDED))
    assert [note.against for note in found.notes] == [False, True, False]
    assert found.shifts == 2
    assert found.unplayable == ()


def test_in_a_chord_only_the_note_that_cannot_be_as_chosen_is_told() -> None:
    # In position V, E4 (64) and G4 (67) are both on string 2 but for the stretch 3:9, and C4 (60) is on
    # string 3 alone: the open first string has to help.
    chord = score((0, 1, 60), (0, 1, 64), (0, 1, 67))
    found = finger(chord, GUITAR, Choices(position=5, open_strings=OpenStrings.NEEDED))
    assert frets(found) == [(3, 5), (1, 0), (2, 8)]
    assert [note.against for note in found.notes] == [False, True, False]


def test_open_strings_never() -> None:
    found = finger(melody(64, 59, 55, 50), GUITAR, Choices(open_strings=OpenStrings.NEVER))
    assert found.open_strings == 0
    assert all(note.place is not None and note.place.fret for note in found.notes)


def test_open_strings_freely_are_played_in_the_first_position() -> None:
    assert finger(melody(64, 59, 55, 50, 45, 40), GUITAR).open_strings == 6


def test_a_region_draws_the_hand_there() -> None:
    found = finger(melody(64, 65, 67, 65, 64), GUITAR, Choices(region=(7, 12)))
    assert all(note.place is not None and 7 <= note.place.fret <= 12 for note in found.notes)


def test_held_notes_keep_their_string_and_finger() -> None:
    # A bass note held under three of the tune: the finger on it cannot leave.
    held = score((0, 2, 48), (0, 0.5, 64), (0.5, 0.5, 65), (1, 0.5, 67), (1.5, 0.5, 65))
    found = finger(held, GUITAR)
    bass = found.notes[0]
    assert bass.let_go_quarter is None
    assert bass.place is not None
    for note in found.notes[1:]:
        assert note.place is not None
        assert note.place.string != bass.place.string
        assert note.finger != bass.finger or not note.finger


def test_a_held_note_whose_string_is_needed_is_let_go_and_told() -> None:
    # E2 and F2 lie on the sixth string alone.
    found = finger(score((0, 4, 40), (1, 1, 41)), GUITAR)
    assert found.notes[0].let_go_quarter == 1
    assert found.unplayable == ()


def test_a_chord_that_no_hand_reaches_is_named_with_the_nearest_change() -> None:
    # E2 and F2 together are both on the sixth string; either is playable an octave up.
    found = finger(score((0, 1, 48), (4, 1, 40), (4, 1, 41), (5, 1, 48)), GUITAR)
    assert len(found.unplayable) == 1
    gap = found.unplayable[0]
    assert (gap.bar, gap.onset_quarter, gap.notes) == ("2", 4, (2, 3))
    assert len(gap.left_out) == 1
    assert gap.octave is not None
    assert gap.octave.semitones == 12
    assert [note.place is None for note in found.notes].count(True) == 1
    moved = gap.octave.n
    changed = score((0, 1, 48), (4, 1, 40 + 12 * (moved == 2)), (4, 1, 41 + 12 * (moved == 3)), (5, 1, 48))
    assert finger(changed, GUITAR).unplayable == ()


def test_more_notes_than_strings_keep_the_outer_voices() -> None:
    cluster = score(*((0, 1, midi) for midi in (40, 47, 50, 52, 55, 59, 64, 67)))
    found = finger(cluster, GUITAR)
    assert found.unplayable[0].why == "more notes than strings"
    assert found.notes[0].place is not None
    assert found.notes[-1].place is not None


def test_a_note_beyond_the_neck_is_told_and_the_rest_is_played() -> None:
    found = finger(melody(60, 30, 62), GUITAR)
    assert [note.place is None for note in found.notes] == [False, True, False]
    assert found.unplayable[0].why == "beyond the neck"
    assert found.unplayable[0].octave is not None
    assert found.unplayable[0].octave.semitones == 12


def test_nothing_on_the_neck_is_refused() -> None:
    with pytest.raises(BadInput, match="every note is beyond the neck"):
        finger(melody(20, 21), GUITAR)


@pytest.mark.parametrize("many", [0, MOST_NOTES + 1])
def test_no_notes_and_too_many_are_refused(many: int) -> None:
    with pytest.raises(BadInput, match="notes"):
        finger(replace(melody(60), notes=melody(60).notes * many), GUITAR)


def test_a_position_that_the_neck_has_not_is_refused() -> None:
    with pytest.raises(BadInput, match="no position 20"):
        finger(melody(60), GUITAR, Choices(position=20))


def test_unisons_struck_together_are_played_once() -> None:
    found = finger(score((0, 1, 60), (0, 2, 60), (0, 1, 64)), GUITAR)
    assert found.notes[0].place == found.notes[1].place
    assert found.unplayable == ()


def test_printed_strings_and_fingers_are_kept_where_asked_for() -> None:
    tune = score((0, 1, 64), (1, 1, 65), printed={1: Printed(string=3, finger=3), 2: Printed(finger=4)})
    kept = finger(tune, GUITAR, Choices(kept=frozenset({Kept.STRINGS, Kept.FINGERS})))
    assert kept.notes[0].place == Place(3, 9)
    assert [note.finger for note in kept.notes] == [3, 4]
    free = finger(tune, GUITAR)
    assert frets(free) == [(1, 0), (1, 1)]


def test_a_printed_position_is_kept_where_asked_for() -> None:
    tune = replace(melody(60, 62, 64, 65), positions=(PositionMark(melody(60).notes[0].onset_quarter, 5),))
    kept = finger(tune, GUITAR, Choices(kept=frozenset({Kept.POSITIONS})))
    assert {note.position for note in kept.notes} == {5}
    assert finger(tune, GUITAR).notes[0].position == 1


def test_a_printed_barre_is_one_finger_over_its_strings() -> None:
    # F major at the first fret, the barre of every method [common practice, no source].
    chord = score(*((0, 1, midi) for midi in (41, 48, 53, 57, 60, 65)))
    marked = replace(chord, positions=(PositionMark(chord.notes[0].onset_quarter, 1, Barre.FULL),))
    found = finger(marked, GUITAR, Choices(kept=frozenset({Kept.POSITIONS})))
    assert frets(found) == [(6, 1), (5, 3), (4, 3), (3, 2), (2, 1), (1, 1)]
    assert [note.finger for note in found.notes] == [1, 3, 4, 2, 1, 1]


def test_a_slur_stays_on_its_string() -> None:
    # E4 to F4 on string 1 would be open and first fret; B3 to C4 likewise; here D4 to E4, which the open
    # first string would take on to another string.
    tune = (62, 64)
    assert frets(finger(melody(*tune), GUITAR))[1] == (1, 0)
    slurred = score((0, 0.5, 62), (0.5, 0.5, 64), slurred=(2,))
    assert len({place[0] for place in frets(finger(slurred, GUITAR)) if place}) == 1


def test_natural_harmonics_lie_over_the_nodes() -> None:
    # Above the open string an octave at fret 12, an octave and a fifth at 7 and 19, two octaves at 5, two and
    # a third at 4, 9 and 16 (harmonic series, frets by equal temperament). E5 (76) is the octave of string 1.
    found = finger(score((0, 1, 76), harmonic=(1,)), GUITAR)
    place = found.notes[0].place
    assert place is not None
    partials = {12: 12, 7: 19, 19: 19, 5: 24, 4: 28, 9: 28, 16: 28}
    assert GUITAR.open_midi(place.string) + partials[place.fret] == 76


def test_scordatura_and_capo_of_the_score_are_followed() -> None:
    # Sixth string down to D (38): then 38 is its open string. With a capo at 2 all sounds two semitones up.
    dropped = replace(melody(38, 40), tuning_midis=(64, 59, 55, 50, 45, 38))
    assert frets(finger(dropped, neck_for(dropped, GUITAR))) == [(6, 0), (6, 2)]
    capo = replace(melody(42, 66), capo=2)
    assert frets(finger(capo, neck_for(capo, GUITAR))) == [(6, 0), (1, 0)]


def test_faster_is_not_the_same_as_slower() -> None:
    slow = finger(melody(60, 72, 60, 72), GUITAR, Choices(quarter_bpm=30))
    fast = finger(melody(60, 72, 60, 72), GUITAR, Choices(quarter_bpm=240))
    assert fast.cost > slow.cost


def test_what_a_note_elsewhere_would_cost_is_never_less() -> None:
    tune = melody(60, 62, 64, 65)
    best = finger(tune, GUITAR)
    for place in GUITAR.places(64):
        cost = cost_with(tune, GUITAR, 3, place)
        assert cost is not None
        assert cost >= best.cost - 1e-9
        if best.notes[2].place == place:
            assert cost == pytest.approx(best.cost)
    assert cost_with(tune, GUITAR, 3, Place(6, 1)) is None


def test_alternatives_differ_and_rise() -> None:
    ways = finger_ways(melody(60, 62, 64, 65), GUITAR, k=8)
    assert len({tuple((note.place, note.finger) for note in way.notes) for way in ways}) == 8
    assert [way.cost for way in ways] == sorted(way.cost for way in ways)


@st.composite
def scores(draw: st.DrawFn) -> Score:
    """Anything that a score may hold, playable or not."""
    notes = draw(
        st.lists(
            st.tuples(
                st.integers(0, 8).map(lambda x: x / 2),
                st.sampled_from((0.0, 0.25, 0.5, 1.0, 3.0)),
                st.integers(34, 90),
            ),
            min_size=1,
            max_size=14,
        )
    )
    return score((0, 1, 60), *notes, harmonic=draw(st.frozensets(st.integers(1, 15), max_size=1)))


@given(scores(), st.sampled_from(OpenStrings), st.none() | st.integers(0, 15))
@settings(max_examples=150, deadline=None)
def test_every_score_is_fingered_without_contradiction(
    anything: Score, opened: OpenStrings, position: int | None
) -> None:
    found = finger(anything, GUITAR, Choices(open_strings=opened, position=position))
    assert [note.n for note in found.notes] == [note.n for note in anything.notes]
    left_out = {n for gap in found.unplayable for n in gap.left_out}
    for note, written in zip(found.notes, anything.notes, strict=True):
        if note.place is None:
            assert note.n in left_out or any(
                other.n in left_out and other.midi == written.midi for other in anything.notes
            )
            continue
        assert written.harmonic or GUITAR.midi(note.place) == written.midi
        assert (note.finger == 0) == (note.place.fret == 0)
        if opened is OpenStrings.NEVER:
            assert note.place.fret
    _no_string_twice(anything, found)


def _no_string_twice(anything: Score, found: Fingering) -> None:
    """No two different notes are struck on one string at once."""
    at: dict[object, dict[int, int]] = {}
    for note, written in zip(found.notes, anything.notes, strict=True):
        if note.place is not None and written.duration_quarter:
            strings = at.setdefault(written.onset_quarter, {})
            assert strings.setdefault(note.place.string, written.midi) == written.midi
