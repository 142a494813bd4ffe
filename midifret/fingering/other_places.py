"""Where else each note lies, and what speaks for and against it where the hand then is."""

from dataclasses import dataclass
from fractions import Fraction

from midifret.fingering.choices import Choices, OpenStrings
from midifret.fingering.costs import BODY_FRET
from midifret.fingering.values import FingeredNote, Fingering
from midifret.neck import Neck
from midifret.terms import Place
from midifret.terms.score import Score

# A hand in position N gets from a fret below it to a fret above its four [common practice, no source].
LOWEST_REACHED, HIGHEST_REACHED = -1, 4
# So many frets make a difference that is heard: thicker strings and higher frets sound darker [the same].
TONE_FRETS = 4


@dataclass(frozen=True, slots=True)
class OtherPlace:
    """Another place of a note. pros, cons: short reasons for and against it, in words."""

    place: Place
    pros: tuple[str, ...]
    cons: tuple[str, ...]


def other_places(
    score: Score, neck: Neck, choices: Choices, fingering: Fingering
) -> tuple[tuple[OtherPlace, ...], ...]:
    """For each note of the score its other places, string 1 first; none for a note without a place.

    The reasons hold for the fingering as it is: what the other strings do and where the hand is. What all
    would cost with the note elsewhere says `cost_with`.
    """
    sounding = _strings_taken(score, fingering)
    found: list[tuple[OtherPlace, ...]] = []
    for index, (note, fingered) in enumerate(zip(score.notes, fingering.notes, strict=True)):
        if fingered.place is None or note.harmonic:
            found.append(())
            continue
        found.append(
            tuple(
                _weighed(place, fingered, sounding[index], choices)
                for place in neck.places(note.midi)
                if place != fingered.place
            )
        )
    return tuple(found)


def _strings_taken(score: Score, fingering: Fingering) -> list[frozenset[int]]:
    """For each note the strings on which others sound while it begins."""
    taken = []
    on: list[int] = []
    notes = score.notes
    begun = 0
    for note in notes:
        while begun < len(notes) and notes[begun].onset_quarter <= note.onset_quarter:
            on.append(begun)
            begun += 1
        on = [i for i in on if _end(score, fingering, i) > note.onset_quarter or notes[i].n == note.n]
        strings = {
            place.string
            for i in on
            if notes[i].n != note.n and (place := fingering.notes[i].place) is not None
        }
        taken.append(frozenset(strings))
    return taken


def _end(score: Score, fingering: Fingering, index: int) -> Fraction:
    let_go = fingering.notes[index].let_go_quarter
    return score.notes[index].end_quarter if let_go is None else let_go


def _weighed(place: Place, fingered: FingeredNote, taken: frozenset[int], choices: Choices) -> OtherPlace:
    assert fingered.place is not None
    assert fingered.position is not None
    mine, position = fingered.place, fingered.position
    pros, cons = [], []
    if place.string in taken:
        cons.append("the string is taken")
    if place.fret == 0:
        pros.append("no finger needed")
        cons.append("no vibrato")
        if choices.open_strings is OpenStrings.NEVER:
            cons.append("no open strings, as chosen")
        elif choices.open_strings is OpenStrings.NEEDED:
            cons.append("open strings only where needed, as chosen")
    else:
        away = place.fret - position
        # In a position that was asked for, frets below it are barred.
        lowest = LOWEST_REACHED if choices.position is None else 0
        if not lowest <= away <= HIGHEST_REACHED:
            cons.append(f"out of reach in position {position}")
        elif place.fret != mine.fret:
            pros.append("in reach of the hand")
        if mine.fret == 0:
            pros.append("vibrato")
        if place.fret >= BODY_FRET > mine.fret:
            cons.append("over the body")
    if place.fret - mine.fret >= TONE_FRETS:
        pros.append("darker tone")
    elif mine.fret - place.fret >= TONE_FRETS:
        pros.append("brighter tone")
    if choices.region is not None:
        low, high = choices.region
        (pros if low <= place.fret <= high else cons).append(
            "in the region chosen" if low <= place.fret <= high else "outside the region chosen"
        )
    return OtherPlace(place, tuple(pros), tuple(cons))
