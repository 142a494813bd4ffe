"""Hostile bytes and hostile music for the splitter and the decoder, and what has to hold of what they say."""

import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from midifret.hear import ByteSplitter, Decoder
from midifret.neck import Neck, Tuning
from midifret.terms import (
    Encoding,
    HeardEvent,
    HearingWarning,
    Note,
    NoteEnded,
    NoteRevised,
    NoteSettled,
    Place,
    Thresholds,
    Voided,
    Wiring,
)

Script = list[tuple[float, bytes]]  # seconds, a message; an empty message is the pulled cable

# No note stays doubtful longer than this (the project's own promise), looked at each millisecond.
DOUBT_S, LOOK_S = 0.060, 0.001
TUNINGS = (
    (64, 59, 55, 50, 45, 40),  # music21 instrument.Guitar().stringPitches
    (64, 59, 55, 50, 45, 38),
    (64, 59, 55, 50, 45, 40, 35, 30),
    (76, 64, 52, 40, 28, 12, 76, 64, 52, 40, 28, 12),  # as far as a tunings file may go
    (60, 60, 60),
)


class BrokenError(AssertionError):
    """Something that has to hold did not."""


def demand(holds: bool, what: str) -> None:
    """Raise BrokenError unless it holds."""
    if not holds:
        raise BrokenError(what)


@dataclass(slots=True)
class Watch:
    """Follows the notes of a decoder from their start to their end, event by event.

    neck, wiring: of the decoder. now_s: how far time has come.
    """

    neck: Neck
    wiring: Wiring
    now_s: float = 0.0
    sounding: dict[int, Note] = field(default_factory=dict)
    doubtful: dict[int, Note] = field(default_factory=dict)  # sounding or ended, not yet settled
    ended_s: dict[int, tuple[Note, float]] = field(default_factory=dict)
    voided: dict[int, Voided] = field(default_factory=dict)
    by_string: dict[int, int] = field(default_factory=dict)  # the sure note that sounds on each string

    def take(self, events: Iterable[HeardEvent]) -> None:
        for event in events:
            match event:
                case Note():
                    self._start(event)
                case NoteRevised(note):
                    demand(note.id in self.sounding, f"revised, but not sounding: {note}")
                    demand(note.id not in self.doubtful, f"revised while doubtful: {note}")
                    self._same(self.sounding[note.id], note)
                    self.sounding[note.id] = note
                case NoteSettled(note):
                    demand(note.id in self.doubtful, f"settled, but not doubtful: {note}")
                    self._same(self.doubtful.pop(note.id), note)
                    self.sounding[note.id] = note
                    self._alone(note)
                case NoteEnded(note_id, time_s):
                    demand(note_id in self.sounding, f"ended, but not sounding: {note_id}")
                    demand(note_id not in self.doubtful, f"ended while doubtful: {note_id}")
                    note = self.sounding.pop(note_id)
                    demand(note.onset_s <= time_s <= self.now_s + 1e-9, f"ended at {time_s}: {note}")
                    self.ended_s[note_id] = note, time_s
                    self._leave(note)
                case Voided():
                    self._void(event)
                case HearingWarning():
                    demand(math.isfinite(event.time_s) and bool(event.message), f"{event}")

    def look(self, time_s: float) -> None:
        """Demand that nothing has been doubtful too long."""
        self.now_s = time_s
        for note in self.doubtful.values():
            if note.onset_s + DOUBT_S + LOOK_S < time_s - 1e-9:
                raise BrokenError(f"doubtful too long, {(time_s - note.onset_s) * 1000:.1f} ms: {note}")

    def close(self) -> None:
        """Demand that every note has ended or was voided."""
        demand(not self.sounding, f"stuck: {self.sounding}")
        demand(not self.doubtful, f"doubtful for ever: {self.doubtful}")

    def outcome(self) -> tuple[object, ...]:
        """All that a recording keeps: the notes with their ends, and what was voided."""
        return dict(sorted(self.ended_s.items())), dict(sorted(self.voided.items()))

    def _start(self, note: Note) -> None:
        known = note.id in self.sounding or note.id in self.ended_s or note.id in self.voided
        demand(not known, f"started twice: {note}")
        demand(note.onset_s <= self.now_s + 1e-9, f"begins later than now, {self.now_s}: {note}")
        demand(1 <= note.velocity <= 127, f"velocity: {note}")
        demand(not note.place_assumed, f"a place assumed by the decoder: {note}")
        self._place(note)
        self.sounding[note.id] = note
        if note.doubtful:
            self.doubtful[note.id] = note
        else:
            self._alone(note)

    def _place(self, note: Note) -> None:
        demand((note.string is None) == (note.fret is None), f"half a place: {note}")
        demand(math.isfinite(note.cents) and abs(note.cents) <= 60.1, f"cents: {note}")
        demand(note.midi == int(note.midi), f"pitch: {note}")
        if note.string is None or note.fret is None:
            return
        demand(self.wiring.channels[note.channel] == note.string, f"not the string of its channel: {note}")
        place = Place(note.string, note.fret)
        demand(self.neck.has(place), f"no such place: {note}")
        demand(self.neck.midi(place) == note.midi, f"another pitch than its place: {note}")

    def _same(self, before: Note, after: Note) -> None:
        """Demand that a note set right is still the same event. A move may turn out to have been a pluck."""
        fixed = (before.onset_s, before.velocity, before.channel)
        demand(fixed == (after.onset_s, after.velocity, after.channel), f"set right: {before} became {after}")
        demand(not after.doubtful, f"doubtful again: {after}")
        self._place(after)

    def _alone(self, note: Note) -> None:
        """Demand that a string sounds one sure note at a time."""
        string = self.wiring.channels[note.channel]
        if string is not None:
            other = self.by_string.get(string)
            demand(other in (None, note.id), f"two sound on a string: {other} and {note}")
            self.by_string[string] = note.id

    def _leave(self, note: Note) -> None:
        string = self.wiring.channels[note.channel]
        if string is not None and self.by_string.get(string) == note.id:
            del self.by_string[string]

    def _void(self, event: Voided) -> None:
        note = event.note
        demand(note.id not in self.voided, f"voided twice: {event}")
        if note.id in self.ended_s:  # a clear note an octave above what follows: told, ended, withdrawn
            del self.ended_s[note.id]
            late_s = self.now_s - note.onset_s
            demand(late_s <= DOUBT_S + LOOK_S, f"withdrawn after {late_s}: {event}")
        self._place(note)
        self.voided[note.id] = event
        told = self.sounding.pop(note.id, None)
        self.doubtful.pop(note.id, None)
        if told is not None:
            self._leave(told)
        if event.continues is not None:
            sounds = event.continues in self.sounding
            demand(sounds or event.continues in self.ended_s, f"continues nothing: {event}")
            if not sounds:
                again, _ = self.ended_s.pop(event.continues)
                self.sounding[again.id] = again
                self._alone(again)


