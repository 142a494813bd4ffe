"""What kind of recall an answer shows, and answers as memory takes them."""

import math
from dataclasses import dataclass
from enum import StrEnum

from midifret.terms.answers import Answer
from midifret.terms.exercise import CueKind, Judged
from midifret.terms.place import Place


class RecallKind(StrEnum):
    """From what to what somebody has to find: memory is kept apart for each."""

    NAME = "name"  # a name is shown, its place is played
    STAFF = "staff"  # a note on the staff is shown, its place is played
    NAMING = "naming"  # a place is shown, its name is given
    INTERVAL = "interval"  # an interval is shown, from the note before


@dataclass(frozen=True, slots=True)
class Asked:
    """A place and the kind of cue for which it is kept in mind."""

    place: Place
    kind: RecallKind


@dataclass(frozen=True, slots=True)
class Remembered:
    """One answer as memory takes it.

    at_s: when it was given, seconds since 1970 in UTC: the time zone plays no part.
    recall_s: None where nothing was played or the time says nothing about recall (readings, beats).
    found: the right place was played in the end, at once or as a correction.
    """

    asked: Asked
    at_s: float
    right: bool
    recall_s: float | None = None
    found: bool = True

    def __post_init__(self) -> None:
        """Check the numbers. Raises ValueError."""
        if not math.isfinite(self.at_s):
            raise ValueError(f"{self.at_s} is no time of an answer")
        if self.recall_s is not None and not math.isfinite(self.recall_s):
            raise ValueError(f"{self.recall_s} is no recall time")


def kind_of(cue: tuple[CueKind, ...], judged: Judged = Judged.PLACE) -> RecallKind | None:
    """Return what has to be recalled; None where nothing has.

    A walk in fixed order shows no cue: where it goes next is known from where it came, so it never raises
    what is known of a place. Where the cue shows the very place, nothing is recalled but its name.
    """
    if judged is Judged.NAME:
        return RecallKind.NAMING
    if CueKind.PLACE in cue:
        return None
    if CueKind.STAFF in cue:
        return RecallKind.STAFF
    if CueKind.NAME in cue:
        return RecallKind.NAME
    return RecallKind.INTERVAL if CueKind.INTERVAL in cue else None


def remembered(answer: Answer, at_s: float) -> Remembered | None:
    """Return an answer as memory takes it; None where it shows no recall or nobody can say of which place.

    at_s: when it was given, seconds since 1970 in UTC.
    """
    prompt = answer.prompt
    kind = kind_of(prompt.cue, prompt.judged)
    place = prompt.given if prompt.judged is Judged.NAME else answer.counted_place
    if kind is None or place is None:
        return None
    found = answer.right or answer.closing_s is not None
    return Remembered(Asked(place, kind), at_s, answer.right, answer.recall_s, found)


def row_name(fret: int) -> str:
    """A row as people say it, in the middle of a sentence."""
    return f"row {fret}" if fret else "the row of open strings"
