"""Moving a part: to what it sounds, by semitones, or by the least that fits a guitar."""

from midifret.scores.spelling import on_fifths
from midifret.terms import BadInput, SpelledPitch
from midifret.terms.pitch import STEP_SEMITONES

_STEPS = "CDEFGAB"
_MOST_ALTER = 2


def moved(pitch: SpelledPitch, steps: int, semitones: int) -> SpelledPitch:
    """Return a pitch so many steps and semitones higher; spelled anew where that takes three signs."""
    index = _STEPS.index(pitch.step) + steps
    step, octave = _STEPS[index % 7], pitch.octave + index // 7
    midi = pitch.midi + semitones
    alter = midi - 12 * (octave + 1) - STEP_SEMITONES[step]
    if abs(alter) <= _MOST_ALTER:
        return SpelledPitch(step, alter, octave)
    position = (7 * midi) % 12
    return SpelledPitch(*on_fifths(position if position <= 6 else position - 12, midi))


def steps_for(semitones: int, fifths: int) -> int:
    """Return by how many steps to move so that a key of so many sharps keeps the fewest signs."""
    near = round(7 * semitones / 12)
    return min(
        (near - 1, near, near + 1), key=lambda steps: (abs(fifths + fifths_of(steps, semitones)), steps)
    )


def fifths_of(steps: int, semitones: int) -> int:
    """Return how many sharps a key gains when it moves so many steps and semitones.

    A fifth is 4 steps and 7 semitones, an octave 7 and 12: 7s - 12d is 1 for the one, 0 for the other.
    """
    return 7 * semitones - 12 * steps


def fitting(lowest: int, highest: int, range_midis: tuple[int, int]) -> int:
    """Return the semitones that bring a compass into a range: 0, else whole octaves, else the fewest.

    Raises BadInput where the compass is wider than the range.
    """
    low, high = range_midis
    if highest - lowest > high - low:
        raise BadInput(
            f"the music spans {highest - lowest} semitones and the guitar {high - low}: it fits in no key",
            allowed="choose a voice or some bars of it",
        )
    least, most = low - lowest, high - highest
    candidates = sorted(range(least, most + 1), key=lambda s: (s != 0, s % 12 != 0, abs(s), s))
    return candidates[0]
