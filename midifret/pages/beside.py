"""What is printed beside the notes: fingers, circled strings, positions and barres with their lines."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import groupby, pairwise

from midifret.neck import Neck, roman
from midifret.terms import Place
from midifret.terms.fingered import FingeredNote, FingeredScore
from midifret.terms.score import Barre, PositionMark, Score

# Where a hand in position N takes a note without being told: a fret back by the first finger, four frets on
# by stretching the fourth (design: reach of a position). In the first position nobody stretches unasked, for
# the open strings are there [ours].
_BACK, _ON, _ON_IN_FIRST = 1, 4, 3


class Strings(StrEnum):
    """Which notes have the number of their string."""

    NONE = "none"
    NEEDED = "needed"  # where the position leaves a choice
    ALL = "all"


class Positions(StrEnum):
    """Which positions are printed."""

    NONE = "none"
    FIRST = "first"  # the one in which it begins
    ALL = "all"  # every change of it, and barres


@dataclass(frozen=True, slots=True)
class Shown:
    """What a page shows beside the notes. tablature: a second staff with the frets."""

    fingers: bool = False
    strings: Strings = Strings.NONE
    positions: Positions = Positions.FIRST
    tablature: bool = False


READING = Shown()
ANSWER = Shown(fingers=True, strings=Strings.NEEDED, positions=Positions.ALL)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Words over the notes from one to another. line: to be drawn as far as the last."""

    words: str
    first: int
    last: int
    line: bool


@dataclass(frozen=True, slots=True)
class Beside:
    """What is printed beside which note, by its number. places: of every note that has one."""

    fingers: Mapping[int, int] = field(default_factory=dict)
    strings: Mapping[int, int] = field(default_factory=dict)
    places: Mapping[int, Place] = field(default_factory=dict)
    stretches: tuple[Stretch, ...] = ()


def barre_words(barre: Barre, position: int) -> str:
    """A barre as it is printed: C, for a partial one with a half before it [common practice, no source]."""
    return f"{'½' if barre is Barre.PARTIAL else ''}C{roman(position)}"


def beside(
    score: Score, fingered: FingeredScore | None, neck: Neck, shown: Shown, position: int = 0
) -> Beside:
    """Say what is printed beside the notes of a score.

    fingered: None prints what the score itself has. position: the one that the page is read in, 0 for none;
    with Positions.FIRST it is the one that is printed.
    """
    notes = fingered.notes if fingered is not None else _of_the_score(score, neck)
    fingers = {}
    strings = {}
    again = _again(score, notes)
    if shown.fingers:
        fingers = {n.n: n.finger for n in notes if n.finger is not None and n.n not in again}
    elif shown.strings is Strings.NEEDED:  # an open string is told by its 0, whatever the position
        fingers = {n.n: 0 for n in notes if n.n not in again and _told_by_zero(n, neck)}
    if shown.strings is not Strings.NONE:
        strings = {
            note.n: note.place.string
            for note in notes
            if note.place is not None
            and (shown.strings is Strings.ALL or (note.n not in again and _needed(note, neck, position)))
        }
    places = {note.n: note.place for note in notes if note.place is not None}
    if shown.positions is Positions.NONE:
        stretches: tuple[Stretch, ...] = ()
    elif shown.positions is Positions.FIRST:
        first = position or next((note.position for note in notes if note.position), 0)
        n = score.notes[0].n
        stretches = (Stretch(roman(first), n, n, line=False),) if first else ()
    elif fingered is None:
        stretches = _printed(score)
    else:
        stretches = _stretches(score, fingered)
    return Beside(fingers, strings, places, stretches)


