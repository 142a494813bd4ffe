"""A reading that takes its beat from another device: its uneven onsets on that device's quarters."""

import math
from bisect import bisect_right
from collections.abc import Sequence

from midifret.reading.bars import beat_quarter, meter_of
from midifret.session.conductor import Beat
from midifret.session.followed import SAME_MOMENT_S, Follower, Following
from midifret.session.reading_beat import beat_grid, gaps_quarter
from midifret.terms import Exercise
from midifret.terms.marks import DuePoint

# What is due within so many quarters is told, and the next event however far it is: the cue comes when the
# one before is due, and an early note by half a way at most [ours].
_QUARTERS_AHEAD = 2.0


class FollowedReading(Follower):
    """A conductor of a reading that follows a MIDI clock, whose beat is a quarter note (MIDI 1.0).

    The device's bars are taken to be as long as those of the meter that holds where the reading begins. The
    count-in begins with its next bar, and goes on until the first note falls where it stands in its own bar.
    Each note is told while it comes near, and again where the tempo has changed meanwhile, until its window
    begins.
    """

    def __init__(self, exercise: Exercise, clock: Following) -> None:
        """Take a reading in tempo, whose beats a minute the device gives; ValueError for anything else."""
        if exercise.tempo is None or exercise.score is None:
            raise ValueError(f"{exercise.name} is no reading in tempo")
        super().__init__(exercise.tempo, clock)
        self._score = exercise.score
        self._grid = beat_grid(self._score)
        self._gaps = gaps_quarter(exercise)
        self._beat_quarter = float(beat_quarter(meter_of(self._score)))
        self._start = 0.0  # in the device's quarters: where the beat of the first note lies
        self._from = 1  # the first prompt whose window had not begun

    def begin(self, now_s: float, n: int) -> None:
        """Wait for the next bar."""
        super().begin(now_s, n)
        self._from = n

    def turn(self, now_s: float) -> Sequence[DuePoint]:
        """Take what the device said; tell the notes that come near."""
        going = self._listen(now_s)
        if going is None or self._first is None:
            return []
        if self._origin is None:
            self._origin = self._place(going.beat, self._first)
        here = going.beat - self._origin
        quarter_s = 60 / going.tempo_bpm
        news: list[DuePoint] = []
        ahead: float | None = None  # the onset of the first event that is still to come
        while (past := self._told.get(self._from)) and now_s >= past.due_s - past.half_window_s:
            self._from += 1
        for n in range(self._from, len(self._score.notes) + 1):
            onset = float(self._score.notes[n - 1].onset_quarter)
            told = self._told.get(n)
            if onset > here and ahead is None:
                ahead = onset
            if onset > here + _QUARTERS_AHEAD and onset != ahead:
                break
            due_s = self._clock.beat_due_s(self._origin + onset)
            if due_s is None:
                break
            if told is not None and abs(told.due_s - due_s) < SAME_MOMENT_S:
                continue
            half_s = min(self._tempo.within_ms / 1000, self._tempo.share * self._gaps[n - 1] * quarter_s)
            news.append(self._tell(DuePoint(n, due_s, half_s), going.tempo_bpm / self._beat_quarter))
        return news

    def beat(self, now_s: float) -> Beat | None:
        """Which beat of the score it is; before it those of the count-in."""
        going = self._going(now_s)
        if going is None or self._origin is None:
            return None
        bpm = going.tempo_bpm / self._beat_quarter
        first = self._grid[self._index(self._first or 1)]
        length = float(first.beat_quarter)
        left = math.ceil((self._start - going.beat) / length - 1e-9)
        if left > 0:
            since = going.beat - (self._start - left * length)
            number = (first.number - 1 - left) % first.a_bar + 1
            return Beat(number, first.a_bar, left, going.is_struck(since), bpm)
        here = going.beat - self._origin
        at = max(0, bisect_right(self._grid, here + 1e-9, key=lambda beat: float(beat.onset_quarter)) - 1)
        beat = self._grid[at]
        since = here - float(beat.onset_quarter)
        return Beat(beat.number, beat.a_bar, 0, going.is_struck(since), bpm)

    def _index(self, n: int) -> int:
        """Which beat of the score prompt n lies in."""
        onset = self._score.notes[n - 1].onset_quarter
        return max(0, bisect_right(self._grid, onset, key=lambda beat: beat.onset_quarter) - 1)

    def _place(self, now_quarter: float, n: int) -> float:
        """Where quarter 0 of the score is to lie in the device's song, so that prompt n is due in time."""
        beat = self._grid[self._index(n)]
        length = float(beat.beat_quarter)
        bar = beat.a_bar * length
        counted = math.ceil(now_quarter / bar - 1e-9) * bar + self._tempo.count_in * length
        in_bar = (beat.number - 1) * length
        self._start = math.ceil((counted - in_bar) / bar - 1e-9) * bar + in_bar
        return self._start - float(beat.onset_quarter)
