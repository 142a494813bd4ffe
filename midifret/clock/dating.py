"""When a message was sent: the driver's own time steps, anchored to the moments at which messages came out.

The driver stamps each message as it comes in and tells the step from the message before. Python reads it
later: by a millisecond when all is quiet, by tens when something holds the interpreter. The sum of the steps
therefore keeps a better time than the arrivals, but has no zero, drifts, and is wrong now and then. Arrival
less sum is the zero plus a delay that is never negative; so the least of it is the best guess of the zero.
"""

import math
from collections import deque

# How long an arrival may serve as anchor. Two quartz clocks differ by 100 ppm at the worst [common practice,
# no source], which is 1 ms in 10 s: no more than the polling step of 1 ms that the arrivals carry anyway.
# A longer time would follow drift worse; a shorter one would leave slow players without an anchor.
WINDOW_S = 10.0
# By how much steps and arrivals may contradict each other. A driver hands over what it has stamped after one
# period of the sound server or one frame of the bus (1 to 3 ms) and when its thread gets its turn, which on a
# busy machine takes a time slice of a few milliseconds more. Beyond 10 ms of jitter players begin to mind.
SLACK_S = 0.010
# The same where the reader cannot say when it last found nothing waiting: the longest that a live loop may
# plausibly have been kept from reading. Measured 36 ms at the 99th percentile beside a parsing load; this is
# seven times that.
STALL_S = 0.25


class MessageDater:
    """Dates the messages of one port, in the order in which the driver gave them."""

    def __init__(self) -> None:
        """Start without an anchor: the first message is dated by its arrival."""
        self._sum_s = 0.0
        self._anchors: deque[tuple[float, float]] = (
            deque()
        )  # (arrival, zero), zeros rising: a sliding minimum
        self._arrival_s = -math.inf
        self._time_s = -math.inf

    def date(self, delta_s: float, arrival_s: float, *, empty_s: float | None = None) -> tuple[float, bool]:
        """Return when the message was sent, on the arrivals' clock, and whether steps and arrivals agree.

        delta_s: the driver's step from the message before. arrival_s: when the message was read; an arrival
        before the last one counts as the same moment. empty_s: when the reader last found nothing waiting; a
        message read after that was sent after it. The time is never after the arrival and never before the
        time of the message before. Where the two disagree it is the arrival.
        """
        arrival_s = max(arrival_s, self._arrival_s)
        self._arrival_s = arrival_s
        if not math.isfinite(delta_s) or abs(delta_s) > 1e9:  # no longer a number of seconds
            return self._start_anew(arrival_s)
        self._sum_s += delta_s
        zero_s = arrival_s - self._sum_s
        while self._anchors and self._anchors[0][0] < arrival_s - WINDOW_S:
            self._anchors.popleft()
        before_s = self._anchors[0][1] if self._anchors else zero_s
        while self._anchors and self._anchors[-1][1] >= zero_s:
            self._anchors.pop()
        self._anchors.append((arrival_s, zero_s))
        sent_s = self._sum_s + self._anchors[0][1]
        earliest_s = arrival_s - STALL_S if empty_s is None else empty_s - SLACK_S
        if sent_s < earliest_s:  # the steps are too short: one is missing, or the machine slept
            return self._start_anew(arrival_s)
        # The steps are too long where an earlier anchor would put the message after its arrival; from here on
        # this message is the anchor, for it has the least zero.
        trusted = before_s - zero_s <= SLACK_S
        self._time_s = max(self._time_s, min(sent_s, arrival_s))
        return self._time_s, trusted

    def _start_anew(self, arrival_s: float) -> tuple[float, bool]:
        self._sum_s = 0.0
        self._anchors.clear()
        self._anchors.append((arrival_s, arrival_s))
        self._time_s = arrival_s
        return arrival_s, False
