"""Several parts of a file read as the voices of one guitar."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import zip_longest

from midifret.scores.written import WrittenBar, WrittenNote, WrittenPart


def together(parts: Sequence[WrittenPart]) -> WrittenPart:
    """Join parts that go through the same bars; voices are numbered on from part to part.

    Bars and their signs, meters and keys are those of the first part; positions, barres and tempos of all.
    Raises ValueError where the bars differ or the parts stand apart in clef octave or transposition, with
    the bar or the reason.
    """
    first = parts[0]
    bars = list(first.bars)
    notes: list[WrittenNote] = []
    voices = 0
    for part in parts:
        if (part.clef_octave, part.chromatic or 0) != (first.clef_octave, first.chromatic or 0):
            raise ValueError("they differ in the octave of their clefs or in transposition")
        bars = _bars(bars, part.bars)
        moved = {old: n for n, old in enumerate(sorted({n.voice for n in part.notes}), start=voices + 1)}
        notes += [replace(note, voice=moved[note.voice]) for note in part.notes]
        voices += len(moved)
    marks = sorted(
        dict.fromkeys(mark for part in parts for mark in part.marks), key=lambda m: (m.bar, m.onset_quarter)
    )
    tempos = sorted(
        dict.fromkeys(tempo for part in parts for tempo in part.tempos),
        key=lambda t: (t.bar, t.onset_quarter),
    )
    names = list(dict.fromkeys(part.name for part in parts if part.name))
    return replace(
        first,
        name=" + ".join(names),
        bars=tuple(bars),
        notes=tuple(sorted(notes, key=lambda n: n.bar)),
        clefs=tuple(dict.fromkeys(clef for part in parts for clef in part.clefs)),
        sounding=all(part.sounding for part in parts),
        unpitched=sum(part.unpitched for part in parts),
        marks=tuple(marks),
        meters=next((part.meters for part in parts if part.meters), ()),
        keys=next((part.keys for part in parts if part.keys), ()),
        tempos=tuple(tempos),
        tuning_midis=next((part.tuning_midis for part in parts if part.tuning_midis), ()),
        capo=max(part.capo for part in parts),
    )


def _bars(bars: Sequence[WrittenBar], others: Sequence[WrittenBar]) -> list[WrittenBar]:
    """Return the bars of the longer part; the last one of the shorter part may break off."""
    joined = []
    last = min(len(bars), len(others)) - 1
    for index, (one, other) in enumerate(zip_longest(bars, others)):
        if one is None or other is None:
            joined.append(one or other)
            continue
        same = one.duration_quarter == other.duration_quarter
        if one.onset_quarter != other.onset_quarter or not (same or index == last):
            raise ValueError(f"their bars differ in length, first at bar {one.number}")
        joined.append(one if one.duration_quarter >= other.duration_quarter else other)
    return joined
