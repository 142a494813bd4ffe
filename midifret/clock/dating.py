"""When a message was sent: the driver's own time steps, anchored to the moments at which messages came out.

The driver stamps each message as it comes in and tells the step from the message before. Python reads it
later: by a millisecond when all is quiet, by tens when something holds the interpreter. The sum of the steps
therefore keeps a better time than the arrivals, but has no zero, drifts, and is wrong now and then.

**Estimator.** Date = sum of the steps + anchor. The anchor is the least of (arrival - sum) among the messages
of the last 5 to 10 seconds, or among the last 8 to 16 where they come slower. Arrival less sum is the zero
and a delay, which is never negative, so the least of it is the best guess of the zero. Over a pause the
anchor is let rise by as much as two clocks may have drifted apart. Once a minute of data shows how much they
do (drift.py), the steps are corrected for it.

**Assumptions.** Stamps are taken before the message is handed over, within one period of the sound server or
frame of the bus; steps are true to their own resolution, and the clocks drift by no more than 0.1%.

**Bounds.** A date is never after the arrival. It is late by no more than the shortest delay among those
messages, and after a pause by 0.1 ms for each second of it besides, until one is read in time. While drift is
not known it is early by no more than the drift over the age of the anchor, and in steady playing not for more
than 8 messages by more than EARLY_S, one turn of the reading loop and the resolution of the steps.

**Where steps lie.** A message cannot have been sent after it arrived (the step was too long), nor well before
the queue was last found empty (too short, missing, or 0 throughout). Such a message is dated by its arrival
and flagged. Steps that lie often are not believed at all until they have been right for a while.
"""

import math
from collections import deque
from dataclasses import dataclass
from enum import StrEnum

from midifret.clock.drift import Drift, fit_drift

# By how much steps and arrivals may contradict each other. A driver hands over what it has stamped after one
# period of the sound server or one frame of the bus (1 to 3 ms) and when its thread gets its turn, which on a
# busy machine takes a time slice of a few milliseconds more. Beyond 10 ms of jitter players begin to mind.
SLACK_S = 0.010
# The same where the reader cannot say when it last found nothing waiting: the longest that a live loop may
# plausibly have been kept from reading. Measured 36 ms at the 99th percentile beside a parsing load; this is
# seven times that.
STALL_S = 0.25
# So many messages in a row dated before the queue was empty, each by more than this, mean that the anchor is
# too early: a short step is missing, or the clocks drift fast [ours]. 1 ms is the polling step.
EARLY_S = 0.001
EARLY_MESSAGES = 8
# The anchor comes from this block of messages and the one before. Two crystals differ by 100 ppm at the worst
# [common practice, no source], which is half a millisecond in 5 s.
BLOCK_S = 5.0
BLOCK_MESSAGES = 8
WINDOW_S = 2 * BLOCK_S
# Longer between two messages is a pause, and the anchor is let rise by the drift of two crystals.
_PAUSE_S = 1.0
DRIFT = 100e-6
# Beyond what drift is known to be the anchor still rises by this over a pause: crystals follow temperature,
# by a few ppm a degree at the worst [common practice, no source].
_WANDER = 5e-6
# Drift is corrected where it is sure not to be 0, the points lie close to the line, and it is one that a
# clock may have. More than 0.1% is no crystal but steps that lie [ours].
_CLOSE_S = 0.002
MOST_DRIFT = 1e-3
_BLOCKS = 120  # for the drift: ten minutes of steady playing
# Doubt: 1 for each contradiction, forgotten within some 32 messages. At 4 (an eighth of all messages, or four
# at once) steps are not believed any more; below 1 (45 to 75 right ones later) they are again [ours].
_FORGET = 31 / 32
_NO_MORE, _AGAIN = 4.0, 1.0
# Resolutions of steps that are told apart, and from how many steps.
_GRIDS_S = (1e-6, 1e-5, 1e-4, 1e-3, 1e-2)
_GRID_STEPS = 20
# A driver that tells the step of a packet for each message in it is known after so many; messages read at one
# go are read within this [ours].
_CAUGHT = 3
_ONE_GO_S = 0.0005
_KEPT = 512  # disagreements kept for the figures
_STEPS_KNOWN = 20  # messages before anything is said of the steps
_OFTEN = 0.02  # share of untrusted messages from which steps are called contradictory [ours]


