"""The one reading of real time, and its twin for tests and for fast runs."""

import ctypes
import math
import sys
import time
from collections.abc import Callable
from typing import Protocol

from midifret.clock.jumps import Readings

# Where reading all the clocks took longer than this, something came between; they are read again, so often.
_TOGETHER_S = 0.001
_ATTEMPTS = 3
_WALL_START_S = 1_000_000_000.0  # where the simulated time of day starts; any moment would do


class Clock(Protocol):
    """What tells the time and lets it pass."""

    def now_s(self) -> float:
        """Seconds since some fixed moment; never runs backwards."""
        ...

    def wait_s(self, seconds: float) -> None:
        """Let that much time pass; nothing or a negative number returns at once."""
        ...

    def readings(self) -> Readings:
        """All clocks at one moment, for a JumpWatch; `steady_s` is `now_s`."""
        ...


class RealClock:
    """The machine's steady clock (`time.perf_counter`)."""

    def __init__(self) -> None:
        """Find out which clocks the system has."""
        self._with_sleep, self._without_sleep = _sleep_clocks()

    def now_s(self) -> float:
        """Seconds since some fixed moment."""
        return time.perf_counter()

    def wait_s(self, seconds: float) -> None:
        """Sleep; the system may wake later, never earlier."""
        if seconds > 0:
            time.sleep(seconds)

    def readings(self) -> Readings:
        """All clocks at one moment; takes some microseconds."""
        best: Readings | None = None
        for _ in range(_ATTEMPTS):
            steady_s = time.perf_counter()
            with_sleep_s = None if self._with_sleep is None else self._with_sleep()
            without_sleep_s = steady_s if self._without_sleep is None else self._without_sleep()
            wall_s = time.time()
            took_s = time.perf_counter() - steady_s
            if best is None or took_s < best.took_s:
                known_s = None if with_sleep_s is None else without_sleep_s
                best = Readings(steady_s, wall_s, with_sleep_s, known_s, took_s)
            if took_s <= _TOGETHER_S:
                break
        assert best is not None
        return best


class SimulatedClock:
    """A clock that moves only when someone waits on it; ten minutes pass in no time. For one thread."""

    def __init__(self, start_s: float = 0.0) -> None:
        """Start at that time."""
        self._now_s = start_s
        self._slept_s = 0.0  # while the steady clock stood still
        self._slept_within_s = 0.0  # while it went on
        self._set_by_s = 0.0

    def now_s(self) -> float:
        """The simulated time, in seconds."""
        return self._now_s

    def wait_s(self, seconds: float) -> None:
        """Move on by that much. Raises ValueError for a number that is not finite."""
        if not math.isfinite(seconds):
            raise ValueError(f"a simulated clock cannot wait {seconds} s")
        self._now_s += max(0.0, seconds)

    def readings(self) -> Readings:
        """All clocks at this simulated moment."""
        all_s = self._now_s + self._slept_s
        return Readings(
            steady_s=self._now_s,
            wall_s=_WALL_START_S + all_s + self._set_by_s,
            with_sleep_s=all_s,
            without_sleep_s=self._now_s - self._slept_within_s,
        )

    def suspend(self, seconds: float, *, steady_goes_on: bool = False) -> None:
        """Let the system sleep. steady_goes_on: the steady clock counts it, as on Windows."""
        if steady_goes_on:
            self._now_s += seconds
            self._slept_within_s += seconds
        else:
            self._slept_s += seconds

    def set_wall_clock(self, by_s: float) -> None:
        """Set the time of day forward, or back by a negative number."""
        self._set_by_s += by_s


def _sleep_clocks() -> tuple[Callable[[], float] | None, Callable[[], float] | None]:
    """Return a clock that goes on while the system sleeps, and one that does not; None: the steady one.

    Without the first the second says nothing. jumps.py has the table and its sources.
    """
    if sys.platform == "win32":
        return _windows_clocks()
    name = "CLOCK_MONOTONIC_RAW" if sys.platform == "darwin" else "CLOCK_BOOTTIME"
    number: int | None = getattr(time, name, None)
    if number is None:
        return None, None
    try:
        time.clock_gettime(number)
    except OSError:  # named, but not in this kernel
        return None, None
    return (lambda: time.clock_gettime(number)), None


def _windows_clocks() -> tuple[Callable[[], float] | None, Callable[[], float] | None]:
    library = getattr(ctypes, "windll", None)
    if library is None:
        return None, None
    kernel = library.kernel32
    kernel.GetTickCount64.restype = ctypes.c_ulonglong
    awake = ctypes.c_ulonglong()

    def without_sleep_s() -> float:
        kernel.QueryUnbiasedInterruptTime(ctypes.byref(awake))
        return awake.value / 1e7  # units of 100 ns

    return (lambda: kernel.GetTickCount64() / 1e3), without_sleep_s
