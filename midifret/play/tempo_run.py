"""A run in tempo: each prompt is due on a beat, and the note nearest to the beat answers it."""

import bisect
import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from midifret.neck import Neck
from midifret.play.assuming import assume_place
from midifret.play.outputs import Closed, Cued, Ended, Judgement, Output, Stray, StrayReason, Withdrawn
from midifret.play.run import LIMIT_SLACK_S, SAME_MOMENT_S, TOGETHER_S, Phase
from midifret.play.stopwatch import Stopwatch
from midifret.play.verdicts import judge_note
from midifret.terms import (
    Answer,
    Exercise,
    HeardEvent,
    Note,
    NoteRevised,
    NoteSettled,
    Place,
    Prompt,
    Verdict,
    Voided,
)
from midifret.terms.marks import DuePoint

# People come early or late on a click by an amount of their own, and guitars and clicks add theirs (Repp
# 2005). Windows therefore lie around the player's own middle as the right notes so far tell it, with this
# many notes' weight on what was expected before the first [ours].
EXPECTED_NOTES = 4


# A note is settled, revised or withdrawn within this time, and the loss of a guitar is noticed.
_FINAL_AFTER_S = 5.0
_ALWAYS_WORKED_OUT = 32  # notes; only beyond them anything is taken as final


@dataclass(frozen=True, slots=True)
class JudgedInTempo:
    """What has become of one prompt so far. outside: `first` came outside the window and answers nothing."""

    first: Note
    verdict: Verdict
    late_ms: float
    corrections: tuple[Note, ...] = ()
    outside: bool = False


@dataclass(slots=True)
class TempoState:
    """Where judging stands after some of the notes. shift_s: sum of how late the right ones were."""

    shift_s: float = 0.0
    counted: int = 0
    last_s: float = -math.inf
    judged: dict[int, JudgedInTempo] = field(default_factory=dict)
    used: frozenset[tuple[int, Place]] = frozenset()
    strays: tuple[Stray, ...] = ()
    extra: tuple[Note, ...] = ()  # of a reading: notes that stand for none


