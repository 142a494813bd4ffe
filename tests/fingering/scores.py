"""Scores and necks that the tests of fingering are made of."""

from fractions import Fraction

from midifret.neck import Neck, Tuning, spell
from midifret.terms.score import NOTHING_PRINTED, PositionMark, Printed, Score, ScoreNote

STANDARD = Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40))
GUITAR = Neck(STANDARD)


def small_neck(open_midi: tuple[int, ...], frets: int) -> Neck:
    """A neck with few frets above its capo."""
    return Neck(Tuning("small", "Small", open_midi), 12, 12 - frets)


def score(*notes: tuple[float, float, int], **others: object) -> Score:
    """A score of (onset, duration, pitch) in quarter notes; prints by `printed`, a dict by n, marks."""
    printed: dict[int, Printed] = others.get("printed", {})  # type: ignore[assignment]
    slurred = others.get("slurred", ())
    harmonic = others.get("harmonic", ())
    marks: tuple[PositionMark, ...] = others.get("marks", ())  # type: ignore[assignment]
    ordered = sorted(notes, key=lambda note: (note[0], note[2]))
    return Score(
        title="",
        composer="",
        source="test",
        positions=marks,
        notes=tuple(
            ScoreNote(
                n=n,
                onset_quarter=Fraction(onset),
                duration_quarter=Fraction(duration),
                midi=midi,
                pitch=spell(midi)[0],
                bar=str(int(onset // 4) + 1),
                slurred=n in slurred,  # type: ignore[operator]
                harmonic=n in harmonic,  # type: ignore[operator]
                printed=printed.get(n, NOTHING_PRINTED),
            )
            for n, (onset, duration, midi) in enumerate(ordered, start=1)
        ),
    )


def melody(*midis: int, quarters: float = 0.5) -> Score:
    """Notes of one length, one after the other."""
    return score(*((i * quarters, quarters, midi) for i, midi in enumerate(midis)))
