"""A score as it is written: what a reading process hands back, as plain values that JSON can carry."""

import json
from dataclasses import dataclass, fields, is_dataclass
from fractions import Fraction
from typing import Any, get_args, get_origin, get_type_hints

from midifret.terms.score import NO_DIRECTIONS, Barre, Directions


@dataclass(frozen=True, slots=True)
class WrittenBar:
    """One bar. number: as printed. onset_quarter: from the start of the written score."""

    number: str
    onset_quarter: Fraction
    duration_quarter: Fraction
    directions: Directions = NO_DIRECTIONS


@dataclass(frozen=True, slots=True)
class WrittenNote:
    """One notehead.

    bar: index into the bars. onset_quarter: from the start of its bar. step, alter, octave: as in the file.
    voice: its number in the file. tied_back, tied_on: joined to the note before, to the next one.
    slurred: under a slur from the note before in its voice, or marked as hammered on or pulled off.
    harmonic: "", "natural" or "artificial"; harmonic_pitch: which pitch of it is written, "base" (the open
    string's), "touching" (as if fretted) or else the one that sounds.
    """

    bar: int
    onset_quarter: Fraction
    duration_quarter: Fraction
    step: str
    alter: int
    octave: int
    voice: int = 1
    tied_back: bool = False
    tied_on: bool = False
    grace: bool = False
    slurred: bool = False
    harmonic: str = ""
    harmonic_pitch: str = ""
    finger: int | None = None
    string: int | None = None
    fret: int | None = None
    ident: str = ""


@dataclass(frozen=True, slots=True)
class WrittenMark:
    """A position or a barre over the staff; its end as bar and onset, None for none printed."""

    bar: int
    onset_quarter: Fraction
    position: int
    barre: Barre | None = None
    end_bar: int | None = None
    end_quarter: Fraction | None = None


@dataclass(frozen=True, slots=True)
class WrittenMeter:
    """A meter from this bar on."""

    bar: int
    onset_quarter: Fraction
    beats: int
    beat_type: int


@dataclass(frozen=True, slots=True)
class WrittenKey:
    """A key signature from here on; mode: major, minor or empty."""

    bar: int
    onset_quarter: Fraction
    fifths: int
    mode: str = ""


@dataclass(frozen=True, slots=True)
class WrittenTempo:
    """Quarter notes a minute from here on."""

    bar: int
    onset_quarter: Fraction
    quarter_bpm: float


@dataclass(frozen=True, slots=True)
class WrittenPart:
    """One part, or one staff of it.

    clefs: as people name them, "G2", "G2 8 below", "TAB". clef_octave: -1 for an octave clef below.
    diatonic, chromatic: what the part sounds above what is written, in steps and semitones; None for nothing
    said. sounding: the format or the file itself says that pitches are those that sound.
    written_octave_up: the file itself says that pitches stand an octave above what sounds.
    tuning_midis: open strings asked for, string 1 first. unpitched: how many notes have no pitch.
    """

    name: str
    bars: tuple[WrittenBar, ...]
    notes: tuple[WrittenNote, ...]
    clefs: tuple[str, ...] = ()
    clef_octave: int = 0
    diatonic: int | None = None
    chromatic: int | None = None
    sounding: bool = False
    written_octave_up: bool = False
    unpitched: int = 0
    marks: tuple[WrittenMark, ...] = ()
    meters: tuple[WrittenMeter, ...] = ()
    keys: tuple[WrittenKey, ...] = ()
    tempos: tuple[WrittenTempo, ...] = ()
    tuning_midis: tuple[int, ...] = ()
    capo: int = 0


@dataclass(frozen=True, slots=True)
class WrittenScore:
    """All of a file. kind: what it was read as. warnings: what could not be read, for people."""

    kind: str
    title: str
    composer: str
    parts: tuple[WrittenPart, ...]
    warnings: tuple[str, ...] = ()


def to_json(score: WrittenScore) -> str:
    """Write a score as JSON: each value a list of its fields, fractions as texts."""
    return json.dumps(_plain(score), separators=(",", ":"))


def from_json(text: str | bytes) -> WrittenScore:
    """Read what `to_json` wrote. Raises ValueError, TypeError or KeyError for anything else."""
    score = _typed(json.loads(text), WrittenScore)
    assert isinstance(score, WrittenScore)
    return score


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return [_plain(getattr(value, field.name)) for field in fields(value)]
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return str(value) if isinstance(value, Fraction) else value


_HINTS: dict[type, tuple[Any, ...]] = {}


def _typed(value: Any, kind: Any) -> Any:
    """Build a value of the kind that a field declares, and nothing else."""
    if is_dataclass(kind) and isinstance(kind, type):
        hints = _HINTS.get(kind)
        if hints is None:
            by_name = get_type_hints(kind)
            hints = _HINTS[kind] = tuple(by_name[field.name] for field in fields(kind))
        return kind(*(_typed(item, hint) for item, hint in zip(value, hints, strict=True)))
    if get_origin(kind) is tuple:
        (inner, _) = get_args(kind)
        return tuple(_typed(item, inner) for item in value)
    if get_args(kind):  # X | None
        return None if value is None else _typed(value, get_args(kind)[0])
    if kind is Fraction:
        return Fraction(value)
    if kind is Barre:
        return Barre(value)
    if kind is float and isinstance(value, int | float):
        return float(value)
    if type(value) is not kind:
        raise TypeError(f"{value!r} is no {kind}")
    return value
