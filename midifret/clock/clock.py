"""The one reading of real time, and its twin for tests and for fast runs."""

import math
import time
from typing import Protocol


class Clock(Protocol):
    """What tells the time and lets it pass."""

    def now_s(self) -> float:
        """Seconds since some fixed moment; never runs backwards."""
        ...

    def wait_s(self, seconds: float) -> None:
        """Let that much time pass; nothing or a negative number returns at once."""
        ...


class RealClock:
    """The machine's steady clock (`time.perf_counter`)."""

    def now_s(self) -> float:
        """Seconds since some fixed moment."""
        return time.perf_counter()

    def wait_s(self, seconds: float) -> None:
        """Sleep; the system may wake later, never earlier."""
        if seconds > 0:
            time.sleep(seconds)


class SimulatedClock:
    """A clock that moves only when someone waits on it; ten minutes pass in no time. For one thread."""

    def __init__(self, start_s: float = 0.0) -> None:
        """Start at that time."""
        self._now_s = start_s

    def now_s(self) -> float:
        """The simulated time, in seconds."""
        return self._now_s

    def wait_s(self, seconds: float) -> None:
        """Move on by that much. Raises ValueError for a number that is not finite."""
        if not math.isfinite(seconds):
            raise ValueError(f"a simulated clock cannot wait {seconds} s")
        self._now_s += max(0.0, seconds)
