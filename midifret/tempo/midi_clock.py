"""MIDI clock: following one through starts, stops, changes of tempo and loss; and making one.

A clock message says that another 24th of a quarter has passed, and nothing else; the first after a start is
the downbeat (MIDI 1.0, system real time). Tempo and phase come from a straight line through the last clocks.
The beat is taken to be the quarter. A clock that is lost on the way cannot be told from a slower tempo: what
has come is counted.
"""

import math
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from midifret.tempo.limits import LEAST_BPM, MOST_BPM, check_tempo, check_time
from midifret.terms import BadInput, TimedMessage

CLOCK, START, CONTINUE, STOP = 0xF8, 0xFA, 0xFB, 0xFC  # MIDI 1.0 [mem]
CLOCKS_A_BEAT = 24  # MIDI 1.0 [mem]
CLOCKS_A_SIXTEENTH = 6  # MIDI 1.0 [mem]: the unit of a song position
# After so long without a clock it is lost: two clocks at the slowest tempo that is taken (0.25 s apart at
# 10 bpm) [calc].
LOST_AFTER_S = 2 * 60 / (LEAST_BPM * CLOCKS_A_BEAT)
# The line goes through one beat: clocks that jitter by 1 ms then give the tempo to 0.15% at 120 bpm [calc],
# and a new tempo is told after a beat at the latest.
_LINE_CLOCKS = 25
# So many intervals are needed before a tempo is said: an eighth of a beat. One would be all jitter [ours].
_LEAST_INTERVALS = 3
# When so many clocks in a row come off the line on the same side, each by more than this, the tempo has
# changed and what came before says nothing. 3 ms: three times the polling step and the frame of the bus
# [ours]; jitter of 1 ms, each clock by itself, does that once in some 20 million clocks [calc].
_OFF_CLOCKS = 3
_OFF_S = 0.003
# Clocks that were held up on the way and come in a bunch are less and less late; those of a new tempo are
# not.
_OFF_KEPT = 0.8  # [ours]
# After a gap that is longer than one clock by this much the clock was halted, or is another one [ours].
_HALT_S = 0.05
_START_LEAD_S = 0.001  # a start goes out at least 1 ms before its first clock (MIDI 1.0 [mem])


class ClockState(StrEnum):
    """What the clock of another device is doing."""

    ABSENT = "absent"  # nothing has come yet
    UNPLACED = "unplaced"  # clocks come, but which beat it is was never said, or was lost with the clock
    STARTING = "starting"  # started or continued, and waiting for its first clock
    RUNNING = "running"
    STOPPED = "stopped"
    LOST = "lost"  # no clock for LOST_AFTER_S, and nobody stopped it


@dataclass(frozen=True, slots=True)
class ClockReading:
    """What is known of the clock at a moment.

    tempo_bpm: quarters a minute; None while too few clocks have come or the clock is lost. in_range: whether
    that is a tempo which the program takes; True for None. beat: quarters since the song's start, with the
    part of one that has passed; None where unplaced or lost.
    """

    state: ClockState
    tempo_bpm: float | None
    in_range: bool
    beat: float | None


