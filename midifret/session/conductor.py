"""Who gives the beat of a run in tempo: when each prompt is due, what clicks, and which beat it is."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from midifret.tempo import Beats, Click, ClockReading, ClockState
from midifret.terms import Exercise, Tempo
from midifret.terms.marks import DuePoint

# From the order to the first click. Whatever sounds it may need up to a quarter of a second to plan it; the
# rest is room [ours].
LEAD_S = 0.3
# A followed beat is told so many notes ahead: the cue comes one before, and an early note half of one.
_BEATS_AHEAD = 2
_SAME_BEAT_S = 0.0005  # what moved by less is not told again: a tenth of the least that a player notices
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


class Following(Protocol):
    """The MIDI clock of another device, as it is followed. No call waits."""

    def turn(self, now_s: float) -> None:
        """Take what came."""

    def reading(self, now_s: float) -> ClockReading:
        """State, tempo and beat at a moment."""

    def beat_due_s(self, beat: float) -> float | None:
        """When a beat falls on the clock, by the tempo of just now; None where that is not known."""

    def words(self, now_s: float) -> str:
        """What is wrong with it and what to do; else empty."""


class FollowedBeat:
    """A conductor that takes the beat from another device. Nothing clicks here: the other device does.

    The count-in begins with that device's next bar. Each beat is told while it comes near, and again where
    the tempo has changed meanwhile, until the window of its note begins.
    """

    def __init__(self, exercise: Exercise, clock: Following) -> None:
        """Take count-in, bars and windows of an exercise; `moved` tells how far its beats a minute hold."""
        if exercise.tempo is None:
            raise ValueError(f"{exercise.name} is not in tempo")
        self._tempo: Tempo = exercise.tempo
        self._prompts = len(exercise.prompts)
        self._clock = clock
        self.moved = 0.0
        self._trouble = ""
        self._runs = False
        self._first: int | None = None  # the prompt that is due on the first beat
        self._first_beat: int | None = None  # of the device's song; None while it is waited for
        self._told: dict[int, DuePoint] = {}

    @property
    def trouble(self) -> str:
        """What is wrong with the clock."""
        return self._trouble

    @property
    def gives_beat(self) -> bool:
        """Whether the clock runs, or is waited for."""
        return self._runs or (self._first is not None and self._first_beat is None)

    def begin(self, now_s: float, n: int) -> None:
        """Wait for the next bar."""
        self._first, self._first_beat, self._told = n, None, {}

    def turn(self, now_s: float) -> Sequence[DuePoint]:
        """Take what the device said; tell the beats that come near."""
        self._clock.turn(now_s)
        reading = self._clock.reading(now_s)
        self._trouble = self._clock.words(now_s)
        self._runs = (
            reading.state is ClockState.RUNNING and reading.tempo_bpm is not None and reading.in_range
        )
        if not self._runs or self._first is None or reading.beat is None or reading.tempo_bpm is None:
            return []
        if self._first_beat is None:
            bar = math.ceil(reading.beat / self._tempo.a_bar) * self._tempo.a_bar
            self._first_beat = bar + self._tempo.count_in
        between_s = 60 / (reading.tempo_bpm * self._tempo.notes_a_beat)
        half_s = min(self._tempo.within_ms / 1000, self._tempo.share * between_s)
        passed = math.floor((reading.beat - self._first_beat) * self._tempo.notes_a_beat)
        news = []
        for after in range(max(passed, 0), max(passed, -_BEATS_AHEAD) + _BEATS_AHEAD + 1):
            n = self._first + after
            due_s = self._clock.beat_due_s(self._first_beat + after / self._tempo.notes_a_beat)
            if n > self._prompts or due_s is None:
                break
            told = self._told.get(n)
            if told is not None and (
                now_s >= told.due_s - told.half_window_s or abs(told.due_s - due_s) < _SAME_BEAT_S
            ):
                continue
            self._told[n] = DuePoint(n, due_s, half_s)
            self.moved = max(self.moved, abs(reading.tempo_bpm / self._tempo.tempo_bpm - 1))
            news.append(self._told[n])
        return news

    def beat(self, now_s: float) -> Beat | None:
        """Which beat of the device it is."""
        reading = self._clock.reading(now_s)
        if not self._runs or self._first_beat is None or reading.beat is None or reading.tempo_bpm is None:
            return None
        number = math.floor(reading.beat)
        return Beat(
            number % self._tempo.a_bar + 1,
            self._tempo.a_bar,
            max(0, self._first_beat - number),
            (reading.beat - number) * 60 / reading.tempo_bpm < STRUCK_S,
            reading.tempo_bpm,
        )

    def next_click_s(self, now_s: float) -> float:
        """Nothing clicks here."""
        return math.inf

    def stop(self) -> None:
        """Tell no more beats."""
        self._first, self._first_beat, self._told = None, None, {}


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
