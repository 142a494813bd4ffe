"""A melody as text in ABC notation (version 2.1), one voice, as guitarists read it."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from midifret.melody.level import bar_quarters
from midifret.melody.tones import key_of
from midifret.terms import SpelledPitch
from midifret.terms.score import Score

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


@dataclass(frozen=True, slots=True)
class _Head:
    """One notehead: a note, or what of it lies in one bar. tied_on: it goes on in the next bar."""

    at: Fraction
    length: Fraction
    pitch: SpelledPitch
    tied_on: bool = False


def _bars(melody: Score, key: str, length: Fraction) -> Iterator[str]:
    signature = dict(key_of(key).scale.notes)
    for start in melody.bars:
        begin = start.onset_quarter
        end = begin + (start.duration_quarter or length)
        heads = [
            _Head(
                max(note.onset_quarter, begin),
                min(note.end_quarter, end) - max(note.onset_quarter, begin),
                note.pitch,
                note.end_quarter > end,
            )
            for note in melody.notes
            if note.onset_quarter < end and note.end_quarter > begin
        ]
        yield " ".join(_bar(heads, begin, end, signature))


def _bar(heads: list[_Head], begin: Fraction, end: Fraction, signature: dict[str, int]) -> Iterator[str]:
    """The notes of a bar; groups of three in the time of two are marked before their first note.

    A sign is written at every note that has one and, in its bar, at every later one of the same letter: how
    far a sign reaches is read differently. So it stands at a note that goes on by a tie too.
    """
    changed: set[str] = set()
    at = begin
    triplet_until = begin
    for head in heads:
        if head.at > at:
            yield "z" + _length(head.at - at)
        third = head.length.denominator == 3
        mark = ""
        if third and head.at >= triplet_until:
            inside = [other for other in heads if head.at <= other.at < head.at + 1]
            mark = "(3" if len(inside) == 3 else f"(3:2:{len(inside)}"
            triplet_until = head.at + 1
        held = head.pitch
        sign = ""
        if held.alter != signature[held.step] or held.step in changed:
            sign = _ACCIDENTALS[held.alter]
            changed.add(held.step)
        written = head.length * Fraction(3, 2) if third else head.length
        yield mark + sign + _letter(held) + _length(written) + ("-" if head.tied_on else "")
        at = head.at + head.length
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
