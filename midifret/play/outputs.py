"""What a run says: frozen tuples, because they are made for every note on the way that hears."""

from enum import StrEnum
from typing import NamedTuple

from midifret.terms import Answer, Note, Prompt, Verdict


class Cued(NamedTuple):
    """A prompt is now open. time_s is when; a view that shows it later says so to the run."""

    prompt: Prompt
    time_s: float


class Judgement(NamedTuple):
    """A note or a typed name was judged. first: it has the verdict of the prompt, else it corrects it.

    late_ms: in tempo, by how much it came after its beat, negative for before.
    """

    prompt: Prompt
    verdict: Verdict
    note: Note | None
    typed: str
    first: bool
    response_s: float | None
    late_ms: float | None = None


class Closed(NamedTuple):
    """A prompt is done; its answer will not change any more, unless it is withdrawn."""

    answer: Answer


class Withdrawn(NamedTuple):
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
    EXTRA = "it stands for no written note"
    REPEATED = "the note before, struck again"


class Stray(NamedTuple):
    """A note that was heard and counted for nothing."""

    note: Note
    reason: StrayReason


class Ended(NamedTuple):
    """The run is over. early: before its last prompt was done."""

    time_s: float
    early: bool


Output = Cued | Judgement | Closed | Withdrawn | Stray | Ended
