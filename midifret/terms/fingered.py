"""A score with its fingering: where each note is played, with which finger, from which position."""

from dataclasses import dataclass

from midifret.terms.place import Place
from midifret.terms.score import Barre


@dataclass(frozen=True, slots=True)
class FingeredNote:
    """One note of a score as it is to be played.

    n: as in ScoreNote. place, finger, position: None where no hand can play it. finger: 1 to 4, 0 for an open
    string. position: the fret under the first finger, 0 in the open position. barre: the first finger lies
    over several strings. shift: the hand has just moved to another position. stretch: a finger reaches a
    fret beyond its own.
    """

    n: int
    place: Place | None
    finger: int | None
    position: int | None
    barre: Barre | None = None
    shift: bool = False
    stretch: bool = False


@dataclass(frozen=True, slots=True)
class FingeredScore:
    """A fingering of every note of a score, in the order of its notes.

    shifts, open_strings: how many there are. cost: by the engine's measure, 0 or more.
    """

    notes: tuple[FingeredNote, ...]
    shifts: int
    open_strings: int
    cost: float
