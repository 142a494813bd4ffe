"""A channel that tells no string: any number of notes at once, each by its pitch alone."""

import math
from collections.abc import Sequence

from midifret.hear.channel import Channel
from midifret.hear.line import HARMONICS_SEMITONES
from midifret.hear.notes import NoteMaker
from midifret.terms import Attack, Glitch, HeardEvent, Note, NoteEnded, NoteSettled, Thresholds, Voided


class Chords:
    """The notes of one channel without a string.

    Bends count where a note begins; nobody can say which of several notes a later bend would move.
    due_s: when `advance` has something to say; infinite if no note is doubtful.
    """

    def __init__(self, channel: Channel, maker: NoteMaker, thresholds: Thresholds) -> None:
        """Start silent."""
        self.channel = channel
        self.due_s = math.inf
        self._maker = maker
        self._thresholds = thresholds
        self._sounding: dict[int, Note] = {}  # by note number
        self._last: dict[int, Note] = {}  # what was last told of each note number
        self._gone: dict[int, Note] = {}  # doubtful notes that have ended, by id

    def strike(self, time_s: float, key: int, velocity: int) -> Sequence[HeardEvent]:
        """Take a note-on."""
        limits = self._thresholds
        before = self._sounding.get(key) or self._last.get(key)
        midi = math.floor(key + self.channel.offset + 0.5)
        soft = velocity <= limits.soft_velocity
        cents = (key + self.channel.offset - midi) * 100
        index, note_id = self.channel.index, self._maker.next_id()
        note = Note(note_id, time_s, None, None, midi, velocity, index, Attack.PLUCKED, cents, soft)
        if before is not None and before.midi == midi and time_s - before.onset_s < limits.repeat_s:
            self._gone.pop(before.id, None)
            self._sounding[key] = before
            reason = f"{(time_s - before.onset_s) * 1000:.0f} ms after the same pitch"
            return [Voided(note, Glitch.DOUBLE_TRIGGER, reason, continues=before.id)]
        events: list[HeardEvent] = list(self.release(time_s, key))
        for gone in list(self._gone.values()):
            if gone.midi - midi in HARMONICS_SEMITONES:
                self._forget(gone)
                reason = f"{gone.midi - midi} semitones above the note it led to"
                events.append(Voided(gone, Glitch.FALSE_HARMONIC, reason))
        self._sounding[key] = self._last[key] = note
        if not soft:
            events += self._maker.warnings_of(note)
        self._set_due()
        return [*events, note]

    def release(self, time_s: float, key: int, *, cut_off: bool = False) -> Sequence[HeardEvent]:
        """Take a note-off. cut_off: there was none; nobody knows how long the note would have lasted."""
        note = self._sounding.pop(key, None)
        if note is None:
            return []
        lasted_s = time_s - note.onset_s
        if note.doubtful and lasted_s < self._thresholds.short_s and not cut_off:
            self._gone[note.id] = note
            return []
        if note.doubtful:
            return [*self._settle(key, note), NoteEnded(note.id, time_s)]
        if lasted_s < self._thresholds.least_s and not cut_off:
            del self._last[key]
            return [Voided(note, Glitch.TOO_SHORT, f"it ended after {lasted_s * 1000:.0f} ms")]
        return [NoteEnded(note.id, time_s)]

    def silence(self, time_s: float) -> Sequence[HeardEvent]:
        """End whatever sounds."""
        return [event for key in list(self._sounding) for event in self.release(time_s, key, cut_off=True)]

    def advance(self, time_s: float) -> list[HeardEvent]:
        """Say what has become certain by now."""
        events: list[HeardEvent] = []
        doubt_s = self._thresholds.doubt_s
        for note in list(self._gone.values()):
            if note.onset_s + doubt_s <= time_s:
                self._forget(note)
                events.append(Voided(note, Glitch.TOO_SHORT, "soft and short"))
        for key, note in list(self._sounding.items()):
            if note.doubtful and note.onset_s + doubt_s <= time_s:
                events += self._settle(key, note)
                self._sounding[key] = self._last[key]
        self._set_due()
        return events

    def _forget(self, gone: Note) -> None:
        del self._gone[gone.id]
        self._last = {key: note for key, note in self._last.items() if note.id != gone.id}

    def _settle(self, key: int, note: Note) -> list[HeardEvent]:
        settled = note._replace(doubtful=False)
        self._last[key] = settled
        return [*self._maker.warnings_of(settled), NoteSettled(settled)]

    def _set_due(self) -> None:
        doubtful = [*self._gone.values(), *(note for note in self._sounding.values() if note.doubtful)]
        onset_s = min((note.onset_s for note in doubtful), default=math.inf)
        self.due_s = onset_s + self._thresholds.doubt_s
