"""From what is written to what is played: bars in their order, ties joined, everything at its time."""

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

from midifret.scores.limits import MOST_PLAYED_NOTES
from midifret.scores.octave import Shift, midi_of
from midifret.scores.transpose import moved
from midifret.scores.written import WrittenBar, WrittenNote, WrittenPart
from midifret.terms import BadInput, SpelledPitch
from midifret.terms.score import (
    NOTHING_PRINTED,
    BarStart,
    KeyChange,
    MeterChange,
    PositionMark,
    Printed,
    ScoreNote,
    TempoChange,
)

# Where a string is touched and how many semitones above the open one it then sounds: a half, a third, a
# quarter, a fifth and a sixth of its length (harmonic series).
HARMONICS = {12: 12, 7: 19, 19: 19, 5: 24, 24: 24, 4: 28, 9: 28, 16: 28, 3: 31}
_Value = TypeVar("_Value")
_STANDARD = (64, 59, 55, 50, 45, 40)


@dataclass(slots=True)
class _Sounding:
    """A note under way: ties may still lengthen it."""

    note: WrittenNote
    head: int
    onset: Fraction
    end: Fraction
    midi: int
    pitch: SpelledPitch
    number: str
    played: int
    order: int
    tied_on: bool
    last_bar: int


def bars_played(part: WrittenPart, order: tuple[int, ...]) -> tuple[BarStart, ...]:
    """Lay the bars one after the other in their order of playing."""
    now = Fraction(0)
    times: Counter[int] = Counter()
    bars = []
    for index in order:
        bar = part.bars[index]
        times[index] += 1
        bars.append(BarStart(now, bar.number, times[index], bar.duration_quarter))
        now += bar.duration_quarter
    return tuple(bars)


def notes_played(
    part: WrittenPart, order: tuple[int, ...], voices: tuple[int, ...], shift: Shift
) -> tuple[ScoreNote, ...]:
    """Return every note that is struck, at sounding pitch. Raises BadInput beyond the limits."""
    return heads_played(part, order, voices, shift)[0]


def heads_played(
    part: WrittenPart, order: tuple[int, ...], voices: tuple[int, ...], shift: Shift
) -> tuple[tuple[ScoreNote, ...], tuple[int, ...]]:
    """Return what `notes_played` returns, and for each note the index of its first notehead in part.notes."""
    by_bar: dict[int, list[tuple[int, WrittenNote]]] = {}
    for head, note in enumerate(part.notes):
        if not voices or note.voice in voices:
            by_bar.setdefault(note.bar, []).append((head, note))
    for heads in by_bar.values():
        heads.sort(key=lambda item: (item[1].onset_quarter, not item[1].grace))
    struck: list[_Sounding] = []
    # What may go on by a tie: by sounding pitch and the moment at which it ends.
    open_ties: dict[tuple[int, Fraction], list[_Sounding]] = {}
    for index, bar in zip(order, bars_played(part, order), strict=True):
        for head, note in by_bar.get(index, ()):
            onset = bar.onset_quarter + note.onset_quarter
            pitch = _sounding(note, part, shift)
            before = _tied(open_ties, note, pitch.midi, onset, part.bars)
            if before is not None:
                before.end += note.duration_quarter
                before.tied_on, before.last_bar = note.tied_on, note.bar
            else:
                end = onset + note.duration_quarter
                before = _Sounding(
                    note,
                    head,
                    onset,
                    end,
                    pitch.midi,
                    pitch,
                    bar.number,
                    bar.played,
                    len(struck),
                    note.tied_on,
                    note.bar,
                )
                struck.append(before)
                if len(struck) > MOST_PLAYED_NOTES:
                    raise BadInput(f"more than {MOST_PLAYED_NOTES:,} notes with repeats")
            if before.tied_on:
                open_ties.setdefault((before.midi, before.end), []).append(before)
    struck.sort(key=lambda s: (s.onset, not s.note.grace, s.order if s.note.grace else s.midi, s.note.voice))
    notes = tuple(_score_note(n, sounding) for n, sounding in enumerate(struck, start=1))
    return notes, tuple(sounding.head for sounding in struck)


def _tied(
    open_ties: dict[tuple[int, Fraction], list[_Sounding]],
    note: WrittenNote,
    midi: int,
    onset: Fraction,
    bars: tuple[WrittenBar, ...],
) -> _Sounding | None:
    """Find what this note goes on; some programs state a tie at its first note alone."""
    waiting = open_ties.get((midi, onset))
    if not waiting:
        return None
    found = next((s for s in waiting if s.note.voice == note.voice), waiting[0])
    one_sided = found.note.voice == note.voice and not note.grace and _follows(bars, found.last_bar, note.bar)
    if not note.tied_back and not one_sided:
        return None
    waiting.remove(found)
    return found


