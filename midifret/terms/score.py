"""A score as it is played, notes in the order of time, and how its bars stand in print.

A `Score` has every note as often as it is played, each with the number of its bar in print; where a passage
is repeated, `Score.folded` is the same music with each bar once, the signs at each bar, and for each of its
notes which notes of the score it is.
"""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from midifret.terms.pitch import SpelledPitch


class Barre(StrEnum):
    """How much of the neck a printed barre covers."""

    FULL = "full"
    PARTIAL = "partial"


@dataclass(frozen=True, slots=True)
class Printed:
    """What stands in the score beside one note. All None for nothing.

    finger: of the left hand, 1 to 4, or 0 for an open string. string: 1 the highest. fret: in tablature.
    """

    finger: int | None = None
    string: int | None = None
    fret: int | None = None


NOTHING_PRINTED = Printed()


@dataclass(frozen=True, slots=True)
class ScoreNote:
    """One note that is struck, ties merged into it.

    n: number in the score, from 1, in the order of onsets; at one onset grace notes come first, as they are
    written, then the others from the lowest sounding up.
    onset_quarter, duration_quarter: in quarter notes from the start, repeats unfolded where the score says
    so; a grace note has the duration 0.
    pitch: sounding, as spelled. voice: from 1 within its part, as the score numbers them.
    bar: its number as printed, "12" or "12a"; played: how often this bar has come, from 1.
    slurred: begun by the left hand alone, under a slur from the note before in its voice.
    harmonic: a natural harmonic: `pitch` is what sounds.
    ident: the id of its element in the page that is engraved, the same for each time it is played.
    """

    n: int
    onset_quarter: Fraction
    duration_quarter: Fraction
    midi: int
    pitch: SpelledPitch
    voice: int = 1
    bar: str = ""
    played: int = 1
    slurred: bool = False
    harmonic: bool = False
    printed: Printed = NOTHING_PRINTED
    ident: str = ""

    @property
    def end_quarter(self) -> Fraction:
        """When it ends."""
        return self.onset_quarter + self.duration_quarter


@dataclass(frozen=True, slots=True)
class PositionMark:
    """A position or a barre printed over the staff, from here to its end or to the next mark.

    position: the fret, from 1. barre: None for a position without one. end_quarter: None for none printed.
    """

    onset_quarter: Fraction
    position: int
    barre: Barre | None = None
    end_quarter: Fraction | None = None


@dataclass(frozen=True, slots=True)
class BarStart:
    """Where a bar begins. number: as printed; played: how often it has come, from 1.

    duration_quarter: its length, shorter than the meter's in a pick-up; None for up to the next one.
    """

    onset_quarter: Fraction
    number: str
    played: int = 1
    duration_quarter: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Directions:
    """How a bar is repeated, as printed at it.

    endings: the numbers of the bracket over it, empty for none. repeat_end: how often the passage that ends
    here is played in all, 0 for no sign. coda: a coda sign, or "to coda"; where two bars have one, the first
    is left for the second after the jump. jump: "", "dc" (from the start) or "ds" (from the segno), taken at
    the end of the bar; it goes to the fine where a bar has one, else to the coda.
    """

    repeat_start: bool = False
    repeat_end: int = 0
    endings: tuple[int, ...] = ()
    segno: bool = False
    coda: bool = False
    fine: bool = False
    jump: str = ""

    @property
    def any(self) -> bool:
        """Whether something here leads away from one bar after the other."""
        return self != NO_DIRECTIONS


NO_DIRECTIONS = Directions()


@dataclass(frozen=True, slots=True)
class MeterChange:
    """From here so many beats of this length a bar: 6, 8 for six-eight."""

    onset_quarter: Fraction
    beats: int
    beat_type: int


@dataclass(frozen=True, slots=True)
class KeyChange:
    """From here so many sharps, or flats where negative. mode: major, minor, or empty where nobody says."""

    onset_quarter: Fraction
    fifths: int
    mode: str = ""


@dataclass(frozen=True, slots=True)
class TempoChange:
    """From here so many quarter notes a minute."""

    onset_quarter: Fraction
    quarter_bpm: float


@dataclass(frozen=True, slots=True)
class Score:
    """One part for one guitar, as it is played.

    title, composer: as printed, empty for none. source: file name, for people. tuning_midis: the open strings
    that the score asks for, string 1 first, empty where it asks for none. capo: fret, 0 for none.
    notes: in the order of ScoreNote.n. bars: every bar as played, a pick-up too; empty where nobody says,
    then they follow from meters and the notes' own bar numbers. remarks: what was done to the score or left
    out when it was read, one sentence each, for people. folded: the same as it stands in print, None where
    that is how it is played.
    """

    title: str
    composer: str
    source: str
    notes: tuple[ScoreNote, ...]
    positions: tuple[PositionMark, ...] = ()
    meters: tuple[MeterChange, ...] = ()
    keys: tuple[KeyChange, ...] = ()
    tempos: tuple[TempoChange, ...] = ()
    tuning_midis: tuple[int, ...] = ()
    capo: int = 0
    bars: tuple[BarStart, ...] = ()
    remarks: tuple[str, ...] = ()
    folded: "Folded | None" = None


@dataclass(frozen=True, slots=True)
class Folded:
    """A score as it stands in print, each bar once, one after the other.

    score: bars, notes, meters, keys, tempos and positions at their times in print; its own `folded` is None.
    signs: one for each bar of score.bars. played_as: one for each note of score.notes, the numbers of the
    notes (ScoreNote.n) that it is in the score as played, in order; empty for one that is never struck anew,
    as it goes on by a tie from before a later ending. Bars that are never played are in neither.
    """

    score: Score
    signs: tuple[Directions, ...]
    played_as: tuple[tuple[int, ...], ...]
