"""A MIDI message with the time at which it was sent."""

from typing import NamedTuple


class TimedMessage(NamedTuple):
    """One complete MIDI message, as every source gives it.

    time_s: seconds on the clock of the source (live: the run's clock; a take: from its start).
    data: the bytes of one message, status byte first.
    """

    time_s: float
    data: bytes
