"""Invented tunes with repeats, as they are played and as they stand in print."""

from collections.abc import Sequence
from fractions import Fraction

from midifret.scores.unfold import playing_order
from midifret.terms.score import BarStart, Directions, Folded, MeterChange, Score, ScoreNote
from tests.pages.tunes import note

BARS = ("C4 E4 G4 C5", "D4 F4 A4 D5", "E4 G4 B4 E5", "C5 B4 A4 G4", "F4 A4 C5 F5", "G4 B4 D5 G4")
PLAIN = Directions()
SIGNS = {
    "repeat": (Directions(repeat_start=True), Directions(repeat_end=2), PLAIN, PLAIN),
    "three times": (PLAIN, Directions(repeat_end=3), PLAIN),
    "endings": (
        Directions(repeat_start=True),
        PLAIN,
        Directions(endings=(1, 2), repeat_end=3),
        Directions(endings=(3,)),
        PLAIN,
    ),
    "da capo": (PLAIN, Directions(fine=True), PLAIN, Directions(jump="dc")),
    "coda": (
        PLAIN,
        Directions(segno=True),
        Directions(coda=True),
        Directions(jump="ds"),
        Directions(coda=True),
    ),
}  # fmt: skip


def folded(signs: Sequence[Directions], tune: Sequence[str] = BARS) -> Score:
    """Four quarters a bar, the first bars of a tune; played in the order that the signs tell."""
    order = playing_order(tuple(signs))
    heads = [
        (index, step, name) for index, _ in enumerate(signs) for step, name in enumerate(tune[index].split())
    ]
    starts = tuple(BarStart(Fraction(4 * index), str(index + 1)) for index, _ in enumerate(signs))
    meters = (MeterChange(Fraction(0), 4, 4),)
    print_notes = tuple(
        note(n, 4 * index + step, 1, name, bar=str(index + 1))
        for n, (index, step, name) in enumerate(heads, 1)
    )
    notes: list[ScoreNote] = []
    played_as: dict[int, list[int]] = {}
    bars = []
    for place, index in enumerate(order):
        bars.append(BarStart(Fraction(4 * place), str(index + 1), order[: place + 1].count(index)))
        for head, (bar, step, name) in enumerate(heads):
            if bar == index:
                notes.append(note(len(notes) + 1, 4 * place + step, 1, name, bar=str(index + 1)))
                played_as.setdefault(head, []).append(len(notes))
    printed = Score("Folded", "", "folded", print_notes, meters=meters, bars=starts)
    times = tuple(tuple(played_as.get(head, ())) for head in range(len(heads)))
    return Score(
        "Folded", "", "folded", tuple(notes), meters=meters, bars=tuple(bars),
        folded=Folded(printed, tuple(signs), times),
    )  # fmt: skip