class TempoRun:
    """One run of an exercise in tempo. It has the methods of `Run`, and `schedule`.

    When each prompt is due is told from outside, before its beat; until its window begins it may be told
    again. A prompt's cue comes when the one before is due, the first one's at the start. A note belongs to
    the nearest beat. In the window of its beat it is judged by its place, and the first one counts; outside,
    the prompt is missed, and the answer tells by how much. All of it is a function of the notes, the beats
    and the pauses, worked out again where one of them turns out to be another.
    """

    def __init__(
        self,
        exercise: Exercise,
        *,
        assume_on: Neck | None = None,
        heard_late_s: Callable[[int], float] | None = None,
    ) -> None:
        """Hold the exercise; nothing is asked before start.

        assume_on: as in Run. heard_late_s: how much later a pitch (MIDI number) is heard than it is meant, by
        a calibration; it is taken off how late a note is. Raises ValueError for an exercise that is in no
        tempo or has no prompts.
        """
        if exercise.tempo is None or not exercise.prompts:
            raise ValueError(f"{exercise.name} is not in tempo, or has no prompts")
        self.exercise = exercise
        self._tempo = exercise.tempo
        self._assume_on = assume_on
        self._heard_late_s = heard_late_s or (lambda midi: 0.0)
        self._phase = Phase.READY
        self._notes: list[Note] = []  # in the order of their onsets
        self._dues: list[DuePoint] = []  # of the prompts from the first on, as far as they are known
        self._watch = Stopwatch()
        self._now = TempoState()
        self._final = TempoState()  # before `_notes`, which could still change something
        self._cues: dict[int, float] = {}
        self._answers: list[Answer] = []
        self._ended_s = 0.0

    # What views and callers may look at.

    @property
    def phase(self) -> Phase:
        """Where the run stands."""
        return self._phase

    @property
    def prompt(self) -> Prompt | None:
        """The prompt that was cued last and has not closed, or None."""
        n = max(self._cues, default=0)
        if n <= len(self._answers) or self._phase not in (Phase.ASKING, Phase.PAUSED):
            return None
        return self.exercise.prompts[n - 1]

    @property
    def answers(self) -> tuple[Answer, ...]:
        """All closed answers so far."""
        return tuple(self._answers)

    @property
    def answered(self) -> int:
        """How many prompts are closed."""
        return len(self._answers)

    @property
    def cue_s(self) -> float:
        """When the cue of the open prompt was given."""
        return self._cues[max(self._cues)] if self._cues else 0.0

    @property
    def limit_s(self) -> float:
        """No time limit but the beat holds in tempo."""
        return math.inf

    @property
    def next_to_schedule(self) -> int | None:
        """The first prompt of which nobody knows when it is due; None where all are known."""
        n = len(self._dues) + 1
        return n if n <= len(self.exercise.prompts) else None

    def prompt_s(self, now_s: float) -> float:
        """Seconds since the open prompt's cue."""
        return 0.0 if self.prompt is None else max(0.0, now_s - self.cue_s)

    def elapsed_s(self, now_s: float) -> float:
        """Seconds since the start, pauses left out."""
        return self._watch.played_s(self._ended_s if self._phase is Phase.ENDED else now_s)

    # What happens to a run.

    def start(self, time_s: float) -> list[Output]:
        """Show the first prompt."""
        if self._phase is not Phase.READY:
            return []
        self._phase, self._watch.began_s = Phase.ASKING, time_s
        return self._cue(1, time_s)

    def schedule(self, due: DuePoint) -> list[Output]:
        """Say when a prompt is due, one prompt after the other; until it is closed it may be said again.

        Raises ValueError where a prompt before it was never scheduled.
        """
        at = due.n - 1
        if at > len(self._dues):
            raise ValueError(f"prompt {due.n} is scheduled before prompt {len(self._dues) + 1}")
        if not len(self._answers) <= at < len(self.exercise.prompts) or self._phase is Phase.ENDED:
            return []
        if at == len(self._dues):
            self._dues.append(due)
            return []
        if self._dues[at] == due:
            return []
        self._dues[at] = due
        return self._work_out()

    def paused(self, from_s: float, to_s: float) -> None:
        """Leave out what was played between: a recording says that the run paused."""
        self._watch.leave_out(from_s, to_s)

    def cue(self, n: int, time_s: float) -> list[Output]:
        """Show prompt n because a recording says so."""
        return self._cue(n, time_s) if self._phase is Phase.ASKING else []

    def shown(self, n: int, time_s: float) -> list[Output]:
        """A view has shown the cue of prompt n."""
        if n in self._cues:
            self._cues[n] = max(self._cues[n], time_s)
        return []

    def hear(self, event: HeardEvent) -> list[Output]:
        """Take what the decoder told. A doubtful note counts for nothing before it is settled."""
        match event:
            case Note():
                if event.doubtful:
                    return []
                if self._phase is Phase.READY:
                    return [Stray(event, StrayReason.BEFORE_CUE)]
                bisect.insort(self._notes, event, key=_order)
                return self._work_out()
            case NoteSettled(note):
                return self.hear(note)
            case NoteRevised(note):
                kept = [note if other.id == note.id else other for other in self._notes]
                self._notes = sorted(kept, key=_order)
                return self._work_out()
            case Voided(note):
                return self.withdraw(note.id)
        return []

    def withdraw(self, note_id: int) -> list[Output]:
        """Undo a note that counted and should not have."""
        if all(note.id != note_id for note in self._notes):
            return []
        self._notes = [note for note in self._notes if note.id != note_id]
        return self._work_out()

    def type_name(self, typed: str, pitch_class: int, time_s: float) -> list[Output]:
        """Names are not typed in tempo."""
        return []

    def tick(self, now_s: float) -> list[Output]:
        """Let time pass: cues come and windows end."""
        if self._phase is not Phase.ASKING:
            return []
        outputs: list[Output] = []
        latest = max(self._cues, default=0)
        if 0 < latest <= len(self._dues) and self._dues[latest - 1].due_s <= now_s:
            outputs += self._cue(latest + 1, self._dues[latest - 1].due_s)
        self._make_final(now_s)
        return outputs + self._close_due(now_s)

    def pause(self, time_s: float) -> list[Output]:
        """Stop: what has no answer and could still be answered will be asked again, after `resume`."""
        return self.pause_since(time_s)

    def pause_since(self, time_s: float) -> list[Output]:
        """The same as of a moment that has passed; prompts closed since then open again."""
        if self._phase is not Phase.ASKING:
            return []
        self._watch.pause(time_s)
        again = (
            due.n
            for due in self._dues
            if due.due_s + due.half_window_s > time_s and not self._has_answer(due.n, time_s)
        )
        outputs: list[Output] = []
        first = next(again, None)
        if first is not None:
            del self._dues[first - 1 :]
            if first <= len(self._answers):
                outputs += self._reopen(first)
            self._cues = {n: cue_s for n, cue_s in self._cues.items() if n <= first}
        outputs += self._work_out()
        outputs += self._close_due(math.inf)  # those before the pause have all the notes they will get
        if self._phase is Phase.ASKING:
            self._phase = Phase.PAUSED
        return outputs

    def resume(self, time_s: float) -> list[Output]:
        """Go on; the beats of what is left have to be told anew."""
        if self._phase is not Phase.PAUSED:
            return []
        self._watch.resume(time_s)
        self._phase = Phase.ASKING
        return self._cue(min(len(self._answers), len(self.exercise.prompts) - 1) + 1, time_s)

    def void(self, time_s: float) -> list[Output]:
        """How late a note is does not hang on when its cue came."""
        return []

    def skip(self, time_s: float) -> list[Output]:
        """In tempo the beat goes on by itself."""
        return []

    def end(self, time_s: float, *, all_asked: bool = False) -> list[Output]:
        """End here; what was answered is kept. all_asked: the recording is whole."""
        if self._phase is Phase.ENDED:
            return []
        self.resume(time_s)
        outputs = self._close_due(time_s + LIMIT_SLACK_S)
        for n in range(len(self._answers) + 1, len(self.exercise.prompts) + 1):
            if not all_asked and not self._counts_at_end(n):
                return [*outputs, *self._end(time_s, early=True)]
            outputs += self._close(n)
        return outputs

    # Inside.

    def _cue(self, n: int, time_s: float) -> list[Output]:
        if n in self._cues or n > len(self.exercise.prompts):
            return []
        self._cues[n] = time_s
        return [Cued(self.exercise.prompts[n - 1], time_s)]

    def _has_answer(self, n: int, by_s: float) -> bool:
        judged = self._now.judged.get(n)
        return judged is not None and not judged.outside and judged.first.onset_s <= by_s

    def _counts_at_end(self, n: int) -> bool:
        """Whether a prompt that is not closed when the run is ended early has an answer all the same."""
        return self._has_answer(n, math.inf)

    def _close_due(self, now_s: float) -> list[Output]:
        """Close, in order, the prompts whose windows ended so long ago that no note can come late."""
        outputs: list[Output] = []
        while self._phase is Phase.ASKING and len(self._answers) < len(self.exercise.prompts):
            n = len(self._answers) + 1
            if n > len(self._dues) or now_s < self._ends_s(self._dues[n - 1]) + LIMIT_SLACK_S:
                break
            outputs += self._close(n)
        return outputs

    def _ends_s(self, due: DuePoint) -> float:
        """When its window ends at the latest, wherever the player's middle lies."""
        return due.due_s + min(2 * due.half_window_s, self._tempo.between_s) + due.half_window_s

    def _close(self, n: int) -> list[Output]:
        self._answers.append(self._answer(n))
        outputs: list[Output] = [Closed(self._answers[-1])]
        if n == len(self.exercise.prompts):
            end_s = self._ends_s(self._dues[-1]) if len(self._dues) == n else self._ended_s
            outputs += self._end(end_s, early=False)
        return outputs

    def _end(self, time_s: float, *, early: bool) -> list[Output]:
        self._phase, self._ended_s = Phase.ENDED, time_s
        return [Ended(time_s, early)]

    def _answer(self, n: int) -> Answer:
        prompt, cue_s = self.exercise.prompts[n - 1], self._cues.get(n)
        due_s = self._dues[n - 1].due_s if n <= len(self._dues) else None
        judged = self._now.judged.get(n)
        if judged is None:
            return Answer(prompt, Verdict.MISSED, cue_s, due_s=due_s)
        return Answer(
            prompt,
            judged.verdict,
            cue_s,
            None if judged.outside else judged.first.onset_s,
            played=judged.first,
            corrections=judged.corrections,
            due_s=due_s,
            late_ms=judged.late_ms,
        )

    def _reopen(self, n: int) -> list[Output]:
        del self._answers[n - 1 :]
        if self._phase is Phase.ENDED:
            self._phase = Phase.ASKING
        return [Withdrawn(n)]

    def _work_out(self) -> list[Output]:
        """Judge the notes again; tell what is new, and what was closed otherwise."""
        before, self._now = self._now, replace(self._final, judged=dict(self._final.judged), strays=())
        for note in self._notes:
            self._judge(self._now, note)
        outputs: list[Output] = []
        closed = len(self._answers)
        then, now = before.judged, self._now.judged
        # What became final is the very same value: only the latest notes cost anything.
        touched = [n for n in then.keys() | now.keys() if n <= closed and then.get(n) is not now.get(n)]
        changed = (n for n in sorted(touched) if self._answer(n) != self._answers[n - 1])
        first = next(changed, None)
        if first is not None:
            outputs += self._reopen(first)
        outputs += self._news(before)
        if first is not None:
            for n in range(first, closed + 1):
                outputs += self._close(n)
        return outputs

    def _news(self, before: TempoState) -> list[Output]:
        outputs: list[Output] = []
        for n, now in self._now.judged.items():
            then = before.judged.get(n)
            if now is then or now == then or now.outside:
                continue
            prompt = self.exercise.prompts[n - 1]
            if then is None or (then.first, then.outside) != (now.first, now.outside):
                outputs.append(Judgement(prompt, now.verdict, now.first, "", True, None, now.late_ms))
            elif len(now.corrections) > len(then.corrections):
                note = now.corrections[-1]
                outputs.append(Judgement(prompt, judge_note(prompt, note), note, "", False, None))
        told = {stray.note.id for stray in before.strays}
        return outputs + [stray for stray in self._now.strays if stray.note.id not in told]

    def _make_final(self, now_s: float) -> None:
        """Take the notes of long ago as they are: in a long run a note costs no more than in a short one."""
        while len(self._notes) > _ALWAYS_WORKED_OUT and self._notes[0].onset_s < now_s - _FINAL_AFTER_S:
            self._judge(self._final, self._notes.pop(0))
            self._final.strays = ()

    def _judge(self, state: TempoState, note: Note) -> None:
        """Take one note, in the order of onsets."""
        reason = self._stray_reason(state, note)
        n = None if reason else self._nearest(state, note)
        if n is None:
            state.strays = (*state.strays, Stray(note, reason or StrayReason.BEFORE_CUE))
            return
        prompt, due = self.exercise.prompts[n - 1], self._dues[n - 1]
        if self._assume_on is not None:
            note = assume_place(note, prompt, self._assume_on, self._used_by(state, prompt))
        if note.place in prompt.may_play and note.place not in prompt.places:
            state.strays = (*state.strays, Stray(note, StrayReason.MAY_PLAY))
            return
        state.last_s = note.onset_s
        late_s = note.onset_s - self._heard_late_s(note.midi) - due.due_s
        off_s = late_s - self._middle_s(state)
        verdict = judge_note(prompt, note, self._used_by(state, prompt))
        known = state.judged.get(n)
        if abs(off_s) > due.half_window_s + SAME_MOMENT_S:
            if known is None or (known.outside and abs(late_s * 1000) < abs(known.late_ms)):
                state.judged[n] = JudgedInTempo(note, Verdict.MISSED, late_s * 1000, outside=True)
            return
        if known is not None and not known.outside:
            if known.verdict is not Verdict.RIGHT:
                state.judged[n] = replace(known, corrections=(*known.corrections, note))
            return
        state.judged[n] = JudgedInTempo(note, verdict, late_s * 1000)
        if verdict is Verdict.RIGHT:
            state.shift_s, state.counted = state.shift_s + late_s, state.counted + 1
            if prompt.each_once is not None and note.place is not None:
                state.used |= {(prompt.each_once, note.place)}

    def _stray_reason(self, state: TempoState, note: Note) -> StrayReason | None:
        if self._watch.is_paused(note.onset_s):
            return StrayReason.PAUSED
        if note.onset_s <= state.last_s + TOGETHER_S:
            return StrayReason.TOGETHER
        return None

    def _middle_s(self, state: TempoState) -> float:
        """How late the player is by habit, as far as the right notes before tell."""
        return state.shift_s / (state.counted + EXPECTED_NOTES)

    def _nearest(self, state: TempoState, note: Note) -> int | None:
        """The prompt whose beat is nearest, None where none is due within half the time between two."""
        meant_s = note.onset_s - self._heard_late_s(note.midi) - self._middle_s(state)
        after = bisect.bisect_left(self._dues, meant_s, key=_due_s)
        near = self._dues[max(0, after - 1) : after + 1]
        due = min(near, key=lambda due: abs(due.due_s - meant_s), default=None)
        if due is None or abs(due.due_s - meant_s) > self._tempo.between_s / 2:
            return None
        return due.n

    def _used_by(self, state: TempoState, prompt: Prompt) -> frozenset[Place]:
        return frozenset(place for group, place in state.used if group == prompt.each_once)


def _order(note: Note) -> tuple[float, int]:
    return note.onset_s, note.id


def _due_s(due: DuePoint) -> float:
    return due.due_s
