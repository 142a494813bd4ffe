"""What hearing says: notes with string and fret, their ends, revisions, voids and warnings."""

from dataclasses import dataclass
from enum import StrEnum

from midifret.terms.place import Place


class Attack(StrEnum):
    """How a note began."""

    PLUCKED = "plucked"
    MOVED = "moved"  # a sounding string changed fret: hammer-on, pull-off or slide


@dataclass(frozen=True, slots=True)
class Note:
    """A note as it was played.

    id: counts the notes of one decoder from 1; events about the same note carry the same id.
    onset_s: seconds on the clock of the source.
    string, fret: None where the pitch is off the neck or the channel has no string.
    midi: sounding pitch, rounded to the nearest semitone.
    velocity: 1 to 127. channel: 0 to 15.
    cents: how far the sounding pitch was from `midi` at the onset.
    """

    id: int
    onset_s: float
    string: int | None
    fret: int | None
    midi: int
    velocity: int
    channel: int
    attack: Attack = Attack.PLUCKED
    cents: float = 0.0

    @property
    def place(self) -> Place | None:
        """Where the note was played, or None where that is not known."""
        if self.string is None or self.fret is None:
            return None
        return Place(self.string, self.fret)


@dataclass(frozen=True, slots=True)
class NoteEnded:
    """A note stopped sounding."""

    id: int
    time_s: float


@dataclass(frozen=True, slots=True)
class NoteRevised:
    """A note already told turned out to be another one: bent at once, it has the fret it reached."""

    note: Note


@dataclass(frozen=True, slots=True)
class Voided:
    """A note that was not meant, and why; it counts for nothing.

    Its id is that of a note already told, which is then withdrawn, or of one never told.
    """

    note: Note
    reason: str


@dataclass(frozen=True, slots=True)
class HearingWarning:
    """Something in the messages that a person should know of."""

    time_s: float
    message: str


HeardEvent = Note | NoteEnded | NoteRevised | Voided | HearingWarning
