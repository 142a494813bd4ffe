"""Which notes and places of a neck a drill speaks of, and how their notes are spelled."""

import random
from dataclasses import dataclass

from midifret.neck import Accidentals, Language, Neck, Scale, parse_scale, spell
from midifret.terms import Place, SpelledPitch

ALL = ("all", "chromatic")
ACCIDENTALS = "accidentals"


@dataclass(frozen=True, slots=True)
class NoteSet:
    """The notes that belong to a drill.

    scale: their names, or None where every note belongs. only_accidentals: only those between the naturals.
    """

    scale: Scale | None = None
    only_accidentals: bool = False

    @classmethod
    def parse(cls, text: str, language: Language) -> "NoteSet":
        """Read all, chromatic, accidentals, naturals or a key. Raises ValueError."""
        word = " ".join(text.split()).lower()
        if word in ALL:
            return cls()
        if word == ACCIDENTALS:
            return cls(only_accidentals=True)
        return cls(parse_scale(text, language))

    def spelling(self, midi: int, accidentals: Accidentals, rng: random.Random) -> SpelledPitch | None:
        """Spell a pitch, or None where it does not belong. With both names one is drawn."""
        if self.scale is not None:
            return self.scale.spell(midi)
        spellings = spell(midi, accidentals)
        if self.only_accidentals and spellings[0].alter == 0:
            return None
        return spellings[0] if len(spellings) == 1 else rng.choice(spellings)


@dataclass(frozen=True, slots=True)
class Span:
    """A part of a neck: frets and strings, first and last of each."""

    neck: Neck
    frets: tuple[int, int]
    strings: tuple[int, int]

    def places(self) -> list[Place]:
        """Every place of it, from the last string to string 1, each from its lowest fret up."""
        return [
            Place(string, fret)
            for string in range(self.strings[1], self.strings[0] - 1, -1)
            for fret in range(self.frets[0], self.frets[1] + 1)
        ]

    def holds(self, place: Place) -> bool:
        """Whether a place lies in it."""
        return (
            self.frets[0] <= place.fret <= self.frets[1]
            and self.strings[0] <= place.string <= self.strings[1]
        )

    def lowest_fret(self, midi: int) -> Place | None:
        """Where a pitch lies at its lowest fret here, or None."""
        return min(
            (place for place in self.neck.places(midi) if self.holds(place)),
            key=lambda place: (place.fret, place.string),
            default=None,
        )
