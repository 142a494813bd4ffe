"""What a level of melodies allows, as a teacher writes it in config/melody.yaml."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

LEAST_BARS, MOST_BARS = 2, 64  # a question needs an answer; beyond 64 bars nobody reads unseen [ours]
METERS = ((2, 4), (3, 4), (4, 4), (6, 8))
# Intervals by the number that musicians give them: 1 the same note again, 2 a step, 8 an octave.
INTERVALS = {
    "same": 1,
    "second": 2,
    "third": 3,
    "fourth": 4,
    "fifth": 5,
    "sixth": 6,
    "seventh": 7,
    "octave": 8,
}
_MOST_CELL = Fraction(4)
_PARTS = (1, 2, 3, 4, 6, 8, 12)  # of a quarter note, by which the length of a note may be divided


@dataclass(frozen=True, slots=True)
class Cell:
    """A group of notes that fills whole beats.

    lengths: in quarter notes, rests negative. weight: how often it comes, beside the others.
    """

    lengths: tuple[Fraction, ...]
    weight: float

    @property
    def total(self) -> Fraction:
        """How long it is, in quarter notes."""
        return sum((abs(length) for length in self.lengths), Fraction(0))


@dataclass(frozen=True, slots=True)
class Level:
    """One level.

    number: from 1. bars: how many, where nobody says. keys: as scales are named. meters: (beats, beat type).
    range_semitones, phrase_range_semitones: from the lowest to the highest note, of all and of one phrase.
    intervals: weight by number (INTERVALS); what is missing does not come. cells: for beats of a quarter;
    compound_cells: for beats of a dotted quarter. accidentals: about so large a share of the notes is
    outside the key. stretch: notes that only a stretched finger reaches are a matter of course. upbeats: so
    large a share of the melodies begins before the first bar. ties: so large a share of the notes that come
    again over a bar line is tied instead.
    """

    number: int
    title: str
    bars: int
    keys: tuple[str, ...]
    meters: tuple[tuple[int, int], ...]
    range_semitones: int
    phrase_range_semitones: int
    intervals: Mapping[int, float]
    cells: tuple[Cell, ...]
    compound_cells: tuple[Cell, ...] = ()
    accidentals: float = 0.0
    stretch: bool = True
    upbeats: float = 0.0
    ties: float = 0.0

    def cells_in(self, meter: tuple[int, int]) -> tuple[Cell, ...]:
        """The groups of notes that a meter is filled with."""
        return self.compound_cells if is_compound(meter) else self.cells


def is_compound(meter: tuple[int, int]) -> bool:
    """Whether three of what a meter counts make a beat."""
    return meter[1] == 8


def beat_quarters(meter: tuple[int, int]) -> Fraction:
    """How long a beat is, in quarter notes."""
    return Fraction(3, 2) if is_compound(meter) else Fraction(4, meter[1])


def bar_quarters(meter: tuple[int, int]) -> Fraction:
    """How long a bar is, in quarter notes."""
    return Fraction(4 * meter[0], meter[1])


def parse_meter(text: str) -> tuple[int, int]:
    """Read a meter such as `3/4`. Raises ValueError, saying what is allowed."""
    for beats, beat_type in METERS:
        if text.strip() == f"{beats}/{beat_type}":
            return beats, beat_type
    allowed = ", ".join(f"{beats}/{beat_type}" for beats, beat_type in METERS)
    raise ValueError(f"{text!r} is not a meter here; write {allowed}")


def parse_cell(text: str) -> tuple[Fraction, ...]:
    """Read a group of notes such as `1/2 1/2`, in quarter notes, rests with an r before them.

    Raises ValueError, saying what is allowed.
    """
    lengths = []
    for word in text.split():
        length = _length(word.removeprefix("r"))
        if length is None:
            raise ValueError(
                f"{word!r} is not the length of a note; write lengths in quarter notes with spaces between, "
                "for example 1/2 1/2, a rest as r1/2"
            )
        lengths.append(-length if word.startswith("r") else length)
    if not lengths or all(length < 0 for length in lengths):
        raise ValueError(f"{text!r} has no note; write at least one length, for example 1")
    if sum(abs(length) for length in lengths) > _MOST_CELL:
        raise ValueError(f"{text!r} is too long; write at most {_MOST_CELL} quarter notes")
    return tuple(lengths)


def _length(text: str) -> Fraction | None:
    above, slash, below = text.partition("/")
    if not above.isdecimal() or len(text) > 5 or (slash and not below.isdecimal()):
        return None
    parts = int(below) if slash else 1
    if parts not in _PARTS or not 0 < int(above) <= 4 * parts:
        return None
    return Fraction(int(above), parts)


def cells_fill_beats(cells: tuple[Cell, ...], beat: Fraction) -> str:
    """Say what is wrong with groups of notes for beats of this length; an empty text where nothing is."""
    for cell in cells:
        if cell.total % beat:
            return f"a group of {cell.total} quarter notes fills no whole beats of {beat}"
    if not any(cell.total == beat and cell.weight > 0 for cell in cells):
        return f"no group fills one beat of {beat}"
    return ""
