"""The MIDI clock of another device: read from a port, followed, and in plain words what is wrong with it."""

from collections.abc import Sequence
from typing import Protocol

from midifret.clock import Clock
from midifret.tempo import LEAST_BPM, MOST_BPM, ClockFollower, ClockReading, ClockState
from midifret.tempo.midi_clock import CLOCK
from midifret.terms import TimedMessage
from midifret.wire.ports import open_source

# So long without any clock, and it is said that none comes: devices need a moment to begin, and a person one
# to look [ours].
ABSENT_AFTER_S = 3.0

_SONG_POSITION = 0xF2  # MIDI 1.0


class ClockSource(Protocol):
    """A port that a clock comes in on, as PortSource is."""

    @property
    def name(self) -> str:
        """The port's name."""
        ...

    @property
    def trouble(self) -> str:
        """What is wrong while the other end is not there; else empty."""
        ...

    def poll(self) -> Sequence[TimedMessage]:
        """Read what waits; the notes."""
        ...

    def realtime(self) -> Sequence[TimedMessage]:
        """What a clock said, of what was read."""
        ...

    def connected(self, *, at_once: bool = False) -> bool:
        """Whether the other end is there; if it is not, it is looked for."""
        ...

    def close(self) -> None:
        """Close it."""
        ...


class ClockIn:
    """Follows the clock of a port. No call waits.

    The port is the guitar's, which others read and close, or one of its own.
    """

    def __init__(self, source: ClockSource, now_s: float, *, own_port: bool) -> None:
        """Begin to listen at now_s. own_port: read, watch and close the port here; its notes go nowhere."""
        self._source = source
        self._own_port = own_port
        self._follower = ClockFollower()
        self._last_s = self._began_s = now_s  # of the last message; when listening began
        self._clock_s: float | None = None  # when the last clock came
        source.realtime()  # of before

    @property
    def name(self) -> str:
        """The port's name."""
        return self._source.name

    def turn(self, now_s: float) -> None:
        """Take what came; to be called each turn of the loop, after the guitar's port was read."""
        if self._own_port:
            self._source.connected()
            self._source.poll()
        for message in self._source.realtime():
            # A date can lie a little before the one before it, where a port is dated anew.
            self._last_s = max(message.time_s, self._last_s)
            if message.data[0] == _SONG_POSITION:
                self._follower.song_position(self._last_s, message.data[1] | message.data[2] << 7)
            else:
                self._follower.feed(self._last_s, message.data[0])
                if message.data[0] == CLOCK:
                    self._clock_s = self._last_s

    def reading(self, now_s: float) -> ClockReading:
        """State, tempo and beat at a moment; one before the last message is taken to be that."""
        return self._follower.reading(max(now_s, self._last_s))

    def beat_due_s(self, beat: float) -> float | None:
        """When a beat falls or fell on the run's clock, 0 at the song's start; None where that is not known.

        Good for the beats near by: it takes the tempo to stay as it is.
        """
        return self._follower.beat_due_s(beat)

    def words(self, now_s: float) -> str:
        """What is wrong with the clock and what to do, in full sentences; empty while it runs well."""
        if self._own_port and self._source.trouble:
            return f"The clock's port is gone or silent ({self.name}). Look at its cable."
        reading = self.reading(now_s)
        if reading.state is ClockState.ABSENT:
            waited_s = now_s - self._began_s
            if waited_s < ABSENT_AFTER_S:
                return ""
            return (
                f"No MIDI clock comes from {self.name} (waited {waited_s:.0f} s). Switch on there that it "
                "sends clock, or name another port."
            )
        if not reading.in_range:
            return (
                f"The clock of {self.name} runs at {reading.tempo_bpm:.0f} bpm. It can be followed from "
                f"{LEAST_BPM:g} to {MOST_BPM:g} bpm: change its tempo there."
            )
        if reading.state is ClockState.LOST:
            since_s = now_s - (self._began_s if self._clock_s is None else self._clock_s)
            return (
                f"The clock of {self.name} is lost: nothing for {since_s:.1f} s. Look at its cable, then "
                "stop and start it there."
            )
        if reading.state is ClockState.STOPPED:
            return f"The clock of {self.name} is stopped. Start it there."
        if reading.state is ClockState.UNPLACED:
            return (
                f"The clock of {self.name} runs, but which beat it is was not heard. Stop and start it there."
            )
        return ""

    def close(self) -> None:
        """Close the port, if it is its own."""
        if self._own_port:
            self._source.close()


def open_clock_in(part: str, clock: Clock, *, client_name: str = "midifret-clock") -> ClockIn:
    """Follow the clock that comes in on the port that `part` names, a port beside the guitar's.

    Raises Unavailable, listing the ports that there are, where none or several fit or the port is taken.
    """
    source = open_source(part, clock, client_name=client_name)
    return ClockIn(source, clock.now_s(), own_port=True)
