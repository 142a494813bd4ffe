"""What a player may choose before a score is fingered."""

from dataclasses import dataclass
from enum import StrEnum


class OpenStrings(StrEnum):
    """When an open string is played."""

    FREELY = "freely"
    NEEDED = "needed"  # only where the note is nowhere else in reach
    NEVER = "never"


class Aim(StrEnum):
    """What is made least."""

    SUM = "sum"
    HARDEST = "hardest"  # the hardest single move, then the sum


class Kept(StrEnum):
    """What of the printed fingering is kept."""

    FINGERS = "fingers"
    STRINGS = "strings"
    POSITIONS = "positions"


@dataclass(frozen=True, slots=True)
class Choices:
    """How a score is to be fingered.

    position: the hand stays there, with the reach of a position (neck.in_reach), 0 for the open position;
    None for a free hand. region: lowest and highest fret that are preferred for their tone.
    quarter_bpm: where the score says no tempo.
    """

    position: int | None = None
    open_strings: OpenStrings = OpenStrings.FREELY
    aim: Aim = Aim.SUM
    kept: frozenset[Kept] = frozenset()
    region: tuple[int, int] | None = None
    quarter_bpm: float = 80.0
