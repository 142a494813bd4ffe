"""What every source of messages looks like to a live run."""

from collections.abc import Sequence
from typing import Protocol

from midifret.terms import TimedMessage


class Source(Protocol):
    """A live port or the virtual guitar. Called from the thread that hears; no call may block."""

    @property
    def name(self) -> str:
        """For people: the port's name, or who plays."""
        ...

    def poll(self) -> Sequence[TimedMessage]:
        """Everything that came since the last call, in order, dated on the run's clock."""
        ...

    def connected(self) -> bool:
        """Whether the other end is still there."""
        ...

    def close(self) -> None:
        """Let go of whatever is held."""
        ...
