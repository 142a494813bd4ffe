"""A reading in tempo: each note is due by its onset, and the beat goes on."""

import bisect
from collections.abc import Callable
from dataclasses import replace

from midifret.neck import Neck
from midifret.play.assuming import assume_place
from midifret.play.outputs import Output, Stray, StrayReason, Withdrawn
from midifret.play.run import SAME_MOMENT_S, TOGETHER_S
from midifret.play.tempo_run import JudgedInTempo, TempoRun, TempoState
from midifret.play.verdicts import judge_note
from midifret.reading.alignment import Aligned, Kind
from midifret.reading.events import Event, events_of, reached
from midifret.terms import Answer, Exercise, Note, Verdict
from midifret.terms.marks import DuePoint


class TempoReading(TempoRun):
    """A reading in tempo, as `TempoRun` but for what its music asks: uneven onsets, and chords.

    A note belongs to the event whose moment is nearest. In its window it is taken for the note of the event
    that it fits best: the right place, else the right pitch, else the nearest pitch not yet played; where all
    are played it is extra. Outside the window it is a note missed by so much, if it is of the right pitch,
    and extra otherwise. The time that the clock gives leaves nothing else to align: who falls behind is late.
    What was due after the last note played is not reached, and taken back at the end.
    """

    def __init__(
        self,
        exercise: Exercise,
        *,
        assume_on: Neck | None = None,
        heard_late_s: Callable[[int], float] | None = None,
    ) -> None:
        """Hold the exercise; see TempoRun. Raises ValueError for what is no reading or in no tempo."""
        super().__init__(exercise, assume_on=assume_on, heard_late_s=heard_late_s)
        self._event_of: dict[int, Event] = {}
        self._events = events_of(exercise)
        for event in self._events:
            for wanted in event.notes:
                self._event_of[wanted.n] = event

    def verdict(self, n: int) -> Verdict | None:
        """The verdict on a prompt so far; None where it was not played and not closed."""
        if n <= len(self._answers):
            return self._answers[n - 1].verdict
        judged = self._now.judged.get(n)
        return None if judged is None or judged.outside else judged.verdict

    def alignment(self) -> tuple[Aligned, ...]:
        """Every note beside the score, in the order of onsets."""
        found = [Aligned(note, 0, Kind.EXTRA) for note in self._now.extra]
        for n, judged in self._now.judged.items():
            found += [Aligned(note, n, Kind.MATCHED) for note in (judged.first, *judged.corrections)]
        return tuple(sorted(found, key=lambda item: (item.note.onset_s, item.note.id)))

    def _answer(self, n: int) -> Answer:
        return replace(super()._answer(n), cue_s=None)  # who reads looks ahead: nobody knows when it was seen

    def _end(self, time_s: float, *, early: bool) -> list[Output]:
        """The beat goes on without a player: what it reached alone is taken back."""
        last = self._reached()
        outputs: list[Output] = []
        if last < len(self._answers):
            del self._answers[last:]
            outputs.append(Withdrawn(last + 1))
        early = len(self._answers) < len(self.exercise.prompts)
        return [*outputs, *super()._end(time_s, early=early)]

    def _counts_at_end(self, n: int) -> bool:
        return n <= self._reached()

    def _reached(self) -> int:
        """The number of the last prompt that was reached, by a note too late for it too: see `reached`."""
        return reached(self._events, max(self._now.judged, default=0))

    def _ends_s(self, due: DuePoint) -> float:
        return due.due_s + 3 * due.half_window_s

    def _judge(self, state: TempoState, note: Note) -> None:
        """Take one note, in the order of onsets."""
        if self._watch.is_paused(note.onset_s):
            state.strays = (*state.strays, Stray(note, StrayReason.PAUSED))
            return
        due = self._due_near(state, note)
        if due is None:
            state.strays = (*state.strays, Stray(note, StrayReason.BEFORE_CUE))
            return
        late_s = note.onset_s - self._heard_late_s(note.midi) - due.due_s
        outside = abs(late_s - self._middle_s(state)) > due.half_window_s + SAME_MOMENT_S
        n = self._best(state, self._event_of[due.n], note, outside=outside)
        if n is None:
            self._is_extra(state, note)
            return
        prompt, known = self.exercise.prompts[n - 1], state.judged.get(n)
        if self._assume_on is not None:
            note = assume_place(note, prompt, self._assume_on, frozenset())
        if outside:
            if known is None or (known.outside and abs(late_s * 1000) < abs(known.late_ms)):
                state.judged[n] = JudgedInTempo(note, Verdict.MISSED, late_s * 1000, outside=True)
            return
        verdict = judge_note(prompt, note)
        judged = JudgedInTempo(note, verdict, late_s * 1000)
        if known is not None and not known.outside:
            along = note.onset_s - known.first.onset_s <= TOGETHER_S
            if verdict is Verdict.RIGHT and along:  # the other was struck along with it
                self._is_extra(state, known.first)
            else:
                state.judged[n] = replace(known, corrections=(*known.corrections, note))
                return
        state.judged[n] = judged
        if verdict is Verdict.RIGHT:
            state.shift_s, state.counted = state.shift_s + late_s, state.counted + 1

    def _is_extra(self, state: TempoState, note: Note) -> None:
        state.strays = (*state.strays, Stray(note, StrayReason.EXTRA))
        state.extra = (*state.extra, note)

    def _due_near(self, state: TempoState, note: Note) -> DuePoint | None:
        """What is due nearest to a note; None where nothing is due within twice its window."""
        meant_s = note.onset_s - self._heard_late_s(note.midi) - self._middle_s(state)
        after = bisect.bisect_left(self._dues, meant_s, key=lambda due: due.due_s)
        near = self._dues[max(0, after - 1) : after + 1]
        due = min(near, key=lambda due: abs(due.due_s - meant_s), default=None)
        if due is None or abs(due.due_s - meant_s) > 2 * due.half_window_s:
            return None
        return due

    def _best(self, state: TempoState, event: Event, note: Note, *, outside: bool) -> int | None:
        """The number of the prompt that a note is taken for, None for an extra one."""
        best: tuple[float, int] | None = None
        for wanted in event.notes:
            known = state.judged.get(wanted.n)
            if wanted.n > len(self._dues) or self._is_done(wanted.n, known):
                continue
            is_open = known is None or known.outside
            if wanted.midi == note.midi:
                apart = (0.0 if note.place in wanted.places else 0.5) + (0.0 if is_open else 0.25)
            elif outside or not (is_open or len(event.notes) == 1):
                continue  # in a chord only what fits corrects
            else:
                apart = 1.0 + abs(wanted.midi - note.midi)
            if best is None or (apart, wanted.n) < best:
                best = apart, wanted.n
        return None if best is None else best[1]

    def _is_done(self, n: int, known: JudgedInTempo | None) -> bool:
        """Whether a prompt has been played right, at first or later."""
        if known is None or known.outside:
            return False
        if known.verdict is Verdict.RIGHT:
            return True
        prompt = self.exercise.prompts[n - 1]
        return any(judge_note(prompt, note) is Verdict.RIGHT for note in known.corrections)
