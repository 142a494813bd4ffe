"""Beats of a tempo: when each is due, with count-in and subdivisions, and which one a note is nearest to."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from midifret.tempo.limits import check_tempo, check_time
from midifret.terms import BadInput

# Clicks further apart than this are reacted to instead of met (Repp & Doggett 2007: over 2 s; 30 bpm).
LONGEST_BETWEEN_CLICKS_S = 2.0
# A window of half a beat reaches to the window of the next [calc].
MOST_SHARE_OF_BEAT = 0.5
# Times of days in seconds are exact to less than this [calc].
_ROUNDING_MS = 1e-6


class ClickKind(StrEnum):
    """What a click marks; each sounds and looks different."""

    BAR = "bar"
    BEAT = "beat"
    SUBDIVISION = "subdivision"


@dataclass(frozen=True, slots=True)
class Click:
    """One click. beat: 0 for the first that counts, negative while counting in. part: 0 on the beat."""

    time_s: float
    kind: ClickKind
    beat: int
    part: int

    @property
    def counts_in(self) -> bool:
        """Whether nothing is to be played yet."""
        return self.beat < 0


@dataclass(frozen=True, slots=True)
class BeatHit:
    """Where a note lies.

    due: number of the nearest due note, from 0. due_s: its time. late_ms: negative for early.
    """

    due: int
    due_s: float
    late_ms: float


@dataclass(frozen=True, slots=True)
class Window:
    """How far from its beat a note may be and still be in time, either way: the narrower of the two holds."""

    within_ms: float = math.inf
    share_of_beat: float = MOST_SHARE_OF_BEAT

    def __post_init__(self) -> None:
        """Check the ranges. Raises BadInput."""
        if not self.within_ms > 0:
            raise BadInput(f"a window of {self.within_ms:g} ms lets nothing in", allowed="more than 0 ms")
        if not 0 < self.share_of_beat <= MOST_SHARE_OF_BEAT:
            raise BadInput(
                f"a window of {self.share_of_beat:g} of a beat cannot be used",
                allowed=f"more than 0, at most {MOST_SHARE_OF_BEAT:g}, where it meets that of the next beat",
            )

    def half_ms(self, between_s: float) -> float:
        """Return how early or late a note may be, in ms, where notes are due so many seconds apart."""
        return min(self.within_ms, self.share_of_beat * between_s * 1000)


def subdivisions_for(tempo_bpm: float) -> int:
    """Return into how many clicks a beat is to be divided: 1 from 30 bpm up, below 2, 4, 8 as needed."""
    beat_s = 60 / check_tempo(tempo_bpm)
    parts = 1
    while beat_s / parts > LONGEST_BETWEEN_CLICKS_S:
        parts *= 2
    return parts


@dataclass(frozen=True, slots=True)
class Beats:
    """The beats of one tempo.

    start_s: when beat 0 is due, after the count-in. count_in: beats before it. a_bar: beats of a bar.
    parts: clicks a beat; 0 for as many as the tempo needs. notes_a_beat: notes due in each beat, evenly.
    Raises BadInput for anything out of range.
    """

    tempo_bpm: float
    start_s: float = 0.0
    count_in: int = 0
    a_bar: int = 4
    parts: int = 0
    notes_a_beat: int = 1

    def __post_init__(self) -> None:
        """Check the ranges, and that the count-in does not begin before time 0."""
        check_tempo(self.tempo_bpm)
        check_time(self.start_s, what="the first beat")
        for name, value, least, most in (
            ("beats of count-in", self.count_in, 0, 16),
            ("beats in a bar", self.a_bar, 1, 16),
            ("clicks in a beat", self.parts, 0, 8),
            ("notes in a beat", self.notes_a_beat, 1, 16),
        ):
            if not least <= value <= most:
                raise BadInput(f"{value} {name} cannot be used", allowed=f"{least} to {most}")
        if self.first_click_s < 0:
            raise BadInput(
                f"a first beat at {self.start_s:g} s leaves no room for {self.count_in} beats of count-in",
                allowed=f"{self.count_in * self.beat_s:g} s or later",
            )

    @property
    def beat_s(self) -> float:
        """How long a beat is."""
        return 60 / self.tempo_bpm

    @property
    def between_s(self) -> float:
        """How far apart notes are due."""
        return self.beat_s / self.notes_a_beat

    @property
    def first_click_s(self) -> float:
        """When the count-in begins."""
        return self.start_s - self.count_in * self.beat_s

    def due_s(self, due: int) -> float:
        """Return when a note is due, counted from 0."""
        return self.start_s + due * self.between_s

    def clicks(self, beats: int) -> Iterator[Click]:
        """Give the clicks of the count-in and of so many beats after it, in order of time.

        Times are worked out from the start, not added up, so that no error grows.
        """
        parts = self.parts or subdivisions_for(self.tempo_bpm)
        for beat in range(-self.count_in, beats):
            for part in range(parts):
                kind = ClickKind.SUBDIVISION
                if part == 0:
                    kind = ClickKind.BAR if beat % self.a_bar == 0 else ClickKind.BEAT
                yield Click(self.start_s + (beat + part / parts) * self.beat_s, kind, beat, part)

    def nearest(self, time_s: float) -> BeatHit:
        """Return the due note that a time is nearest to, and by how much the note is late.

        Half-way between two it is early for the later one. A note before the first due one belongs to that,
        however early. Raises BadInput for a time that is no time.
        """
        check_time(time_s, what="a note")
        due = max(math.floor((time_s - self.start_s) / self.between_s + 0.5), 0)
        due_s = self.due_s(due)
        return BeatHit(due, due_s, (time_s - due_s) * 1000)

    def in_window(self, hit: BeatHit, window: Window) -> bool:
        """Say whether a note is in time; the edge of the window, but for rounding, belongs to it."""
        return abs(hit.late_ms) <= window.half_ms(self.between_s) + _ROUNDING_MS