class ClockFollower:
    """Follows the clock of one port: fed with its messages, in order, and asked at any time.

    Times are those at which messages were sent, as far as is known. Where they are those of arrival, a clock
    that is held up is left out of the line; after a stall of more than 50 ms the tempo may be off for a beat.
    """

    def __init__(self) -> None:
        """Know nothing of any clock."""
        self._clocks: deque[tuple[int, float]] = deque(maxlen=_LINE_CLOCKS)  # number since ever, time
        self._number = 0  # of the next clock
        self._place: int | None = None  # 24ths of a beat at which the next clock stands; None: unknown
        self._state = ClockState.ABSENT
        self._last_s = 0.0
        self._clock_s = -math.inf  # when the last clock came
        self._called_s = -math.inf  # when a start or continue last asked for one
        self._off: list[tuple[tuple[int, float], float]] = []  # the last clocks off the line, and by how much
        self._line: tuple[float, float] | None = None  # interval and time of the last clock, as fitted

    def feed(self, time_s: float, status: int) -> None:
        """Take a message by its status byte; any but clock, start, continue and stop says nothing here.

        Raises BadInput for a time before the last, or no time, and for what is no status byte.
        """
        if not 0x80 <= status <= 0xFF:
            raise BadInput(f"{status} is no status byte", allowed="128 to 255")
        self._pass_time(check_time(time_s, what="a message", not_before_s=self._last_s))
        if status == CLOCK:
            self._tick(time_s)
        elif status == START:
            self._place, self._state, self._called_s = 0, ClockState.STARTING, time_s
        elif status == CONTINUE and self._state not in (ClockState.STARTING, ClockState.RUNNING):
            if self._place is not None:
                self._state, self._called_s = ClockState.STARTING, time_s
            elif self._state is not ClockState.ABSENT:
                self._state = ClockState.UNPLACED
        elif status == STOP:
            self._state = ClockState.STOPPED

    def song_position(self, time_s: float, sixteenths: int) -> None:
        """Take a song position (status F2): where the next continue goes on, in sixteenths from the start.

        Raises BadInput for a time before the last and for a position that 14 bits do not hold.
        """
        if not 0 <= sixteenths < 1 << 14:
            raise BadInput(f"a song position cannot be {sixteenths}", allowed="0 to 16383")
        self._pass_time(check_time(time_s, what="a song position", not_before_s=self._last_s))
        self._place = sixteenths * CLOCKS_A_SIXTEENTH
        if self._state in (ClockState.UNPLACED, ClockState.LOST, ClockState.ABSENT):
            self._state = ClockState.STOPPED

    def reading(self, now_s: float) -> ClockReading:
        """Return what is known at a moment, without changing anything.

        Between clocks the beat moves on along the line, but never beyond the next clock before that comes.
        Raises BadInput for a time before the last message.
        """
        check_time(now_s, what="a reading", not_before_s=self._last_s)
        if self._is_lost(now_s):
            return ClockReading(ClockState.LOST, None, True, None)
        tempo_bpm = None
        if self._line is not None and now_s - self._clock_s <= LOST_AFTER_S:
            tempo_bpm = 60 / (self._line[0] * CLOCKS_A_BEAT)
        in_range = tempo_bpm is None or LEAST_BPM <= tempo_bpm <= MOST_BPM
        beat = None
        if self._place is not None and self._state is not ClockState.UNPLACED:
            beat = self._place / CLOCKS_A_BEAT
            if self._state is ClockState.RUNNING:
                beat -= (1 - self._since_last(now_s)) / CLOCKS_A_BEAT
        return ClockReading(self._state, tempo_bpm, in_range, beat)

    def beat_due_s(self, beat: float) -> float | None:
        """Return when a beat falls or fell, by the line through the last clocks; None unless running on one.

        Good near the last clocks; before a change of tempo it says nothing.
        """
        if self._state is not ClockState.RUNNING or self._line is None or self._place is None:
            return None
        interval_s, last_s = self._line
        return last_s + (beat * CLOCKS_A_BEAT - (self._place - 1)) * interval_s

    def _is_lost(self, now_s: float) -> bool:
        since_s = self._clock_s
        if self._state is ClockState.STARTING:
            since_s = max(since_s, self._called_s)
        elif self._state not in (ClockState.RUNNING, ClockState.UNPLACED, ClockState.LOST):
            return False
        return now_s - since_s > LOST_AFTER_S

    def _pass_time(self, time_s: float) -> None:
        """Note a loss that came to light only now: which beat it is cannot be known any more.

        A start whose first clock is late still has its place.
        """
        if self._is_lost(time_s) and self._state is not ClockState.STARTING:
            if self._state is ClockState.RUNNING:
                self._place = None
            self._state = ClockState.LOST
            self._forget()
        self._last_s = time_s

    def _forget(self) -> None:
        self._clocks.clear()
        self._off.clear()
        self._line = None

    def _tick(self, time_s: float) -> None:
        if time_s - self._clock_s > LOST_AFTER_S:
            self._forget()  # a tempo of before the silence
        if self._state in (ClockState.ABSENT, ClockState.LOST):
            self._state = ClockState.UNPLACED
        elif self._state is ClockState.STARTING:
            self._state = ClockState.RUNNING
        if self._state is ClockState.RUNNING and self._place is not None:
            self._place += 1
        self._clock_s = time_s
        self._fit(time_s)
        self._number += 1

    def _fit(self, time_s: float) -> None:
        """Move the line on to this clock, through it if it is near; several off it make a new one."""
        clock = self._number, time_s
        if self._line is None:
            self._clocks.append(clock)
            self._line = _line(self._clocks) if len(self._clocks) > _LEAST_INTERVALS else None
            return
        interval_s, last_s = self._line
        off_s = time_s - (last_s + interval_s)
        if off_s > interval_s + _HALT_S:
            self._forget()
            self._clocks.append(clock)
            return
        if abs(off_s) <= _OFF_S:
            self._off.clear()
            self._clocks.append(clock)
            self._line = _line(self._clocks)
            return
        if self._off and off_s / self._off[-1][1] < _OFF_KEPT:  # to the other side, or nearer
            self._off.clear()
        self._off.append((clock, off_s))
        self._line = interval_s, last_s + interval_s
        if len(self._off) == _OFF_CLOCKS:
            begun = [self._clocks[-1], *(off for off, _ in self._off)]
            self._forget()
            self._clocks.extend(begun)
            self._line = _line(self._clocks)

    def _since_last(self, now_s: float) -> float:
        """Which part of the way to the next clock has passed, 0 to 1."""
        if self._line is None:
            return 0.0
        return min(max((now_s - self._line[1]) / self._line[0], 0.0), 1.0)


