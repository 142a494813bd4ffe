"""A score made ready for paper: fingered, each bar once, and under a capo as the hand plays it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from midifret.fingering import Choices, Fingering, Kept, OpenStrings, finger
from midifret.fingering.weights import Weights
from midifret.neck import Neck
from midifret.pages.fold import Printing, as_in_print, fingered_alike
from midifret.scores.transpose import fifths_of, moved, steps_for
from midifret.terms.fingered import FingeredNote, FingeredScore
from midifret.terms.score import NOTHING_PRINTED, Barre, KeyChange, Score

# A barre over so many strings is printed as a whole one [common practice, no source].
WHOLE_BARRE_STRINGS = 5


def ready(
    score: Score,
    neck: Neck,
    weights: Weights,
    *,
    position: int | None = None,
    open_strings: OpenStrings | None = None,
    unfolded: bool = False,
) -> Printing:
    """Finger a score in a position, or freely with what it prints kept, and fold it as it stands in print.

    What comes again is fingered as the first time. unfolded: repeats stay written out. open_strings: None for
    needed from position I on, and freely in the open position and without one, as on the ladder.
    Raises BadInput as `finger` does.
    """
    opened = open_strings or (OpenStrings.NEEDED if position else OpenStrings.FREELY)
    kept = frozenset(Kept) if position is None else frozenset()
    choices = Choices(position=position, open_strings=opened, kept=kept)
    fingering = finger(score, neck, choices, weights)
    if score.folded is None or unfolded:
        return Printing(score, as_printed(score, fingering))
    made = as_in_print(score, as_printed(score, fingering))
    if made.warnings:
        if position is not None:  # nothing that is printed holds
            score = replace(score, notes=tuple(replace(n, printed=NOTHING_PRINTED) for n in score.notes))
        alike = replace(choices, kept=choices.kept | {Kept.FINGERS, Kept.STRINGS})
        again = finger(fingered_alike(score, as_printed(score, fingering).notes), neck, alike, weights)
        made = as_in_print(score, as_printed(score, again))
    return made


def as_hand_plays(score: Score, capo: int) -> Score:
    """The score so many semitones lower, spelled anew: what a guitarist under a capo reads."""
    if not capo:
        return score
    steps = steps_for(-capo, score.keys[0].fifths if score.keys else 0)
    notes = []
    for note in score.notes:
        pitch = moved(note.pitch, steps, -capo)
        notes.append(replace(note, pitch=pitch, midi=pitch.midi))
    gained = fifths_of(steps, -capo)
    keys = score.keys or (KeyChange(Fraction(0), 0),)
    return replace(
        score,
        notes=tuple(notes),
        keys=tuple(replace(key, fifths=_within(key.fifths + gained)) for key in keys),
    )


def _within(fifths: int) -> int:
    """A key with at most seven signs, of the same sound."""
    return fifths if abs(fifths) <= 7 else fifths - 12 if fifths > 0 else fifths + 12


def as_printed(score: Score, fingering: Fingering) -> FingeredScore:
    """A fingering as it is printed, with a barre where the first finger holds several strings at once."""
    barres = _barres(score, fingering)
    notes = tuple(
        FingeredNote(
            note.n,
            note.place,
            note.finger,
            note.position,
            barre=barres.get(note.n),
            shift=note.shifted,
        )
        for note in fingering.notes
    )
    return FingeredScore(notes, fingering.shifts, fingering.open_strings, fingering.cost)


def _barres(score: Score, fingering: Fingering) -> Mapping[int, Barre]:
    """The notes under each barre: held by the first finger at one fret on several strings at once."""
    held: list[_Held] = []
    found: dict[int, Barre] = {}
    for note, each in zip(score.notes, fingering.notes, strict=True):
        if each.finger != 1 or each.place is None:
            continue
        end = note.end_quarter if each.let_go_quarter is None else each.let_go_quarter
        now = _Held({each.n}, {each.place.string}, each.place.fret, end)
        for other in [other for other in held if other.end_quarter <= note.onset_quarter]:
            held.remove(other)
        for other in [other for other in held if other.fret == now.fret]:
            held.remove(other)
            now.notes |= other.notes
            now.strings |= other.strings
            now.end_quarter = max(now.end_quarter, other.end_quarter)
        held.append(now)
        if len(now.strings) > 1:
            whole = max(now.strings) >= WHOLE_BARRE_STRINGS
            found |= dict.fromkeys(now.notes, Barre.FULL if whole else Barre.PARTIAL)
    return found


@dataclass(slots=True)
class _Held:
    """What the first finger holds at one fret: notes and strings, and until when."""

    notes: set[int]
    strings: set[int]
    fret: int
    end_quarter: Fraction
