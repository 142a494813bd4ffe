"""What a run says, each a frozen value."""

from dataclasses import dataclass
from enum import StrEnum

from midifret.terms import Answer, Note, Prompt, Verdict


@dataclass(frozen=True, slots=True)
class Cued:
    """A prompt is now open. time_s is when; a view that shows it later says so to the run."""

    prompt: Prompt
    time_s: float


@dataclass(frozen=True, slots=True)
class Judgement:
    """A note or a typed name was judged. first: it has the verdict of the prompt, else it corrects it."""

    prompt: Prompt
    verdict: Verdict
    note: Note | None
    typed: str
    first: bool
    response_s: float | None


@dataclass(frozen=True, slots=True)
class Closed:
    """A prompt is done; its answer will not change any more, unless it is withdrawn."""

    answer: Answer


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """What was said of prompt n and all after it is void: a note turned out to be another one.

    What holds instead follows at once.
    """

    n: int


class StrayReason(StrEnum):
    """Why a note counted for nothing."""

    BEFORE_CUE = "before the first cue"
    TOO_SOON = "too soon after the cue to answer it"
    PAUSED = "while paused"
    MAY_PLAY = "it may be played first"
    TOGETHER = "struck together with the note before"
    NAMING = "a name was asked"
    AFTER_END = "after the end"


@dataclass(frozen=True, slots=True)
class Stray:
    """A note that was heard and counted for nothing."""

    note: Note
    reason: StrayReason


@dataclass(frozen=True, slots=True)
class Ended:
    """The run is over. early: before its last prompt was done."""

    time_s: float
    early: bool


Output = Cued | Judgement | Closed | Withdrawn | Stray | Ended
