"""A run: the pure state machine that takes an exercise, then notes and ticks, and gives cues and answers."""

import math
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from enum import StrEnum
from operator import attrgetter

from midifret.neck import Neck
from midifret.play.assuming import assume_place
from midifret.play.outputs import (
    Closed,
    Cued,
    Ended,
    Judgement,
    Output,
    Stray,
    StrayReason,
    Withdrawn,
)
from midifret.play.verdicts import judge_name, judge_note
from midifret.terms import (
    Answer,
    Exercise,
    HeardEvent,
    HearingWarning,
    Judged,
    Note,
    NoteEnded,
    NoteRevised,
    NoteSettled,
    Place,
    Prompt,
    Verdict,
    Voided,
)

# Two strings struck together sound within this time of each other: the finer of two plucks in a quick run are
# more than 60 ms apart (16 notes a second), the two of one stroke a few ms, more where a low string takes
# longer to be heard (E2 usually 24 ms, facts of converters). The second is neither answer nor mistake.
TOGETHER_S = 0.03
# After a time limit the next cue comes without the player's doing. A note begun this soon after it was meant
# for the prompt before: the mean simple reaction to a sight takes 231 ms, 213 ms with the hardware taken out
# (Woods et al. 2015, doi 10.3389/fnhum.2015.00131), and hardly anybody needs less than 150 ms.
TOO_SOON_S = 0.15
# A note is dated before it is heard, by up to a settling move (60 ms) and a late arrival (36 ms at the 99th
# percentile beside a parsing load, feasibility). The limit is the limit, but is only enforced after this.
LIMIT_SLACK_S = 0.1
# A recording keeps times to 0.1 ms, each rounded: closer moments are the same.
SAME_MOMENT_S = 0.0002
# Events that a late revision may still have to go back over: a chord on eight strings, its ends, and ticks.
_HISTORY = 64

_NONE_USED: frozenset[Place] = frozenset()

# What an event may change, and what is put back when it is taken again.
_STATE = (
    "_phase",
    "_index",
    "_open",
    "_opened_s",
    "_cue_s",
    "_cue_sure",
    "_began_s",
    "_paused_at_s",
    "_prompt_paused_s",
    "_pauses",
    "_run_paused_s",
    "_ended_s",
    "_first",
    "_corrections",
    "_used",
    "_sounding",
    "_closed_by_s",
    "_limit_passed",
    "_latest_s",
    "_cue_at_s",
    "_void_since_s",
)
_state_of = attrgetter(*_STATE)
# Puts the times of an answer right, given the answer before it: what `timing` makes of a calibration.
Timed = Callable[[Answer, Answer | None], Answer]
# When it happened, what was called, with what, the state before, and how many answers there were.
_Remembered = tuple[float, Callable[..., list[Output]], tuple[object, ...], tuple[object, ...], int]


def _just_after(time_s: float) -> float:
    """When an order holds: a note of the very same moment comes before it."""
    return math.nextafter(time_s, math.inf)


class Phase(StrEnum):
    """Where a run stands."""

    READY = "ready"
    ASKING = "asking"  # a prompt is open, or (cued by a take) the next cue is awaited
    PAUSED = "paused"
    ENDED = "ended"


