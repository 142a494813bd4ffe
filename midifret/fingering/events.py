"""A score as what happens to the left hand: at each onset, which notes begin and which are still held."""

from dataclasses import dataclass
from fractions import Fraction

from midifret.terms.score import PositionMark, Score, ScoreNote

# A grace note is squeezed in before its beat: so long, and no longer [ours].
GRACE_S = 0.08
# A finger may stay where it is after the note has ended, so that the notes of a broken chord are held like a
# chord. It rings no longer than this, nor past a note so near that it lies on the same string as likely as
# not, nor past more than a few others [ours].
RINGS_QUARTERS = Fraction(3, 2)
RINGS_EVENTS = 3
NEAR_SEMITONES = 2
LONGEST_S = 4.0  # longer rests make nothing easier [ours]


@dataclass(frozen=True, slots=True)
class Event:
    """One onset.

    new: indexes into the notes of the score that are struck here; one of those that double each other at the
    same pitch stands for all. time_s: since the onset before. slurred_from: for each slurred note of `new`
    the note before it in its voice. mark: the position or barre printed over it.
    """

    onset_quarter: Fraction
    new: tuple[int, ...]
    time_s: float
    slurred_from: tuple[tuple[int, int], ...] = ()
    mark: PositionMark | None = None


@dataclass(frozen=True, slots=True)
class Timeline:
    """The events of a score. ends: for each note the number of the first event at which no finger is on it.

    That is where it is struck again, or where it has ended and has no cause to ring on.
    doubles: for each note that is struck together with another of its pitch, the one that stands for it.
    """

    events: tuple[Event, ...]
    ends: tuple[int, ...]
    doubles: dict[int, int]


def timeline(score: Score, quarter_bpm: float) -> Timeline:
    """Lay out a score in events. A note that is struck again while it sounds ends there."""
    notes = score.notes
    groups: dict[tuple[Fraction, int, Fraction], list[int]] = {}
    order: dict[Fraction, int] = {}
    for index, note in enumerate(notes):
        if note.duration_quarter == 0:
            # Grace notes of one onset come one after the other, before what they ornament.
            place = order[note.onset_quarter] = order.get(note.onset_quarter, 0) + 1
            groups[(note.onset_quarter, 0, Fraction(place))] = [index]
        else:
            groups.setdefault((note.onset_quarter, 1, Fraction(0)), []).append(index)
    keys = sorted(groups)
    doubles: dict[int, int] = {}
    struck: list[tuple[int, ...]] = []
    for key in keys:
        by_midi: dict[int, int] = {}
        for index in groups[key]:
            first = by_midi.setdefault(notes[index].midi, index)
            if first != index:
                doubles[index] = first
        struck.append(tuple(sorted(by_midi.values(), key=lambda i: (notes[i].midi, i))))
    ends = _ends(notes, keys, struck)
    seconds = _seconds(score, quarter_bpm)
    before: dict[int, int] = {}
    events = []
    last_s = 0.0
    marks = _marks(score, [key[0] for key in keys])
    for number, (key, new) in enumerate(zip(keys, struck, strict=True)):
        at_s = seconds(key[0])
        time_s = LONGEST_S if number == 0 else min(LONGEST_S, max(GRACE_S, at_s - last_s))
        slurs = tuple(
            (index, before[notes[index].voice])
            for index in new
            if notes[index].slurred and notes[index].voice in before
        )
        events.append(Event(key[0], new, time_s, slurs, marks[number]))
        for index in groups[key]:
            before[notes[index].voice] = doubles.get(index, index)
        last_s = at_s
    return Timeline(tuple(events), tuple(ends), doubles)


def _ends(
    notes: tuple[ScoreNote, ...],
    keys: list[tuple[Fraction, int, Fraction]],
    struck: list[tuple[int, ...]],
) -> list[int]:
    """For each note the first event at which no finger is on it any more."""
    ends = [len(keys)] * len(notes)
    on: list[tuple[int, int]] = []
    for number, (key, new) in enumerate(zip(keys, struck, strict=True)):
        pitches = [notes[index].midi for index in new]
        stepwise = any(
            0 < abs(notes[index].midi - midi) <= NEAR_SEMITONES for index, _ in on for midi in pitches
        )
        still = []
        for index, begun in on:
            note = notes[index]
            long = number - begun > RINGS_EVENTS or key[0] - note.onset_quarter >= RINGS_QUARTERS
            ended = note.end_quarter <= key[0]
            if note.midi in pitches or (ended and (stepwise or long or note.duration_quarter == 0)):
                ends[index] = number
            else:
                still.append((index, begun))
        on = still + [(index, number) for index in new]
    return ends


def _seconds(score: Score, quarter_bpm: float) -> "_Clock":
    """The time of an onset, from the tempos that the score gives."""
    return _Clock([(t.onset_quarter, t.quarter_bpm) for t in score.tempos], quarter_bpm)


class _Clock:
    """Quarter notes to seconds, asked in rising order."""

    def __init__(self, tempos: list[tuple[Fraction, float]], quarter_bpm: float) -> None:
        self._tempos = sorted(tempos, key=lambda tempo: tempo[0])
        self._next = 0
        self._bpm = quarter_bpm
        self._from = Fraction(0)
        self._at_s = 0.0

    def __call__(self, onset: Fraction) -> float:
        while self._next < len(self._tempos) and self._tempos[self._next][0] <= onset:
            at, bpm = self._tempos[self._next]
            self._at_s += float(at - self._from) * 60 / self._bpm
            self._from, self._bpm = at, bpm
            self._next += 1
        return self._at_s + float(onset - self._from) * 60 / self._bpm


def _marks(score: Score, onsets: list[Fraction]) -> list[PositionMark | None]:
    """For each event the mark that holds: from its onset to its end, or to the next mark.

    Where some marks of a score have an end, one without holds for the notes at its onset only [ours].
    """
    marks = sorted(score.positions, key=lambda mark: mark.onset_quarter)
    ended = any(mark.end_quarter is not None for mark in marks)
    found: list[PositionMark | None] = []
    current: PositionMark | None = None
    following = 0
    for onset in onsets:
        while following < len(marks) and marks[following].onset_quarter <= onset:
            current = marks[following]
            following += 1
        if current is not None and ended:
            end = current.end_quarter
            if onset >= end if end is not None else onset > current.onset_quarter:
                current = None
        found.append(current)
    return found
