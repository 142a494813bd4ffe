"""From MIDI messages to notes on the neck: which string, which fret, plucked or moved."""

import math
from collections.abc import Sequence

from midifret.neck import Neck
from midifret.terms import (
    Attack,
    Glitch,
    HeardEvent,
    HearingWarning,
    Note,
    NoteEnded,
    NoteRevised,
    Voided,
    Wiring,
)

# Vibrato and bad tuning within +-40 cents never change a fret: a sounding note keeps its fret until its pitch
# lies within 40 cents of another one, so more than 60 cents from its own. [design rule]
TOLERANCE_SEMITONES = 0.40
_LEAVES = 1 - TOLERANCE_SEMITONES
# A string that changes fret has arrived when it stays this long. A quick slide over seven frets takes about
# 0.3 s, so 43 ms a fret; the fastest trill by hammer-on has about 12 notes a second, so 80 ms a note [common
# practice, no source]. Between the two, slides give one note and trills give them all.
SETTLE_S = 0.06
# A note whose pitch leaves within this time of its onset had not been plucked where it began: the converter
# told the pitch before it knew it. Two periods of E2, the usual time to hear the lowest string: 24.3 ms.
AT_ONCE_S = 0.025

_BEND_CENTRE = 8192
_CENTS = 100.0
# Controllers (MIDI 1.0, table of controller numbers; RP-015; RP-018).
_DATA_MSB, _DATA_LSB = 6, 38
_NRPN_LSB, _NRPN_MSB, _RPN_LSB, _RPN_MSB = 98, 99, 100, 101
_ALL_SOUND_OFF, _RESET = 120, 121
_ENDING_NOTES = frozenset({_ALL_SOUND_OFF, 123, 124, 125, 126, 127})
_RPN_NULL = 0x7F
_RPN_BEND_RANGE = (0, 0)

_NOTHING: tuple[HeardEvent, ...] = ()


class _Channel:
    """State of one MIDI channel; where it has a string, of that string."""

    __slots__ = (
        "arrived_s",
        "bend",
        "bend_range",
        "candidate",
        "data_selected",
        "index",
        "key",
        "left_s",
        "midi",
        "move_velocity",
        "note",
        "open_midi",
        "others",
        "raw_bend",
        "retriggered_s",
        "rpn",
        "string",
        "unit",
    )

    def __init__(self, index: int, string: int | None, open_midi: int, bend_range: float) -> None:
        self.index = index
        self.string = string
        self.open_midi = open_midi
        self.raw_bend = 0
        self.bend = 0.0  # semitones
        self.unit = bend_range / _BEND_CENTRE  # semitones for each step of the bend
        self.bend_range = bend_range
        self.rpn = (_RPN_NULL, _RPN_NULL)
        self.data_selected = False  # data entry goes to the registered parameter in `rpn`
        self.note: Note | None = None  # what sounds on the string
        self.key = 0  # the note number that the converter last gave for it
        self.midi = 0  # the pitch of `note`, rounded
        self.left_s = -1.0  # since when its pitch has been away from `midi`; negative while it is not
        self.candidate: int | None = None  # the pitch that it may be moving to
        self.arrived_s = 0.0  # since when it has been there
        self.move_velocity = 0  # of the note-on that told the move; 0 where it was told by bending
        self.retriggered_s = -1.0
        self.others: dict[int, Note] = {}  # sounding notes of a channel without a string, by note number


