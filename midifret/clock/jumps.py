"""Gaps in time: the system slept, the loop was kept from running, or somebody set the wall clock.

A response that spans such a gap says nothing of the player. Which it was is told by several clocks, read
together at each turn of a loop: the steady one, on which everything in a run is dated; the wall clock; and,
where the system has them, one that goes on while the system sleeps and one that stands still.

What the clocks do, by platform (clock.py reads them):

| | steady | goes on in sleep | stands still in sleep |
|---|---|---|---|
| Linux | stands still in sleep | CLOCK_BOOTTIME | the steady one |
| macOS | stands still in sleep | CLOCK_MONOTONIC_RAW | the steady one |
| Windows | goes on [mem] | GetTickCount64 | QueryUnbiasedInterruptTime |

Linux: clock_gettime(2). macOS: clock_gettime(3). Windows: the pages of these functions. Only Linux was tried.
"""

from dataclasses import dataclass
from enum import StrEnum

# The loop looks each millisecond. What keeps it longer than this was no ordinary load: reading beside a
# parsing load was measured to be 36 ms late at the 99th percentile, and this is seven times that [ours].
STALL_S = 0.25
# No system sleeps and wakes in less; the two clocks of Windows go in steps of 10 to 16 ms [ours].
SLEEP_S = 0.1
# A daemon that keeps the time sets the clock at once where it is off by 128 ms or more (ntpd [mem]) and
# bends it by at most 500 parts in a million below that (Linux kernel [mem]); twice that is let pass.
WALL_STEP_S = 0.1
WALL_BEND = 0.001


class JumpKind(StrEnum):
    """What a gap in time was."""

    SUSPENDED = "suspended"  # the system slept
    STALLED = "stalled"  # the loop was kept from running, and nothing was read or shown meanwhile
    WALL_CLOCK_SET = "wall clock set"  # harms no time of a run, which has a clock of its own


@dataclass(frozen=True, slots=True)
class Readings:
    """Several clocks read at one moment, in seconds since some moment of each.

    steady_s: the clock on which everything in a run is dated. wall_s: the time of day, UTC. with_sleep_s:
    a clock that goes on while the system sleeps; without_sleep_s: one that stands still; None where the
    system has none. took_s: how long the reading took, so how far apart the clocks may have been read.
    """

    steady_s: float
    wall_s: float
    with_sleep_s: float | None = None
    without_sleep_s: float | None = None
    took_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Jump:
    """A gap in time, between two turns of a loop.

    since_s, until_s: the turns before and after it, on the steady clock; equal to within a turn where that
    clock stood still. lost_s: how long the system slept, how long the loop did not run, or how far forward
    the wall clock was set (negative: back).
    """

    since_s: float
    until_s: float
    kind: JumpKind
    lost_s: float

    @property
    def voids(self) -> bool:
        """Whether a response that spans it says nothing of the player."""
        return self.kind is not JumpKind.WALL_CLOCK_SET


class JumpWatch:
    """Finds gaps between the turns of a loop.

    Where no clock tells of sleep, a wall clock that leaps forward is taken for sleep: the two cannot be told
    apart, and a prompt void for nothing does less harm than a wrong time. A virtual machine that is halted
    from outside shows at best as a wall clock that was set.
    """

    def __init__(self) -> None:
        """Start with the first readings that come."""
        self._last: Readings | None = None

    def forget(self) -> None:
        """Leave out the time until the next look: the loop was meant to rest."""
        self._last = None

    def look(self, now: Readings) -> tuple[Jump, ...]:
        """Return what happened since the last look, mostly nothing; at most a gap and a set wall clock.

        A gap that was partly sleep is told as sleep alone.
        """
        last, self._last = self._last, now
        if last is None:
            return ()
        steady_s = max(0.0, now.steady_s - last.steady_s)
        awake_s = _grown(last.without_sleep_s, now.without_sleep_s)
        all_s = _grown(last.with_sleep_s, now.with_sleep_s)
        unsure_s = last.took_s + now.took_s
        gained_s = now.wall_s - last.wall_s - (steady_s if all_s is None else all_s)
        wall_slack_s = WALL_STEP_S + unsure_s + WALL_BEND * (steady_s if all_s is None else all_s)
        was_set = abs(gained_s) > wall_slack_s
        slept_s = 0.0
        if all_s is not None and awake_s is not None:
            slept_s = all_s - awake_s
        elif gained_s > wall_slack_s:
            slept_s, was_set = gained_s, False
        jumps: list[Jump] = []
        if slept_s > SLEEP_S + unsure_s:
            jumps.append(Jump(last.steady_s, now.steady_s, JumpKind.SUSPENDED, slept_s))
        else:
            ran_s = steady_s if awake_s is None else awake_s
            if ran_s > STALL_S:
                jumps.append(Jump(last.steady_s, now.steady_s, JumpKind.STALLED, ran_s))
        if was_set:
            jumps.append(Jump(last.steady_s, now.steady_s, JumpKind.WALL_CLOCK_SET, gained_s))
        return tuple(jumps)


def _grown(before_s: float | None, after_s: float | None) -> float | None:
    return None if before_s is None or after_s is None else max(0.0, after_s - before_s)