def _of_the_score(score: Score, neck: Neck) -> list[FingeredNote]:
    """What is printed in the score, as far as it makes a place."""
    notes = []
    for note in score.notes:
        printed = note.printed
        place = None
        if printed.string is not None and 1 <= printed.string <= neck.strings:
            place = Place(printed.string, note.midi - neck.open_midi(printed.string))
            if note.harmonic or not neck.has(place):
                place = Place(printed.string, printed.fret) if printed.fret is not None else None
        notes.append(FingeredNote(note.n, place, printed.finger, None))
    return notes


def _again(score: Score, notes: Sequence[FingeredNote]) -> set[int]:
    """The notes that are struck just as at the moment before: what stands there need not be said again."""
    by_onset: list[dict[tuple[Place | None, int | None], int]] = []
    last = None
    for note, played in zip(score.notes, notes, strict=True):
        if note.onset_quarter != last:
            by_onset.append({})
            last = note.onset_quarter
        by_onset[-1][played.place, played.finger] = played.n
    return {now[key] for before, now in pairwise(by_onset) for key in now if key in before}


def _told_by_zero(note: FingeredNote, neck: Neck) -> bool:
    """Whether the note is played on an open string and there is no other open string of its pitch."""
    if note.place is None or note.place.fret != 0:
        return False
    midi = neck.midi(note.place)
    return sum(neck.open_midi(string) == midi for string in range(1, neck.strings + 1)) == 1


def _needed(note: FingeredNote, neck: Neck, position: int) -> bool:
    """Whether the hand in its position has more than one place for the note, an open string among them."""
    place = note.place
    if place is None or _told_by_zero(note, neck):
        return False
    at = note.position or position
    last = at + _ON if at > 1 else 1 + _ON_IN_FIRST
    others = [
        other
        for other in neck.places(neck.midi(place))
        if other == place or other.fret == 0 or max(1, at - _BACK) <= other.fret <= last
    ]
    return [other.string for other in others] != [place.string]


def _printed(score: Score) -> tuple[Stretch, ...]:
    """The marks of the score itself, as far as a note stands under them."""
    made = []
    onsets = [note.onset_quarter for note in score.notes]
    for mark in score.positions:
        under = [
            note.n
            for note, onset in zip(score.notes, onsets, strict=True)
            if onset >= mark.onset_quarter
            and (mark.end_quarter is None or onset < max(mark.end_quarter, mark.onset_quarter))
        ] or [note.n for note in score.notes if note.onset_quarter == mark.onset_quarter]
        if under:
            ended = mark.end_quarter is not None
            made.append(Stretch(_mark_words(mark), under[0], under[-1] if ended else under[0], line=ended))
    return tuple(made)


def _mark_words(mark: PositionMark) -> str:
    return roman(mark.position) if mark.barre is None else barre_words(mark.barre, mark.position)


def _stretches(score: Score, fingered: FingeredScore) -> tuple[Stretch, ...]:
    """A word at each change of position or barre, with a line as far as it holds.

    Open strings and the open position take no word; where a barre is lifted in its position neither.
    """
    onset = {note.n: note.onset_quarter for note in score.notes}
    held = [note for note in fingered.notes if note.position and note.finger]
    held = _one_an_onset(held, onset)
    runs = [list(run) for _, run in groupby(held, key=lambda note: (note.position, note.barre))]
    made = []
    for before, run in pairwise([[], *runs]):
        first, last = run[0], run[-1]
        assert first.position is not None
        if first.barre is None:
            if before and before[-1].position == first.position:
                continue
            words = roman(first.position)
        else:
            words = barre_words(first.barre, first.position)
        several = onset[first.n] != onset[last.n] and len(runs) > 1
        made.append(Stretch(words, first.n, last.n, line=several))
    return tuple(made)


def _one_an_onset(notes: list[FingeredNote], onset: Mapping[int, object]) -> list[FingeredNote]:
    """One note for each moment: one under a barre where there is one."""
    made = []
    for _, together in groupby(notes, key=lambda note: onset[note.n]):
        several = list(together)
        made.append(next((note for note in several if note.barre is not None), several[0]))
    return made
