"""Who gives the beat of a run in tempo: when each prompt is due, what clicks, and which beat it is."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from midifret.tempo import Beats, Click
from midifret.terms import Exercise, Tempo
from midifret.terms.marks import DuePoint

# From the order to the first click. Whatever sounds it may need up to a quarter of a second to plan it; the
# rest is room [ours].
LEAD_S = 0.3
# How long a beat is shown as just struck [ours].
STRUCK_S = 0.12


class Clicks(Protocol):
    """What makes clicks heard. No call waits."""

    @property
    def trouble(self) -> str:
        """Why nothing is heard just now and what to do, in full sentences; else empty."""

    def plan(self, clicks: Iterable[Click]) -> None:
        """Take clicks to come, times on the clock."""

    def due(self, now_s: float) -> None:
        """Send what is due; called each turn of the loop."""

    def stop(self) -> None:
        """Be silent at once and forget what was planned."""


@dataclass(frozen=True, slots=True)
class Beat:
    """Which beat it is, for the screen.

    number: in its bar, from 1. a_bar: beats of a bar. counts_in: how many beats are left before the first
    note, 0 from then on. struck: it has only just been reached.
    """

    number: int
    a_bar: int
    counts_in: int
    struck: bool
    tempo_bpm: float


class Conductor(Protocol):
    """Gives the beat. Times are on the clock, not on the run's."""

    @property
    def trouble(self) -> str:
        """What is wrong with click or clock, in full sentences; else empty."""

    @property
    def gives_beat(self) -> bool:
        """Whether there is a beat to play to; where there is none the run has to pause."""

    @property
    def moved(self) -> float:
        """By which share of the exercise's tempo the beat has gone away from it at most, 0 for never."""

    def begin(self, now_s: float, n: int) -> None:
        """Count in, so that prompt n is the first one due."""

    def turn(self, now_s: float) -> Sequence[DuePoint]:
        """Let time pass; return what is newly known of when prompts are due."""

    def beat(self, now_s: float) -> Beat | None:
        """Which beat it is; None before it has begun."""

    def next_click_s(self, now_s: float) -> float:
        """When the next click has to go out; infinite for none. Nothing slow should be begun just before."""

    def stop(self) -> None:
        """Be silent."""


class OwnBeat:
    """A conductor of its own tempo, from a click."""

    gives_beat = True
    moved = 0.0

    def __init__(self, exercise: Exercise, clicks: Clicks) -> None:
        """Take the tempo of an exercise; one out of range raises BadInput, none at all ValueError."""
        if exercise.tempo is None:
            raise ValueError(f"{exercise.name} is not in tempo")
        self._tempo: Tempo = exercise.tempo
        self._prompts = len(exercise.prompts)
        self._clicks = clicks
        self._beats: Beats | None = None
        self._dues: list[DuePoint] = []
        self._click_times: list[float] = []
        beats_of(self._tempo, 0.0)  # a faulty tempo is told before anything begins

    @property
    def trouble(self) -> str:
        """What is wrong with the click."""
        return self._clicks.trouble

    def begin(self, now_s: float, n: int) -> None:
        """Plan all beats from the count-in on."""
        self._clicks.stop()
        beats = self._beats = beats_of(self._tempo, now_s + LEAD_S)
        left = self._prompts - n + 1
        half_s = self._tempo.half_window_s
        self._dues = [DuePoint(n + i, beats.due_s(i), half_s) for i in range(left)]
        clicks = tuple(beats.clicks(math.ceil(left / self._tempo.notes_a_beat)))
        self._click_times = [click.time_s for click in reversed(clicks)]
        self._clicks.plan(clicks)

    def turn(self, now_s: float) -> Sequence[DuePoint]:
        """Send clicks that are due; the beats are all told at once."""
        self._clicks.due(now_s)
        while self._click_times and self._click_times[-1] <= now_s:
            self._click_times.pop()
        dues, self._dues = self._dues, []
        return dues

    def beat(self, now_s: float) -> Beat | None:
        """Which beat it is."""
        if self._beats is None:
            return None
        return beat_at(self._beats, now_s)

    def next_click_s(self, now_s: float) -> float:
        """When the next click has to go out."""
        return self._click_times[-1] if self._click_times else math.inf

    def stop(self) -> None:
        """Be silent, and tell no more beats."""
        self._clicks.stop()
        self._beats = None
        self._dues, self._click_times = [], []


def beats_of(tempo: Tempo, first_click_s: float) -> Beats:
    """Return the beats of a tempo whose count-in begins then. Raises BadInput for a tempo out of range."""
    beats = Beats(
        tempo.tempo_bpm,
        a_bar=tempo.a_bar,
        parts=tempo.parts,
        notes_a_beat=tempo.notes_a_beat,
    )
    return Beats(
        tempo.tempo_bpm,
        start_s=first_click_s + tempo.count_in * beats.beat_s,
        count_in=tempo.count_in,
        a_bar=tempo.a_bar,
        parts=tempo.parts,
        notes_a_beat=tempo.notes_a_beat,
    )


def beat_at(beats: Beats, now_s: float) -> Beat | None:
    """Which beat of a tempo it is at a moment; None before the count-in."""
    if now_s < beats.first_click_s:
        return None
    number = math.floor((now_s - beats.start_s) / beats.beat_s)
    since_s = now_s - (beats.start_s + number * beats.beat_s)
    return Beat(number % beats.a_bar + 1, beats.a_bar, max(0, -number), since_s < STRUCK_S, beats.tempo_bpm)
