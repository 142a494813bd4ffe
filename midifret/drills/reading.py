"""What an item of a drill file names, found on the neck."""

import random
from dataclasses import dataclass

from midifret.drills.faults import FilePath, fault, unreadable
from midifret.drills.models import Pool, Region
from midifret.drills.pool import NoteSet, Span
from midifret.neck import Accidentals, Language, Neck, parse_name
from midifret.terms import Place, SpelledPitch

Spelled = tuple[Place, SpelledPitch]


@dataclass(frozen=True, slots=True)
class Reader:
    """Reads the values of one item; every fault is told at its place in the file.

    path: of the group that holds the values, for example ("ask", 0, "walk"). Methods take the further
    steps from there. language: of the note names. accidentals: for notes between the naturals where no key
    spells them; with both, `rng` draws one.
    """

    neck: Neck
    path: FilePath
    language: Language
    accidentals: Accidentals
    rng: random.Random

    def at(self, *steps: str | int) -> FilePath:
        """Return the path to a value."""
        return (*self.path, *steps)

    def place(self, text: str, *steps: str | int) -> Place:
        """Read a place of the neck. Raises Faulty."""
        try:
            place = Place.parse(text)
        except ValueError as error:
            raise unreadable(self.at(*steps), error) from None
        if not self.neck.has(place):
            allowed = f"strings 1 to {self.neck.strings}, frets 0 to {self.neck.last_fret}"
            raise fault(self.at(*steps), f"the guitar has no place {place}", allowed)
        return place

    def fret(self, fret: int, *steps: str | int) -> int:
        """Return a fret that the neck has. Raises Faulty."""
        if not 0 <= fret <= self.neck.last_fret:
            raise fault(self.at(*steps), f"the guitar has no fret {fret}", f"0 to {self.neck.last_fret}")
        return fret

    def string(self, string: int, *steps: str | int) -> int:
        """Return a string that the neck has. Raises Faulty."""
        if not 1 <= string <= self.neck.strings:
            raise fault(self.at(*steps), f"the guitar has no string {string}", f"1 to {self.neck.strings}")
        return string

    def span(self, region: Region) -> Span:
        """Return the part of the neck that a region covers. Raises Faulty."""
        first_fret, last_fret = region.frets or (0, self.neck.last_fret)
        first_string, last_string = region.strings or (1, self.neck.strings)
        self.fret(last_fret, "frets")
        self.string(first_string if first_string < 1 else last_string, "strings")
        return Span(self.neck, (first_fret, last_fret), (first_string, last_string))

    def note_set(self, text: str, *steps: str | int) -> NoteSet:
        """Read which notes belong. Raises Faulty."""
        try:
            return NoteSet.parse(text, self.language)
        except ValueError as error:
            raise unreadable(self.at(*steps), error) from None

    def name(self, text: str, *steps: str | int) -> tuple[str, int, int | None]:
        """Read a note name: step, alter in semitones, and sounding octave if it has one. Raises Faulty."""
        try:
            return parse_name(text, self.language)
        except ValueError as error:
            raise unreadable(self.at(*steps), error) from None

    def pool(self, pool: Pool) -> list[Spelled]:
        """Return every place of a region whose note belongs, with its spelling. Raises Faulty for none."""
        notes = self.note_set(pool.notes, "notes")
        spelled = [(place, self.spelled(place, notes)) for place in self.span(pool).places()]
        found = [(place, pitch) for place, pitch in spelled if pitch is not None]
        if not found:
            raise fault(self.path, f"no note of {pool.notes} lies here", "a larger region")
        return found

    def spelled(self, place: Place, notes: NoteSet) -> SpelledPitch | None:
        """Spell the note of a place, or None where it does not belong."""
        return notes.spelling(self.neck.midi(place), self.accidentals, self.rng)

    def plainly(self, place: Place) -> SpelledPitch:
        """Spell the note of a place where no key does."""
        pitch = self.spelled(place, NoteSet())
        assert pitch is not None
        return pitch


def every_octave(step: str, alter: int, octave: int | None) -> list[SpelledPitch]:
    """Return a note in its octave, or in all that MIDI numbers reach where it has none."""
    octaves = range(-1, 10) if octave is None else (octave,)
    return [SpelledPitch(step, alter, o) for o in octaves]