class Decoder:
    """Hears one guitar. Feed it every message in order; it gives back what was played.

    neck: the guitar's neck. wiring: what its messages mean.
    Any bytes can be fed: what is no message is counted in `malformed` and changes nothing.
    """

    def __init__(self, neck: Neck, wiring: Wiring) -> None:
        """Start with silent strings, centred bends and no registered parameter selected."""
        self._last_fret = neck.last_fret
        self._channels = tuple(
            _Channel(i, string, neck.open_midi(string) if string else 0, wiring.bend_range_semitones)
            for i, string in enumerate(wiring.channels)
        )
        self._moving: set[_Channel] = set()
        self._last_id = 0
        self.malformed = 0

    def feed(self, time_s: float, data: bytes) -> Sequence[HeardEvent]:
        """Take one message (status byte first) and return what it told, in order, most often nothing."""
        events = self.advance(time_s) if self._moving else _NOTHING
        if len(data) != 3:
            return events  # program change, pressure, realtime: nothing that is played
        status, first, second = data
        kind = status & 0xF0
        if first | second > 0x7F or kind < 0x80:
            self.malformed += 1
            return events
        if kind == 0xE0:
            channel = self._channels[status & 0x0F]
            channel.raw_bend = raw_bend = (second << 7 | first) - _BEND_CENTRE
            channel.bend = bend = raw_bend * channel.unit
            if channel.note is None:
                return events
            if channel.left_s < 0 and -_LEAVES < channel.key + bend - channel.midi < _LEAVES:
                return events  # most bends by far: vibrato and slow drift, the string stays where it was
            return self._pitch_changed(channel, time_s, events)
        if kind == 0xF0:
            return events  # song position: nothing that is played
        channel = self._channels[status & 0x0F]
        told: Sequence[HeardEvent]
        if kind == 0x90 and second:
            told = self._note_on(channel, time_s, first, second)
        elif kind in (0x80, 0x90):
            told = self._note_off(channel, time_s, first)
        elif kind == 0xB0:
            told = self._controller(channel, time_s, first, second)
        else:
            return events
        return [*events, *told] if events else told

    def advance(self, time_s: float) -> Sequence[HeardEvent]:
        """Let time pass without a message: strings that have stayed on a new fret are told."""
        if not self._moving:
            return _NOTHING
        events: list[HeardEvent] = []
        for channel in sorted(self._moving, key=lambda moving: moving.arrived_s):
            if channel.candidate is not None and time_s - channel.arrived_s >= SETTLE_S:
                events += self._arrive(channel)
        return events

    def cents_of(self, string: int) -> float | None:
        """How far the note that sounds on a string is from its fret just now; None if none sounds."""
        for channel in self._channels:
            if channel.string == string and channel.note is not None:
                return (channel.key + channel.bend - channel.midi) * _CENTS
        return None

    def finish(self, time_s: float) -> Sequence[HeardEvent]:
        """End the recording: moves that nothing contradicted are told, sounding notes end."""
        events = list(self.advance(math.inf))
        for channel in self._channels:
            events += self._silence(channel, time_s)
        return events

    def _note_on(self, channel: _Channel, time_s: float, key: int, velocity: int) -> list[HeardEvent]:
        if channel.string is None:
            return self._note_without_string(channel, time_s, key, velocity)
        if channel.note is not None and key != channel.key:
            return self._move_by_note(channel, time_s, key, velocity)
        before: list[HeardEvent] = []
        if channel.note is not None:
            before += self._end(channel, time_s)
            channel.retriggered_s = time_s
        note = self._new_note(channel, time_s, key, velocity)
        channel.note, channel.midi = note, note.midi
        if note.fret is None:
            before += self._warn_of_place(note)
        before.append(note)
        return before

    def _move_by_note(self, channel: _Channel, time_s: float, key: int, velocity: int) -> list[HeardEvent]:
        """A note-on before the note-off of another pitch: legato on one string (MIDI 1.0, mono mode)."""
        events = self._void_passing(channel)
        channel.key = key
        moved = list(self._pitch_changed(channel, time_s, _NOTHING))
        if channel.left_s >= 0:  # otherwise it is back where it came from
            channel.move_velocity = velocity
        return [*events, *moved]

    def _note_off(self, channel: _Channel, time_s: float, key: int) -> list[HeardEvent]:
        if channel.string is None:
            note = channel.others.pop(key, None)
            return [NoteEnded(note.id, time_s)] if note else []
        if channel.note is None or key != channel.key:
            return []  # of a note that another one has replaced already
        if time_s == channel.retriggered_s:
            channel.retriggered_s = -1.0  # of the note before, written after the note-on of the same moment
            return []
        if channel.move_velocity:
            return [*self._void_passing(channel), *self._end(channel, time_s)]
        return self._end(channel, time_s)

    def _pitch_changed(
        self, channel: _Channel, time_s: float, events: Sequence[HeardEvent]
    ) -> Sequence[HeardEvent]:
        target = channel.key + channel.bend
        if -_LEAVES <= target - channel.midi <= _LEAVES:
            if channel.left_s >= 0:
                events = [*events, *self._void_passing(channel)]
                self._stay(channel)
            return events
        if channel.left_s < 0:
            channel.left_s = time_s
            self._moving.add(channel)
        nearest = math.floor(target + 0.5)
        if abs(target - nearest) <= TOLERANCE_SEMITONES:
            if channel.candidate != nearest:
                channel.candidate, channel.arrived_s = nearest, time_s
        elif channel.candidate is not None and abs(target - channel.candidate) > _LEAVES:
            channel.candidate = None
        return events

    def _arrive(self, channel: _Channel) -> list[HeardEvent]:
        """The string has stayed on its new fret: a note of its own, or the same note set right."""
        before, candidate = channel.note, channel.candidate
        assert before is not None
        assert candidate is not None
        at_once = channel.left_s - before.onset_s <= AT_ONCE_S and before.attack is Attack.PLUCKED
        note = self._make_note(
            channel,
            before.id if at_once else self._next_id(),
            before.onset_s if at_once else channel.arrived_s,
            channel.move_velocity or before.velocity,
            candidate,
            before.attack if at_once else Attack.MOVED,
        )
        channel.note, channel.midi = note, candidate
        self._stay(channel)
        warnings = self._warn_of_place(note)
        if at_once:
            return [*warnings, NoteRevised(note)]
        return [NoteEnded(before.id, note.onset_s), *warnings, note]

    def _void_passing(self, channel: _Channel) -> list[HeardEvent]:
        """A note-on that was only passed on the way to another fret is named, not told as a note."""
        if not channel.move_velocity or channel.candidate is None:
            return []
        velocity, channel.move_velocity = channel.move_velocity, 0
        passing = self._make_note(
            channel,
            self._next_id(),
            channel.arrived_s,
            velocity,
            channel.candidate,
            Attack.MOVED,
        )
        return [Voided(passing, Glitch.PASSED, f"it did not stay {SETTLE_S * 1000:.0f} ms")]

    def _controller(self, channel: _Channel, time_s: float, number: int, value: int) -> Sequence[HeardEvent]:
        if number == _RPN_MSB:
            channel.rpn, channel.data_selected = (value, channel.rpn[1]), True
        elif number == _RPN_LSB:
            channel.rpn, channel.data_selected = (channel.rpn[0], value), True
        elif number in (_NRPN_LSB, _NRPN_MSB):
            channel.data_selected = False
        elif number == _DATA_MSB and channel.data_selected and channel.rpn == _RPN_BEND_RANGE:
            return self._set_bend_range(channel, time_s, float(value))  # the MSB resets the LSB (RP-018)
        elif number == _DATA_LSB and channel.data_selected and channel.rpn == _RPN_BEND_RANGE:
            return self._set_bend_range(channel, time_s, int(channel.bend_range) + value / _CENTS)
        elif number in _ENDING_NOTES:
            return self._silence(channel, time_s)
        elif number == _RESET:  # bend to centre, no parameter selected; the bend range stays (RP-015)
            channel.rpn, channel.data_selected = (_RPN_NULL, _RPN_NULL), False
            channel.raw_bend, channel.bend = 0, 0.0
            return self._pitch_changed(channel, time_s, _NOTHING) if channel.note else _NOTHING
        return _NOTHING

    def _set_bend_range(self, channel: _Channel, time_s: float, semitones: float) -> Sequence[HeardEvent]:
        channel.bend_range = semitones
        channel.unit = semitones / _BEND_CENTRE
        channel.bend = channel.raw_bend * channel.unit
        return self._pitch_changed(channel, time_s, _NOTHING) if channel.note else _NOTHING

    def _silence(self, channel: _Channel, time_s: float) -> list[HeardEvent]:
        events: list[HeardEvent] = [NoteEnded(note.id, time_s) for note in channel.others.values()]
        channel.others.clear()
        if channel.note is not None:
            events += [*self._void_passing(channel), *self._end(channel, time_s)]
        return events

    def _end(self, channel: _Channel, time_s: float) -> list[HeardEvent]:
        assert channel.note is not None
        ended = NoteEnded(channel.note.id, time_s)
        channel.note = None
        channel.retriggered_s = -1.0
        self._stay(channel)
        return [ended]

    def _stay(self, channel: _Channel) -> None:
        channel.left_s = -1.0
        channel.candidate = None
        channel.move_velocity = 0
        self._moving.discard(channel)

    def _note_without_string(
        self, channel: _Channel, time_s: float, key: int, velocity: int
    ) -> list[HeardEvent]:
        """A channel that no string sends on may carry chords; each note stands alone, its place unknown."""
        before = channel.others.pop(key, None)
        ended = [NoteEnded(before.id, time_s)] if before else []
        note = self._new_note(channel, time_s, key, velocity)
        channel.others[key] = note
        return [*ended, *self._warn_of_place(note), note]

    def _new_note(self, channel: _Channel, time_s: float, key: int, velocity: int) -> Note:
        channel.key = key
        midi = math.floor(key + channel.bend + 0.5)
        return self._make_note(channel, self._next_id(), time_s, velocity, midi, Attack.PLUCKED)

    def _make_note(
        self, channel: _Channel, note_id: int, onset_s: float, velocity: int, midi: int, attack: Attack
    ) -> Note:
        string: int | None = channel.string
        fret: int | None = midi - channel.open_midi
        if string is None or fret is None or not 0 <= fret <= self._last_fret:
            string = fret = None
        cents = (channel.key + channel.bend - midi) * _CENTS
        return Note(note_id, onset_s, string, fret, midi, velocity, channel.index, attack, cents)

    def _warn_of_place(self, note: Note) -> list[HearingWarning]:
        if note.fret is not None:
            return []
        string = self._channels[note.channel].string
        if string is None:
            text = f"channel {note.channel + 1} has no string; MIDI note {note.midi} has no place"
        else:
            fret = note.midi - self._channels[note.channel].open_midi
            text = (
                f"MIDI note {note.midi} on channel {note.channel + 1} would be fret {fret} of string "
                f"{string}; the neck has 0 to {self._last_fret}"
            )
        return [HearingWarning(note.onset_s, text)]

    def _next_id(self) -> int:
        self._last_id += 1
        return self._last_id
