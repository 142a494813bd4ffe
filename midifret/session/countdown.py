"""The countdown before a run: it may wait to be begun, be paused, and be cut short."""

import math
from dataclasses import dataclass

# A note starts a waiting countdown only after this: what still rings from the check of the strings does not.
SETTLED_DOWN_S = 0.5


@dataclass(slots=True)
class Countdown:
    """Counts whole seconds down; times on the run's clock. waits: it does not count yet."""

    seconds: int
    waits: bool = False
    _from_s: float = 0.0
    _paused_s: float | None = None

    @property
    def runs(self) -> bool:
        """Whether it counts just now."""
        return not self.waits and self._paused_s is None

    def begin(self, now_s: float) -> None:
        """Count from now on, or wait from now on."""
        self._from_s, self._paused_s = now_s, None

    def go(self, now_s: float) -> None:
        """Wait no more."""
        self.waits, self._from_s = False, now_s

    def hear(self, onset_s: float) -> bool:
        """Begin by a note; whether that was so."""
        if not self.waits or onset_s - self._from_s < SETTLED_DOWN_S:
            return False
        self.go(onset_s)
        return True

    def pause(self, now_s: float) -> None:
        """Stand still."""
        self._paused_s = now_s

    def resume(self, now_s: float) -> bool:
        """Go on; whether it stood still."""
        if self._paused_s is None:
            return False
        self._from_s += now_s - self._paused_s
        self._paused_s = None
        return True

    def order(self, *, pause: bool, time_s: float) -> None:
        """Take an order: begin, go on where it stood, pause, or be over at once."""
        if self.waits:
            self.go(time_s)
        elif self.resume(time_s):
            pass
        elif pause:
            self.pause(time_s)
        else:
            self.finish(time_s)

    def finish(self, now_s: float) -> None:
        """Be over at once."""
        self._from_s = now_s - self.seconds

    def over(self, now_s: float) -> bool:
        """Whether it has counted down."""
        return self.runs and now_s - self._from_s >= self.seconds

    def shown(self, now_s: float) -> int | None:
        """The number to show, at least 1; None while it waits."""
        if self.waits:
            return None
        at_s = now_s if self._paused_s is None else self._paused_s
        return max(1, math.ceil(self.seconds - (at_s - self._from_s)))
