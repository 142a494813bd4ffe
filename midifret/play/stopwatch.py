"""How long a run has gone on, its pauses left out."""

import math


class Stopwatch:
    """Begins once, and knows every pause; times in seconds on the run's clock. A pause may still be open."""

    def __init__(self) -> None:
        """Stand still."""
        self.began_s: float | None = None
        self._pauses: list[tuple[float, float]] = []  # from, to

    def pause(self, time_s: float) -> None:
        """Stop at a moment, which may have passed."""
        self._pauses.append((time_s, math.inf))

    def resume(self, time_s: float) -> None:
        """Go on after the latest pause."""
        self._pauses[-1] = self._pauses[-1][0], time_s

    def leave_out(self, from_s: float, to_s: float) -> None:
        """Take a pause that is known as a whole."""
        self._pauses.append((from_s, to_s))

    def is_paused(self, time_s: float) -> bool:
        """Whether a moment lies in a pause; the one of going on does not."""
        return any(from_s <= time_s < to_s for from_s, to_s in self._pauses)

    def played_s(self, until_s: float) -> float:
        """Seconds since the beginning, pauses left out; 0 before it."""
        return 0.0 if self.began_s is None else self.between_s(self.began_s, until_s)

    def between_s(self, from_s: float, to_s: float) -> float:
        """Seconds between two moments, pauses left out."""
        paused = (min(end_s, to_s) - max(begin_s, from_s) for begin_s, end_s in self._pauses)
        return to_s - from_s - sum(max(0.0, each_s) for each_s in paused)
