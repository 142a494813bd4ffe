"""What the practice book keeps for planning: answers as memory takes them, memories, stages, sessions."""

import datetime as dt
from dataclasses import dataclass
from typing import NamedTuple

from midifret.terms.exercise import CueKind, Judged
from midifret.terms.place import Place


@dataclass(frozen=True, slots=True)
class AskedAnswer:
    """An answer with no more than memory needs of it.

    place: the one that counts, or that was shown to be named; None where nobody can say which.
    at_s: when it was given, seconds since 1970, as the wall clock stood at the run's begin and the run's own
    clock went on from there. recall_s: as in Answer. found: the right place was played in the end.
    """

    place: Place | None
    cue: tuple[CueKind, ...]
    judged: Judged
    at_s: float
    right: bool
    recall_s: float | None
    found: bool


@dataclass(frozen=True, slots=True)
class AskedRun:
    """A run with its answers, by number. started_s: seconds since 1970. No answer is dated before it."""

    run_id: int
    day: dt.date
    started_s: float
    answers: tuple[AskedAnswer, ...]


@dataclass(frozen=True, slots=True)
class WaitingRun:
    """A run that ended and is not in the kept memory. answers: how many it has, of all kinds."""

    run_id: int
    answers: int


@dataclass(frozen=True, slots=True)
class MemoryState:
    """How far a player's kept memory goes.

    document: JSON; empty where none is kept, with rules_number and newest_s None. newest_s: its newest
    answer, seconds since 1970. change: 0 where none is kept; another each time. waiting: by their begin.
    """

    document: str
    rules_number: int | None
    newest_s: float | None
    change: int
    waiting: tuple[WaitingRun, ...]


class FirstAnswer(NamedTuple):
    """The first answer of a place and kind of cue on a practice day. kind: by its value. at_s: since 1970.

    A plain tuple, as there are tens of thousands of a year's practice.
    """

    day: dt.date
    kind: str
    string: int
    fret: int
    at_s: float
    right: bool
    recall_s: float | None


@dataclass(frozen=True, slots=True)
class StageSet:
    """Where somebody set a player on the path.

    strand: by its value. stage: by its name; empty where the gates decide again. by: `placement` after a
    placement run, or `player`. day: the practice day from which it holds.
    """

    strand: str
    stage: str
    by: str
    set_utc: dt.datetime
    day: dt.date


@dataclass(frozen=True, slots=True)
class SessionKept:
    """A practice session as the book keeps it.

    plan: JSON. done: minutes played of each block so far, in the order of the plan; shorter than the plan
    while blocks have not begun. block: index of the block at hand. ended_utc: None while it can be taken up.
    """

    session_id: int
    day: dt.date
    started_utc: dt.datetime
    plan: str
    done: tuple[float, ...]
    block: int
    ended_utc: dt.datetime | None

    @property
    def minutes(self) -> float:
        """Minutes played in it."""
        return sum(self.done)


@dataclass(frozen=True, slots=True)
class ReadingDone:
    """A reading that was played to its end. right: how many answers were. tempo_bpm: None in free tempo."""

    day: dt.date
    drill: str
    answers: int
    right: int
    tempo_bpm: float | None
