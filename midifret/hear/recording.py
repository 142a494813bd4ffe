"""A whole recording heard at once: notes with their durations, what was voided, what to warn of."""

from collections import Counter, deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from midifret.hear.decoder import Decoder
from midifret.terms import (
    Glitch,
    HearingWarning,
    Note,
    NoteEnded,
    NoteRevised,
    NoteSettled,
    TimedMessage,
    Voided,
)


@dataclass(frozen=True, slots=True)
class DecodedNote:
    """A note and how long it sounded, in seconds; to the end of the recording if nothing ended it."""

    note: Note
    duration_s: float


@dataclass(frozen=True, slots=True)
class Decoded:
    """What a recording holds, each list in the order of time."""

    notes: tuple[DecodedNote, ...]
    voided: tuple[Voided, ...]
    warnings: tuple[HearingWarning, ...]

    @property
    def glitches(self) -> dict[Glitch, int]:
        """How many notes were voided, by the reason, most first."""
        return dict(Counter(voided.glitch for voided in self.voided).most_common())


def decode(
    messages: Iterable[TimedMessage], decoder: Decoder, *, end_s: float = 0.0, gone_s: Sequence[float] = ()
) -> Decoded:
    """Hear all messages, times in seconds from the start and rising, with a fresh decoder.

    end_s: where the recording ends, if that is later than its last message; what still sounds ends there.
    gone_s: when the guitar went, rising; what still sounds ends there too.
    """
    notes: dict[int, Note] = {}
    ended_s: dict[int, float] = {}
    voided: list[Voided] = []
    warnings: list[HearingWarning] = []
    time_s = 0.0

    def take(event: object) -> None:
        match event:
            case Note():
                notes[event.id] = event
            case NoteRevised(note) | NoteSettled(note):
                notes[note.id] = note
            case NoteEnded(note_id, end_s):
                ended_s[note_id] = end_s
            case Voided(note):
                notes.pop(note.id, None)
                voided.append(event)
                ended_s.pop(event.continues or 0, None)
            case HearingWarning():
                warnings.append(event)

    going = deque(gone_s)
    for time_s, data in messages:
        while going and going[0] < time_s:
            for event in decoder.disconnect(going.popleft()):
                take(event)
        for event in decoder.feed(time_s, data):
            take(event)
    for went_s in going:
        for event in decoder.disconnect(went_s):
            take(event)
    time_s = max(time_s, end_s)
    for event in decoder.finish(time_s):
        take(event)
    if decoder.malformed:
        text = f"{decoder.malformed} messages were damaged and left out"
        warnings.append(HearingWarning(time_s, text))
    heard = (DecodedNote(note, ended_s.get(note.id, time_s) - note.onset_s) for note in notes.values())
    return Decoded(
        notes=tuple(sorted(heard, key=lambda item: (item.note.onset_s, item.note.id))),
        voided=tuple(sorted(voided, key=lambda item: (item.note.onset_s, item.note.id))),
        warnings=tuple(warnings),
    )
