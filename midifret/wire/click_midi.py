"""Clicks as MIDI notes, and MIDI clock beside them."""

from collections import deque
from collections.abc import Iterable, Iterator
from typing import Protocol

from midifret.gear import ClickSettings
from midifret.tempo import LEAST_BPM, Click, ClickKind
from midifret.tempo.midi_clock import CLOCK, CLOCKS_A_BEAT, CONTINUE, START, STOP
from midifret.wire.click import LATEST_S, ClickFigures, Tally

# How long a note is held, if no click comes sooner. Percussion ends by itself; other sounds might not [ours].
HELD_S = 0.1
# A start goes out at least 1 ms before its first clock (MIDI 1.0 [mem]); two turns of the loop more [ours].
START_LEAD_S = 0.003
START_GAP_S = 0.001
# Clocks that are overdue are sent all the same, so that the count is kept; after so long a stall that would
# be a burst of dozens, so the other device is told anew where we are [ours].
STALL_S = 0.5

_NOTE_OFF, _NOTE_ON, _CONTROLLER, _SONG_POSITION = 0x80, 0x90, 0xB0, 0xF2  # MIDI 1.0
_ALL_NOTES_OFF = 123  # MIDI 1.0
_SIXTEENTHS_A_BEAT = 4
_LONGEST_BEAT_S = 60 / LEAST_BPM + 1e-6  # beats further apart do not follow one another
_MOST_SIXTEENTHS = (1 << 14) - 1


class Port(Protocol):
    """What clicks and clocks are sent to: a ClickPort, which several may share."""

    name: str
    trouble: str

    def send(self, data: bytes) -> bool:
        """Send one message now; whether it could be."""
        ...

    def look(self, now_s: float) -> None:
        """See whether it is still there."""
        ...

    def close(self) -> None:
        """Close it; more than once does no harm."""
        ...


class MidiClick:
    """Sends a note for each click."""

    lead_s = 0.0

    def __init__(self, port: Port, settings: ClickSettings) -> None:
        """Send to an opened port, which is closed with this. settings: channel, notes and velocities."""
        self._port = port
        self._channel = settings.channel
        self._sounds = {
            kind: (getattr(settings.notes, kind.value), getattr(settings.velocities, kind.value))
            for kind in ClickKind
        }
        self._waiting: deque[Click] = deque()
        self._held: tuple[int, float] | None = None  # note, and when it ends
        self._tally = Tally()

    @property
    def name(self) -> str:
        """The port, and the channel as people count."""
        return f"MIDI click on {self._port.name}, channel {self._channel + 1}"

    @property
    def trouble(self) -> str:
        """What is wrong with the port."""
        return self._port.trouble

    def plan(self, clicks: Iterable[Click]) -> None:
        """Take clicks to come."""
        self._waiting.extend(clicks)

    def due(self, now_s: float) -> None:
        """Send what is due; of several that are, only the last: the others are too late."""
        self._port.look(now_s)
        if self._held is not None and now_s >= self._held[1]:
            self._let_go()
        click = None
        while self._waiting and self._waiting[0].time_s <= now_s:
            self._tally.skipped += click is not None
            click = self._waiting.popleft()
        if click is None:
            return
        note, velocity = self._sounds[click.kind]
        if now_s - click.time_s > LATEST_S:
            self._tally.skipped += 1
        elif velocity:
            self._let_go()
            if self._port.send(bytes((_NOTE_ON | self._channel, note, velocity))):
                self._held = note, now_s + HELD_S
                self._tally.add(now_s - click.time_s)
            else:
                self._tally.skipped += 1

    def stop(self) -> None:
        """End the note that is held, and any that the other end may still hold."""
        self._waiting.clear()
        self._let_go()
        self._port.send(bytes((_CONTROLLER | self._channel, _ALL_NOTES_OFF, 0)))

    def figures(self) -> ClickFigures:
        """How well it went."""
        return self._tally.figures()

    def close(self) -> None:
        """Stop and close the port."""
        self.stop()
        self._port.close()

    def _let_go(self) -> None:
        if self._held is not None:
            self._port.send(bytes((_NOTE_OFF | self._channel, self._held[0], 0)))
            self._held = None


