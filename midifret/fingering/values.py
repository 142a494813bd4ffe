"""What comes out of fingering a score."""

from dataclasses import dataclass
from fractions import Fraction

from midifret.terms import Place


@dataclass(frozen=True, slots=True)
class FingeredNote:
    """One note of the score and how the left hand plays it.

    n: number in the score. place, finger: None where it cannot be played; finger 0 for an open string.
    position: of the hand when it is struck, None with no place. shifted: the hand comes to it from another
    position. against: it could not be played as the player chose, as where a locked hand has to leave.
    let_go_quarter: where a finger has to leave it before its written end.
    """

    n: int
    place: Place | None
    finger: int | None
    position: int | None
    shifted: bool = False
    against: bool = False
    let_go_quarter: Fraction | None = None


@dataclass(frozen=True, slots=True)
class OctaveMove:
    """A note that would be playable so many semitones higher (or lower, where negative)."""

    n: int
    semitones: int


@dataclass(frozen=True, slots=True)
class Unplayable:
    """Notes that no hand can strike together.

    notes: the numbers of all that begin at this onset. left_out: of those that were left out, so that the
    others can be played. octave: the one note that an octave elsewhere would make it playable, if one would.
    """

    bar: str
    onset_quarter: Fraction
    notes: tuple[int, ...]
    left_out: tuple[int, ...]
    octave: OctaveMove | None
    why: str


@dataclass(frozen=True, slots=True)
class Fingering:
    """A whole score fingered.

    notes: in the order of the score. shifts: how often the hand changes its position. open_strings: notes on
    open strings. cost: of the whole, the sum of `parts`, which are named as in `Weights`; `against` is what
    goes against the player's choices. hardest: the cost of the hardest single move, hardest_n: the first
    note after it.
    """

    notes: tuple[FingeredNote, ...]
    shifts: int
    open_strings: int
    cost: float
    parts: tuple[tuple[str, float], ...]
    hardest: float
    hardest_n: int | None
    unplayable: tuple[Unplayable, ...]
