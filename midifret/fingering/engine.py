"""A score fingered: string, fret and finger for every note, the cheapest way there is."""

from collections import Counter
from dataclasses import replace

from midifret.fingering.best_few import best_few
from midifret.fingering.choices import Aim, Choices, Kept
from midifret.fingering.costs import hurry
from midifret.fingering.events import timeline
from midifret.fingering.hand import Hand
from midifret.fingering.hardest import hardest_least
from midifret.fingering.playable import left_out
from midifret.fingering.search import Search, State
from midifret.fingering.values import FingeredNote, Fingering, Unplayable
from midifret.fingering.weights import Weights
from midifret.neck import Neck, Tuning
from midifret.terms import BadInput, Place
from midifret.terms.score import Printed, Score

MOST_NOTES = 10_000  # some seventy pages; more is no piece for one guitar [ours]


def neck_for(score: Score, neck: Neck) -> Neck:
    """The neck as the score wants it tuned and with its capo; as it is where the score says nothing."""
    if score.tuning_midis and score.tuning_midis != neck.tuning.open_midi:
        neck = replace(neck, tuning=Tuning("score", "As the score asks", score.tuning_midis))
    return replace(neck, capo=score.capo) if score.capo else neck


def finger(
    score: Score, neck: Neck, choices: Choices | None = None, weights: Weights | None = None
) -> Fingering:
    """Finger a score on a neck (see `neck_for`): the exact optimum of the cost that the weights state.

    Notes that no hand can play are left out and told; the others are fingered all the same.
    Raises BadInput for a score without notes, with too many, or with none on the neck.
    """
    return finger_ways(score, neck, choices, weights)[0]


def finger_ways(
    score: Score,
    neck: Neck,
    choices: Choices | None = None,
    weights: Weights | None = None,
    *,
    k: int = 1,
) -> tuple[Fingering, ...]:
    """The k cheapest fingerings, the cheapest first, no two with the same places and fingers."""
    choices, weights = choices or Choices(), weights or Weights()
    _check(score, neck)
    if choices.position is not None and not 0 <= choices.position <= neck.last_fret:
        raise BadInput(
            f"the guitar has no position {choices.position}",
            allowed=f"positions go from 0 (open) to {neck.last_fret} here",
        )
    line = timeline(score, choices.quarter_bpm)
    # What may be left out is proved for the sum alone.
    most_hurry = max(hurry(event.time_s, weights.hurry) for event in line.events)
    hand = Hand(neck, weights, choices, most_hurry=most_hurry if choices.aim is Aim.SUM else None)
    out, told = left_out(hand, score.notes, line)
    search = Search(hand, score.notes, line, out)
    if k > 1:
        lasts = best_few(search, k)
    elif choices.aim is Aim.HARDEST:
        lasts = [hardest_least(search)]
    else:
        lasts = [search.best()]
    return tuple(_fingering(search, last, told) for last in lasts)


def cost_with(
    score: Score,
    neck: Neck,
    n: int,
    place: Place,
    choices: Choices | None = None,
    weights: Weights | None = None,
) -> float | None:
    """What the cheapest fingering costs that plays note n at a place; None where none does."""
    choices = choices or Choices()
    notes = tuple(
        replace(
            note,
            printed=Printed(
                finger=note.printed.finger if Kept.FINGERS in choices.kept and note.n != n else None,
                string=place.string
                if note.n == n
                else (note.printed.string if Kept.STRINGS in choices.kept else None),
                fret=place.fret
                if note.n == n
                else (note.printed.fret if Kept.STRINGS in choices.kept else None),
            ),
        )
        for note in score.notes
    )
    kept = choices.kept | {Kept.STRINGS}
    found = finger(replace(score, notes=notes), neck, replace(choices, kept=kept), weights)
    return found.cost if found.notes[n - 1].place == place else None


def _check(score: Score, neck: Neck) -> None:
    name = score.source or score.title or "the score"
    if not score.notes:
        raise BadInput(f"{name}: there are no notes in it")
    if len(score.notes) > MOST_NOTES:
        raise BadInput(
            f"{name}: {len(score.notes)} notes are too many",
            allowed=f"at most {MOST_NOTES}; choose some bars",
        )
    lowest, highest = neck.compass
    if not any(lowest <= note.midi <= highest or note.harmonic for note in score.notes):
        pitches = [note.midi for note in score.notes]
        raise BadInput(
            f"{name}: every note is beyond the neck (MIDI {min(pitches)} to {max(pitches)})",
            allowed=f"MIDI {lowest} to {highest} on this guitar; transpose it by octaves",
        )


def _fingering(search: Search, last: State, told: tuple[Unplayable, ...]) -> Fingering:
    """Read a way through the score as a fingering."""
    line, notes = search.line, search.notes
    fingered: dict[int, FingeredNote] = {}
    parts: Counter[str] = Counter()
    shifts, hardest, hardest_n = 0, 0.0, None
    before: State | None = None
    for number, state in enumerate(search.way_to(last)):
        event, new = line.events[number], search.struck(number)
        shifted = before is not None and before.position != state.position
        shifts += shifted
        terms = search.parts(state, number)
        parts.update(terms)
        move = sum(terms.values())
        if new and move > hardest:
            hardest, hardest_n = move, notes[new[0]].n
        for index, put in zip(state.notes, state.form.puts, strict=True):
            if index in new:
                fingered[index] = FingeredNote(
                    notes[index].n,
                    Place(put[0], put[1]),
                    put[2],
                    state.position,
                    shifted=shifted,
                    against=search.goes_against(state, index),
                )
        if before is not None:
            for index in before.notes:
                written = notes[index].end_quarter > event.onset_quarter and line.ends[index] > number
                if written and index not in state.notes:
                    fingered[index] = replace(fingered[index], let_go_quarter=event.onset_quarter)
        before = state
    for double, first in line.doubles.items():
        if first in fingered:
            fingered[double] = replace(fingered[first], n=notes[double].n)
    all_notes = tuple(
        fingered.get(index) or FingeredNote(note.n, None, None, None) for index, note in enumerate(notes)
    )
    return Fingering(
        notes=all_notes,
        shifts=shifts,
        open_strings=sum(note.finger == 0 for note in all_notes),
        cost=last.cost,
        parts=tuple((name, value) for name, value in sorted(parts.items()) if value),
        hardest=hardest,
        hardest_n=hardest_n,
        unplayable=told,
    )
