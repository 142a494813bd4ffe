"""From MIDI messages to notes on the neck: which string, which fret, plucked or moved, meant or not."""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

from midifret.hear.channel import PARAMETER_CONTROLLERS, Channel
from midifret.hear.chords import Chords
from midifret.hear.line import Line
from midifret.hear.notes import NoteMaker
from midifret.neck import Neck
from midifret.terms import Encoding, HeardEvent, HearingWarning, Wiring

_BEND_CENTRE = 8192
# Controllers that end notes: all sound off, all notes off, and the mode messages, which end notes as well
# (MIDI 1.0, channel mode messages; local control, 122, does not).
_ENDING_NOTES = frozenset({120, 123, 124, 125, 126, 127})
_RESET = 121
# MPE 1.1: until told otherwise members bend by 48 semitones and the manager by 2; the manager of the lower
# zone is channel 1, of the upper zone channel 16.
_MPE_MEMBER_RANGE, _MPE_MANAGER_RANGE, _GENERAL_MIDI_RANGE = 48.0, 2.0, 2.0
_LOWER, _UPPER = 0, 15

_NOTHING: tuple[HeardEvent, ...] = ()


class Decoder:
    """Hears one guitar. Feed it every message in order; it gives back what was played.

    neck: the guitar's neck. wiring: what its messages mean.
    A note is told at once. A doubtful one says so, and is settled or voided within 60 ms of its onset; a
    clear one may still be revised, where it is bent at once, or voided, where it was too short to be meant.
    Any bytes can be fed: what is no message is counted in `malformed` and changes nothing.
    """

    def __init__(self, neck: Neck, wiring: Wiring) -> None:
        """Start with silent strings, centred bends and no registered parameter selected."""
        self.malformed = 0
        self._neck = neck
        self._wiring = wiring
        self._maker = NoteMaker(neck.last_fret, no_place_is_usual=not wiring.knows_strings)
        self._due_s = math.inf
        self._is_mpe = wiring.encoding is Encoding.MPE
        self._told_of_mpe = False
        self._set_up()

    def _set_up(self) -> None:
        wiring, neck = self._wiring, self._neck
        home = float(wiring.transpose_semitones)
        self._managers: dict[int, tuple[int, ...]] = {}  # a channel that speaks for others, and these
        lines: dict[int, Line] = {}
        if wiring.encoding is Encoding.MPE:
            # A file that says nothing says 2, as General MIDI has it; MPE has another usual range.
            told = wiring.bend_range_semitones
            self._member_range = told if told != _GENERAL_MIDI_RANGE else _MPE_MEMBER_RANGE
            self._channels = tuple(Channel(i, self._member_range, home) for i in range(16))
            for channel in self._channels:
                lines[channel.index] = Line(channel, None, 0, self._maker, wiring.thresholds)
            self._voices: tuple[Line | Chords, ...] = tuple(lines[i] for i in range(16))
            self._set_zone(_LOWER, 15)
            return
        off = dict(enumerate(wiring.cents, start=1))
        self._channels = tuple(
            Channel(i, wiring.bend_range_semitones, home - off.get(string or 0, 0.0) / 100)
            for i, string in enumerate(wiring.channels)
        )
        for channel, string in zip(self._channels, wiring.channels, strict=True):
            if string is not None:
                midi = neck.open_midi(string)
                lines[channel.index] = Line(channel, string, midi, self._maker, wiring.thresholds)
        by_string = sorted(lines.values(), key=lambda line: line.string or 0)
        for line, next_line in pairwise(by_string):
            line.neighbours = (*line.neighbours, next_line)
            next_line.neighbours = (*next_line.neighbours, line)
        self._voices = tuple(
            lines.get(channel.index) or Chords(channel, self._maker, wiring.thresholds)
            for channel in self._channels
        )
        if wiring.controller_channel is not None:
            self._set_manager(wiring.controller_channel, tuple(lines))

    def feed(self, time_s: float, data: bytes) -> Sequence[HeardEvent]:
        """Take one message (status byte first) and return what it told, in order, most often nothing."""
        events = self.advance(time_s) if self._due_s <= time_s else _NOTHING
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
            channel.offset = offset = raw_bend * channel.unit + channel.base
            if channel.least < offset < channel.most:
                return events  # most bends by far: vibrato and slow drift, the string stays where it was
            return self._add(events, self._pitch_changed(channel, time_s))
        if kind == 0x90 and second:
            voice = self._voices[status & 0x0F]
            again = self._told_again(voice, time_s, first, second) if self._is_mpe else None
            told = voice.strike(time_s, first, second) if again is None else again
        elif kind == 0x80 or kind == 0x90:
            voice = self._voices[status & 0x0F]
            told = voice.release(time_s, first)
        elif kind == 0xB0:
            return self._add(events, self._controller(self._channels[status & 0x0F], time_s, first, second))
        else:
            return events  # pressure of a key, song position: nothing that is played
        if voice.due_s < self._due_s:
            self._due_s = voice.due_s
        return [*events, *told] if events else told

    def _told_again(
        self, voice: Line | Chords, time_s: float, key: int, velocity: int
    ) -> list[HeardEvent] | None:
        """In MPE a pluck told twice is told on two channels."""
        if not isinstance(voice, Line):
            return None
        others = (other for other in self._voices if isinstance(other, Line) and other is not voice)
        return voice.take_over(time_s, key, velocity, others)

    def advance(self, time_s: float) -> Sequence[HeardEvent]:
        """Let time pass without a message: what has become certain by now is told."""
        if time_s < self._due_s or self._due_s == math.inf:
            return _NOTHING
        events: list[HeardEvent] = []
        while True:
            voice = min(self._voices, key=_due)
            self._due_s = voice.due_s
            if voice.due_s > time_s or voice.due_s == math.inf:
                return events
            events += voice.advance(voice.due_s)

    def cents_of(self, string: int) -> float | None:
        """How far the note that sounds on a string is from its fret just now; None if none sounds."""
        for voice in self._voices:
            if isinstance(voice, Line) and voice.string == string:
                return voice.cents
        return None

    def finish(self, time_s: float) -> Sequence[HeardEvent]:
        """End the recording: what nothing contradicted is told, sounding notes end."""
        events = [*self.advance(math.inf), *self._silence(self._voices, time_s)]
        return [*events, *self.advance(math.inf)]

    def disconnect(self, time_s: float) -> Sequence[HeardEvent]:
        """End what sounds because the guitar has gone; it comes back as after switching on."""
        events = self.finish(time_s)
        self._set_up()
        self._due_s = math.inf
        return events

    def _pitch_changed(self, channel: Channel, time_s: float) -> list[HeardEvent]:
        """A channel's offset is another one: its own voice follows, and those that it speaks for."""
        events: list[HeardEvent] = []
        voice = self._voices[channel.index]
        if isinstance(voice, Line):
            events += voice.pitch_changed(time_s)
            self._due_s = min(self._due_s, voice.due_s)
        members = self._managers.get(channel.index)
        if members is not None:
            added = channel.offset - self._wiring.transpose_semitones
            for index in members:
                self._channels[index].share(added)
                events += self._pitch_changed(self._channels[index], time_s)
        return events

    def _controller(self, channel: Channel, time_s: float, number: int, value: int) -> list[HeardEvent]:
        members = self._managers.get(channel.index, ())
        if number in _ENDING_NOTES:
            return self._silence([self._voices[index] for index in (channel.index, *members)], time_s)
        if number == _RESET:
            events: list[HeardEvent] = []
            for index in (*members, channel.index):  # who speaks for others resets them as well
                self._channels[index].reset()
                events += self._pitch_changed(self._channels[index], time_s)
            return events
        if number not in PARAMETER_CONTROLLERS or not channel.control(number, value):
            return []
        events = []
        if channel.mpe_members is not None:
            count, channel.mpe_members = channel.mpe_members, None
            events += self._zone_asked(channel.index, count, time_s)
        self._spread_range(channel, time_s, events)
        return [*events, *self._pitch_changed(channel, time_s)]

    def _spread_range(self, channel: Channel, time_s: float, events: list[HeardEvent]) -> None:
        """A bend range holds for all strings where the controller channel told it, for all members in MPE."""
        if self._wiring.encoding is Encoding.MPE:
            zone = next((m for m in self._managers.values() if channel.index in m), ())
        else:
            zone = self._managers.get(channel.index, ())
        for index in zone:
            other = self._channels[index]
            if other is not channel and other.unit != channel.unit:
                other.set_range(channel.unit * _BEND_CENTRE)
                events += self._pitch_changed(other, time_s)

    def _zone_asked(self, index: int, members: int, time_s: float) -> list[HeardEvent]:
        """RPN 6 on a manager channel lays out a zone of MPE."""
        if index not in (_LOWER, _UPPER):
            return []
        if self._wiring.encoding is not Encoding.MPE:
            if self._told_of_mpe or not members:
                return []
            self._told_of_mpe = True
            text = "the guitar says that it sends MPE, where channels are not strings; set encoding: mpe"
            return [HearingWarning(time_s, text)]
        events = self._silence(self._voices, time_s)
        self._set_zone(index, members)
        return events

    def _set_zone(self, manager: int, members: int) -> None:
        other = _UPPER if manager == _LOWER else _LOWER
        most = 14 if self._managers.get(other) else 15
        members = min(members, most)
        zone = range(1, members + 1) if manager == _LOWER else range(15 - members, 15)
        kept = tuple(i for i in self._managers.get(other, ()) if i not in zone and i != manager)
        for index in self._managers:
            self._channels[index].speaks_for_others = False
        self._managers = {}
        if members:
            self._set_manager(manager, tuple(i for i in zone if i != other or not kept))
        if kept:
            self._set_manager(other, kept)
        for channel in self._channels:
            is_others = channel.index in kept or (kept and channel.index == other)
            if not is_others:  # the other zone stays as it was; what is in no zone bends by 2
                in_zone = channel.index in self._managers.get(manager, ())
                channel.set_range(self._member_range if in_zone else _MPE_MANAGER_RANGE)

    def _set_manager(self, manager: int, members: Iterable[int]) -> None:
        """Let a channel speak for others."""
        self._managers[manager] = tuple(index for index in members if index != manager)
        channel = self._channels[manager]
        channel.speaks_for_others = True
        channel.least, channel.most = math.inf, -math.inf

    def _silence(self, voices: Iterable[Line | Chords], time_s: float) -> list[HeardEvent]:
        events: list[HeardEvent] = []
        for voice in voices:
            events += voice.silence(time_s)
            self._due_s = min(self._due_s, voice.due_s)
        return events

    def _add(self, events: Sequence[HeardEvent], told: Sequence[HeardEvent]) -> Sequence[HeardEvent]:
        return [*events, *told] if events else told


def _due(voice: Line | Chords) -> float:
    return voice.due_s
