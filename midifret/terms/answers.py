"""An answer: what was asked, what was played, and the verdict."""

from dataclasses import dataclass
from enum import StrEnum

from midifret.terms.calibration import Caveat, NoteInterval, Recall
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
    recall: response to a cue less what system, hands and eyes need, as far as that was measured; None where
        nothing was cued or played, or the answer was due on a beat.
    played: the note judged; None if missed or answered by typing.
    typed: the name typed, in naming prompts.
    corrections: what was played after a wrong first answer, until right.
    skipped: the player went on without answering.
    held_sounding: where a note was to be held, whether it still sounded at the answer.
    interval: in a walk without cues, the time since the note that closed the prompt before.
    due_s: in tempo, when it was due on the run's clock. late_ms: by how much the note came later, negative
        for earlier; of one missed, that of the nearest note outside the window, which is then `played`.
    cue_sure: False where nobody told when the cue was shown, or the name given: then there is no time.
    """

    prompt: Prompt
    verdict: Verdict
    cue_s: float | None
    answer_s: float | None = None
    response_s: float | None = None
    recall: Recall | None = None
    played: Note | None = None
    typed: str | None = None
    corrections: tuple[Note, ...] = ()
    skipped: bool = False
    held_sounding: bool | None = None
    interval: NoteInterval | None = None
    due_s: float | None = None
    late_ms: float | None = None
    cue_sure: bool = True

    @property
    def recall_s(self) -> float | None:
        """Recall time in seconds, as far as it was measured: what is not taken off stands in its caveats."""
        return None if self.recall is None else self.recall.time_s

    @property
    def recall_caveats(self) -> frozenset[Caveat]:
        """What the recall time does not take into account, or why there is no time at all."""
        if not self.cue_sure:
            return frozenset({Caveat.CUE_UNSURE})
        return frozenset() if self.recall is None else self.recall.caveats

    @property
    def closing_s(self) -> float | None:
        """Onset of the note that answered right, at last; None where none did."""
        if self.right:
            return self.answer_s
        if self.corrections and not self.skipped and self.late_ms is None:
            return self.corrections[-1].onset_s
        return None

    @property
    def closing_midi(self) -> int | None:
        """Its pitch."""
        note = self.played if self.right else self.corrections[-1] if self.corrections else None
        return None if note is None or self.closing_s is None else note.midi

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
