"""A score as it stands in print, each bar once, with the fingering of the times that it is played."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from midifret.terms.fingered import FingeredNote, FingeredScore
from midifret.terms.score import Directions, Printed, Score, ScoreNote

_MOST_BARS_NAMED = 8


@dataclass(frozen=True, slots=True)
class Printing:
    """What is put on a page. signs: of repeats, one for each bar; empty where the bars stand as played.

    warnings: where the page tells one way of playing and there are several, in words.
    """

    score: Score
    fingered: FingeredScore | None
    signs: tuple[Directions, ...] = ()
    warnings: tuple[str, ...] = ()


def as_in_print(score: Score, fingered: FingeredScore | None = None) -> Printing:
    """Fold a score to the bars as they stand in print, or leave it where that is how it is played.

    Each note has the fingering of the first time that it is played; where another time has another one the
    warnings say so.
    """
    folded = score.folded
    if folded is None:
        return Printing(score, fingered)
    if fingered is None:
        return Printing(folded.score, None, folded.signs)
    by_n = {note.n: note for note in fingered.notes}
    notes, unlike = [], []
    for note, times in zip(folded.score.notes, folded.played_as, strict=True):
        played = [by_n[n] for n in times]
        first = played[0] if played else FingeredNote(note.n, None, None, None)
        if any((each.place, each.finger) != (first.place, first.finger) for each in played):
            unlike.append(note)
        notes.append(replace(first, n=note.n))
    made = replace(fingered, notes=tuple(notes))
    return Printing(folded.score, made, folded.signs, _warned(unlike))


def fingered_alike(score: Score, notes: Sequence[FingeredNote]) -> Score:
    """The score with what is printed replaced: at notes that come again, the first time's string and finger.

    Fingered once more, and what is printed kept, all times are played alike.
    """
    assert score.folded is not None
    by_n = {note.n: note for note in notes}
    wanted: dict[int, Printed] = {}
    for times in score.folded.played_as:
        if len(times) > 1 and (place := by_n[times[0]].place) is not None:
            printed = Printed(by_n[times[0]].finger, place.string, place.fret)
            wanted |= dict.fromkeys(times, printed)
    return replace(score, notes=tuple(replace(n, printed=wanted.get(n.n, n.printed)) for n in score.notes))


def _warned(unlike: Sequence[ScoreNote]) -> tuple[str, ...]:
    bars = list(dict.fromkeys(note.bar for note in unlike))
    if not bars:
        return ()
    named = ", ".join(bars[:_MOST_BARS_NAMED]) + (" and others" if len(bars) > _MOST_BARS_NAMED else "")
    one = "bar" if len(bars) == 1 else "bars"
    return (f"{one} {named}: printed as fingered the first time; when repeated it is fingered otherwise",)
