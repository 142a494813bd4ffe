"""The staff: where a note stands, against music21's clefs, and whether the drawing puts it there."""

from itertools import pairwise

import music21
import pytest

from midifret.neck import Accidentals, Neck, Tuning, spell
from midifret.show.staff import staff_note, staff_step, staff_words
from midifret.terms import SpelledPitch

LOWEST, HIGHEST = 35, 88  # the seventh and eighth strings down to B1; fret 24 of the first string
PITCHES = sorted(
    {pitch for midi in range(LOWEST, HIGHEST + 1) for pitch in spell(midi, Accidentals.BOTH)},
    key=lambda pitch: (pitch.midi, pitch.alter),
)
LINE = "─"


@pytest.mark.parametrize("pitch", PITCHES, ids=str)
def test_staff_step_agrees_with_music21(pitch: SpelledPitch) -> None:
    """Sounding pitches under music21's treble clef with the 8 below (Treble8vbClef.lowestLine)."""
    name = pitch.step + {-1: "-", 0: "", 1: "#"}[pitch.alter]
    theirs = music21.pitch.Pitch(f"{name}{pitch.octave}")
    assert theirs.midi == pitch.midi
    assert staff_step(pitch) == theirs.diatonicNoteNum - music21.clef.Treble8vbClef().lowestLine


def head_and_lines(drawing: tuple[str, ...]) -> tuple[float, list[int], int]:
    """The middle of the note head, the staff lines (both in rows from the top), and ledger lines drawn."""
    width = len(drawing[0])
    lines = [row for row, text in enumerate(drawing) if text.startswith(LINE)]
    halves = []
    for row, text in enumerate(drawing):
        cell = text[width - 7]  # a column inside the head, right of any accidental
        halves += [2 * row] if cell in "█▀" else []
        halves += [2 * row + 1] if cell in "█▄" else []
    middle = (halves[0] + halves[-1] + 1) / 2 / 2
    ledgers = [row for row, text in enumerate(drawing) if row not in lines and LINE in text[width - 11 :]]
    return middle, lines, len(ledgers)


@pytest.mark.parametrize("rows", [11, 40])
@pytest.mark.parametrize("pitch", PITCHES, ids=str)
def test_the_head_is_drawn_on_its_line_or_in_its_space(pitch: SpelledPitch, rows: int) -> None:
    drawing = staff_note(pitch, rows)
    # Up to fret 19 every note fits into what 80x24 leaves beside the neck.
    assert len(drawing) <= (rows if pitch.midi <= 83 else max(rows, 13))
    middle, lines, ledgers = head_and_lines(drawing)
    assert len(lines) == 5
    space = lines[1] - lines[0]
    assert [b - a for a, b in pairwise(lines)] == [space] * 4
    bottom_line = lines[-1] + 0.5  # a line lies in the middle of its row
    step = staff_step(pitch)
    assert (bottom_line - middle) / space * 2 == step
    expected = -step // 2 if step < 0 else max(0, (step - 8) // 2)
    # A ledger line through the head shows on both sides of it.
    assert ledgers == expected


def test_the_staff_is_small_at_80x24_and_large_where_there_is_room() -> None:
    c4 = SpelledPitch("C", 0, 3)
    assert head_and_lines(staff_note(c4, 10))[1] == [1, 2, 3, 4, 5]
    small, large = staff_note(c4, 10), staff_note(c4, 30)
    assert len(large) > len(small)


def test_the_staff_stays_in_its_place_through_an_exercise() -> None:
    low, high = staff_step(SpelledPitch("E", 0, 2)), staff_step(SpelledPitch("G", 0, 4))
    drawings = [staff_note(p, 11, low, high) for p in PITCHES if low <= staff_step(p) <= high]
    places = {tuple(row for row, text in enumerate(d) if text.startswith(LINE)) for d in drawings}
    assert len(places) == 1
    assert len({len(d) for d in drawings}) == 1


@pytest.mark.parametrize("rows", [11, 30])
@pytest.mark.parametrize("alter", [-2, -1, 1, 2])
def test_an_accidental_stands_before_the_head(alter: int, rows: int) -> None:
    def left_ink(pitch: SpelledPitch) -> set[tuple[int, int]]:
        drawing = staff_note(pitch, rows, -7, 9)
        width = len(drawing[0])
        region = range(11, width - 10)
        return {(r, c) for r, text in enumerate(drawing) for c in region if text[c] in "█▀▄"}

    assert not left_ink(SpelledPitch("G", 0, 3))
    assert left_ink(SpelledPitch("G", alter, 3))
    assert len(left_ink(SpelledPitch("G", 2, 3))) > len(left_ink(SpelledPitch("G", 1, 3)))


def test_words_for_the_staff_do_not_give_the_name_away() -> None:
    # Line and space numbers as every primer counts them, from below; the open strings in written pitch are
    # E5, B4, G4, D4, A3, E3 [common practice, no source].
    neck = Neck(Tuning("standard", "", (64, 59, 55, 50, 45, 40)))
    words = [staff_words(spell(neck.open_midi(string))[0]) for string in range(1, 7)]
    assert words == [
        "in space 4",
        "on line 3",
        "on line 2",
        "just below the staff",
        "on the second ledger line below",
        "below the third ledger line",
    ]
    assert staff_words(SpelledPitch("F", 1, 4)) == "sharp, on line 5"
    assert staff_words(SpelledPitch("A", -1, 4)) == "flat, on the first ledger line above"
    assert staff_words(SpelledPitch("B", 0, 4)) == "above the first ledger line"
