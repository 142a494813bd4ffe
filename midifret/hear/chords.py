"""A channel that tells no string: any number of notes at once, each by its pitch alone."""

import math
from collections.abc import Sequence

from midifret.hear.channel import Channel
from midifret.hear.notes import NoteMaker
from midifret.hear.rules import (
    HARMONICS_SEMITONES,
    ONE_CHANGE_S,
    PASSED_REASON,
    RETOLD_S,
    SETTLE_S,
    SLIDE_STEP_SEMITONES,
    again_reason,
)
from midifret.terms import Attack, Glitch, HeardEvent, Note, NoteEnded, NoteSettled, Thresholds, Voided

_REMEMBERED = 32  # notes back that may be the last step of a slide


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
        self._off_s: dict[int, float] = {}  # when each note number last ended
        self._ended: list[tuple[Note, float]] = []  # notes told that have just ended, and when
        self._steps: dict[
            int, tuple[int, int]
        ] = {}  # of notes that began as a step: where to, start's velocity
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
        if before is not None and before.midi == midi and self._is_again(before, key, time_s):
            self._gone.pop(before.id, None)
            self._sounding[key] = before
            return [Voided(note, Glitch.DOUBLE_TRIGGER, again_reason(before, time_s), continues=before.id)]
        events: list[HeardEvent] = list(self.release(time_s, key))
        for gone in list(self._gone.values()):
            if gone.midi - midi in HARMONICS_SEMITONES:
                self._forget(gone)
                reason = f"{gone.midi - midi} semitones above the note it led to"
                events.append(Voided(gone, Glitch.FALSE_HARMONIC, reason))
        events += self._pass_on(note)
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
        self._off_s[key] = time_s
        lasted_s = time_s - note.onset_s
        if note.doubtful and lasted_s < self._thresholds.short_s and not cut_off:
            self._gone[note.id] = note
            return []
        if note.doubtful:
            return [*self._settle(key, note), NoteEnded(note.id, time_s)]
        if lasted_s < self._thresholds.least_s and not cut_off:
            del self._last[key]
            return [Voided(note, Glitch.TOO_SHORT, f"it ended after {lasted_s * 1000:.0f} ms")]
        self._ended.append((note, time_s))
        return [NoteEnded(note.id, time_s)]

    def _is_again(self, before: Note, key: int, time_s: float) -> bool:
        """Whether a note is told again: taken back and told at once, or sent twice at one moment.

        While it still sounds another string may well play the same pitch.
        """
        if key in self._sounding:
            return time_s == before.onset_s
        ended_s = self._off_s.get(key, -math.inf)
        return time_s - before.onset_s < self._thresholds.repeat_s and time_s - ended_s <= RETOLD_S

    def _pass_on(self, note: Note) -> list[HeardEvent]:
        """Void the note that this one goes on from, if both are steps of a slide told by note-ons."""
        self._ended = [item for item in self._ended if note.onset_s - item[1] <= ONE_CHANGE_S]
        self._steps = {n: step for n, step in self._steps.items() if n > note.id - _REMEMBERED}
        for before, _ in self._ended:
            semitones = note.midi - before.midi
            if not 1 <= abs(semitones) <= SLIDE_STEP_SEMITONES:
                continue
            way = 1 if semitones > 0 else -1
            step, start_velocity = self._steps.get(before.id, (0, before.velocity))
            self._steps[note.id] = way, start_velocity
            is_step = step == way and before.velocity < start_velocity
            if is_step and note.onset_s - before.onset_s < SETTLE_S:
                return [Voided(before, Glitch.PASSED, PASSED_REASON)]
            return []
        return []

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
