"""The guitar goes and comes back: since when, what was stopped by it, and when that goes on."""

import math
from dataclasses import dataclass

# Before a run goes on by itself with the guitar back: hands have to get from the cable to the strings [ours].
BACK_COUNT_S = 3
_BACK = "The guitar is back."


@dataclass(slots=True)
class Loss:
    """Whether the guitar is gone; times on the run's clock.

    gone: nothing can be heard; everything waits. held: run or countdown was stopped by that, and goes on
    without being told. goes_on_s: when a run does.
    """

    gone: bool = False
    held: bool = False
    goes_on_s: float | None = None
    _said_before: str = ""  # the message that the loss replaced

    def begin(self, message: str) -> None:
        """It has gone. message: what the player read."""
        self.gone, self.goes_on_s, self._said_before = True, None, message

    def end(self) -> str:
        """It is back; return what to say."""
        self.gone = False
        return f"{_BACK} {self._said_before.removeprefix(_BACK).lstrip()}".rstrip()

    def go_on(self, now_s: float) -> None:
        """Let what was held go on after a count."""
        self.goes_on_s = now_s + BACK_COUNT_S

    def over(self) -> None:
        """What was held goes on, for whatever reason."""
        self.held, self.goes_on_s = False, None

    def is_due(self, now_s: float) -> bool:
        """Whether what was held goes on now."""
        return self.goes_on_s is not None and now_s >= self.goes_on_s

    def count(self, now_s: float) -> int | None:
        """The number to show before it goes on, at least 1; None for none."""
        return None if self.goes_on_s is None else max(1, math.ceil(self.goes_on_s - now_s))


def gone_since_s(there_s: float, *, now_s: float, ordered_s: float, named_s: float) -> float:
    """Return since when the guitar counts as gone.

    there_s: when it was last known to be there. ordered_s, named_s: the last order, and just after the last
    typed name: no signs of the guitar, but they count and must not end up in the pause.
    """
    return max(min(there_s, now_s), ordered_s, named_s)
