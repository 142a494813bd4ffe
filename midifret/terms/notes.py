"""What hearing says: notes with string and fret, their ends, revisions, voids and warnings."""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from midifret.terms.place import Place


class Attack(StrEnum):
    """How a note began."""

    PLUCKED = "plucked"
    MOVED = "moved"  # a sounding string changed fret: hammer-on, pull-off or slide


class Note(NamedTuple):
    """A note as it was played. (A named tuple: it is made on the way that hears, four times as fast.)

    id: counts the notes of one decoder from 1; events about the same note carry the same id.
    onset_s: seconds on the clock of the source.
    string, fret: None where the pitch is off the neck or the channel has no string.
    midi: sounding pitch, rounded to the nearest semitone.
    velocity: 1 to 127. channel: 0 to 15.
    cents: how far the sounding pitch was from `midi` at the onset.
    doubtful: it may be a glitch; within 60 ms of its onset it is settled, or voided. It counts for nothing
        until then.
    place_assumed: the source tells no strings; string and fret are the likeliest place, not a heard one.
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
    doubtful: bool = False
    place_assumed: bool = False

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
class NoteSettled:
    """A doubtful note was meant: this is it, no longer doubtful."""

    note: Note


class Glitch(StrEnum):
    """Why a note that a converter sent was not meant."""

    FALSE_HARMONIC = "false harmonic"  # an octave, twelfth or two octaves above the note that followed
    LIFT_OFF = "lift-off"  # the open string, when a finger left it
    DOUBLE_TRIGGER = "double trigger"  # the same pluck told twice
    CROSSTALK = "crosstalk"  # a neighbour of the string that was struck
    TOO_SHORT = "too short"  # no pluck sounds so briefly
    PASSED = "passed on the way"  # a fret that a slide went through


@dataclass(frozen=True, slots=True)
class Voided:
    """A note that was not meant, and why; it counts for nothing.

    Its id is that of a note already told, which is then withdrawn, or of one never told.
    continues: the id of the note before it on the string, where that one sounds on in its place: it was told
    as ended, and ends later.
    """

    note: Note
    glitch: Glitch
    reason: str
    continues: int | None = None


@dataclass(frozen=True, slots=True)
class HearingWarning:
    """Something in the messages that a person should know of."""

    time_s: float
    message: str


HeardEvent = Note | NoteEnded | NoteRevised | NoteSettled | Voided | HearingWarning
