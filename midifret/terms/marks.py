"""What a take holds beside its messages, so that a run can be judged again from it."""

from dataclasses import dataclass
from enum import StrEnum


class MarkKind(StrEnum):
    """What a mark says."""

    PAUSE = "pause"
    RESUME = "resume"
    SKIP = "skip"  # the player went on without answering
    SIGNAL = "signal"  # the note that begins here was part of a plucked signal
    GONE = "guitar gone"  # nothing sounds from here, and the guitar comes back as after switching on
    VOID = "time has a gap"  # the computer slept or was kept from running: the open prompt has no time
    ENDED_EARLY = "ended early"


@dataclass(frozen=True, slots=True)
class CuePoint:
    """The moment at which prompt n was cued. time_s: from the start of the take.

    sure: False where nobody told when it was shown.
    """

    n: int
    time_s: float
    sure: bool = True


@dataclass(frozen=True, slots=True)
class DuePoint:
    """The moment at which prompt n is due in tempo. due_s: from the start of the take.

    half_window_s: how early or late its note may be.
    """

    n: int
    due_s: float
    half_window_s: float


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment of a run that is no prompt. time_s: from the start of the take."""

    kind: MarkKind
    time_s: float


@dataclass(frozen=True, slots=True)
class TypedName:
    """A note name typed as an answer, in English (F#, Bb). time_s: from the start of the take."""

    name: str
    time_s: float