class Steps(StrEnum):
    """What the driver's steps are worth."""

    UNKNOWN = "unknown"  # too few messages
    GOOD = "good"
    CONTRADICTORY = "contradictory"  # they often contradict the arrivals
    MISSING = "missing"  # always 0


@dataclass(frozen=True, slots=True)
class DatingFigures:
    """What a dater has seen so far.

    messages, untrusted: how many were dated, and of these by arrival because the steps contradicted it.
    fresh_starts: how often the anchor had to be given up. repaired: messages told the step of another one of
    the same packet. steps: what they are worth; by_arrival: whether they are not believed just now.
    drift_ppm: by how many parts in a million the driver's clock runs faster than this machine's, with its 95%
    interval, and whether the steps are corrected for it; None for too little data. resolution_ms: of the
    steps, 0.001 for that or finer; None for too few. Disagreement: arrival less date, of the last messages.
    """

    messages: int
    untrusted: int
    fresh_starts: int
    repaired: int
    steps: Steps
    by_arrival: bool
    drift_ppm: float | None
    drift_low_ppm: float | None
    drift_high_ppm: float | None
    drift_corrected: bool
    resolution_ms: float | None
    disagreement_median_ms: float | None
    disagreement_99_ms: float | None
    disagreement_most_ms: float | None

    @property
    def untrusted_share(self) -> float:
        """Of all messages, 0 to 1."""
        return self.untrusted / self.messages if self.messages else 0.0


