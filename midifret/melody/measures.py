"""How hard music is to read at sight, by the measures by which the levels of melodies rise."""

import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import partial
from itertools import pairwise

from midifret.melody.level import Cell, Level, beat_quarters, is_compound
from midifret.melody.tones import Key, key_of
from midifret.terms.score import KeyChange, Score, ScoreNote

_STEPS = "CDEFGAB"
_RARE = 0.02  # what so few notes have does not make music hard [ours]
_MOST_OVER = (
    4.0  # how far one melody may lie over the share of accidentals that its level asks for (measured)
)
_TONICS = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINOR_TONICS = ("Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#")
_PLAIN_QUARTERS = (Fraction(1), Fraction(2), Fraction(3), Fraction(4))


class Rhythm(StrEnum):
    """What a rhythm has beside notes of whole beats."""

    EIGHTHS = "eighths"
    DOTTED = "dotted quarters"
    SYNCOPATED = "syncopation"
    COMPOUND = "beats of three"
    SIXTEENTHS = "sixteenths"
    DOTTED_EIGHTHS = "dotted eighths"
    TRIPLETS = "triplets"
    OTHER = "other values"


@dataclass(frozen=True, slots=True)
class Measures:
    """What makes music hard to read.

    together: share of moments at which several notes begin. range_semitones: from the lowest to the highest.
    interval: the largest in the upper voice as musicians count, the rarest left out. rhythms: share of the
    notes by what they have. fifths: the most sharps or flats of a signature. outside: share of the notes
    outside their key, raised sixths and sevenths in minor left out.
    """

    notes: int
    together: float
    range_semitones: int
    interval: int
    rhythms: Mapping[Rhythm, float]
    fifths: int
    minor: bool
    outside: float


@dataclass(frozen=True, slots=True)
class Hardness:
    """The level of music. level: of melodies, one above the last where no level has what it has.

    beyond: there is no such level. because: what asks for this level and for none below, in words.
    """

    level: int
    beyond: bool
    because: tuple[str, ...]


def measure(score: Score) -> Measures:
    """Measure a score. Raises ValueError for one without notes."""
    if not score.notes:
        raise ValueError("there is no note to measure")
    upper = _upper_voice(score.notes)
    moments = Counter(note.onset_quarter for note in score.notes if note.duration_quarter)
    midis = [note.midi for note in score.notes]
    keys = _Keys(score)
    return Measures(
        notes=len(score.notes),
        together=sum(count > 1 for count in moments.values()) / max(1, len(moments)),
        range_semitones=max(midis) - min(midis),
        interval=_largest_interval(upper),
        rhythms=_rhythms(score),
        fifths=max((abs(key.fifths) for key in score.keys), default=0),
        minor=keys.minor,
        outside=sum(not keys.has(note) for note in score.notes) / len(score.notes),
    )


def hardness(measures: Measures, levels: Sequence[Level]) -> Hardness:
    """Say which level has everything that this music has."""
    asked: list[tuple[int, str]] = []
    top = len(levels) + 1
    for words, allows in _demands(measures):
        number = next((level.number for level in levels if allows(level)), top)
        asked.append((number, words))
    number = max((one for one, _ in asked), default=1)
    because = tuple(words for one, words in asked if one == number and number > 1)
    return Hardness(number, number == top, because)


def _demands(measures: Measures) -> Iterator[tuple[str, Callable[[Level], bool]]]:
    """Each thing that a level must have, in words, and whether a level has it."""
    yield (
        f"a range of {measures.range_semitones} semitones",
        lambda level: level.range_semitones >= measures.range_semitones,
    )
    if measures.interval > 1:
        yield (
            f"leaps of {_interval_words(measures.interval)}",
            lambda level: max(level.intervals) >= measures.interval,
        )
    for rhythm, share in measures.rhythms.items():
        if share > _RARE:
            yield str(rhythm), partial(_has_rhythm, rhythm)
    if measures.fifths:
        signs = "1 sign" if measures.fifths == 1 else f"{measures.fifths} signs"
        yield f"a key of {signs}", lambda level: _most_fifths(level) >= measures.fifths
    if measures.minor:
        yield "a minor key", lambda level: any(key_of(key).mode == "minor" for key in level.keys)
    if measures.outside > 0:
        yield (
            f"{100 * measures.outside:.0f}% of the notes outside the key",
            lambda level: level.accidentals * _MOST_OVER >= measures.outside,
        )
    if measures.together > _RARE:
        yield "several notes at once", lambda level: False


def _has_rhythm(rhythm: Rhythm, level: Level) -> bool:
    return rhythm in level_rhythms(level)


def _interval_words(number: int) -> str:
    names = (
        "",
        "a unison",
        "a second",
        "a third",
        "a fourth",
        "a fifth",
        "a sixth",
        "a seventh",
        "an octave",
    )
    return names[number] if number < len(names) else "more than an octave"


def _most_fifths(level: Level) -> int:
    return max(abs(key_of(key).fifths) for key in level.keys)


