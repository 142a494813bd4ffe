"""Questions for what one note is to another: same pitch, octave, string taken, every place of a note."""

from dataclasses import replace
from functools import partial

from midifret.drills.asking import HAND_REACH_FRETS, OCTAVE_SEMITONES, Asker, Unit
from midifret.drills.faults import each, fault
from midifret.drills.models import PlacesOf, Pool, TakenString
from midifret.drills.pool import NoteSet
from midifret.drills.reading import Reader, every_octave
from midifret.neck import Neck
from midifret.terms import CueKind, Place


def places_of(wanted: PlacesOf, read: Reader, ask: Asker) -> list[Unit]:
    """Ask for every place of a note, each once, in any order; one unit of them all. Raises Faulty."""
    span = read.span(wanted)
    step, alter, octave = read.name(wanted.note, "note")
    cue = (CueKind.NAME,) if ask.style.show is None else ask.style.show
    if octave is None and CueKind.STAFF in cue:
        allowed = f"an octave, for example {wanted.note}4"
        raise fault(read.at("note"), "the staff shows one octave only", allowed)
    pitches = {pitch.midi: pitch for pitch in every_octave(step, alter, octave)}
    places = tuple(place for place in span.places() if read.neck.midi(place) in pitches)
    if not places:
        message = f"{wanted.note} is not found here"
        raise fault(read.at("note"), message, "a larger region or another octave")
    prompts = []
    for k, place in enumerate(places):
        hint = f"place {k + 1} of {len(places)}"
        pitch = pitches[read.neck.midi(place)]
        asked = ask.prompt((*places[k:], *places[:k]), pitch, cue, hint)
        prompts.append(replace(asked, each_once=0))
    return [tuple(prompts)]


def same_pitch(wanted: Pool, read: Reader, ask: Asker) -> list[Unit]:
    """Show places, and ask for the same pitch on another string, the nearest suggested. Raises Faulty."""
    units: list[Unit] = []
    for place, pitch in read.pool(wanted):
        others = _nearest_string_first(place, read.neck.places(pitch.midi))
        if others:
            hint = "the same note on another string"
            units.append((ask.ask_beside(place, others, pitch, hint, ask.style.show or ()),))
    if not units:
        raise fault(read.path, "no note here has a second string", "a larger region")
    return units


def octaves(wanted: Pool, read: Reader, ask: Asker) -> list[Unit]:
    """Ask in pairs: a note, then the octave above it that the hand finds from there. Raises Faulty."""
    found = read.pool(wanted)
    domain = [place for place, _ in found]
    units: list[Unit] = []
    for root, pitch in found:
        answers = _octave_shapes(read.neck, root)
        if answers:
            higher = replace(pitch, octave=pitch.octave + 1)
            first = ask.ask_exactly(root, pitch, domain)
            units.append((first, ask.ask_beside(root, answers, higher, "an octave higher")))
    if not units:
        raise fault(read.path, "no note here has its octave within reach", "a larger region")
    return units


def taken_string(wanted: TakenString, read: Reader, ask: Asker) -> list[Unit]:
    """Ask in pairs: a note to hold, then another that usually lies on its string. Raises Faulty."""
    if wanted.pairs is not None:
        pairs = each(partial(_pair, texts, index, read) for index, texts in enumerate(wanted.pairs))
    else:
        places = [place for place, _ in read.pool(wanted)]
        pairs = [
            (held, other)
            for held in places
            for other in places
            if held.string == other.string and held != other and _free_places(read.neck, held, other)
        ]
    if not pairs:
        raise fault(read.path, "no pair of notes is found here", "a larger region")
    notes = read.note_set(wanted.notes, "notes")
    domain = [held for held, _ in pairs]
    return [_hold_and_find(held, other, notes, domain, read, ask) for held, other in pairs]


def _pair(texts: list[str], index: int, read: Reader) -> tuple[Place, Place]:
    held, other = each(partial(read.place, text, "pairs", index, i) for i, text in enumerate(texts))
    if not _free_places(read.neck, held, other):
        message = f"the note of {other} is not within reach on a free string while {held} is held"
        raise fault(read.at("pairs", index), message, "another pair")
    return held, other


def _hold_and_find(
    held: Place, other: Place, notes: NoteSet, domain: list[Place], read: Reader, ask: Asker
) -> Unit:
    held_pitch = read.spelled(held, notes) or read.plainly(held)
    pitch = read.spelled(other, notes) or read.plainly(other)
    first = replace(ask.ask_exactly(held, held_pitch, domain), hint="hold this note")
    cue = tuple(kind for kind in first.cue if kind in (CueKind.NAME, CueKind.STAFF)) or (CueKind.NAME,)
    hint = f"usually at {other}, but string {held.string} is taken"
    second = ask.prompt(_free_places(read.neck, held, other), pitch, cue, hint)
    return first, replace(second, held=held, may_play=(held,))


def _free_places(neck: Neck, held: Place, other: Place) -> tuple[Place, ...]:
    """Where the note of a place lies on other strings, open or within the hand that holds a note."""
    return tuple(
        place
        for place in neck.places(neck.midi(other))
        if place.string != held.string
        and (place.fret == 0 or held.fret == 0 or abs(place.fret - held.fret) <= HAND_REACH_FRETS)
    )


def _octave_shapes(neck: Neck, root: Place) -> tuple[Place, ...]:
    """Where a hand finds the octave above a place."""
    higher = neck.places(neck.midi(root) + OCTAVE_SEMITONES)
    near = tuple(place for place in higher if abs(place.fret - root.fret) <= HAND_REACH_FRETS)
    return _nearest_string_first(root, near)


def _nearest_string_first(place: Place, others: tuple[Place, ...]) -> tuple[Place, ...]:
    """Return those on other strings, the nearest string first."""
    elsewhere = (other for other in others if other.string != place.string)
    return tuple(sorted(elsewhere, key=lambda other: (abs(other.string - place.string), other.fret)))