def any_neck(draw: random.Random) -> Neck:
    """A neck as a guitar file may describe it."""
    frets = draw.randint(12, 24)
    return Neck(Tuning("t", "t", draw.choice(TUNINGS)), frets, draw.choice((0, 0, 0, 2, 11)))


def any_wiring(neck: Neck, draw: random.Random) -> Wiring:
    """A wiring as a guitar file may describe it."""
    thresholds = Thresholds()
    if draw.random() < 0.4:
        thresholds = Thresholds(
            soft_velocity=draw.choice((0, 32, 127, draw.randint(0, 127))),
            short_s=draw.choice((0.0, 0.05, 0.06)),
            doubt_s=draw.choice((0.0, 0.005, 0.03, 0.06)),
            repeat_s=draw.choice((0.0, 0.055, 0.2)),
            together_s=draw.choice((0.0, 0.036, 0.06)),
            crosstalk_share=draw.choice((0.0, 0.5, 1.0)),
            lift_off_s=draw.choice((0.0, 0.08, 0.5)),
            least_s=draw.choice((0.0, 0.012, 0.06)),
        )
    bend_range = draw.choice((2.0, 2.0, 0.5, 12.0, 48.0, 96.0))
    transpose = draw.choice((0, 0, 0, -12, 36, -36))
    encoding = draw.choice((Encoding.PER_STRING,) * 4 + (Encoding.MPE, Encoding.ONE_CHANNEL))
    cents: tuple[float, ...] = ()
    if draw.random() < 0.2:
        cents = tuple(draw.uniform(-100, 100) for _ in range(neck.strings))
    channels: list[int | None] = [None] * 16
    controllers = None
    if encoding is Encoding.PER_STRING:
        order = list(range(16))
        if draw.random() < 0.3:
            draw.shuffle(order)
        for string in range(1, neck.strings + 1):
            channels[order[string - 1]] = string
        if draw.random() < 0.4:
            controllers = draw.choice((order[neck.strings], draw.randrange(16)))
    return Wiring(tuple(channels), bend_range, encoding, controllers, transpose, cents, thresholds)


