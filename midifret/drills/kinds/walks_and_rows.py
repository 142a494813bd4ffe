"""Questions that go step by step over the neck: walks, single strings, rows and their neighbours."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from midifret.drills.asking import Asker, Unit
from midifret.drills.faults import each, fault
from midifret.drills.fields import Side
from midifret.drills.kinds.places import one_by_one
from midifret.drills.models import BesideRow, OneString, Row, Walk
from midifret.drills.pool import NoteSet, Span
from midifret.drills.reading import Reader
from midifret.drills.walks import broken, row_walk, there_and_back
from midifret.neck import Accidentals, Neck, spell
from midifret.terms import Judged, Place, SpelledPitch


def walk(wanted: Walk, read: Reader, ask: Asker) -> list[Unit]:
    """Walk from one note to another through those that belong. Raises Faulty."""
    notes = read.note_set(wanted.through, "through")
    span = read.span(wanted)
    first, last = each((partial(_end, wanted.from_, "from", read), partial(_end, wanted.to, "to", read)))
    places = _places_between(first.midi, last.midi, notes, span, read)
    each(
        partial(_check_end, end, taken, wanted.through, notes, read)
        for end, taken in ((first, places[:1]), (last, places[-1:]))
    )
    if wanted.broken is not None:
        places = broken(places, wanted.broken.steps)
        if not places:
            message = f"too short to be walked in {wanted.broken}"
            raise fault(read.path, message, "ends further apart")
    elif len(places) < 2:
        raise fault(read.path, "the walk has only one note", "ends further apart")
    return _walked(places, notes, read, ask, back=wanted.back)


def string(wanted: OneString, read: Reader, ask: Asker) -> list[Unit]:
    """Walk along one string. Raises Faulty."""
    read.string(wanted.number, "number")
    read.fret(wanted.frets[1], "frets")
    span = Span(read.neck, wanted.frets, (wanted.number, wanted.number))
    notes = read.note_set(wanted.through, "through")
    rising = [place for place in span.places() if read.spelled(place, notes) is not None]
    if not rising:
        raise fault(read.path, f"no note of {wanted.through} lies here", "a larger range of frets")
    return _walked(rising, notes, read, ask, back=wanted.back)


def row(wanted: Row, read: Reader, ask: Asker) -> list[Unit]:
    """Ask for all strings at one fret, the last string first, or walk them with a leap. Raises Faulty."""
    places = _row_places(read.neck, read.fret(wanted.fret, "fret"))
    if wanted.leap is None:
        where = "open string" if wanted.fret == 0 else f"fret {wanted.fret}"
        # Judged otherwise than by place, the note may be played at another fret.
        prompts = [prompt for (prompt,) in one_by_one(places, read, ask)]
        return [(replace(p, hint=where) if p.judged is Judged.PLACE else p,) for p in prompts]
    strings = read.neck.strings
    try:
        steps = row_walk(strings, wanted.leap)
    except ValueError:
        message = f"a leap of {wanted.leap} on {strings} strings is too long"
        raise fault(read.at("leap"), message, f"1 to {strings - 1}") from None
    walked = [Place(number, wanted.fret) for number in steps]
    return [(ask.ask(place, read.plainly(place), places),) for place in walked]


def beside_row(wanted: BesideRow, read: Reader, ask: Asker) -> list[Unit]:
    """Ask for the row next to another, whose places may be played first. Raises Faulty."""
    read.fret(wanted.row, "row")
    fret = read.fret(wanted.row + (1 if wanted.side is Side.ABOVE else -1), "side")
    places = _row_places(read.neck, fret)
    where = f"one fret {wanted.side} row {wanted.row}"
    units: list[Unit] = []
    for place in places:
        landmark = Place(place.string, wanted.row)
        for pitch in spell(read.neck.midi(place), Accidentals.BOTH):
            asked = ask.ask(place, pitch, places)
            hint = f"{asked.hint}; {where}" if asked.hint else where
            units.append((replace(asked, may_play=(landmark,), hint=hint),))
    return units


def _row_places(neck: Neck, fret: int) -> list[Place]:
    return [Place(number, fret) for number in range(neck.strings, 0, -1)]


@dataclass(frozen=True, slots=True)
class _End:
    """Where a walk begins or ends. key: of the file. place: None where the file names a note."""

    key: str
    midi: int
    place: Place | None = None


def _end(text: str, key: str, read: Reader) -> _End:
    if ":" in text:
        place = read.place(text, key)
        return _End(key, read.neck.midi(place), place)
    step, alter, octave = read.name(text, key)
    if octave is None:
        allowed = f"as sounded, for example {text}3, or a place"
        raise fault(read.at(key), f"{text} lacks its octave", allowed)
    return _End(key, SpelledPitch(step, alter, octave).midi)


def _places_between(first_midi: int, last_midi: int, notes: NoteSet, span: Span, read: Reader) -> list[Place]:
    """Return each pitch that belongs, both ends included, at its lowest fret of the span. Raises Faulty."""
    step = 1 if first_midi <= last_midi else -1
    places: list[Place] = []
    for midi in range(first_midi, last_midi + step, step):
        pitch = notes.spelling(midi, Accidentals.SHARPS, read.rng)
        if pitch is None:
            continue
        place = span.lowest_fret(midi)
        if place is None:
            message = f"the walk needs {pitch}, which is not found here"
            raise fault(read.path, message, "a larger region")
        places.append(place)
    return places


def _check_end(end: _End, taken: list[Place], through: str, notes: NoteSet, read: Reader) -> None:
    """Refuse an end whose note does not belong, or that the walk would take at another place.

    taken: the walk's place at this end, alone in its list; empty where the walk has no places.
    """
    if notes.spelling(end.midi, Accidentals.SHARPS, read.rng) is None:
        message = f"{spell(end.midi)[0]} does not belong to {through}"
        raise fault(read.at(end.key), message, "a note of the walk")
    if end.place is not None and taken != [end.place]:
        message = f"the walk would take {taken[0]}, the lowest fret here, not {end.place}"
        raise fault(read.at(end.key), message, "frets or strings that leave the other out")


def _walked(places: Sequence[Place], notes: NoteSet, read: Reader, ask: Asker, *, back: bool) -> list[Unit]:
    """Ask a walk; where no key spells it, sharps on the way up and flats on the way down."""
    midi = read.neck.midi
    steps = there_and_back(places) if back else places
    top = len(places) - 1
    upward = midi(places[-1]) >= midi(places[0])
    units: list[Unit] = []
    for index, place in enumerate(steps):
        rising = upward == (index <= top)
        sign = ask.style.accidentals or (Accidentals.SHARPS if rising else Accidentals.FLATS)
        pitch = notes.spelling(midi(place), sign, read.rng)
        assert pitch is not None
        units.append((ask.ask(place, pitch, places),))
    return units
