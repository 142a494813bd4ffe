"""A spelled pitch: what is written, as against the MIDI number of what sounds."""

from dataclasses import dataclass

# Semitones of the natural steps above C (the major scale: whole, whole, half, whole, whole, whole, half).
STEP_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@dataclass(frozen=True, slots=True)
class SpelledPitch:
    """A pitch with its spelling, in sounding octaves (E4 is the open first string).

    step: one of C D E F G A B.
    alter: semitones, -2 (double flat) to 2 (double sharp).
    octave: scientific octave of the written step; B#3 sounds as C4.
    """

    step: str
    alter: int
    octave: int

    @property
    def midi(self) -> int:
        """MIDI note number; C4 is 60 (ISO 16 puts A4 = 69 at 440 Hz)."""
        return 12 * (self.octave + 1) + STEP_SEMITONES[self.step] + self.alter

    @property
    def pitch_class(self) -> int:
        """Semitones above C, 0 to 11."""
        return self.midi % 12

    def __str__(self) -> str:
        """Return the English ASCII name with its sounding octave, for example F#3."""
        signs = "#" * self.alter if self.alter > 0 else "b" * -self.alter
        return f"{self.step}{signs}{self.octave}"
