"""The beat of another device, as conductors follow it, and a drill's beats on it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from midifret.session.conductor import STRUCK_S, Beat
from midifret.tempo import ClockReading, ClockState
from midifret.terms import Exercise, Tempo
from midifret.terms.marks import DuePoint

# A followed beat is told so many notes ahead: the cue comes one before, and an early note half of one.
_BEATS_AHEAD = 2
# What moved by less is not told again: a tenth of the least that a player notices.
SAME_MOMENT_S = 0.0005


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


@dataclass(frozen=True, slots=True)
class Going:
    """A clock that runs at a tempo in range. beat: of its song, in quarter notes (MIDI 1.0), with parts."""

    beat: float
    tempo_bpm: float

    def is_struck(self, since_quarter: float) -> bool:
        """Whether what came so many quarters ago has only just been reached."""
        return since_quarter * 60 / self.tempo_bpm < STRUCK_S


class Follower:
    """What conductors that follow another device have in common: the clock, and where they wait for it.

    moved: by which share of the exercise's tempo the device has gone away from it at most. trouble: what is
    wrong with the clock and what to do; else empty.
    """

    def __init__(self, tempo: Tempo, clock: Following) -> None:
        """Take the tempo that was asked for, and the device's clock."""
        self._tempo = tempo
        self._clock = clock
        self.moved = 0.0
        self.trouble = ""
        self._runs = False
        self._first: int | None = None  # the prompt to begin with
        self._origin: float | None = None  # where the music begins in the device's song; None while waiting
        self._told: dict[int, DuePoint] = {}

    @property
    def gives_beat(self) -> bool:
        """Whether the clock runs, or is waited for."""
        return self._runs or (self._first is not None and self._origin is None)

    def begin(self, now_s: float, n: int) -> None:
        """Wait for the next bar."""
        self._first, self._origin, self._told = n, None, {}

    def next_click_s(self, now_s: float) -> float:
        """Nothing clicks here."""
        return math.inf

    def stop(self) -> None:
        """Tell no more beats."""
        self._first, self._origin, self._told = None, None, {}

    def _listen(self, now_s: float) -> Going | None:
        """Take what the device said; return how it goes, None where it gives no beat."""
        self._clock.turn(now_s)
        self.trouble = self._clock.words(now_s)
        reading = self._clock.reading(now_s)
        self._runs = (
            reading.state is ClockState.RUNNING and reading.tempo_bpm is not None and reading.in_range
        )
        return self._going(now_s)

    def _going(self, now_s: float) -> Going | None:
        reading = self._clock.reading(now_s)
        if not self._runs or reading.beat is None or reading.tempo_bpm is None:
            return None
        return Going(reading.beat, reading.tempo_bpm)

    def _tell(self, due: DuePoint, tempo_bpm: float) -> DuePoint:
        """Note that a prompt is told to be due, at a tempo in the exercise's own beats."""
        self._told[due.n] = due
        self.moved = max(self.moved, abs(tempo_bpm / self._tempo.tempo_bpm - 1))
        return due


class FollowedBeat(Follower):
    """A conductor that takes the beat from another device. Nothing clicks here: the other device does.

    The count-in begins with that device's next bar. Each beat is told while it comes near, and again where
    the tempo has changed meanwhile, until the window of its note begins.
    """

    def __init__(self, exercise: Exercise, clock: Following) -> None:
        """Take count-in, bars and windows of an exercise; `moved` tells how far its beats a minute hold."""
        if exercise.tempo is None:
            raise ValueError(f"{exercise.name} is not in tempo")
        super().__init__(exercise.tempo, clock)
        self._prompts = len(exercise.prompts)

    def turn(self, now_s: float) -> Sequence[DuePoint]:
        """Take what the device said; tell the beats that come near."""
        going = self._listen(now_s)
        if going is None or self._first is None:
            return []
        if self._origin is None:
            bar = math.ceil(going.beat / self._tempo.a_bar) * self._tempo.a_bar
            self._origin = bar + self._tempo.count_in
        between_s = 60 / (going.tempo_bpm * self._tempo.notes_a_beat)
        half_s = min(self._tempo.within_ms / 1000, self._tempo.share * between_s)
        passed = math.floor((going.beat - self._origin) * self._tempo.notes_a_beat)
        news = []
        for after in range(max(passed, 0), max(passed, -_BEATS_AHEAD) + _BEATS_AHEAD + 1):
            n = self._first + after
            due_s = self._clock.beat_due_s(self._origin + after / self._tempo.notes_a_beat)
            if n > self._prompts or due_s is None:
                break
            told = self._told.get(n)
            if told is not None and (
                now_s >= told.due_s - told.half_window_s or abs(told.due_s - due_s) < SAME_MOMENT_S
            ):
                continue
            news.append(self._tell(DuePoint(n, due_s, half_s), going.tempo_bpm))
        return news

    def beat(self, now_s: float) -> Beat | None:
        """Which beat of the device it is."""
        going = self._going(now_s)
        if going is None or self._origin is None:
            return None
        number = math.floor(going.beat)
        return Beat(
            number % self._tempo.a_bar + 1,
            self._tempo.a_bar,
            max(0, int(self._origin) - number),
            going.is_struck(going.beat - number),
            going.tempo_bpm,
        )
