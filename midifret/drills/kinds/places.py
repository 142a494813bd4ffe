"""Questions for places one by one: listed, by the names of their notes, or all of a region."""

from collections.abc import Sequence
from functools import partial

from midifret.drills.asking import Asker, Unit
from midifret.drills.faults import each, fault
from midifret.drills.models import Notes, Pool
from midifret.drills.pool import Span
from midifret.drills.reading import Reader, every_octave
from midifret.terms import Place


def places(texts: list[str], read: Reader, ask: Asker) -> list[Unit]:
    """Ask for the places listed. Raises Faulty."""
    return one_by_one(each(partial(read.place, text, i) for i, text in enumerate(texts)), read, ask)


def one_by_one(listed: Sequence[Place], read: Reader, ask: Asker) -> list[Unit]:
    """Ask for each of several places, named as the drill names notes where no key does. Raises Faulty."""
    return [(ask.ask(place, read.plainly(place), listed),) for place in listed]


def notes(wanted: Notes, read: Reader, ask: Asker) -> list[Unit]:
    """Ask for notes by name, each pitch at its lowest fret of the region. Raises Faulty."""
    span = read.span(wanted)
    asked = each(partial(_note, text, i, span, read, ask) for i, text in enumerate(wanted.names))
    return [unit for units in asked for unit in units]


def _note(text: str, index: int, span: Span, read: Reader, ask: Asker) -> list[Unit]:
    pitches = every_octave(*read.name(text, "names", index))
    found = [(span.lowest_fret(pitch.midi), pitch) for pitch in pitches]
    domain = span.places()
    asked: list[Unit] = [(ask.ask(place, pitch, domain),) for place, pitch in found if place is not None]
    if not asked:
        frets, strings = span.frets, span.strings
        where = f"a note of frets {frets[0]} to {frets[1]}, strings {strings[0]} to {strings[1]}"
        raise fault(read.at("names", index), f"{text} is not found here", where)
    return asked


def region(wanted: Pool, read: Reader, ask: Asker) -> list[Unit]:
    """Ask for each place of a region whose note belongs. Raises Faulty."""
    found = read.pool(wanted)
    domain = [place for place, _ in found]
    return [(ask.ask(place, pitch, domain),) for place, pitch in found]
