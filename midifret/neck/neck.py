"""Strings, frets and what sounds where; the one table that all judging rests on."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from midifret.terms import Place

LEAST_FRETS, MOST_FRETS, USUAL_FRETS = 12, 24, 19  # a classical neck has 19 [common practice, no source]


@dataclass(frozen=True, slots=True)
class Tuning:
    """The open strings of a guitar.

    name: as settings write it. title: for people.
    open_midi: sounding MIDI number of each open string without capo, string 1 first.
    """

    name: str
    title: str
    open_midi: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Neck:
    """A tuned neck, with a capo or without.

    frets: how many the neck has, counted from the nut. capo: the fret it lies on, 0 for none.
    Places count from the capo. Raises ValueError where frets or capo are out of range.
    """

    tuning: Tuning
    frets: int = USUAL_FRETS
    capo: int = 0
    _by_midi: dict[int, tuple[Place, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Check the ranges and lay out the places of every pitch."""
        if not LEAST_FRETS <= self.frets <= MOST_FRETS:
            raise ValueError(f"a neck has {LEAST_FRETS} to {MOST_FRETS} frets, not {self.frets}")
        if not 0 <= self.capo < self.frets:
            raise ValueError(f"the capo lies on fret 0 (none) to {self.frets - 1}, not {self.capo}")
        by_midi: dict[int, tuple[Place, ...]] = {}
        for place in self.all_places():
            midi = self.midi(place)
            by_midi[midi] = (*by_midi.get(midi, ()), place)
        object.__setattr__(self, "_by_midi", by_midi)

    @property
    def strings(self) -> int:
        """How many strings there are."""
        return len(self.tuning.open_midi)

    @property
    def last_fret(self) -> int:
        """The highest fret that a place can have, counted from the capo."""
        return self.frets - self.capo

    def all_places(self) -> Iterator[Place]:
        """Every place, string 1 first, each from the open string up."""
        for string in range(1, self.strings + 1):
            for fret in range(self.last_fret + 1):
                yield Place(string, fret)

    def has(self, place: Place) -> bool:
        """Whether the neck has this place."""
        return 1 <= place.string <= self.strings and 0 <= place.fret <= self.last_fret

    def open_midi(self, string: int) -> int:
        """Sounding pitch of an open string, capo included."""
        return self.tuning.open_midi[string - 1] + self.capo

    def midi(self, place: Place) -> int:
        """Sounding pitch at a place: each fret is a semitone (twelve-tone equal temperament)."""
        return self.tuning.open_midi[place.string - 1] + self.capo + place.fret

    def places(self, midi: int) -> tuple[Place, ...]:
        """Every place where a pitch can be played, string 1 first; empty where there is none."""
        return self._by_midi.get(midi, ())

    @property
    def compass(self) -> tuple[int, int]:
        """The lowest and the highest pitch of the neck."""
        return min(self._by_midi), max(self._by_midi)
