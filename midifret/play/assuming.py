"""Where a note was most likely played, if the guitar does not tell its string."""

from midifret.neck import Neck
from midifret.terms import Note, Place, Prompt

# The hand that plays one fret reaches these frets to either side: four fingers, one a fret, and a stretch of
# the fourth to one more (reach of a position).
_REACH_FRETS = 4


def assume_place(note: Note, prompt: Prompt, neck: Neck, used: frozenset[Place]) -> Note:
    """Give a note without a place the likeliest one, marked as assumed; one off the neck stays without.

    The pitch alone is known, so a right pitch is taken to be played where it was asked. A wrong one is taken
    to be within reach of the asked place, the nearest fret first, then the nearest string; else on an open
    string, else wherever it is nearest. used: places that the prompt no longer accepts.
    """
    if note.place is not None:
        return note
    places = neck.places(note.midi)
    if prompt.held is not None:  # its string is taken
        places = tuple(p for p in places if p.string != prompt.held.string) or places
    if not places:
        return note
    for answer in (p for p in prompt.places if p not in used):
        if answer in places:
            return _at(note, answer)
    asked = prompt.places[0]

    def unlikeliness(place: Place) -> tuple[int, int, int]:
        frets, strings = abs(place.fret - asked.fret), abs(place.string - asked.string)
        kind = 0 if frets <= _REACH_FRETS and place.fret else 1 if place.fret == 0 else 2
        return kind, frets, strings

    return _at(note, min(places, key=unlikeliness))


def _at(note: Note, place: Place) -> Note:
    return note._replace(string=place.string, fret=place.fret, place_assumed=True)
