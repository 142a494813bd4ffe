"""Answers of a reading in free tempo, kept up with a path that may still change."""

from collections.abc import Sequence, Set
from dataclasses import dataclass

from midifret.neck import Neck
from midifret.play.assuming import assume_place
from midifret.play.run import TOGETHER_S
from midifret.play.verdicts import judge_note
from midifret.reading.alignment import CHORD_S, Follower, Kind, Step
from midifret.terms import Answer, Exercise, Note, Verdict


@dataclass(frozen=True, slots=True)
class Attempt:
    """A note taken as an answer to the prompt of that number."""

    n: int
    note: Note
    verdict: Verdict


class Attempts:
    """What was tried for each prompt along the likeliest path; `follow` moves it to another path.

    A note that stands for none was an attempt at what came next, unless it repeats the note before, was
    struck together with it, or is the one just left out, come after the next: two notes that changed places.
    """

    def __init__(self, exercise: Exercise, follower: Follower, assume_on: Neck | None) -> None:
        """Begin with nothing tried. assume_on: as in Run."""
        self._exercise = exercise
        self._follower = follower
        self._assume_on = assume_on
        self._path: list[Step] = []
        self._tried: list[Attempt | None] = []  # by step
        self._furthest: list[tuple[int, int]] = []  # likewise: the furthest that the score was played
        self._by_n: dict[int, list[Attempt]] = {}
        self._skipped: dict[int, int] = {}  # by prompt: how often

    @property
    def path(self) -> Sequence[Step]:
        """The steps followed."""
        return self._path

    @property
    def furthest(self) -> tuple[int, int]:
        """The furthest that the score was played, as event and mask."""
        return self._furthest[-1] if self._furthest else (0, 0)

    @property
    def touched(self) -> Set[int]:
        """The numbers of the prompts that were tried or skipped."""
        return self._by_n.keys() | self._skipped.keys()

    def tried(self, depth: int) -> Attempt | None:
        """What the step of that depth was an attempt at; None for nothing."""
        return self._tried[depth - 1]

    def is_first(self, attempt: Attempt) -> bool:
        """Whether it was the first at its prompt."""
        return self._by_n[attempt.n][0] is attempt

    def follow(self, step: Step) -> tuple[int, frozenset[int]]:
        """Move to the path that ends in a step.

        Return how many steps of the path before are still on it, and the prompts whose answers may have
        changed.
        """
        changed: set[int] = set()
        while len(self._path) > step.depth:
            changed |= self._undo()
        new: list[Step] = []
        while step.parent is not None and (
            len(self._path) < step.depth or self._path[step.depth - 1] is not step
        ):
            if len(self._path) >= step.depth:
                changed |= self._undo()
            new.append(step)
            step = step.parent
        kept = len(self._path)
        for each in reversed(new):
            changed |= self._do(each)
        return kept, frozenset(changed)

    def answer(self, n: int) -> Answer:
        """The answer to a prompt, as the path has it. Nobody knows when it was read: it has no cue."""
        prompt = self._exercise.prompts[n - 1]
        skipped = n in self._skipped
        attempts = list(self._by_n.get(n, ()))
        right = next((i for i, each in enumerate(attempts) if each.verdict is Verdict.RIGHT), None)
        if right is not None:
            # What was struck along with the right note was no answer.
            right_s = attempts[right].note.onset_s
            attempts = [
                a
                for a in attempts[: right + 1]
                if a.verdict is Verdict.RIGHT or right_s - a.note.onset_s > TOGETHER_S
            ]
        if not attempts:
            return Answer(prompt, Verdict.MISSED, None, skipped=skipped)
        first = attempts[0]
        return Answer(
            prompt,
            first.verdict,
            None,
            first.note.onset_s,
            played=first.note,
            corrections=tuple(each.note for each in attempts[1:]),
            skipped=skipped and right is None,
        )

    def verdict(self, n: int) -> Verdict | None:
        """The verdict on a prompt so far; None where nothing was tried."""
        return self.answer(n).verdict if n in self._by_n or n in self._skipped else None

    def _do(self, step: Step) -> set[int]:
        attempt = self._attempt(step)
        self._path.append(step)
        self._tried.append(attempt)
        before = self._furthest[-1] if self._furthest else (0, 0)
        self._furthest.append(max(before, (step.event, step.mask), key=self._order))
        changed = set()
        if attempt is not None:
            self._by_n.setdefault(attempt.n, []).append(attempt)
            changed.add(attempt.n)
        for n in self._left_out(step):
            self._skipped[n] = self._skipped.get(n, 0) + 1
            changed.add(n)
        return changed

    def _undo(self) -> set[int]:
        step, attempt = self._path.pop(), self._tried.pop()
        self._furthest.pop()
        changed = set()
        if attempt is not None:
            attempts = self._by_n[attempt.n]
            attempts.pop()
            if not attempts:
                del self._by_n[attempt.n]
            changed.add(attempt.n)
        for n in self._left_out(step):
            self._skipped[n] -= 1
            if not self._skipped[n]:
                del self._skipped[n]
            changed.add(n)
        return changed

    def _order(self, place: tuple[int, int]) -> tuple[int, int]:
        return place[0], place[1].bit_count()

    def _left_out(self, step: Step) -> list[int]:
        """The prompts that a skip left."""
        if step.kind is not Kind.SKIPPED or step.parent is None or step.event == 0:
            return []
        before = step.parent.mask if step.parent.event == step.event else 0
        notes = self._follower.event(step.event).notes
        return [wanted.n for bit, wanted in enumerate(notes) if not before >> bit & 1]

    def _attempt(self, step: Step) -> Attempt | None:
        note = step.note
        if note is None or step.kind is Kind.REPEATED:
            return None
        n = step.n or self._awaited(step, note)
        if n is None:
            return None
        prompt = self._exercise.prompts[n - 1]
        if self._assume_on is not None:
            note = assume_place(note, prompt, self._assume_on, frozenset())
        return Attempt(n, note, judge_note(prompt, note))

    def _just_left_out(self, step: Step) -> set[int]:
        """The pitches between the event of a step and the one that the path came from."""
        parent = step.parent
        if parent is None or step.jumped:
            return set()
        between = range(parent.event + 1, step.event)
        return {wanted.midi for at in between for wanted in self._follower.event(at).notes}

    def _awaited(self, step: Step, note: Note) -> int | None:
        """What an extra note was an attempt at: of the notes that came next, the one nearest in pitch."""
        parent = step.parent
        assert parent is not None
        before = parent.note
        if (
            before is not None
            and parent.kind is Kind.MATCHED
            and (note.onset_s - before.onset_s <= TOGETHER_S or note.midi in self._just_left_out(parent))
        ):
            return None
        waiting = []
        if step.event and not self._follower.is_whole(step) and note.onset_s - step.began_s <= CHORD_S:
            notes = self._follower.event(step.event).notes
            waiting = [wanted for bit, wanted in enumerate(notes) if not step.mask >> bit & 1]
        elif step.event < self._follower.last:
            waiting = list(self._follower.event(step.event + 1).notes)
        nearest = min(waiting, key=lambda wanted: abs(wanted.midi - note.midi), default=None)
        return None if nearest is None else nearest.n
