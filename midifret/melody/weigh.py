"""What each tone weighs at each note of a plan: chord, metre, shape of the phrase, closes, places sought."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from midifret.melody.chance import Chance
from midifret.melody.form import BarPlan, Close
from midifret.melody.level import Level, bar_quarters, beat_quarters, is_compound
from midifret.melody.line import Slot
from midifret.melody.rhythm import Struck
from midifret.melody.tones import Kind, Tone

# What a tone outside the chord weighs beside one of it: on the first beat and on long notes, on other beats,
# between beats. That chords stand on accents is common practice; the weights are [ours].
_BESIDE_CHORD = (0.1, 0.4, 0.85)
_LONG = Fraction(2)  # quarter notes
# Degrees from 0 on which a line begins and phrases end [common practice, no source; weights ours].
_FIRST = {0: 1.0, 2: 0.7, 4: 0.7}
_BEFORE_FULL = {1: 1.0, 6: 0.8, 4: 0.3, 2: 0.15, 3: 0.1}
_OPEN = {1: 1.0, 4: 0.8, 6: 0.4}
# How often phrases have a shape: up and down again is the commonest (Huron 1996, on 6,000 folk songs, from
# memory).
_SHAPES = {"arch": 0.5, "down": 0.25, "up": 0.12, "bowl": 0.13}
_SOUGHT = 3.0  # by how much more a place counts that is sought most [ours]
_OUTSIDE = 8.0  # makes about the share of tones outside the key that a level asks for (measured)


@dataclass(frozen=True, slots=True)
class Note:
    """One note of a plan. at, length: in quarter notes, within its bar. first, last: of its phrase."""

    bar: int
    at: Fraction
    length: Fraction
    first: bool
    last: bool
    before_last: bool


@dataclass(frozen=True, slots=True)
class Window:
    """Which tones of the row a phrase may have, by their index on the staff, and its shape."""

    low_index: int
    high_index: int
    shape: str

    def target(self, share: float) -> float:
        """Where on the staff the line should be after a share of the phrase, 0 to 1."""
        if self.shape == "arch":
            height = 0.15 + 0.75 * math.sin(math.pi * min(share / 1.1, 1.0))
        elif self.shape == "down":
            height = 0.9 - 0.75 * share
        elif self.shape == "up":
            height = 0.15 + 0.75 * share
        else:
            height = 0.75 - 0.6 * math.sin(math.pi * share)
        return self.low_index + height * (self.high_index - self.low_index)


def shape_of(closes: Close, chance: Chance) -> str:
    """Draw the shape of a phrase; only a question ends high."""
    allowed = {name: w for name, w in _SHAPES.items() if name != "up" or closes is Close.OPEN}
    return chance.weighted(allowed)


def notes_of(plans: Sequence[BarPlan], rhythm: Sequence[Sequence[Struck]]) -> tuple[Note, ...]:
    """All notes of a plan in order."""
    flat = [(bar, struck) for bar, row in enumerate(rhythm) for struck in row]
    phrases = [plans[bar].phrase for bar, _ in flat]
    notes = []
    for n, (bar, struck) in enumerate(flat):
        last = n + 1 == len(flat) or phrases[n + 1] != phrases[n]
        before_last = not last and (n + 2 == len(flat) or phrases[n + 2] != phrases[n])
        first = n == 0 or phrases[n - 1] != phrases[n]
        notes.append(Note(bar, struck.at, struck.length, first, last, before_last))
    return tuple(notes)


class Weigher:
    """Weighs the tones of a row for the notes of a plan."""

    def __init__(
        self,
        tones: Sequence[Tone],
        level: Level,
        meter: tuple[int, int],
        plans: Sequence[BarPlan],
        windows: Sequence[Window],
    ) -> None:
        """Keep what does not change from note to note."""
        self._tones = tones
        self._level = level
        self._bar = bar_quarters(meter)
        self._beat = beat_quarters(meter)
        self._even = meter[0] == 4 or is_compound(meter)
        self._plans = plans
        self._windows = windows
        self._minor = any(tone.kind is Kind.RAISED_MINOR for tone in tones)
        self._spans = [
            [n for n, plan in enumerate(plans) if plan.phrase == phrase] for phrase in range(len(windows))
        ]

    def slots(self, notes: Sequence[Note]) -> list[Slot]:
        """Weigh the tones for each note."""
        slots = []
        for n, note in enumerate(notes):
            before = notes[n - 1].length if n else Fraction(1)
            quick = before < Fraction(1, 2) or (before == Fraction(1, 2) and note.at % self._beat != 0)
            slots.append(Slot(self._weights(note, beginning=n == 0), fresh=n > 0 and note.first, quick=quick))
        return slots

    def _weights(self, note: Note, *, beginning: bool) -> Mapping[int, float]:
        plan = self._plans[note.bar]
        window = self._windows[plan.phrase]
        degrees = self._degrees(note, plan, beginning=beginning)
        chord = plan.chords[0 if note.at < self._bar / 2 else 1]
        aside = _BESIDE_CHORD[self._lightness(note)]
        target, width = self._aim(note, plan, window)
        free = self._lightness(note) > 0 and not (note.first or note.last or note.before_last)
        # What comes before a last tonic belongs to the dominant, wherever the bar line stands.
        leading = note.before_last and self._closes(plan) is Close.FULL
        weights = {}
        for number, tone in enumerate(self._tones):
            if not window.low_index <= tone.index <= window.high_index:
                continue
            weight = 1.0 if degrees is None else degrees.get(tone.degree, 0.0)
            if degrees is None and (tone.degree - chord) % 7 not in (0, 2, 4):
                weight *= aside
            weight *= self._of_kind(tone, 4 if leading else chord, free=free)
            if note.last and tone.kind is not Kind.OF_KEY:
                continue
            weight *= math.exp(-(((tone.index - target) / width) ** 2) / 2)
            weight *= 1 + _SOUGHT * tone.visit
            if weight > 0:
                weights[number] = weight
        return weights

    def _degrees(self, note: Note, plan: BarPlan, *, beginning: bool) -> Mapping[int, float] | None:
        if note.last:
            if self._closes(plan) is Close.FULL:
                return {0: 1.0}
            return {degree: w for degree, w in _OPEN.items() if degree != 6 or not self._minor}
        if note.before_last and self._closes(plan) is Close.FULL:
            return _BEFORE_FULL
        return _FIRST if beginning else None

    def _closes(self, plan: BarPlan) -> Close:
        last = self._plans[self._spans[plan.phrase][-1]]
        assert last.closes is not None
        return last.closes

    def _lightness(self, note: Note) -> int:
        if note.at == 0 or note.length >= _LONG or (self._even and note.at == self._bar / 2):
            return 0
        return 1 if note.at % self._beat == 0 else 2

    def _aim(self, note: Note, plan: BarPlan, window: Window) -> tuple[float, float]:
        """Where the line should be, and how far around it may go."""
        span = self._spans[plan.phrase]
        share = (span.index(note.bar) + float(note.at / self._bar)) / len(span)
        return window.target(share), 1.5 + 0.3 * (window.high_index - window.low_index)

    def _of_kind(self, tone: Tone, chord: int, *, free: bool) -> float:
        if tone.kind in (Kind.RAISED, Kind.LOWERED):
            return self._level.accidentals * _OUTSIDE if free else 0.0
        if tone.kind is Kind.RAISED_MINOR:
            return 1.0 if chord == 4 else 0.3
        if self._minor and tone.degree == 6 and chord == 4:
            return 0.05  # the dominant has the raised seventh
        return 1.0