# Steps at which something ends or begins: a cable's byte, the thresholds and one millisecond to either side.
_STEPS_S = (0.0, 0.0, 0.00032, 0.001, 0.004, 0.005, 0.006, 0.012, 0.025, 0.026, 0.035, 0.036, 0.049, 0.05)
_STEPS_LATER_S = (0.051, 0.054, 0.055, 0.056, 0.059, 0.06, 0.061, 0.08, 0.1, 0.5, 8000.0)
_PARAMETERS = ((0, 0), (0, 1), (0, 2), (0, 6), (0, 5), (127, 127), (1, 0))


def any_script(neck: Neck, wiring: Wiring, draw: random.Random) -> Script:
    """Messages at times: few channels and keys, so that the same string is struck, bent and left again."""
    used = [i for i, string in enumerate(wiring.channels) if string is not None] or list(range(16))
    channels = draw.sample(used, min(len(used), draw.randint(1, 3)))
    if draw.random() < 0.3:
        channels.append(draw.randrange(16))
    if wiring.controller_channel is not None:
        channels.append(wiring.controller_channel)
    base = draw.choice(neck.tuning.open_midi) - wiring.transpose_semitones
    keys = [base + step for step in draw.sample((0, 0, 1, 2, 3, 5, 7, 12, 19, 24, -1, -12), 4)]
    keys = [min(127, max(0, key)) for key in keys] + [draw.randrange(128)]
    velocities = draw.sample((1, 10, 20, 32, 33, 40, 64, 100, 127), 3)
    quick = draw.random()
    script: Script = []
    time_s = 0.0
    for _ in range(draw.randint(1, 40)):
        time_s += draw.choice(_STEPS_S) if draw.random() < quick else draw.choice(_STEPS_LATER_S[:-1])
        if draw.random() < 0.002:
            time_s += _STEPS_LATER_S[-1]
        for data in _any_messages(channels, keys, velocities, draw):
            script.append((time_s, data))
    return script


def _any_messages(
    channels: Sequence[int], keys: Sequence[int], velocities: Sequence[int], draw: random.Random
) -> list[bytes]:
    channel, key = draw.choice(channels), draw.choice(keys)
    match draw.choices(range(8), (40, 22, 20, 6, 3, 2, 1, 1))[0]:
        case 0:
            return [bytes((0x90 | channel, key, draw.choice(velocities)))]
        case 1:
            return [bytes((draw.choice((0x80, 0x90)) | channel, key, 0))]
        case 2:
            raw = draw.choice((0, 8192, 8192, 16383, 8192 + draw.randint(-4096, 4096), draw.randrange(16384)))
            return [bytes((0xE0 | channel, raw & 0x7F, raw >> 7))]
        case 3:
            number = draw.choice(_PARAMETERS)
            entered = [
                (draw.choice((6, 6, 38, 96, 97)), draw.choice((0, 2, 12, 64, 67, draw.randrange(128))))
            ]
            steps = [(101, number[0]), (100, number[1]), *entered * draw.randint(1, 2)]
            return [bytes((0xB0 | channel, *step)) for step in steps]
        case 4:
            number = draw.choice((120, 121, 121, 123, 124, 127, 98, 99, 96, 97, 6, 38, draw.randrange(128)))
            return [bytes((0xB0 | channel, number, draw.randrange(128)))]
        case 5:
            return [bytes(draw.choice(((0xF8,), (0xFE,), (0xC0 | channel, 5), (0xD0 | channel, 5))))]
        case 6:
            return [b""]
        case _:
            return [draw.randbytes(draw.randint(1, 5))]


def as_bytes(script: Script, draw: random.Random) -> Script:
    """The same as a damaged stream of bytes: running status, bytes left out, changed and put in."""
    stream: Script = []
    status = 0
    for time_s, data in script:
        raw = data[1:] if data[:1] == bytes((status,)) and draw.random() < 0.5 else data
        status = data[0] if data and 0x80 <= data[0] < 0xF0 else status
        damaged = bytearray(raw)
        if draw.random() < 0.1:
            at = draw.randrange(len(damaged) + 1)
            damaged[at:at] = draw.choice((b"\xf8", b"\xf0", b"\xf7", draw.randbytes(1), draw.randbytes(9)))
        if draw.random() < 0.05 and damaged:
            del damaged[draw.randrange(len(damaged))]
        if draw.random() < 0.05 and damaged:
            damaged[draw.randrange(len(damaged))] = draw.randrange(256)
        stream.append((time_s, bytes(damaged)))
    return stream


def split(stream: Script) -> Script:
    """The messages of a stream of bytes; the pulled cable begins a new one."""
    splitter = ByteSplitter()
    script: Script = []
    for time_s, data in stream:
        if data:
            script += [(time_s, message) for message in splitter.split(data)]
        else:
            splitter = ByteSplitter()
            script.append((time_s, b""))
    return script


