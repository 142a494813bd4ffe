"""An answer: what was asked, what was played, and the verdict."""

from dataclasses import dataclass
from enum import StrEnum

from midifret.terms.exercise import Prompt
from midifret.terms.notes import Note
from midifret.terms.place import Place


class Verdict(StrEnum):
    """The judgement of an answer; where several fit, the first in this order holds."""

    RIGHT = "right"
    ELSEWHERE = "elsewhere"  # right pitch at a place that was not asked for
    OCTAVE = "octave"  # right name, any number of octaves off
    FRET_OFF = "fret-off"  # asked string, one fret away
    STRING_OFF = "string-off"  # asked fret, neighbouring string
    WRONG = "wrong"
    MISSED = "missed"  # no answer in time


@dataclass(frozen=True, slots=True)
class Answer:
    """One prompt and how it was answered. The first answer has the verdict.

    cue_s: when the cue was given, seconds on the run's clock; None if it never was.
    answer_s: onset of the first answer, or None where there was none.
    response_s: answer_s - cue_s less any pause between; None without an answer.
    recall_s: response less what system, hands and eyes need; None until a calibration gives it.
    played: the note judged; None if missed or answered by typing.
    typed: the name typed, in naming prompts.
    corrections: what was played after a wrong first answer, until right.
    skipped: the player went on without answering.
    held_sounding: where a note was to be held, whether it still sounded at the answer.
    """

    prompt: Prompt
    verdict: Verdict
    cue_s: float | None
    answer_s: float | None = None
    response_s: float | None = None
    recall_s: float | None = None
    played: Note | None = None
    typed: str | None = None
    corrections: tuple[Note, ...] = ()
    skipped: bool = False
    held_sounding: bool | None = None

    @property
    def n(self) -> int:
        """Number of the prompt in its exercise, from 1."""
        return self.prompt.n

    @property
    def right(self) -> bool:
        """Whether the first answer was right."""
        return self.verdict is Verdict.RIGHT

    @property
    def counted_place(self) -> Place | None:
        """The place that figures count it under.

        Where several places answer and one of them was played, it is that one. Where none was, nobody can
        say which the player did not know; where the guitar tells no strings, nobody can say which was played:
        it counts for no place.
        """
        if len(self.prompt.places) == 1:
            return self.prompt.places[0]
        played = self.played.place if self.played and not self.played.place_assumed else None
        return played if self.right and played in self.prompt.places else None