class Run:
    """One run of an exercise. Every method takes the time on the run's clock and returns what follows.

    A note may be told late, revised or withdrawn; what was judged since is judged again. That goes back no
    further than the last start, cue of a take or skip.

    Prompts open one after the other: the next when the last is answered right, at its time limit, or
    skipped. With cued_by_take the cue points of a recording open them instead. Times are those at which
    things happened (a note's onset): events may be told late, and a note after one that began later.
    """

    grows = False  # whether prompts come while it goes on

    def __init__(
        self,
        exercise: Exercise,
        *,
        cued_by_take: bool = False,
        shown_later: bool = False,
        assume_on: Neck | None = None,
        timed: Timed | None = None,
    ) -> None:
        """Hold the exercise; nothing is asked before start.

        shown_later: the view tells when a cue was shown; an answer before `shown` has no time.
        assume_on: the neck of a guitar that tells no strings: its notes are taken to be played at the
        likeliest place for their pitch. Without it a note whose place is not known is wrong. timed: puts
        recall time and interval into each answer.
        """
        if not exercise.prompts and not self.grows:
            raise ValueError(f"{exercise.name} has no prompts")
        self.exercise = exercise
        self._cued_by_take = cued_by_take
        self._shown_later = shown_later
        self._assume_on = assume_on
        self._timed = timed
        self._limited = exercise.time_limit_s is not None
        self._holds_matter = any(prompt.held for prompt in exercise.prompts)
        self._answers: list[Answer] = []
        self._history: deque[_Remembered] = deque(maxlen=_HISTORY)
        # The state; of it, _STATE names what events change.
        self._phase = Phase.READY
        self._index = -1  # of the open prompt, or of the last one that was open
        self._open = False
        self._opened_s = 0.0
        self._cue_s = 0.0  # when it was shown, which is later where a view has to draw it
        self._cue_sure = True
        self._began_s: float | None = None  # first cue
        self._paused_at_s = 0.0
        self._prompt_paused_s = 0.0  # pauses since the cue
        self._pauses: tuple[tuple[float, float], ...] = ()  # while the prompt was open: (from, until)
        self._run_paused_s = 0.0
        self._ended_s = 0.0
        self._first: Answer | None = None
        self._corrections: tuple[Note, ...] = ()
        self._used: frozenset[tuple[int, Place]] = frozenset()
        self._sounding: tuple[tuple[int, Place], ...] = ()
        self._closed_by_s = float("-inf")  # onset of the note that closed the last prompt
        self._latest_s = float("-inf")  # when the latest of the remembered events happened
        self._limit_passed = False  # the last prompt was closed by its limit
        self._cue_at_s = float("inf")  # when the next cue comes, while it is waited for
        self._void_since_s = float("inf")  # an answer to the open prompt after this has no time

    # What views and callers may look at.

    @property
    def phase(self) -> Phase:
        """Where the run stands."""
        return self._phase

    @property
    def prompt(self) -> Prompt | None:
        """The open prompt, or None."""
        return self.exercise.prompts[self._index] if self._open else None

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
        return self._cue_s

    @property
    def cue_sure(self) -> bool:
        """Whether that is known."""
        return self._cue_sure

    @property
    def limit_s(self) -> float:
        """When the open prompt's time runs out: an answer at this very moment is in time; else infinite."""
        if self.exercise.time_limit_s is None or not self._open or self._phase is not Phase.ASKING:
            return float("inf")
        return self._cue_s + self._prompt_paused_s + self.exercise.time_limit_s

    def prompt_s(self, now_s: float) -> float:
        """Seconds since the open prompt's cue, pauses left out."""
        if not self._open:
            return 0.0
        end_s = self._paused_at_s if self._phase is Phase.PAUSED else now_s
        return end_s - self._cue_s - self._prompt_paused_s

    def elapsed_s(self, now_s: float) -> float:
        """Seconds since the first cue, pauses left out."""
        if self._began_s is None:
            return 0.0
        end_s = {Phase.PAUSED: self._paused_at_s, Phase.ENDED: self._ended_s}.get(self._phase, now_s)
        return end_s - self._began_s - self._run_paused_s

    # What happens to a run.

    def start(self, time_s: float) -> list[Output]:
        """Open the first prompt, or await the first cue of a take."""
        if self._phase is not Phase.READY:
            return []
        self._forget()
        self._phase = Phase.ASKING
        return self._go_on(time_s)

    def cue(self, n: int, time_s: float, *, sure: bool = True) -> list[Output]:
        """Open prompt n because a recording says so; the one that was open is closed."""
        is_next = self._index + 1 < n <= len(self.exercise.prompts)
        if self._phase not in (Phase.ASKING, Phase.PAUSED) or not is_next:
            return []
        outputs = self._limit_reached(time_s)
        self._forget()
        if self._open:
            self._limit_passed = self.limit_s <= time_s + SAME_MOMENT_S
            outputs += self._close(missed=True)
        while self._index + 1 < n - 1:  # cues that the recording has lost
            outputs += self._never_cued()
        outputs += self._open_next(time_s)
        self._cue_sure = sure
        return outputs

    def shown(self, n: int, time_s: float) -> list[Output]:
        """A view has shown the cue of prompt n: the response is counted from here, if none came before."""
        unanswered = self._first is None and not self._corrections
        if self._open and self._index + 1 == n and unanswered and self._phase is Phase.ASKING:
            self._remember(float("-inf"), self.shown, (n, time_s))  # a note told late is no later for it
            self._cue_s, self._cue_sure = max(self._cue_s, time_s), True
            # A pause before it was shown is no pause in it.
            since = (until_s - max(from_s, self._cue_s) for from_s, until_s in self._pauses)
            self._prompt_paused_s = sum(paused_s for paused_s in since if paused_s > 0)
            if n == 1:
                self._began_s, self._run_paused_s = self._cue_s, self._prompt_paused_s
        return []

    def unsure(self, n: int) -> list[Output]:
        """Nobody can tell when the cue of prompt n was shown, or its name given: its answer has no time."""
        if self._open and self._index + 1 == n:
            self._remember(float("-inf"), self.unsure, (n,))
            self._cue_sure = False
        return []

    def hear(self, event: HeardEvent) -> list[Output]:
        """Take what the decoder told. A doubtful note counts for nothing before it is settled."""
        if type(event) is Note:
            if event.doubtful:
                return []
            if event.onset_s <= self._latest_s:
                later = self._first_after(event.onset_s, event.id)
                if later is not None:
                    return self._take_again(later, event, later)
            # After the end too: what ended it may be revised.
            self._remember(event.onset_s, self.hear, (event,))
            outputs = self._limit_reached(event.onset_s) if self._limited else []
            if event.onset_s >= self._cue_at_s:
                outputs += self._wait_over()
            return [*outputs, *self._note(event)] if outputs else self._note(event)
        if type(event) is NoteEnded:
            if self._sounding:
                self._remember(event.time_s, self.hear, (event,))
                self._sounding = tuple(entry for entry in self._sounding if entry[0] != event.id)
            return []
        if type(event) is NoteSettled:
            return self.hear(event.note)
        if type(event) is NoteRevised:
            return self._rejudge(event.note.id, event.note)
        if type(event) is Voided:
            if self._holds_matter and event.continues is not None and event.note.place is not None:
                self._remember(event.note.onset_s, self.hear, (event,))
                self._sounding = (*self._sounding[-8:], (event.continues, event.note.place))
            return self.withdraw(event.note.id)
        assert type(event) is HearingWarning
        return []

    def withdraw(self, note_id: int) -> list[Output]:
        """Undo a note that counted and should not have: it was a signal, or never meant."""
        return self._rejudge(note_id, None)

    def type_name(self, typed: str, pitch_class: int, time_s: float) -> list[Output]:
        """Take a typed note name (0 is C) as the answer to a naming prompt."""
        prompt = self.prompt
        if self._phase is not Phase.ASKING or prompt is None or prompt.judged is not Judged.NAME:
            return []
        if time_s < self._opened_s:
            return []  # meant for a prompt that has gone
        self._remember(time_s, self.type_name, (typed, pitch_class, time_s))
        outputs = self._limit_reached(time_s)
        prompt = self.prompt
        if prompt is None or (self._limit_passed and time_s < self._cue_s + TOO_SOON_S):
            return outputs  # too late for the one before
        verdict = judge_name(prompt, pitch_class)
        response_s = time_s - self._cue_s - self._prompt_paused_s
        first = self._first is None
        outputs.append(Judgement(prompt, verdict, None, typed, first, response_s))
        if first:
            self._first = Answer(prompt, verdict, self._cue_s, time_s, response_s, typed=typed)
        if verdict is Verdict.RIGHT:
            self._closed_by_s, self._limit_passed = time_s, False
            outputs += self._close()
            outputs += self._go_on(time_s)
        return outputs

    def tick(self, now_s: float) -> list[Output]:
        """Let time pass: a limit that has run out closes its prompt, a wait that is over opens the next."""
        if now_s >= self._cue_at_s and self._phase is Phase.ASKING:
            self._remember(self._cue_at_s, self.tick, (now_s,))
            return self._wait_over()
        if self.exercise.time_limit_s is None or now_s < self.limit_s + LIMIT_SLACK_S:
            return []
        self._remember(self.limit_s, self.tick, (now_s,))
        return self._limit_reached(now_s)

    def pause(self, time_s: float) -> list[Output]:
        """Stop the clock of the run and of the open prompt."""
        if self._phase is not Phase.ASKING:
            return []
        self._remember(_just_after(time_s), self.pause, (time_s,))
        outputs = self._limit_reached(time_s)
        if self._phase is Phase.ASKING:
            self._phase, self._paused_at_s = Phase.PAUSED, time_s
        return outputs

    def pause_since(self, time_s: float) -> list[Output]:
        """Pause as of a moment that has passed, as when the guitar has gone: limits since then hold off."""
        later = self._first_after(time_s)
        if later is None:
            return self.pause(time_s)
        return self._take_again(later, None, later, pause_s=time_s)

    def resume(self, time_s: float) -> list[Output]:
        """Go on where the pause began."""
        if self._phase is Phase.PAUSED:
            self._remember(_just_after(time_s), self.resume, (time_s,))
            self._phase = Phase.ASKING
            self._prompt_paused_s += time_s - self._paused_at_s
            self._pauses = (*self._pauses, (self._paused_at_s, time_s))
            self._cue_at_s += time_s - self._paused_at_s
            self._run_paused_s += time_s - self._paused_at_s
        return []

    def void(self, time_s: float) -> list[Output]:
        """Time has a gap: an answer to the open prompt that comes after this counts, but has no time.

        Where the cue was shown only after the gap, the time is counted from there, and holds.
        """
        if self._open and (time_s < self._void_since_s or self._void_since_s < self._cue_s):
            self._remember(_just_after(time_s), self.void, (time_s,))
            self._void_since_s = time_s
        return []

    def skip(self, time_s: float) -> list[Output]:
        """Leave the open prompt: missed if it has no answer yet."""
        if self._phase is not Phase.ASKING or not self._open:
            return []
        outputs = self._limit_reached(time_s)
        if outputs:
            return outputs  # its time had run out: it is left already
        self._forget()
        self._limit_passed = False
        return [*self._close(missed=True, skipped=True), *self._go_on(time_s)]

    def end(self, time_s: float, *, all_asked: bool = False) -> list[Output]:
        """End here; what was answered is kept.

        all_asked: the recording is whole, so a prompt without an answer was missed. Otherwise the open
        prompt counts only if it has a first answer.
        """
        if self._phase is Phase.ENDED:
            return []
        self.resume(time_s)
        outputs = self._limit_reached(time_s)
        self._forget()
        if self._open and (all_asked or self._first is not None):
            outputs += self._close(missed=True)
        early = len(self._answers) < len(self.exercise.prompts)
        if all_asked:
            while self._index + 1 < len(self.exercise.prompts):
                outputs += self._never_cued()
            early = False
        if outputs and isinstance(outputs[-1], Ended):
            return outputs
        return outputs + self._end(time_s, early=early)

    # Inside.

    def _note(self, note: Note) -> list[Output]:
        if self._assume_on is not None and self._open:
            prompt = self.exercise.prompts[self._index]
            note = assume_place(note, prompt, self._assume_on, self._used_by(prompt))
        if self._holds_matter and note.place is not None:
            self._sounding = (*self._sounding[-8:], (note.id, note.place))
        stray = self._stray_reason(note)
        return [Stray(note, stray)] if stray else self._judge(note)

    def _stray_reason(self, note: Note) -> StrayReason | None:
        if self._phase is not Phase.ASKING:
            return {
                Phase.READY: StrayReason.BEFORE_CUE,
                Phase.PAUSED: StrayReason.PAUSED,
                Phase.ENDED: StrayReason.AFTER_END,  # its last prompt's time ran out before this note
            }[self._phase]
        if not self._open or note.onset_s < self._opened_s:
            if self._cue_at_s < float("inf"):  # plucked before there was anything to see: wait again
                self._cue_at_s = note.onset_s + self.exercise.prompts[self._index + 1].wait_s
            return StrayReason.BEFORE_CUE
        prompt = self.exercise.prompts[self._index]
        if note.onset_s <= self._closed_by_s + TOGETHER_S and prompt.held is None:
            return StrayReason.TOGETHER
        if self._limit_passed and note.onset_s < self._cue_s + TOO_SOON_S:
            return StrayReason.TOO_SOON
        if prompt.judged is Judged.NAME:
            return StrayReason.NAMING
        if prompt.may_play and note.place in prompt.may_play and note.place not in prompt.places:
            return StrayReason.MAY_PLAY
        return None

    def _judge(self, note: Note) -> list[Output]:
        prompt = self.exercise.prompts[self._index]
        used = self._used_by(prompt) if prompt.each_once is not None else _NONE_USED
        verdict = judge_note(prompt, note, used)
        # Playing on before the cue was drawn: nobody waited for it, so it counts from the opening.
        cue_s = self._cue_s if note.onset_s >= self._cue_s else self._opened_s
        response_s = note.onset_s - cue_s - self._prompt_paused_s
        first = self._first is None
        if first:
            self._first = Answer(
                prompt,
                verdict,
                cue_s,
                note.onset_s,
                response_s,
                None,
                note,
                held_sounding=self._holds(prompt) if prompt.held else None,
            )
        else:
            self._corrections = (*self._corrections, note)
        judgement = Judgement(prompt, verdict, note, "", first, response_s)
        if verdict is not Verdict.RIGHT:
            return [judgement]
        if prompt.each_once is not None and note.place is not None:
            self._used |= {(prompt.each_once, note.place)}
        self._closed_by_s, self._limit_passed = note.onset_s, False
        return [judgement, *self._close(), *self._go_on(note.onset_s)]

    def _used_by(self, prompt: Prompt) -> frozenset[Place]:
        return frozenset(place for group, place in self._used if group == prompt.each_once)

    def _holds(self, prompt: Prompt) -> bool:
        return any(place == prompt.held for _, place in self._sounding)

    def _close(self, *, missed: bool = False, skipped: bool = False) -> list[Output]:
        prompt = self.exercise.prompts[self._index]
        answer = self._first
        if answer is None:
            assert missed
            answer = Answer(prompt, Verdict.MISSED, self._cue_s, skipped=skipped)
        elif self._corrections or skipped:
            answer = replace(answer, corrections=self._corrections, skipped=skipped)
        self._open = False
        self._first = None
        self._corrections = ()
        cue_s, answer_s = answer.cue_s, answer.answer_s
        if cue_s is not None and answer_s is not None and cue_s <= self._void_since_s < answer_s:
            answer = replace(answer, response_s=None)
        if not self._cue_sure and answer_s is not None:
            answer = replace(answer, response_s=None, cue_sure=False)
        if self._timed is not None:
            answer = self._timed(answer, self._answers[-1] if self._answers else None)
        self._answers.append(answer)
        return [Closed(answer)]

    def _never_cued(self) -> list[Output]:
        self._index += 1
        answer = Answer(self.exercise.prompts[self._index], Verdict.MISSED, None)
        self._answers.append(answer)
        return [Closed(answer)]

    def _go_on(self, time_s: float) -> list[Output]:
        if self._index + 1 == len(self.exercise.prompts):
            return self._end(time_s, early=False)
        return [] if self._cued_by_take else self._open_next(time_s)

    def _open_next(self, time_s: float) -> list[Output]:
        wait_s = self.exercise.prompts[self._index + 1].wait_s
        if wait_s and not self._cued_by_take:
            self._cue_at_s = time_s + wait_s
            return []
        return self._open_now(time_s)

    def _wait_over(self) -> list[Output]:
        time_s, self._cue_at_s = self._cue_at_s, float("inf")
        return self._open_now(time_s)

    def _open_now(self, time_s: float) -> list[Output]:
        self._index += 1
        self._open = True
        self._void_since_s = float("inf")
        self._opened_s = self._cue_s = time_s
        self._cue_sure = not (self._shown_later and self.exercise.prompts[self._index].is_seen)
        self._prompt_paused_s, self._pauses = 0.0, ()
        if self._began_s is None:
            self._began_s = time_s
        return [Cued(self.exercise.prompts[self._index], time_s)]

    def _end(self, time_s: float, *, early: bool) -> list[Output]:
        self._phase, self._ended_s, self._open = Phase.ENDED, time_s, False
        self._cue_at_s = float("inf")
        return [Ended(time_s, early)]

    def _limit_reached(self, time_s: float) -> list[Output]:
        """Close every prompt whose time ran out before time_s, each at its own limit."""
        outputs: list[Output] = []
        while (limit_s := self.limit_s) < time_s:
            outputs += self._close(missed=True)
            self._limit_passed = True
            outputs += self._go_on(limit_s)
        return outputs

    # Going back over what was judged, when hearing learns better.

    def _remember(
        self, time_s: float, method: Callable[..., list[Output]], arguments: tuple[object, ...]
    ) -> None:
        self._history.append((time_s, method, arguments, _state_of(self), len(self._answers)))
        if time_s > self._latest_s:
            self._latest_s = time_s

    def _forget(self) -> None:
        self._history.clear()
        self._latest_s = float("-inf")

    def _first_after(self, told_s: float, note_id: float = math.inf) -> int | None:
        """Where what is told late, as doubtful notes are, belongs among the remembered events.

        Of two notes of one moment the first is the one that hearing numbered first.
        """
        for at, ((time_s, *_), note) in enumerate(zip(self._history, self._notes_told(), strict=True)):
            if time_s > told_s or (time_s == told_s and note is not None and note.id > note_id):
                return at
        return None

    def _rejudge(self, note_id: int, revised: Note | None) -> list[Output]:
        """Leave a note out, or put its revision in its place."""
        found = (i for i, told in enumerate(self._notes_told()) if told and told.id == note_id)
        at = next(found, None)
        if at is None:
            return []  # it counted for nothing that could still change
        return self._take_again(at, revised, at + 1)

    def _notes_told(self) -> list[Note | None]:
        """For each remembered event its note, None where it is no note-on."""
        firsts = (arguments[0] for _, _, arguments, _, _ in self._history)
        return [first if isinstance(first, Note) else None for first in firsts]

    def _take_again(
        self, at: int, note: Note | None, again_from: int, *, pause_s: float | None = None
    ) -> list[Output]:
        """Go back to before event `at`, hear note or pause, then take events `again_from` and on again."""
        events = list(self._history)
        *_, state, answers = events[at]
        for name, value in zip(_STATE, state, strict=True):
            setattr(self, name, value)
        del self._answers[answers:]
        # Before an event after the end nothing is open, and nothing was said that could be taken back.
        outputs: list[Output] = []
        if self._phase is not Phase.ENDED:
            outputs.append(Withdrawn(len(self._answers) + 1))
        if self._open:
            outputs.append(Cued(self.exercise.prompts[self._index], self._cue_s))
        self._history = deque(events[:at], maxlen=_HISTORY)
        if note is not None:
            outputs += self.hear(note)
        if pause_s is not None:
            outputs += self.pause(pause_s)
        for _, method, arguments, _, _ in events[again_from:]:
            outputs += method(*arguments)
        return outputs
