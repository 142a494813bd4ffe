"""What arrives before anyone knows what it means: raw notes with their bends, and what the guitar tells."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.terms import TimedMessage

BEND_CENTRE = 8192
# A note bent more often than this keeps its first bends; ten minutes of slides at 200 a second [ours].
_MOST_POINTS = 120_000
# After this the converter has made up its mind about the pitch: well over the two periods of E2 (24.3 ms,
# ISO 16) that it usually needs, and over the 50 ms of the slowest ones (facts of converters).
SETTLED_S = 0.08

# The notes of one pluck begin within this: a false harmonic comes at most 50 ms before the true note
# (converter support notes, from memory); three times that [ours].
PLUCK_S = 0.15

# Controllers (MIDI 1.0, table of controller numbers; RP-018) and registered parameters (MIDI 1.0; MPE 1.1).
_DATA_MSB, _DATA_LSB = 6, 38
_NRPN, _RPN_LSB, _RPN_MSB = (98, 99), 100, 101
_ENDING_NOTES = frozenset({120, 123, 124, 125, 126, 127})
_RPN_NULL, _RPN_BEND_RANGE, _RPN_MPE = (0x7F, 0x7F), (0, 0), (0, 6)


class RawNote:
    """A note as it was sent: nothing is known of its string.

    path: (time in seconds, bend in steps from the centre), the first at its onset.
    end_s: None while it sounds.
    """

    __slots__ = ("channel", "end_s", "key", "onset_s", "path", "velocity")

    def __init__(self, onset_s: float, channel: int, key: int, velocity: int, bend: int) -> None:
        """Begin to sound."""
        self.onset_s = onset_s
        self.channel = channel
        self.key = key
        self.velocity = velocity
        self.end_s: float | None = None
        self.path: list[tuple[float, int]] = [(onset_s, bend)]

    def length_s(self, now_s: float) -> float:
        """How long it has sounded."""
        return (now_s if self.end_s is None else self.end_s) - self.onset_s

    def settled_bend(self, now_s: float) -> float:
        """The bend that it settled at, in steps: its mean once the pitch is sure, else the last."""
        end_s = now_s if self.end_s is None else self.end_s
        start_s = self.onset_s + SETTLED_S
        if end_s <= start_s:
            return float(self.path[-1][1])
        held = 0.0
        times = [*(time_s for time_s, _ in self.path[1:]), end_s]
        for (from_s, bend), until_s in zip(self.path, times, strict=True):
            held += bend * max(0.0, min(until_s, end_s) - max(from_s, start_s))
        return held / (end_s - start_s)


@dataclass(frozen=True, slots=True)
class Heard:
    """A pluck, as the clearest of the notes that it made.

    bend: in steps from the centre, settled. others: (channel, velocity, seconds after it) of the notes that
    other channels sent with it.
    """

    channel: int
    key: int
    bend: float
    velocity: int
    length_s: float
    others: tuple[tuple[int, int, float], ...] = ()

    def pitch(self, bend_range_semitones: float) -> float:
        """The pitch sent, in MIDI numbers with their fraction, if that is the range of the bends."""
        return self.key + self.bend * bend_range_semitones / BEND_CENTRE


def clearest(notes: Sequence[RawNote], now_s: float) -> Heard:
    """Take the notes of one pluck as one: what rings is before what is short, loud before soft."""
    best = max(notes, key=lambda n: (n.length_s(now_s) >= SETTLED_S, n.velocity, n.length_s(now_s)))
    others = tuple(
        (note.channel, note.velocity, note.onset_s - best.onset_s)
        for note in notes
        if note.channel != best.channel
    )
    return Heard(
        best.channel, best.key, best.settled_bend(now_s), best.velocity, best.length_s(now_s), others
    )


class Ear:
    """Keeps the notes that came since `clear`, in order, and what the guitar says of itself.

    notes: since `clear`. bends: how many came on each channel since then. ranges: semitones at full bend, as
    each channel told (RPN 0). mpe: the guitar says that it speaks MPE (RPN 6). any_s: when a message last
    came, or None. note_channels: those on which notes came at any time. changed_s: when a note last began or
    the bend of a sounding one last moved.
    """

    def __init__(self) -> None:
        """Begin with silence and centred bends."""
        self.notes: list[RawNote] = []
        self.bends: Counter[int] = Counter()
        self.ranges: dict[int, float] = {}
        self.mpe = False
        self.any_s: float | None = None
        self.changed_s = 0.0
        self._sounding: dict[tuple[int, int], RawNote] = {}
        self._bend = [0] * 16
        self._rpn = [_RPN_NULL] * 16
        self.note_channels: set[int] = set()

    @property
    def sounding(self) -> bool:
        """Whether a note sounds."""
        return bool(self._sounding)

    def clear(self, *, keep: Sequence[RawNote] = ()) -> None:
        """Forget the notes that came so far, but for some; what sounds may still end."""
        self.notes = list(keep)
        self.bends.clear()

    def feed(self, message: TimedMessage) -> None:
        """Take one message."""
        time_s, data = message
        self.any_s = time_s
        if len(data) != 3 or (data[1] | data[2]) > 0x7F:
            return
        status, first, second = data
        channel = status & 0x0F
        match status & 0xF0:
            case 0x90 if second:
                self._begin(time_s, channel, first, second)
            case 0x80 | 0x90:  # a note-on of velocity 0 is a note-off (MIDI 1.0)
                self._end(time_s, channel, first)
            case 0xE0:
                self._bent(time_s, channel, (second << 7 | first) - BEND_CENTRE)
            case 0xB0:
                self._controller(time_s, channel, first, second)

    def bend_for(self, channel: int) -> int:
        """The bend that a note of this channel has: its own, and that of channels which carry no notes."""
        common = sum(self._bend[c] for c in range(16) if c != channel and c not in self.note_channels)
        return self._bend[channel] + common

    def _begin(self, time_s: float, channel: int, key: int, velocity: int) -> None:
        self._end(time_s, channel, key)
        self.note_channels.add(channel)
        note = RawNote(time_s, channel, key, velocity, self.bend_for(channel))
        self._sounding[channel, key] = note
        self.notes.append(note)
        self.changed_s = time_s

    def _end(self, time_s: float, channel: int, key: int) -> None:
        note = self._sounding.pop((channel, key), None)
        if note is not None:
            note.end_s = time_s

    def _bent(self, time_s: float, channel: int, bend: int) -> None:
        self.bends[channel] += 1
        moved = abs(bend - self._bend[channel]) > 0
        self._bend[channel] = bend
        common = channel not in self.note_channels
        for note in self._sounding.values():
            if (common or note.channel == channel) and len(note.path) < _MOST_POINTS:
                note.path.append((time_s, self.bend_for(note.channel)))
                if moved:
                    self.changed_s = time_s

    def _controller(self, time_s: float, channel: int, number: int, value: int) -> None:
        msb, lsb = self._rpn[channel]
        if number == _RPN_MSB:
            self._rpn[channel] = (value, lsb)
        elif number == _RPN_LSB:
            self._rpn[channel] = (msb, value)
        elif number in _NRPN:
            self._rpn[channel] = _RPN_NULL
        elif number == _DATA_MSB and (msb, lsb) == _RPN_BEND_RANGE:
            self.ranges[channel] = float(value)
        elif number == _DATA_LSB and (msb, lsb) == _RPN_BEND_RANGE:
            self.ranges[channel] = int(self.ranges.get(channel, 2)) + value / 100
        elif number == _DATA_MSB and (msb, lsb) == _RPN_MPE:
            self.mpe = value > 0  # a zone of no members is none (MPE 1.1)
        elif number in _ENDING_NOTES:
            for each in [key for key in self._sounding if key[0] == channel]:
                self._end(time_s, *each)