def level_rhythms(level: Level) -> frozenset[Rhythm]:
    """What the rhythms of a level have beside notes of whole beats."""
    found: set[Rhythm] = set()
    for meter in level.meters:
        for cell in level.cells_in(meter):
            found |= _cell_rhythms(cell, beat_quarters(meter))
        if is_compound(meter):
            found.add(Rhythm.COMPOUND)
    return frozenset(found)


def _cell_rhythms(cell: Cell, beat: Fraction) -> set[Rhythm]:
    found: set[Rhythm] = set()
    at = Fraction(0)
    for length in cell.lengths:
        if length > 0:
            found |= note_rhythms(at, length, beat)
        at += abs(length)
    return found


def note_rhythms(at: Fraction, length: Fraction, beat: Fraction) -> set[Rhythm]:
    """What one note has beside whole beats. at: from the first beat of its bar, in quarter notes."""
    compound = beat == Fraction(3, 2)
    found: set[Rhythm] = set()
    if at.denominator % 3 == 0 or length.denominator % 3 == 0:
        return {Rhythm.TRIPLETS}
    if length.denominator > 4 or at.denominator > 4:
        return {Rhythm.OTHER}
    if compound:
        found.add(Rhythm.COMPOUND)
    if length == Fraction(3, 4):
        found.add(Rhythm.DOTTED_EIGHTHS)
    elif length.denominator == 4 or at.denominator == 4:
        found.add(Rhythm.SIXTEENTHS)
    elif not compound and length == Fraction(1, 2):
        found.add(Rhythm.EIGHTHS)
    elif not compound and at.denominator == 2:
        found.add(Rhythm.SYNCOPATED)
    elif not compound and length not in _PLAIN_QUARTERS and length.denominator == 2:
        found.add(Rhythm.DOTTED)
    if compound and length.denominator == 4:
        found.add(Rhythm.SIXTEENTHS)
    return found


def _rhythms(score: Score) -> dict[Rhythm, float]:
    bars = [bar.onset_quarter for bar in score.bars]
    meters = sorted(score.meters, key=lambda change: change.onset_quarter)
    starts = [change.onset_quarter for change in meters]
    counts: Counter[Rhythm] = Counter()
    struck = [note for note in score.notes if note.duration_quarter]
    for note in struck:
        meter = bisect_right(starts, note.onset_quarter) - 1
        beats, beat_type = (meters[meter].beats, meters[meter].beat_type) if meter >= 0 else (4, 4)
        compound = beat_type >= 8 and beats % 3 == 0
        bar = bisect_right(bars, note.onset_quarter) - 1
        at = note.onset_quarter - (bars[bar] if bar >= 0 else Fraction(0))
        counts.update(note_rhythms(at, note.duration_quarter, Fraction(3, 2) if compound else Fraction(1)))
    return {rhythm: counts[rhythm] / max(1, len(struck)) for rhythm in Rhythm if counts[rhythm]}


def _upper_voice(notes: Sequence[ScoreNote]) -> list[ScoreNote]:
    highest: dict[Fraction, ScoreNote] = {}
    for note in notes:
        other = highest.get(note.onset_quarter)
        if other is None or note.midi > other.midi:
            highest[note.onset_quarter] = note
    return [highest[onset] for onset in sorted(highest)]


def _largest_interval(line: Sequence[ScoreNote]) -> int:
    rows = [7 * note.pitch.octave + _STEPS.index(note.pitch.step) for note in line]
    sizes = sorted(abs(b - a) + 1 for a, b in pairwise(rows))
    return sizes[math.ceil(len(sizes) * (1 - _RARE)) - 1] if sizes else 1


class _Keys:
    """The keys of a score, and which notes are theirs."""

    def __init__(self, score: Score) -> None:
        changes = sorted(score.keys, key=lambda key: key.onset_quarter) or [KeyChange(Fraction(0), 0)]
        self._starts = [change.onset_quarter for change in changes]
        self._keys = [self._key(change, score, single=len(changes) == 1) for change in changes]
        self.minor = any(key.mode == "minor" for key in self._keys)

    @staticmethod
    def _key(change: KeyChange, score: Score, *, single: bool) -> Key:
        fifths = max(-7, min(7, change.fifths))
        minor = change.mode == "minor"
        if not change.mode and single:
            # Where nobody says: minor if the lowest last note is the tonic of the minor key.
            last = max(note.onset_quarter for note in score.notes)
            ends_on = min((n for n in score.notes if n.onset_quarter == last), key=lambda n: n.midi)
            minor = key_of(f"{_MINOR_TONICS[fifths + 7]} minor").scale.notes[0] == (
                ends_on.pitch.step,
                ends_on.pitch.alter,
            )
        if minor:
            return key_of(f"{_MINOR_TONICS[fifths + 7]} minor")
        return key_of(f"{_TONICS[fifths + 7]} major")

    def has(self, note: ScoreNote) -> bool:
        """Whether a note belongs to the key in which it stands."""
        key = self._keys[max(0, bisect_right(self._starts, note.onset_quarter) - 1)]
        names = key.scale.notes
        written = (note.pitch.step, note.pitch.alter)
        if written in names:
            return True
        raised = [(step, alter + 1) for step, alter in names[5:]]
        return key.mode == "minor" and written in raised