class MidiClockOut:
    """Sends MIDI clock: 24 to a beat, which is taken to be the quarter, evenly between the beats planned.

    During a count-in clocks go out without a start, so that the other device knows the tempo beforehand. Beat
    0 starts it; any other beat after a stop continues at its place in the song. Behind the last beat that was
    planned clocks go on for one beat more, then stop.
    """

    lead_s = START_LEAD_S

    def __init__(self, port: Port) -> None:
        """Send to an opened port, which is closed with this."""
        self._port = port
        self._beats: deque[Click] = deque()
        self._events: deque[tuple[float, bytes]] = deque()
        self._beat_s = 0.0  # the length of the last beat that was known
        self._runs = False  # the other device was started and not stopped
        self._end_s = 0.0  # of the last beat in line
        self._not_before_s = 0.0  # of the first clock after a start
        self._tally = Tally()

    @property
    def name(self) -> str:
        """The port."""
        return f"MIDI clock on {self._port.name}"

    @property
    def trouble(self) -> str:
        """What is wrong with the port."""
        return self._port.trouble

    def plan(self, clicks: Iterable[Click]) -> None:
        """Take the beats to come; subdivisions say nothing here."""
        self._beats.extend(click for click in clicks if click.part == 0)

    def due(self, now_s: float) -> None:
        """Send what is due."""
        self._port.look(now_s)
        while True:
            if not self._events and not self._next_beat(now_s):
                return
            time_s, data = self._events[0]
            if time_s > now_s or now_s < self._not_before_s:
                return
            if now_s - time_s > STALL_S:
                self._go_on_later(now_s)
                continue
            self._events.popleft()
            self._send(time_s, data, now_s)

    def stop(self) -> None:
        """Stop the other device, if it runs."""
        self._beats.clear()
        self._events.clear()
        self._beat_s = 0.0
        if self._runs:
            self._port.send(bytes((STOP,)))
            self._runs = False

    def figures(self) -> ClickFigures:
        """How well it went; what is counted are clocks."""
        return self._tally.figures()

    def close(self) -> None:
        """Stop and close the port."""
        self.stop()
        self._port.close()

    def _send(self, time_s: float, data: bytes, now_s: float) -> None:
        sent = self._port.send(data)
        if data[0] == CLOCK:
            if sent:
                self._tally.add(now_s - time_s)
            else:
                self._tally.skipped += 1
        elif data[0] in (START, CONTINUE):
            self._not_before_s = now_s + START_GAP_S

    def _next_beat(self, now_s: float) -> bool:
        """Put the messages of the next beat in line, once it is known how long it is, or it is due."""
        if not self._beats:
            if self._runs and now_s >= self._end_s:
                self._port.send(bytes((STOP,)))
                self._runs = False
            return False
        beat = self._beats[0]
        length_s = self._beats[1].time_s - beat.time_s if len(self._beats) > 1 else None
        if length_s is not None and 0 < length_s <= _LONGEST_BEAT_S:
            self._beat_s = length_s
        elif now_s < beat.time_s or not self._beat_s:  # the last one: as long as the one before
            return False
        self._beats.popleft()
        self._end_s = beat.time_s + self._beat_s
        if beat.beat == 0:
            self._events.append((beat.time_s - START_LEAD_S, bytes((START,))))
        elif beat.beat > 0 and not self._runs:
            self._events.extend((beat.time_s - START_LEAD_S, data) for data in _continuing(beat.beat))
        self._runs = beat.beat >= 0
        self._events.extend(
            (beat.time_s + n * self._beat_s / CLOCKS_A_BEAT, bytes((CLOCK,))) for n in range(CLOCKS_A_BEAT)
        )
        return True

    def _go_on_later(self, now_s: float) -> None:
        """After a stall: leave out what is overdue, and say at the next beat where it stands."""
        self._tally.skipped += sum(data[0] == CLOCK for _, data in self._events)
        self._events.clear()
        while self._beats and self._beats[0].time_s <= now_s:
            self._beats.popleft()
        if self._runs:
            self._port.send(bytes((STOP,)))
            self._runs = False


def _continuing(beat: int) -> Iterator[bytes]:
    """The song position of a beat, if 14 bits hold it, and the order to go on from there."""
    sixteenths = beat * _SIXTEENTHS_A_BEAT
    if sixteenths <= _MOST_SIXTEENTHS:
        yield bytes((_SONG_POSITION, sixteenths & 0x7F, sixteenths >> 7))
    yield bytes((CONTINUE,))