def _follows(bars: tuple[WrittenBar, ...], before: int, after: int) -> bool:
    """Whether one bar leads into the other on the page: the same, the next, or that of a later ending."""
    if after - before in (0, 1):
        return True
    return after > before and all(bar.directions.endings for bar in bars[before + 1 : after + 1])


def _sounding(note: WrittenNote, part: WrittenPart, shift: Shift) -> SpelledPitch:
    pitch = moved(SpelledPitch(note.step, note.alter, note.octave), shift.steps, shift.semitones)
    if note.harmonic != "natural" or note.harmonic_pitch not in ("base", "touching"):
        return pitch
    fret = note.fret
    if note.harmonic_pitch == "touching" and note.string is not None:
        tuning = part.tuning_midis or _STANDARD
        if note.string <= len(tuning):
            fret = pitch.midi - tuning[note.string - 1] - part.capo
    above = HARMONICS.get(fret) if fret is not None else None
    if above is None or fret is None:
        return pitch
    semitones = above if note.harmonic_pitch == "base" else above - fret
    return moved(pitch, round(7 * semitones / 12), semitones)


def _score_note(n: int, sounding: _Sounding) -> ScoreNote:
    note = sounding.note
    printed = Printed(note.finger, note.string, note.fret)
    return ScoreNote(
        n=n,
        onset_quarter=sounding.onset,
        duration_quarter=sounding.end - sounding.onset,
        midi=sounding.midi,
        pitch=sounding.pitch,
        voice=note.voice,
        bar=sounding.number,
        played=sounding.played,
        slurred=note.slurred,
        harmonic=note.harmonic == "natural",
        printed=NOTHING_PRINTED if printed == NOTHING_PRINTED else printed,
        ident=note.ident,
    )


def marks_played(
    part: WrittenPart, order: tuple[int, ...], bars: tuple[BarStart, ...]
) -> tuple[PositionMark, ...]:
    """Return the positions and barres at their times; an end beyond a jump is the end of the bar."""
    marks = []
    for at, index in enumerate(order):
        for mark in part.marks:
            if mark.bar != index:
                continue
            end = None
            if mark.end_bar is not None and mark.end_quarter is not None:
                later = next((j for j in range(at, len(order)) if order[j] == mark.end_bar), None)
                following = later is not None and later - at == mark.end_bar - index
                if following and later is not None:
                    end = bars[later].onset_quarter + mark.end_quarter
                else:
                    end = bars[at].onset_quarter + part.bars[index].duration_quarter
            onset = bars[at].onset_quarter + mark.onset_quarter
            marks.append(PositionMark(onset, mark.position, mark.barre, end))
    return tuple(marks)


def changes_played(
    part: WrittenPart, order: tuple[int, ...], bars: tuple[BarStart, ...]
) -> tuple[tuple[MeterChange, ...], tuple[KeyChange, ...], tuple[TempoChange, ...]]:
    """Return meters, keys and tempos where they change as the bars are played."""
    meters = [(m.bar, m.onset_quarter, (m.beats, m.beat_type)) for m in part.meters]
    keys = [(k.bar, k.onset_quarter, (k.fifths, k.mode)) for k in part.keys]
    tempos = [(t.bar, t.onset_quarter, t.quarter_bpm) for t in part.tempos]
    return (
        tuple(MeterChange(onset, *value) for onset, value in _changes(meters, order, bars)),
        tuple(KeyChange(onset, *value) for onset, value in _changes(keys, order, bars)),
        tuple(TempoChange(onset, value) for onset, value in _changes(tempos, order, bars)),
    )


def _changes(
    written: list[tuple[int, Fraction, _Value]], order: tuple[int, ...], bars: tuple[BarStart, ...]
) -> list[tuple[Fraction, _Value]]:
    """Where a value that holds until the next one changes in the order of playing."""
    written = sorted(written, key=lambda w: (w[0], w[1]))
    found: list[tuple[Fraction, _Value]] = []
    current: _Value | None = None
    for index, bar in zip(order, bars, strict=True):
        holding = [w for w in written if w[0] < index or (w[0] == index and w[1] == 0)]
        here = [(Fraction(0), holding[-1][2])] if holding else []
        here += [(w[1], w[2]) for w in written if w[0] == index and w[1] > 0]
        for onset, value in here:
            if value != current:
                found.append((bar.onset_quarter + onset, value))
                current = value
    return found


def lowest_and_highest(part: WrittenPart) -> tuple[int, int] | None:
    """Return the compass of a part as the file has it, None without notes."""
    midis = [midi_of(note) for note in part.notes]
    return (min(midis), max(midis)) if midis else None
