"""The beat of a reading: its bars, its uneven onsets, and a count-in wherever it begins."""

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from midifret.reading.bars import bars_of, beat_quarter, beats_a_bar, meter_of
from midifret.session.conductor import LEAD_S, STRUCK_S, Beat, Clicks, Conductor, OwnBeat
from midifret.tempo import Click, ClickKind, check_tempo
from midifret.tempo.beats import subdivisions_for
from midifret.terms import Exercise, Tempo
from midifret.terms.marks import DuePoint
from midifret.terms.score import MeterChange, Score


@dataclass(frozen=True, slots=True)
class GridBeat:
    """One beat of a score. number: in its bar, from 1. a_bar: beats of that bar, were it whole."""

    onset_quarter: Fraction
    number: int
    a_bar: int
    beat_quarter: Fraction


def beat_grid(score: Score) -> tuple[GridBeat, ...]:
    """Return every beat of a score, bar by bar, each with the beats of the meter that holds there.

    A short first bar is a pick-up: it ends on the last beat of a whole one.
    """
    bars = bars_of(score)
    end = max((note.end_quarter for note in score.notes), default=Fraction(0))
    end = max(end, bars[-1].onset_quarter + Fraction(1, 64)) if bars else end
    grid: list[GridBeat] = []
    for index, bar in enumerate(bars):
        meter = _meter_at(score, bar.onset_quarter)
        length, count = beat_quarter(meter), beats_a_bar(meter)
        last = index + 1 == len(bars)
        until = end if last else bars[index + 1].onset_quarter
        beats = math.ceil((until - bar.onset_quarter) / length)
        before = count - beats if index == 0 and not last and 0 < beats < count else 0
        grid += [
            GridBeat(bar.onset_quarter + i * length, (before + i) % count + 1, count, length)
            for i in range(beats)
        ]
    return tuple(grid)


def half_windows_s(exercise: Exercise, quarter_s: float) -> tuple[float, ...]:
    """Return how early or late each note may be: a share of the way to its nearer neighbour."""
    tempo = exercise.tempo
    assert tempo is not None
    return tuple(min(tempo.within_ms / 1000, tempo.share * gap * quarter_s) for gap in gaps_quarter(exercise))


def gaps_quarter(exercise: Exercise) -> tuple[float, ...]:
    """Return for each note of a reading how many quarters its nearer neighbour is away; 4 for one alone."""
    score = exercise.score
    assert score is not None
    onsets = sorted({note.onset_quarter for note in score.notes})
    gaps: dict[Fraction, float] = {}
    for i, onset in enumerate(onsets):
        near = [abs(onset - other) for other in (*onsets[max(0, i - 1) : i], *onsets[i + 1 : i + 2])]
        gaps[onset] = float(min(near, default=Fraction(4)))
    return tuple(gaps[note.onset_quarter] for note in score.notes)


class ScoreBeat:
    """A conductor of a reading: clicks each beat of the score, and says when each note is due.

    The tempo counts the beats of the meter that the score begins with; a quarter note lasts as long in all.
    """

    gives_beat = True
    moved = 0.0

    def __init__(self, exercise: Exercise, clicks: Clicks) -> None:
        """Take a reading in tempo; a tempo out of range raises BadInput, anything else ValueError."""
        if exercise.tempo is None or exercise.score is None:
            raise ValueError(f"{exercise.name} is no reading in tempo")
        self._tempo: Tempo = exercise.tempo
        self._score: Score = exercise.score
        self._clicks = clicks
        self._grid = beat_grid(self._score)
        self._quarter_s = 60 / check_tempo(self._tempo.tempo_bpm) / float(beat_quarter(meter_of(self._score)))
        self._halves_s = half_windows_s(exercise, self._quarter_s)
        self._beats: list[tuple[float, Beat]] = []  # when each is reached
        self._dues: list[DuePoint] = []
        self._click_times: list[float] = []

    @property
    def trouble(self) -> str:
        """What is wrong with the click."""
        return self._clicks.trouble

    def begin(self, now_s: float, n: int) -> None:
        """Count in to the beat in which prompt n is due, and plan all that is left."""
        self._clicks.stop()
        onset = self._score.notes[n - 1].onset_quarter
        first = max(0, bisect_right(self._grid, onset, key=lambda beat: beat.onset_quarter) - 1)
        here = self._grid[first]
        beat_s = float(here.beat_quarter) * self._quarter_s
        start_s = now_s + LEAD_S + self._tempo.count_in * beat_s

        def due_s(onset_quarter: Fraction) -> float:
            return start_s + float(onset_quarter - here.onset_quarter) * self._quarter_s

        self._dues = [
            DuePoint(note.n, due_s(note.onset_quarter), self._halves_s[note.n - 1])
            for note in self._score.notes[n - 1 :]
        ]
        bpm = self._tempo.tempo_bpm
        self._beats = [
            (
                start_s - left * beat_s,
                Beat((here.number - 1 - left) % here.a_bar + 1, here.a_bar, left, False, bpm),
            )
            for left in range(self._tempo.count_in, 0, -1)
        ]
        self._beats += [
            (due_s(beat.onset_quarter), Beat(beat.number, beat.a_bar, 0, False, bpm))
            for beat in self._grid[first:]
        ]
        clicks = self._clicks_of(beat_s)
        self._click_times = [click.time_s for click in reversed(clicks)]
        self._clicks.plan(clicks)

    def turn(self, now_s: float) -> Sequence[DuePoint]:
        """Send clicks that are due; what is due is all told at once."""
        self._clicks.due(now_s)
        while self._click_times and self._click_times[-1] <= now_s:
            self._click_times.pop()
        dues, self._dues = self._dues, []
        return dues

    def beat(self, now_s: float) -> Beat | None:
        """Which beat it is."""
        at = bisect_right(self._beats, now_s, key=lambda item: item[0]) - 1
        if at < 0:
            return None
        time_s, beat = self._beats[at]
        return Beat(beat.number, beat.a_bar, beat.counts_in, now_s - time_s < STRUCK_S, beat.tempo_bpm)

    def next_click_s(self, now_s: float) -> float:
        """When the next click has to go out."""
        return self._click_times[-1] if self._click_times else math.inf

    def stop(self) -> None:
        """Be silent, and tell no more."""
        self._clicks.stop()
        self._beats, self._dues, self._click_times = [], [], []

    def _clicks_of(self, first_beat_s: float) -> list[Click]:
        parts = self._tempo.parts or subdivisions_for(self._tempo.tempo_bpm)
        count_in = self._tempo.count_in
        found = []
        for index, (time_s, beat) in enumerate(self._beats):
            follows = self._beats[index + 1][0] if index + 1 < len(self._beats) else time_s + first_beat_s
            for part in range(parts):
                kind = ClickKind.SUBDIVISION
                if part == 0:
                    kind = ClickKind.BAR if beat.number == 1 else ClickKind.BEAT
                at_s = time_s + part / parts * (follows - time_s)
                found.append(Click(at_s, kind, index - count_in, part))
        return found


def own_beat(exercise: Exercise, clicks: Clicks) -> Conductor:
    """Return the conductor that clicks for an exercise in tempo. Raises as those do."""
    return OwnBeat(exercise, clicks) if exercise.score is None else ScoreBeat(exercise, clicks)


def _meter_at(score: Score, onset_quarter: Fraction) -> MeterChange:
    at = bisect_right(score.meters, onset_quarter, key=lambda meter: meter.onset_quarter) - 1
    return score.meters[at] if at >= 0 else meter_of(score)
