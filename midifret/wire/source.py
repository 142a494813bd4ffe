"""What every source of messages looks like to a live run."""

from collections.abc import Sequence
from typing import Protocol

from midifret.terms import TimedMessage


class Source(Protocol):
    """A live port or the virtual guitar. Called from the thread that hears; no call may wait."""

    @property
    def name(self) -> str:
        """For people: the port's name, or who plays."""
        ...

    def poll(self) -> Sequence[TimedMessage]:
        """Everything that came since the last call, in order, dated on the run's clock."""
        ...

    def connected(self, *, at_once: bool = False) -> bool:
        """Whether the other end is there, looked at lately or at once; if it is not, it is looked for."""
        ...

    @property
    def trouble(self) -> str:
        """What is wrong while it is not there, and what to do, in full sentences; else empty."""
        ...

    @property
    def last_there_s(self) -> float:
        """When the other end was last known to be there, on the run's clock."""
        ...

    def close(self) -> None:
        """Let go of whatever is held."""
        ...