def _line(clocks: Sequence[tuple[int, float]]) -> tuple[float, float] | None:
    """Least squares: the interval in seconds, and the time at which the last clock stands on the line."""
    first_number, first_s = clocks[0]
    numbers = [number - first_number for number, _ in clocks]
    times_s = [time_s - first_s for _, time_s in clocks]
    middle, middle_s = sum(numbers) / len(clocks), sum(times_s) / len(clocks)
    across = sum((number - middle) ** 2 for number in numbers)
    interval_s = sum((n - middle) * t for n, t in zip(numbers, times_s, strict=True)) / across
    if interval_s <= 0:  # all at one moment
        return None
    return interval_s, first_s + middle_s + (numbers[-1] - middle) * interval_s


@dataclass(frozen=True, slots=True)
class Stretch:
    """So many beats at one tempo."""

    beats: float
    tempo_bpm: float

    def __post_init__(self) -> None:
        """Check the ranges. Raises BadInput."""
        check_tempo(self.tempo_bpm)
        if not 0 < self.beats <= 1_000_000:
            raise BadInput(f"a stretch cannot have {self.beats:g} beats", allowed="above 0, to 1000000")


def clock_messages(stretches: Iterable[Stretch], start_s: float) -> Iterator[TimedMessage]:
    """Give a start, the clocks of stretches of tempo one after another, and a stop, in order of time.

    start_s: when the first beat falls; the start goes out 1 ms before it, or at 0 where there is no time.
    The stop stands where the next clock would. Times are worked out from the start of each stretch, so that
    no error grows. Raises BadInput for a time that is no time.
    """
    check_time(start_s, what="the first beat")
    yield TimedMessage(max(start_s - _START_LEAD_S, 0.0), bytes((START,)))
    number, begins_s, begins = (
        0,
        start_s,
        0.0,
    )  # of the next clock; time and clock at which the stretch begins
    for stretch in stretches:
        interval_s = 60 / (stretch.tempo_bpm * CLOCKS_A_BEAT)
        ends = begins + stretch.beats * CLOCKS_A_BEAT
        while number < ends - 1e-9:
            yield TimedMessage(begins_s + (number - begins) * interval_s, bytes((CLOCK,)))
            number += 1
        begins_s += (ends - begins) * interval_s
        begins = ends
    yield TimedMessage(begins_s, bytes((STOP,)))
