"""A melody as text in ABC notation (version 2.1), one voice, as guitarists read it."""

from collections.abc import Iterator
from fractions import Fraction

from midifret.melody.level import bar_quarters
from midifret.melody.tones import key_of
from midifret.terms import SpelledPitch
from midifret.terms.score import Score, ScoreNote

_ACCIDENTALS = {-2: "__", -1: "_", 0: "=", 1: "^", 2: "^^"}
_BARS_A_LINE = 4
_UNIT = Fraction(1, 2)  # L:1/8 in quarter notes


def to_abc(melody: Score, key: str) -> str:
    """Write a melody.

    key: as `Melody.key`. Pitches are written an octave above what sounds, under a treble clef with its 8
    (clef=treble-8), and ABC's middle C stands for what is written so (ABC 2.1, 4.6 and 7.3).
    """
    tonic, mode = key.split()
    meter = melody.meters[0]
    lines = [
        "X:1",
        f"T:{melody.title}",
        f"M:{meter.beats}/{meter.beat_type}",
        "L:1/8",
        f"K:{tonic}{'m' if mode == 'minor' else ''} clef=treble-8",
    ]
    bars = list(_bars(melody, key, bar_quarters((meter.beats, meter.beat_type))))
    for start in range(0, len(bars), _BARS_A_LINE):
        last = start + _BARS_A_LINE >= len(bars)
        lines.append(" | ".join(bars[start : start + _BARS_A_LINE]) + (" |]" if last else " |"))
    return "\n".join(lines) + "\n"


def _bars(melody: Score, key: str, length: Fraction) -> Iterator[str]:
    signature = dict(key_of(key).scale.notes)
    for start in melody.bars:
        begin, end = start.onset_quarter, start.onset_quarter + length
        notes = [note for note in melody.notes if begin <= note.onset_quarter < end]
        yield " ".join(_bar(notes, begin, end, signature))


def _bar(notes: list[ScoreNote], begin: Fraction, end: Fraction, signature: dict[str, int]) -> Iterator[str]:
    """The notes of a bar; groups of three in the time of two are marked before their first note.

    A sign is written at every note that has one and, in its bar, at every later one of the same letter: how
    far a sign reaches is read differently.
    """
    changed: set[str] = set()
    at = begin
    triplet_until = begin
    for note in notes:
        if note.onset_quarter > at:
            yield "z" + _length(note.onset_quarter - at)
        third = note.duration_quarter.denominator == 3
        mark = ""
        if third and note.onset_quarter >= triplet_until:
            inside = [n for n in notes if note.onset_quarter <= n.onset_quarter < note.onset_quarter + 1]
            mark = "(3" if len(inside) == 3 else f"(3:2:{len(inside)}"
            triplet_until = note.onset_quarter + 1
        held = note.pitch
        sign = ""
        if held.alter != signature[held.step] or held.step in changed:
            sign = _ACCIDENTALS[held.alter]
            changed.add(held.step)
        written = note.duration_quarter * Fraction(3, 2) if third else note.duration_quarter
        yield mark + sign + _letter(held) + _length(written)
        at = note.end_quarter
    if at < end:
        yield "z" + _length(end - at)


def _letter(pitch: SpelledPitch) -> str:
    octave = pitch.octave + 1  # as written
    if octave >= 5:
        return pitch.step.lower() + "'" * (octave - 5)
    return pitch.step + "," * (4 - octave)


def _length(quarters: Fraction) -> str:
    units = quarters / _UNIT
    if units == 1:
        return ""
    return str(units.numerator) + (f"/{units.denominator}" if units.denominator > 1 else "")
