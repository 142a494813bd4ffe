"""A reading in free tempo: it waits for each note or chord, and follows wherever the player goes."""

import bisect
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from midifret.neck import Neck
from midifret.play.outputs import Closed, Cued, Ended, Judgement, Output, Stray, StrayReason, Withdrawn
from midifret.play.run import Phase
from midifret.play.stopwatch import Stopwatch
from midifret.play.verdicts import judge_note
from midifret.reading.alignment import Aligned, Cells, Follower, Kind, Step, aligned
from midifret.reading.events import event_at, events_of, reached
from midifret.reading.judging import Attempts
from midifret.terms import (
    Answer,
    Exercise,
    HeardEvent,
    Note,
    NoteRevised,
    NoteSettled,
    Prompt,
    Verdict,
    Voided,
)
from midifret.terms.calibration import NoteInterval

# For so many of the latest notes it is known where the score could have stood before them; what changes
# further back is worked out from the beginning.
_KNOWN_BACK = 64
# From seconds and the pitches of the two notes, which are heard at different speeds.
Intervals = Callable[[float, int, int], NoteInterval]
_Item = tuple[float, int, Note | None]  # when, its id, the note; None for an order to go on


class FreeReading:
    """One reading. It has the methods of `Run`; all it says is a function of notes, pauses and skips.

    The likeliest path of all notes so far says what each was; where another path turns out likelier, what
    was said of its notes is taken back. The cursor is the first prompt not yet played on that path: it
    waits, and goes along where the player goes on, back or ahead. A prompt is closed when the score has been
    played beyond it. Its verdict is that of the first note tried; a second time through changes nothing but
    its corrections. The reading ends when its last event has been played whole; where it is left before,
    what was not reached has no answer.
    """

    def __init__(
        self,
        exercise: Exercise,
        *,
        assume_on: Neck | None = None,
        interval: Intervals | None = None,
    ) -> None:
        """Hold the exercise; nothing is asked before start. assume_on: as in Run.

        interval: puts the time between two notes right; without it notes have none. The reader has seen the
        next note before, and its written length lies between too: so it is no recall time.
        Raises ValueError for what is no reading.
        """
        self.exercise = exercise
        self._events = events_of(exercise)
        self._follower = Follower(self._events)
        self._attempts = Attempts(exercise, self._follower, assume_on)
        self._interval = interval
        self._phase = Phase.READY
        self._items: list[_Item] = []
        self._cells: list[Cells | None] = [self._follower.start()]  # before each item, and after the last
        self._followed = 0  # how many items lie before the end of the score
        self._watch = Stopwatch()
        self._answers: list[Answer] = []
        self._cursor: int | None = None  # number of the prompt
        self._cued: dict[int, float] = {}  # when the cursor first came to a prompt
        self._ended_s = 0.0

    # What views and callers may look at.

    @property
    def phase(self) -> Phase:
        """Where the run stands."""
        return self._phase

    @property
    def prompt(self) -> Prompt | None:
        """The prompt under the cursor, or None."""
        if self._cursor is None or self._phase not in (Phase.ASKING, Phase.PAUSED):
            return None
        return self.exercise.prompts[self._cursor - 1]

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
        """When the cursor first came to where it is."""
        return self._cued.get(self._cursor or 0, 0.0)

    @property
    def limit_s(self) -> float:
        """A reading waits."""
        return math.inf

    def verdict(self, n: int) -> Verdict | None:
        """The verdict on a prompt so far; None where it was not played and not passed over."""
        if n <= len(self._answers):
            return self._answers[n - 1].verdict
        return self._attempts.verdict(n)

    def alignment(self) -> tuple[Aligned, ...]:
        """Every note beside the score, in the order of onsets."""
        path = self._attempts.path
        return aligned(path[-1]) if path else ()

    def prompt_s(self, now_s: float) -> float:
        """Seconds since the cursor first came to where it is."""
        return 0.0 if self.prompt is None else max(0.0, now_s - self.cue_s)

    def elapsed_s(self, now_s: float) -> float:
        """Seconds since the start, pauses left out."""
        return self._watch.played_s(self._ended_s if self._phase is Phase.ENDED else now_s)

    # What happens to a run.

    def start(self, time_s: float) -> list[Output]:
        """Put the cursor on the first note."""
        if self._phase is not Phase.READY:
            return []
        self._phase, self._watch.began_s = Phase.ASKING, time_s
        return self._point(time_s)

    def cue(self, n: int, time_s: float) -> list[Output]:
        """A recording says where the cursor was: that follows from the notes."""
        return []

    def shown(self, n: int, time_s: float) -> list[Output]:
        """A view has drawn the cursor. Nothing is timed from that: who reads looks ahead."""
        return []

    def hear(self, event: HeardEvent) -> list[Output]:
        """Take what the decoder told. A doubtful note counts for nothing before it is settled."""
        match event:
            case Note():
                if event.doubtful:
                    return []
                began_s = self._watch.began_s
                if began_s is None or event.onset_s < began_s:
                    return [Stray(event, StrayReason.BEFORE_CUE)]
                if self._watch.is_paused(event.onset_s):
                    return [Stray(event, StrayReason.PAUSED)]
                return self._insert((event.onset_s, event.id, event))
            case NoteSettled(note):
                return self.hear(note)
            case NoteRevised(note):
                return self._replace(note.id, note)
            case Voided(note):
                return self.withdraw(note.id)
        return []

    def withdraw(self, note_id: int) -> list[Output]:
        """Undo a note that counted and should not have."""
        return self._replace(note_id, None)

    def type_name(self, typed: str, pitch_class: int, time_s: float) -> list[Output]:
        """Names are not typed in a reading."""
        return []

    def tick(self, now_s: float) -> list[Output]:
        """Nothing happens by time alone."""
        return []

    def paused(self, from_s: float, to_s: float) -> None:
        """Leave out what was played between: a recording says that the run paused."""
        self._watch.leave_out(from_s, to_s)

    def pause(self, time_s: float) -> list[Output]:
        """Stop the clock."""
        return self.pause_since(time_s)

    def pause_since(self, time_s: float) -> list[Output]:
        """The same as of a moment that has passed: notes since then count for nothing."""
        if self._phase is not Phase.ASKING:
            return []
        self._watch.pause(time_s)
        first = next((at for at, item in enumerate(self._items) if item[0] >= time_s), None)
        outputs: list[Output] = []
        if first is not None:
            del self._items[first:]
            outputs = self._follow_from(first)
        if self._phase is Phase.ASKING:
            self._phase = Phase.PAUSED
        return outputs

    def resume(self, time_s: float) -> list[Output]:
        """Go on."""
        if self._phase is not Phase.PAUSED:
            return []
        self._watch.resume(time_s)
        self._phase = Phase.ASKING
        return []

    def void(self, time_s: float) -> list[Output]:
        """Answers of a reading have no response time that a gap could spoil."""
        return []

    def skip(self, time_s: float) -> list[Output]:
        """Leave the note or chord under the cursor."""
        if self._phase is not Phase.ASKING or self._cursor is None:
            return []
        return self._insert((time_s, _LAST, None))

    def end(self, time_s: float, *, all_asked: bool = False) -> list[Output]:
        """End here; what was answered is kept, and what lies behind it was not reached, in a take either.

        all_asked: makes no difference, for a reader may stop anywhere.
        """
        if self._phase is Phase.ENDED:
            return []
        self.resume(time_s)
        outputs: list[Output] = []
        for n in range(len(self._answers) + 1, self._reached() + 1):
            outputs += self._close(n)
        early = len(self._answers) < len(self.exercise.prompts)
        self._phase, self._ended_s, self._cursor = Phase.ENDED, time_s, None
        return [*outputs, Ended(time_s, early)]

    # Inside.

    def _insert(self, item: _Item) -> list[Output]:
        at = bisect.bisect_right(self._items, item[:2], key=_order)
        self._items.insert(at, item)
        if at > self._followed or (at == self._followed and self._phase is Phase.ENDED):
            return [] if item[2] is None else [Stray(item[2], StrayReason.AFTER_END)]
        return self._follow_from(at)

    def _replace(self, note_id: int, note: Note | None) -> list[Output]:
        at = next((i for i in range(len(self._items) - 1, -1, -1) if self._items[i][1] == note_id), None)
        if at is None:
            return []
        del self._items[at]
        if note is not None:
            to = bisect.bisect_right(self._items, (note.onset_s, note.id), key=_order)
            self._items.insert(to, (note.onset_s, note.id, note))
            at = min(at, to)
        return self._follow_from(at)

    def _follow_from(self, at: int) -> list[Output]:
        """Put the items from one on beside the score again, and say what is new."""
        if at > self._followed:
            return []
        while self._cells[at] is None:
            at -= 1
        del self._cells[at + 1 :]
        cells = self._cells[at]
        assert cells is not None
        step = self._follower.best(cells)
        while at < len(self._items) and not self._is_over(step):
            _, _, note = self._items[at]
            cells = self._follower.skip(cells) if note is None else self._follower.hear(cells, note)
            self._cells.append(cells)
            step = self._follower.best(cells)
            at += 1
        self._followed = at
        for known in range(at - _KNOWN_BACK, 0, -1):
            if self._cells[known] is None:
                break
            self._cells[known] = None
        return self._say(step)

    def _is_over(self, step: Step) -> bool:
        return step.event == self._follower.last and self._follower.is_whole(step)

    def _say(self, step: Step) -> list[Output]:
        kept, changed = self._attempts.follow(step)
        outputs: list[Output] = []
        done = self._done()
        otherwise = (
            n
            for n in sorted(self._and_after(changed))
            if n <= min(done, len(self._answers)) and self._answer(n) != self._answers[n - 1]
        )
        first = next(otherwise, done + 1)
        if first <= len(self._answers):
            del self._answers[first - 1 :]
            outputs.append(Withdrawn(first))
            self._cued = {n: cue_s for n, cue_s in self._cued.items() if n < first}
            self._cursor = None
            if first == 1:  # a take knows by the first cue when the reading began
                outputs += self._cue(1, self._watch.began_s or 0.0)
        if self._phase is Phase.ENDED and not self._is_over(step):
            self._phase = Phase.ASKING
        for each in self._attempts.path[kept:]:
            outputs += self._say_of(each)
        for n in range(len(self._answers) + 1, done + 1):
            outputs += self._close(n)
        latest_s = self._items[self._followed - 1][0] if self._followed else self._watch.began_s or 0.0
        if self._is_over(step):
            if self._phase is not Phase.ENDED:
                self._phase, self._ended_s, self._cursor = Phase.ENDED, latest_s, None
                outputs.append(Ended(latest_s, False))
            return outputs
        return outputs + self._point(latest_s)

    def _say_of(self, step: Step) -> list[Output]:
        if step.note is None:
            return []
        attempt = self._attempts.tried(step.depth)
        if attempt is None:
            return [
                Stray(step.note, StrayReason.REPEATED if step.kind is Kind.REPEATED else StrayReason.EXTRA)
            ]
        prompt = self.exercise.prompts[attempt.n - 1]
        return [Judgement(prompt, attempt.verdict, attempt.note, "", self._attempts.is_first(attempt), None)]

    def _done(self) -> int:
        """How many prompts lie before the furthest that was played."""
        event, mask = self._attempts.furthest
        if event == 0:
            return 0
        notes = self._follower.event(event).notes
        whole = mask.bit_count() == len(notes)
        return notes[-1].n if whole else notes[0].n - 1

    def _reached(self) -> int:
        """The number of the last prompt that was reached: see `reached`."""
        tried = max(self._attempts.touched, default=0)
        return reached(self._events, max(tried, len(self._answers)))

    def _answer(self, n: int) -> Answer:
        """An answer; that of the first note of an event has the interval since the event before."""
        answer = self._attempts.answer(n)
        at = event_at(self._events, n)
        if self._interval is None or answer.played is None or answer.answer_s is None or at == 0:
            return answer
        others = (self._attempts.answer(wanted.n) for wanted in self._events[at].notes)
        first_s = min((a.answer_s, a.n) for a in others if a.answer_s is not None)
        before = self._closed_by(at - 1)
        if before is None or first_s != (answer.answer_s, n) or before.onset_s >= answer.answer_s:
            return answer  # struck along with another note, or in another order
        took_s = self._watch.between_s(before.onset_s, answer.answer_s)
        return replace(answer, interval=self._interval(took_s, before.midi, answer.played.midi))

    def _closed_by(self, at: int) -> Note | None:
        """The note with which an event was right at last; None where one of its notes never was."""
        latest: Note | None = None
        for wanted in self._events[at].notes:
            answer = self._attempts.answer(wanted.n)
            note = answer.corrections[-1] if answer.corrections else answer.played
            if note is None or judge_note(answer.prompt, note) is not Verdict.RIGHT:
                return None
            latest = note if latest is None or note.onset_s > latest.onset_s else latest
        return latest

    def _and_after(self, changed: Iterable[int]) -> set[int]:
        """Prompts, and all of their events and the next ones, whose intervals hang on them."""
        if self._interval is None:
            return set(changed)
        found: set[int] = set()
        for at in {event_at(self._events, n) for n in changed}:
            found.update(wanted.n for event in self._events[at : at + 2] for wanted in event.notes)
        return found

    def _close(self, n: int) -> list[Output]:
        self._answers.append(self._answer(n))
        return [Closed(self._answers[-1])]

    def _point(self, time_s: float) -> list[Output]:
        """Move the cursor to where the path has it."""
        path: Sequence[Step] = self._attempts.path
        step = path[-1] if path else None
        n = 1
        if step is not None and step.event:
            notes = self._follower.event(step.event).notes
            left = [wanted.n for bit, wanted in enumerate(notes) if not step.mask >> bit & 1]
            n = left[0] if left else notes[-1].n + 1
        if n == self._cursor:
            return []
        self._cursor = n
        return self._cue(n, time_s)

    def _cue(self, n: int, time_s: float) -> list[Output]:
        if n in self._cued:
            return []
        self._cued[n] = time_s
        return [Cued(self.exercise.prompts[n - 1], time_s)]


_LAST = 1 << 62  # an order comes after every note of its moment


def _order(item: _Item) -> tuple[float, int]:
    return item[0], item[1]
