"""The reach of a position: four frets under four fingers, one more by stretching, and the open strings."""

from dataclasses import dataclass

from midifret.neck.neck import Neck
from midifret.terms import Place

# One finger a fret, four fingers; the fourth may stretch one fret further. Without that stretch every
# position lacks four pitches of its compass in standard tuning [calc].
FRETS_OF_A_HAND = 4
STRETCH_FRETS = 1


def last_position(neck: Neck) -> int:
    """The highest position of a neck: above it there is no fret for every finger."""
    return max(0, neck.last_fret - FRETS_OF_A_HAND + 1)


@dataclass(frozen=True, slots=True)
class ReachedPlace:
    """A place as a hand in a position gets to it.

    stretch: the fourth finger has to stretch. open_only: an open string, allowed because neither
    hand nor stretch reaches the note.
    """

    place: Place
    stretch: bool = False
    open_only: bool = False


def in_reach(neck: Neck, position: int, midi: int) -> tuple[ReachedPlace, ...]:
    """Where a hand in a position plays a pitch: under the hand first, then by stretching.

    Position N holds frets N to N+3, with a stretch N+4; lower frets are barred. An open string is
    given only for a note that neither reaches. Position 0 is the open position: frets 0 to 3 with
    the open strings as a matter of course, and fret 4 by stretching.
    Raises ValueError for a position that the neck has not.
    """
    if not 0 <= position <= neck.last_fret:
        raise ValueError(f"positions go from 0 (open) to {neck.last_fret} here, not {position}")
    top = position + FRETS_OF_A_HAND - 1
    places = neck.places(midi)
    held = [ReachedPlace(place) for place in places if position <= place.fret <= top]
    stretched = [
        ReachedPlace(place, stretch=True) for place in places if top < place.fret <= top + STRETCH_FRETS
    ]
    if held or stretched:
        return (*held, *stretched)
    return tuple(ReachedPlace(place, open_only=True) for place in places if place.fret == 0)


def position_compass(neck: Neck, position: int) -> tuple[int, ...]:
    """Every pitch that a hand in a position reaches with fingers alone, stretch included, rising."""
    lowest, highest = neck.compass
    pitches = range(lowest, highest + 1)
    return tuple(m for m in pitches if any(not r.open_only for r in in_reach(neck, position, m)))


def roman(position: int) -> str:
    """A position as musicians write it: 5 is V. The open position has no numeral and gives an empty text."""
    text = ""
    for value, letters in ((10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I")):
        while position >= value:
            text, position = text + letters, position - value
    return text