def hear(neck: Neck, wiring: Wiring, script: Script, *, looking: bool) -> Watch:
    """Feed a script to a decoder, with or without a look each millisecond; return what became of it."""
    decoder = Decoder(neck, wiring)
    watch = Watch(neck, wiring)
    looked_s = 0.0
    for time_s, data in script:
        if looking:
            # After a long rest every millisecond is like the one before it.
            looked_s = max(looked_s, 0.0)
            until_s = min(time_s, looked_s + 0.2)
            while looked_s + LOOK_S < until_s:
                looked_s += LOOK_S
                watch.now_s = looked_s
                watch.take(decoder.advance(looked_s))
                if watch.doubtful:
                    watch.look(looked_s)
            looked_s = time_s
        watch.now_s = time_s
        watch.take(decoder.feed(time_s, data) if data else decoder.disconnect(time_s))
        if looking:
            watch.look(time_s)
    # Nobody sees the end of a recording before it is over: what is open then ends there.
    end_s = script[-1][0] if script else 0.0
    watch.now_s = math.inf
    watch.take(decoder.finish(end_s))
    watch.close()
    return watch


def check_decoder(neck: Neck, wiring: Wiring, script: Script) -> None:
    """Demand all that has to hold of one script. Raises BrokenError, or whatever the decoder raises."""
    live = hear(neck, wiring, script, looking=True)
    recorded = hear(neck, wiring, script, looking=False)
    if live.outcome() != recorded.outcome():
        raise BrokenError(
            f"heard otherwise when looked at each millisecond: {live.outcome()}\nagainst {recorded.outcome()}"
        )


_LENGTHS = {8: 3, 9: 3, 10: 3, 11: 3, 12: 2, 13: 2, 14: 3}  # MIDI 1.0, with the status byte
_COMMON = {0xF1: 2, 0xF2: 3, 0xF3: 2, 0xF6: 1}


def check_splitter(data: bytes, cuts: Sequence[int]) -> None:
    """Demand whole messages, the same ones however the stream is cut, and no byte made up."""
    splitter = ByteSplitter()
    whole = splitter.split(data)
    parts = ByteSplitter()
    edges = [0, *sorted(cuts), len(data)]
    pieces = [message for start, end in pairwise(edges) for message in parts.split(data[start:end])]
    demand(pieces == whole, f"cut at {edges}: {pieces}, whole: {whole}")
    demand(parts.dropped == splitter.dropped, f"cut at {edges}: {parts.dropped} dropped")
    for message in whole:
        status = message[0]
        if status == 0xF0:
            demand(message[-1] == 0xF7 and message[1:-1].isascii(), f"not system exclusive: {message.hex()}")
            continue
        length = 1 if status >= 0xF8 else _COMMON.get(status) or _LENGTHS.get(status >> 4, 0)
        demand(len(message) == length and message[1:].isascii(), f"no message: {message.hex()}")
    for status in range(0xF0, 0xF7):  # system messages have no running status
        demand(sum(m[0] == status for m in whole) <= data.count(status), f"{status:#x} made up")
    realtime = [byte for byte in data if byte >= 0xF8]
    demand([m[0] for m in whole if m[0] >= 0xF8] == realtime, "realtime bytes lost or made up")
    told = sum(len(message) - 1 for message in whole if message[0] != 0xF0)
    demand(told <= sum(byte < 0x80 for byte in data), "data bytes made up")


def any_bytes(draw: random.Random) -> bytes:
    """Bytes of which most are near to MIDI."""
    pieces: list[bytes] = []
    for _ in range(draw.randint(1, 30)):
        match draw.randrange(7):
            case 0 | 1:
                pieces.append(bytes((draw.randrange(0x80, 0xF0), draw.randrange(128), draw.randrange(128))))
            case 2:
                pieces.append(bytes((draw.randrange(128), draw.randrange(128))))
            case 3:
                pieces.append(bytes((draw.randrange(0xF0, 0x100),)))
            case 4:
                body = bytes(draw.choices(range(128), k=draw.choice((0, 3, 20))))
                pieces.append(b"\xf0" + body + draw.choice((b"\xf7", b"", b"\xf8\xf7")))
            case 5:
                pieces.append(draw.randbytes(draw.randint(1, 6)))
            case _:
                pieces.append(bytes((draw.randrange(0xC0, 0xE0), draw.randrange(128))))
    if draw.random() < 0.001:
        pieces.append(b"\xf0" + bytes(draw.choice((4095, 4096, 4097, 9000))) + b"\xf7")
    return b"".join(pieces)
