"""What a live run is handed, and what it gives back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol

from midifret.gear.guitar import Guitar
from midifret.neck import Accidentals, Language
from midifret.play import Ask
from midifret.reading.alignment import Aligned
from midifret.terms import Answer, BadInput, Exercise, Glitch, TimedMessage
from midifret.terms.figures import Summary
from midifret.terms.marks import MarkKind
from midifret.timing import AnswerTimes

NO_TIMES = AnswerTimes()  # nothing was measured


class Source(Protocol):
    """Where messages come from, dated on the clock."""

    def poll(self) -> Sequence[TimedMessage]:
        """Give what came since the last call."""

    def connected(self, *, at_once: bool = False) -> bool:
        """Say whether the other end is there, looked at now or lately; if not, look for it."""

    @property
    def trouble(self) -> str:
        """What is wrong while it is not there, and what to do, in full sentences."""

    @property
    def last_there_s(self) -> float:
        """When the other end was last known to be there, on the clock."""


class Recorder(Protocol):
    """Keeps the raw take. Times in seconds from its start. No call blocks."""

    def message(self, time_s: float, data: bytes) -> None:
        """Keep a message."""

    def cue(self, n: int, time_s: float, *, sure: bool = True) -> None:
        """Keep the cue of prompt n; said again, the later time holds. sure: as in CuePoint."""

    def due(self, n: int, time_s: float, half_window_s: float) -> None:
        """Keep when prompt n is due in tempo; said again, the later one holds."""

    def forget_due_from(self, n: int) -> None:
        """Take back when prompt n and all after it are due: the run pauses."""

    def asked(self, text: str) -> None:
        """Keep a prompt that was chosen as the run goes, as `prompt_text` writes it; never taken back."""

    def withdraw_from(self, n: int) -> None:
        """Take back the cues of prompt n and all after it."""

    def mark(self, kind: MarkKind, time_s: float) -> None:
        """Keep a pause, its end, a skip, a loss of the guitar or an early end."""

    def typed(self, name: str, time_s: float) -> None:
        """Keep a typed name, in English."""

    def check(self) -> None:
        """Raise Unavailable if something could not be kept."""


class Record(Protocol):
    """Keeps the answers. No call blocks."""

    def answer(self, answer: Answer) -> None:
        """Keep an answer, or what replaces it."""

    def withdraw_from(self, n: int) -> None:
        """Take back the answers to prompt n and all after it."""

    def check(self) -> None:
        """Raise Unavailable if something could not be kept."""


class Leave(StrEnum):
    """How a live run was left."""

    DONE = "done"
    QUIT = "quit"  # by the player, who wants nothing more after it
    AGAIN = "again"
    INTERRUPTED = "interrupted"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Setting:
    """All that a live run is told beforehand.

    countdown_s: whole seconds before the first cue. wait_for_start: count only after a key, an order or a
    plucked note, so that there is time to read. check_strings: begin with the open strings.
    notice: one line shown before the first cue, for example the caution of the day.
    rest_at_s, rest_words: after so many seconds of this run the reminder to rest is shown; None for never.
    passed_before: runs of this drill that met its figures just before. stay: at the end wait for a key.
    times: what a calibration says of this player, guitar and port.
    ask: chooses what is asked as the run goes; None for an exercise that holds all its prompts.
    lasts_s: about how many seconds of playing that will be. enough_at_s: after so many seconds of playing the
    run ends when the prompt in play has closed, as if the player had ended it; None for never.
    """

    exercise: Exercise
    guitar: Guitar
    player: str
    simulated: bool = False
    language: Language = Language.ENGLISH
    accidentals: Accidentals = Accidentals.SHARPS
    countdown_s: int = 3
    wait_for_start: bool = False
    check_strings: bool = False
    notice: str = ""
    rest_at_s: float | None = None
    rest_words: str = ""
    passed_before: int = 0
    stay: bool = False
    times: AnswerTimes = NO_TIMES
    ask: Ask | None = None
    lasts_s: float | None = None
    enough_at_s: float | None = None


@dataclass(frozen=True, slots=True)
class Finished:
    """What came of a live run. Times of answers are seconds from the start of the take.

    strings_ok: what the check of the open strings found, None if there was none or nothing was plucked
    failure: what made it impossible to go on; everything up to then is kept.
    notes: how many notes were heard, the check of the strings included, what was voided not.
    glitches: how many notes were voided, by the reason. beside: of a reading, every note beside the score.
    tempo_moved: as in RunEnd.
    """

    answers: tuple[Answer, ...]
    summary: Summary
    ended_early: bool
    played_s: float
    leave: Leave
    strings_ok: bool | None = None
    failure: BadInput | None = None
    notes: int = 0
    glitches: Mapping[Glitch, int] = field(default_factory=dict)
    beside: tuple[Aligned, ...] = ()
    tempo_moved: float | None = None