class MessageDater:
    """Dates the messages of one port, in the order in which the driver gave them."""

    def __init__(self) -> None:
        """Start without an anchor: the first message is dated by its arrival."""
        self._arrival_s = -math.inf
        self._time_s = -math.inf
        self._delta_s = 0.0
        self._messages = self._untrusted = self._fresh_starts = self._repaired = 0
        self._doubt = 0.0
        self._by_arrival = False
        self._grid = len(_GRIDS_S) - 1
        self._steps = 0  # that were not 0
        self._coarse_s = 0.0  # the resolution, once it is known to be one that matters
        self._disagreements_s: deque[float] = deque(maxlen=_KEPT)
        self._rate = 1.0  # by which steps are multiplied
        self._rise = DRIFT  # of the anchor over a pause
        self._drift: Drift | None = None
        self._points: deque[tuple[float, float]] = deque(maxlen=_BLOCKS)
        self._sum_s = self._raw_s = 0.0  # of the steps, corrected for drift and not
        # The least zero of this block of messages: itself, by uncorrected steps, how long its message may
        # have waited, and when it arrived. The same of the block before.
        self._least_s = self._least_raw_s = self._least_late_s = self._least_at_s = 0.0
        self._before_s = self._before_late_s = self._before_at_s = 0.0
        self._block_s = 0.0  # when this block began
        self._in_block = 0
        self._early, self._early_least_s = 0, math.inf
        self._anchor_at(0.0, math.inf, 0.0)

    def date(self, delta_s: float, arrival_s: float, *, empty_s: float | None = None) -> tuple[float, bool]:
        """Return when the message was sent, on the arrivals' clock, and whether steps and arrivals agree.

        delta_s: the driver's step from the message before. arrival_s: when the message was read; an arrival
        before the last one counts as the same moment. empty_s: when the reader last found nothing waiting; a
        message read after that was sent after it. The time is never after the arrival and never before the
        time of the message before. Where the two disagree it is the arrival.
        """
        self._messages += 1
        self._doubt *= _FORGET
        pause_s = arrival_s - self._arrival_s
        if pause_s < 0.0:
            pause_s, arrival_s = 0.0, self._arrival_s
        self._arrival_s = arrival_s
        if not -1e9 < delta_s < 1e9:  # no longer a number of seconds
            return self._start_anew(arrival_s, empty_s)
        if delta_s:
            self._see_grid(delta_s)
        late_s = STALL_S if empty_s is None else arrival_s - empty_s  # the longest it may have waited
        if pause_s > _PAUSE_S:
            self._least_s += self._rise * pause_s
            self._before_s += self._rise * pause_s
        step_s = delta_s * self._rate
        sum_s = self._sum_s + step_s
        if self._least_s <= self._before_s:
            anchor_s, anchor_late_s, anchor_at_s = self._least_s, self._least_late_s, self._least_at_s
        else:
            anchor_s, anchor_late_s, anchor_at_s = self._before_s, self._before_late_s, self._before_at_s
        trusted = True
        # Too long: an anchor that holds would put the message after its arrival. An anchor that may have
        # waited itself does not hold that well.
        fallen_s = anchor_s - (arrival_s - sum_s) - anchor_late_s - self._coarse_s
        too_long = fallen_s > EARLY_S and anchor_s < math.inf
        if (
            delta_s == self._delta_s
            and delta_s > 0.0
            and self._told_again(delta_s, fallen_s, too_long=too_long, pause_s=pause_s)
        ):
            trusted, sum_s, delta_s = False, self._sum_s, 0.0
            self._repaired += 1
        elif too_long and fallen_s > SLACK_S + MOST_DRIFT * (arrival_s - anchor_at_s):
            return self._start_anew(arrival_s, empty_s)
        self._raw_s += delta_s
        self._delta_s = delta_s if trusted else self._delta_s
        self._sum_s = sum_s
        zero_s = arrival_s - sum_s
        if zero_s < self._least_s:
            self._least_s, self._least_late_s = zero_s, late_s
            self._least_at_s, self._least_raw_s = arrival_s, arrival_s - self._raw_s
            if zero_s < anchor_s:
                anchor_s, anchor_at_s = zero_s, arrival_s
        sent_s = sum_s + anchor_s
        if empty_s is None:
            if sent_s < arrival_s - STALL_S:
                return self._start_anew(arrival_s, empty_s)
        elif sent_s < empty_s - EARLY_S - self._coarse_s:
            short_s = empty_s - EARLY_S - self._coarse_s - sent_s
            age_s = arrival_s - anchor_at_s
            if age_s > WINDOW_S and short_s <= MOST_DRIFT * age_s:  # an old anchor, and drift
                sent_s += short_s
                self._least_s = max(self._least_s, anchor_s + short_s)
                self._before_s = max(self._before_s, anchor_s + short_s)
            elif sent_s < empty_s - SLACK_S - self._coarse_s:  # a step is missing, or the machine slept
                return self._start_anew(arrival_s, empty_s)
            else:
                self._early += 1
                self._early_least_s = min(self._early_least_s, zero_s)
                if self._early == EARLY_MESSAGES:
                    trusted = False
                    sent_s = sum_s + self._lift()
        elif self._early:
            self._early, self._early_least_s = 0, math.inf
        self._in_block += 1
        if self._in_block >= BLOCK_MESSAGES and arrival_s - self._block_s >= BLOCK_S:
            self._close_block(arrival_s)
        if self._by_arrival:
            sent_s, trusted = arrival_s, False
            self._by_arrival = self._doubt >= _AGAIN
        time_s = sent_s if sent_s < arrival_s else arrival_s
        if time_s < self._time_s:
            time_s = self._time_s
        self._time_s = time_s
        self._untrusted += not trusted
        self._disagreements_s.append(arrival_s - time_s)
        return time_s, trusted

    def figures(self) -> DatingFigures:
        """What was seen so far; sorts the last disagreements, so not for every message."""
        late_ms = sorted(1000 * late_s for late_s in self._disagreements_s)
        drift = self._drift
        per_million = 1e6 * -drift.slope if drift is not None else None
        unsure = 1e6 * drift.unsure if drift is not None else 0.0
        return DatingFigures(
            messages=self._messages,
            untrusted=self._untrusted,
            fresh_starts=self._fresh_starts,
            repaired=self._repaired,
            steps=self._worth(),
            by_arrival=self._by_arrival,
            drift_ppm=per_million,
            drift_low_ppm=None if per_million is None else per_million - unsure,
            drift_high_ppm=None if per_million is None else per_million + unsure,
            drift_corrected=self._rate != 1.0,
            resolution_ms=1000 * _GRIDS_S[self._grid] if self._steps >= _GRID_STEPS else None,
            disagreement_median_ms=late_ms[len(late_ms) // 2] if late_ms else None,
            disagreement_99_ms=late_ms[int(0.99 * (len(late_ms) - 1))] if late_ms else None,
            disagreement_most_ms=late_ms[-1] if late_ms else None,
        )

    def _worth(self) -> Steps:
        if self._messages < _STEPS_KNOWN:
            return Steps.UNKNOWN
        if not self._steps:
            return Steps.MISSING
        if self._by_arrival or self._untrusted > _OFTEN * self._messages:
            return Steps.CONTRADICTORY
        return Steps.GOOD

    def _see_grid(self, delta_s: float) -> None:
        """Find the coarsest resolution that fits all steps; mostly one comparison."""
        self._steps += 1
        while self._grid and delta_s < 1e3:  # beyond that a float does not hold it well enough
            parts = delta_s / _GRIDS_S[self._grid]
            if abs(parts - round(parts)) < 1e-3:
                break
            self._grid -= 1
        if self._steps == _GRID_STEPS or (self._coarse_s and self._steps > _GRID_STEPS):
            self._coarse_s = _GRIDS_S[self._grid] if _GRIDS_S[self._grid] > EARLY_S / 2 else 0.0

    def _told_again(self, delta_s: float, fallen_s: float, *, too_long: bool, pause_s: float) -> bool:
        """Whether the step is that of the message before, told once more for one of the same packet.

        A driver that was caught doing that is taken to do it with all messages that are read at one go.
        """
        if too_long:
            return fallen_s <= delta_s * self._rate and self._arrival_s - delta_s < self._time_s
        return self._repaired >= _CAUGHT and pause_s < _ONE_GO_S and not self._coarse_s

    def _anchor_at(self, arrival_s: float, zero_s: float, late_s: float) -> None:
        """Begin with this as the only anchor; nothing older says anything."""
        self._sum_s = self._raw_s = 0.0
        self._least_s = self._least_raw_s = zero_s
        self._least_late_s = self._before_late_s = late_s
        self._least_at_s = self._before_at_s = self._block_s = arrival_s
        self._before_s = math.inf
        self._in_block = 1 if zero_s < math.inf else 0
        self._early, self._early_least_s = 0, math.inf
        self._points.clear()

    def _start_anew(self, arrival_s: float, empty_s: float | None) -> tuple[float, bool]:
        self._contradicted()
        self._anchor_at(arrival_s, arrival_s, STALL_S if empty_s is None else arrival_s - empty_s)
        self._time_s = arrival_s
        self._untrusted += 1
        self._disagreements_s.append(0.0)
        return arrival_s, False

    def _lift(self) -> float:
        """Move an anchor that is too early up to what the last messages allow, and return it."""
        self._contradicted()
        zero_s = self._early_least_s
        self._least_s, self._before_s = zero_s, math.inf
        self._least_at_s, self._least_raw_s = self._arrival_s, self._arrival_s - self._raw_s
        self._early, self._early_least_s = 0, math.inf
        return zero_s

    def _contradicted(self) -> None:
        self._fresh_starts += 1
        self._doubt += 1.0
        if self._doubt >= _NO_MORE:
            self._by_arrival, self._rate, self._rise, self._drift = True, 1.0, DRIFT, None

    def _close_block(self, arrival_s: float) -> None:
        self._points.append((self._least_at_s, self._least_raw_s))
        self._before_s, self._before_late_s, self._before_at_s = (
            self._least_s,
            self._least_late_s,
            self._least_at_s,
        )
        self._least_s = math.inf
        self._block_s, self._in_block = arrival_s, 0
        drift = fit_drift(self._points)
        if drift is None:
            return  # what was found before a fresh start still holds
        self._drift = drift
        self._rate, self._rise = 1.0, DRIFT
        if drift.height_s <= _CLOSE_S and abs(drift.slope) <= MOST_DRIFT:
            if abs(drift.slope) > drift.unsure:
                self._rate = 1.0 / (1.0 - drift.slope)
            # Corrected or not, what is left of the drift lies within the interval.
            self._rise = min(DRIFT, drift.unsure + _WANDER)
