"""A reading that takes its beat from another device: its uneven onsets on that device's quarters."""

import math
from bisect import bisect_right
from collections.abc import Sequence

from midifret.reading.bars import beat_quarter, meter_of
from midifret.session.conductor import STRUCK_S, Beat, Following
from midifret.session.reading_beat import beat_grid, gaps_quarter
from midifret.tempo import ClockState
from midifret.terms import Exercise, Tempo
from midifret.terms.marks import DuePoint

# What is due within so many quarters is told, and the next event however far it is: the cue comes when the
# one before is due, and an early note by half a way at most [ours].
_QUARTERS_AHEAD = 2.0
_SAME_MOMENT_S = 0.0005  # what moved by less is not told again: a tenth of the least that a player notices


class FollowedReading:
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
        self._tempo: Tempo = exercise.tempo
        self._score = exercise.score
        self._clock = clock
        self._grid = beat_grid(self._score)
        self._gaps = gaps_quarter(exercise)
        self._beat_quarter = float(beat_quarter(meter_of(self._score)))
        self.moved = 0.0
        self._trouble = ""
        self._runs = False
        self._first: int | None = None  # the prompt with which to begin
        self._zero: float | None = None  # where quarter 0 of the score lies in the device's song
        self._start = 0.0  # in the device's quarters: where the beat of the first note lies
        self._told: dict[int, DuePoint] = {}
        self._from = 1  # the first prompt whose window had not begun

    @property
    def trouble(self) -> str:
        """What is wrong with the clock."""
        return self._trouble

    @property
    def gives_beat(self) -> bool:
        """Whether the clock runs, or is waited for."""
        return self._runs or (self._first is not None and self._zero is None)

    def begin(self, now_s: float, n: int) -> None:
        """Wait for the next bar."""
        self._first, self._zero, self._told, self._from = n, None, {}, n

    def turn(self, now_s: float) -> Sequence[DuePoint]:
        """Take what the device said; tell the notes that come near."""
        self._clock.turn(now_s)
        reading = self._clock.reading(now_s)
        self._trouble = self._clock.words(now_s)
        self._runs = (
            reading.state is ClockState.RUNNING and reading.tempo_bpm is not None and reading.in_range
        )
        if not self._runs or self._first is None or reading.beat is None or reading.tempo_bpm is None:
            return []
        if self._zero is None:
            self._zero = self._place(reading.beat, self._first)
        here = reading.beat - self._zero
        quarter_s = 60 / reading.tempo_bpm
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
            due_s = self._clock.beat_due_s(self._zero + onset)
            if due_s is None:
                break
            if told is not None and abs(told.due_s - due_s) < _SAME_MOMENT_S:
                continue
            half_s = min(self._tempo.within_ms / 1000, self._tempo.share * self._gaps[n - 1] * quarter_s)
            self._told[n] = DuePoint(n, due_s, half_s)
            bpm = reading.tempo_bpm / self._beat_quarter
            self.moved = max(self.moved, abs(bpm / self._tempo.tempo_bpm - 1))
            news.append(self._told[n])
        return news

    def beat(self, now_s: float) -> Beat | None:
        """Which beat of the score it is; before it those of the count-in."""
        reading = self._clock.reading(now_s)
        if not self._runs or self._zero is None or reading.beat is None or reading.tempo_bpm is None:
            return None
        bpm = reading.tempo_bpm / self._beat_quarter
        first = self._grid[self._index(self._first or 1)]
        length = float(first.beat_quarter)
        left = math.ceil((self._start - reading.beat) / length - 1e-9)
        if left > 0:
            since = reading.beat - (self._start - left * length)
            number = (first.number - 1 - left) % first.a_bar + 1
            return Beat(number, first.a_bar, left, since * 60 / reading.tempo_bpm < STRUCK_S, bpm)
        here = reading.beat - self._zero
        at = max(0, bisect_right(self._grid, here + 1e-9, key=lambda beat: float(beat.onset_quarter)) - 1)
        beat = self._grid[at]
        since = here - float(beat.onset_quarter)
        return Beat(beat.number, beat.a_bar, 0, since * 60 / reading.tempo_bpm < STRUCK_S, bpm)

    def next_click_s(self, now_s: float) -> float:
        """Nothing clicks here."""
        return math.inf

    def stop(self) -> None:
        """Tell no more beats."""
        self._first, self._zero, self._told = None, None, {}

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
