"""The notes of a key or the naturals, each with the spelling that the key gives it."""

from dataclasses import dataclass

from midifret.neck.names import Language, parse_name
from midifret.terms import SpelledPitch
from midifret.terms.pitch import STEP_SEMITONES

_STEPS = "CDEFGAB"
# Semitones above the tonic. Minor alone is the natural one; the melodic keeps its rising form both ways.
_MODES = {
    "major": (0, 2, 4, 5, 7, 9, 11),
    "minor": (0, 2, 3, 5, 7, 8, 10),
    "harmonic minor": (0, 2, 3, 5, 7, 8, 11),
    "melodic minor": (0, 2, 3, 5, 7, 9, 11),
}
NATURALS = "naturals"
MODES = tuple(_MODES)


@dataclass(frozen=True, slots=True)
class Scale:
    """Seven note names in rising order.

    name: as the drill writes it. notes: (step, alter) of each degree.
    """

    name: str
    notes: tuple[tuple[str, int], ...]

    def spell(self, midi: int) -> SpelledPitch | None:
        """Spell a sounding pitch as this scale does, or None where the scale has not got it."""
        for step, alter in self.notes:
            semitones = midi - STEP_SEMITONES[step] - alter
            if semitones % 12 == 0:
                return SpelledPitch(step, alter, semitones // 12 - 1)
        return None


def parse_scale(text: str, language: Language = Language.ENGLISH) -> Scale:
    """Read `naturals` or a key such as `D major`, `F# minor`, `A harmonic minor`.

    Raises ValueError, saying what is allowed, for anything else and for keys that would need
    more than a double sharp or a double flat.
    """
    words = text.split()
    if [word.lower() for word in words] == [NATURALS]:
        return Scale(NATURALS, tuple((step, 0) for step in _STEPS))
    mode = " ".join(words[1:]).lower()
    allowed = f"{text!r} is not a key; write naturals or a tonic and one of {', '.join(MODES)}"
    if mode not in _MODES:
        raise ValueError(allowed)
    step, alter, octave = parse_name(words[0], language)
    if octave is not None:
        raise ValueError(allowed)
    tonic = STEP_SEMITONES[step] + alter
    first = _STEPS.index(step)
    notes = []
    for degree, semitones in enumerate(_MODES[mode]):
        letter = _STEPS[(first + degree) % 7]
        sign = (tonic + semitones - STEP_SEMITONES[letter] + 6) % 12 - 6
        if abs(sign) > 2:
            raise ValueError(f"{text!r} would need a triple accidental; write the key by its other name")
        notes.append((letter, sign))
    return Scale(text, tuple(notes))
