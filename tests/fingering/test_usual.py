"""What every player does with common chords and scales.

The fingers are those that methods agree on [common practice, no source].
"""

import pytest

from midifret.fingering import Choices, Fingering, OpenStrings, finger
from tests.fingering.scores import GUITAR, melody, score

OPEN_MIDI = (64, 59, 55, 50, 45, 40)
MAJOR = (0, 2, 4, 5, 7, 9, 11, 12)
# Frets and fingers of strings 1 to 6, - for a string that is not struck; the fingers that are usual.
CHORDS = {
    "C": ("01023-", {"01023-"}),
    "D": ("2320--", {"2310--"}),
    "E": ("001220", {"001320"}),
    "A": ("02220-", {"03210-", "04320-"}),
    "A minor": ("01220-", {"01320-"}),
    "E minor": ("000220", {"000320"}),
    "D minor": ("1320--", {"1320--", "1420--"}),
    "G": ("300023", {"300012", "400023"}),
    "F": ("112331", {"112431"}),
    "B minor": ("23442-", {"12431-"}),
}


def chord(frets: str) -> Fingering:
    notes = [(0, 2, opened + int(fret)) for opened, fret in zip(OPEN_MIDI, frets, strict=True) if fret != "-"]
    return finger(score(*notes), GUITAR)


def by_string(found: Fingering, what: str) -> str:
    spots = {}
    for note in found.notes:
        assert note.place is not None
        spots[note.place.string] = note.place.fret if what == "fret" else note.finger
    return "".join(str(spots.get(string, "-")) for string in range(1, 7))


@pytest.mark.parametrize("name", CHORDS)
def test_a_common_chord_has_its_usual_fingers(name: str) -> None:
    frets, fingers = CHORDS[name]
    found = chord(frets)
    assert by_string(found, "fret") == frets
    assert by_string(found, "finger") in fingers


# One octave of C, G, D and A in the open position, then in the second.
OPEN_SCALES = {
    48: {(3, 0, 2, 3, 0, 2, 0, 1)},
    43: {(3, 0, 2, 3, 0, 2, 4, 0)},
    50: {(0, 2, 4, 0, 2, 0, 2, 3), (0, 2, 4, 0, 2, 0, 2, 4)},
    45: {(0, 2, 4, 0, 2, 4, 1, 2)},
}
SECOND_POSITION = {
    48: (2, 4, 1, 2, 4, 1, 3, 4),
    43: (2, 4, 1, 2, 4, 1, 3, 4),
    50: (4, 1, 3, 4, 1, 3, 1, 2),
}


@pytest.mark.parametrize("tonic", OPEN_SCALES)
def test_a_major_scale_in_the_open_position(tonic: int) -> None:
    tune = melody(*(tonic + step for step in MAJOR))
    found = finger(tune, GUITAR, Choices(position=0))
    assert tuple(note.finger for note in found.notes) in OPEN_SCALES[tonic]
    assert found.shifts == 0


@pytest.mark.parametrize("tonic", SECOND_POSITION)
def test_a_major_scale_in_the_second_position(tonic: int) -> None:
    tune = melody(*(tonic + step for step in MAJOR))
    found = finger(tune, GUITAR, Choices(position=2, open_strings=OpenStrings.NEVER))
    assert tuple(note.finger for note in found.notes) == SECOND_POSITION[tonic]
    assert found.shifts == 0


def test_two_low_neighbours_together() -> None:
    # E3 and F3: fret 2 of string 4 and fret 3 of the same would be one string; 5:7 with 4:3 is in reach.
    found = finger(score((0, 1, 52), (0, 1, 53)), GUITAR)
    assert found.unplayable == ()
    assert {(note.place.string, note.place.fret) for note in found.notes if note.place} == {(5, 7), (4, 3)}
    assert [note.finger for note in found.notes] == [4, 1]


@pytest.mark.parametrize("fret", range(1, 10))
def test_the_first_finger_tells_the_position(fret: int) -> None:
    # facts.md, "position n": the first finger at fret n. Two notes at one fret are no way to be a fret lower.
    found = finger(score((0, 1, 45 + fret), (0, 1, 50 + fret)), GUITAR, Choices(region=(fret, fret)))
    assert {note.place.fret for note in found.notes if note.place} == {fret}
    for note in found.notes:
        assert note.position is not None
        if note.finger == 1:
            assert note.position in (fret, fret + 1)


def test_the_fourth_finger_lies_on_the_high_strings_and_the_third_on_the_low_ones() -> None:
    # E3 on string 4, fret 2, with G sharp 4 on string 1, fret 4; then with G sharp 2 on string 6, fret 4.
    high = finger(score((0, 1, 52), (0, 1, 68)), GUITAR)
    assert by_string(high, "finger") in ("4--1--", "4--2--")
    low = finger(score((0, 1, 44), (0, 1, 52)), GUITAR)
    assert by_string(low, "finger") == "---1-3"


def test_a_barre_is_no_lighter_for_being_slow() -> None:
    # Pressing takes strength, not speed [common practice, no source]: F major, four notes under the barre.
    f_major = score(
        *((0, 2, opened + fret) for opened, fret in zip(OPEN_MIDI, (1, 1, 2, 3, 3, 1), strict=True))
    )
    twice = score(*((at, 2, midi) for at in (0, 4) for midi in (41, 48, 53, 57, 60, 65)), (2, 2, 64))
    slow, fast = (dict(finger(twice, GUITAR, Choices(quarter_bpm=bpm)).parts) for bpm in (40, 200))
    assert slow["barre"] == pytest.approx(fast["barre"])
    assert slow["press"] < fast["press"]
    assert dict(finger(f_major, GUITAR).parts)["barre"] > 0


def test_in_a_position_that_is_asked_for_each_fret_has_its_finger() -> None:
    """D3 and G3 both lie at fret 5 in position V, and the first finger has both.

    Method books: in a position finger f stands at fret N + f - 1 [common practice, no source].
    """
    played = finger(melody(50, 55, 57, 55, 50), GUITAR, Choices(position=5, open_strings=OpenStrings.NEEDED))
    held = [(note.place.fret, note.finger) for note in played.notes if note.place]
    assert held == [(5, 1), (5, 1), (7, 3), (5, 1), (5, 1)]


def test_a_chord_shape_that_is_repeated_moves_along_rather_than_lie_flat() -> None:
    """E, a fret higher over open strings, and back, each struck eight times: fingers 1, 2 and 3 go along.

    So it is played in Spanish music [common practice, no source].
    """
    shapes = [(40, 47, 52, 56, 59, 64), (40, 48, 53, 57, 59, 64), (40, 47, 52, 56, 59, 64)]
    chords = [shape for shape in shapes for _ in range(8)]
    notes = [(0.25 * i, 0.25, midi) for i, midis in enumerate(chords) for midi in midis]
    played = finger(score(*notes), GUITAR)
    fretted = [(note.place.string, note.finger) for note in played.notes if note.place and note.place.fret]
    assert sorted(set(fretted)) == [(3, 1), (4, 3), (5, 2)]
