"""What the one who asks for a score may choose, and what a look at a file shows before choosing."""

from dataclasses import dataclass
from enum import StrEnum

FIT = "fit"
ALL_PARTS = "all"
# Sounding compass of six strings in standard tuning with 19 frets, E to B [common practice, no source].
USUAL_RANGE_MIDIS = (40, 83)


class Octave(StrEnum):
    """How the pitches in a file stand to what sounds."""

    WRITTEN = "written"  # as a guitarist reads them, an octave above what sounds
    SOUNDING = "sounding"  # as they sound


@dataclass(frozen=True, slots=True)
class Choices:
    """What to read of a file, and how.

    part: its number, from 1, or its name; "1+2" or ALL_PARTS for several as the voices of one guitar; None
    for the only one or the only guitar. voices: empty for all; numbered on from part to part.
    octave: needed where the file says nothing. transpose: semitones up, or FIT for the smallest change of
    octave, or else of key, that fits the range. range_midis: lowest and highest pitch of the guitar.
    first_bar, last_bar: as numbered in print. repeats: play them. tune: number in an ABC file of several.
    """

    part: str | None = None
    voices: tuple[int, ...] = ()
    octave: Octave | None = None
    transpose: int | str = 0
    range_midis: tuple[int, int] = USUAL_RANGE_MIDIS
    first_bar: int | None = None
    last_bar: int | None = None
    repeats: bool = True
    tune: int | None = None


@dataclass(frozen=True, slots=True)
class PartLook:
    """One part as it stands in a file.

    number: from 1. lowest_midi, highest_midi: as the file has the pitches, None without notes. octave: what
    the file says, None where it does not. evidence: what speaks for it, one sentence. unpitched: notes
    without a pitch. fifths: sharps of the first key signature, flats negative; None for none.
    """

    number: int
    name: str
    notes: int
    bars: int
    first_bar: str
    last_bar: str
    voices: tuple[int, ...]
    lowest_midi: int | None
    highest_midi: int | None
    clefs: tuple[str, ...]
    octave: Octave | None
    evidence: str
    unpitched: int = 0
    fifths: int | None = None
    meter: str = ""
    repeats: bool = False
    fingers: int = 0
    strings: int = 0
    positions: int = 0
    tuning_midis: tuple[int, ...] = ()
    capo: int = 0


@dataclass(frozen=True, slots=True)
class ScoreLook:
    """A file as it stands. kind: its format, for people."""

    kind: str
    title: str
    composer: str
    parts: tuple[PartLook, ...]
    warnings: tuple[str, ...] = ()
