"""Which notes no hand can strike together, and the nearest change that would do."""

from itertools import combinations

from midifret.fingering.events import Event, Timeline
from midifret.fingering.hand import Hand
from midifret.fingering.values import OctaveMove, Unplayable
from midifret.terms.score import ScoreNote

OCTAVES = (12, -12, 24, -24, 36, -36)


def left_out(
    hand: Hand, notes: tuple[ScoreNote, ...], line: Timeline
) -> tuple[dict[int, frozenset[int]], tuple[Unplayable, ...]]:
    """Find for each event the fewest notes that have to be left out, inner voices before the outer ones.

    Returns them by the event's number, as indexes, and what to tell the player.
    """
    out: dict[int, frozenset[int]] = {}
    told = []
    for number, event in enumerate(line.events):
        if not _playable(hand, notes, event.new):
            gone = _fewest(hand, notes, event.new)
            out[number] = frozenset(gone)
            told.append(_tell(hand, notes, event, gone))
    return out, tuple(told)


def _playable(hand: Hand, notes: tuple[ScoreNote, ...], struck: tuple[int, ...]) -> bool:
    if len(struck) > hand.neck.strings:
        return False
    return bool(hand.forms(tuple((notes[index].midi, notes[index].harmonic) for index in struck)))


def _fewest(hand: Hand, notes: tuple[ScoreNote, ...], struck: tuple[int, ...]) -> tuple[int, ...]:
    """The fewest notes without which the others can be played."""
    gone = [index for index in struck if not _playable(hand, notes, (index,))]
    rest = [index for index in struck if index not in gone]
    # More notes than strings: those in the middle go first, so that melody and bass stay.
    while len(rest) > hand.neck.strings:
        gone.append(rest.pop(len(rest) // 2))
    middle = (len(rest) - 1) / 2
    for many in range(len(rest) + 1):
        for spots in sorted(
            combinations(range(len(rest)), many), key=lambda s: sum(abs(spot - middle) for spot in s)
        ):
            others = tuple(index for spot, index in enumerate(rest) if spot not in spots)
            if _playable(hand, notes, others):
                return tuple(sorted([*gone, *(rest[spot] for spot in spots)]))
    return struck


def _tell(hand: Hand, notes: tuple[ScoreNote, ...], event: Event, gone: tuple[int, ...]) -> Unplayable:
    numbers = tuple(notes[index].n for index in event.new)
    lowest, highest = hand.neck.compass
    beyond = [index for index in gone if not lowest <= notes[index].midi <= highest]
    if beyond:
        why = "beyond the neck"
    elif len(event.new) > hand.neck.strings:
        why = "more notes than strings"
    elif len(event.new) == 1 or any(not _playable(hand, notes, (index,)) for index in gone):
        why = "no place for it among those allowed"
    else:
        why = "out of one hand's reach"
    return Unplayable(
        bar=notes[event.new[0]].bar,
        onset_quarter=event.onset_quarter,
        notes=numbers,
        left_out=tuple(notes[index].n for index in gone),
        octave=_octave(hand, notes, event.new, gone),
        why=why,
    )


def _octave(
    hand: Hand, notes: tuple[ScoreNote, ...], struck: tuple[int, ...], gone: tuple[int, ...]
) -> OctaveMove | None:
    """One note that elsewhere would let all be played, the one left out before the others."""
    if len(struck) > hand.neck.strings:
        return None
    pitches = {notes[index].midi for index in struck}
    for semitones in OCTAVES:
        for index in sorted(struck, key=lambda i: i not in gone):
            midi = notes[index].midi + semitones
            if midi in pitches or notes[index].harmonic:
                continue
            others = [(notes[i].midi, notes[i].harmonic) for i in struck if i != index]
            if hand.forms(tuple(sorted([*others, (midi, False)]))):
                return OctaveMove(notes[index].n, semitones)
    return None
