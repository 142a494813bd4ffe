"""Making notes: numbering them, leaving out places that the neck has not, and the warnings of that."""

import math
from dataclasses import replace

from midifret.terms import Attack, HearingWarning, Note


class NoteMaker:
    """Numbers the notes of one decoder.

    last_fret: of the neck. no_place_is_usual: the source tells no strings, so that nobody is warned of it.
    """

    def __init__(self, last_fret: int, *, no_place_is_usual: bool = False) -> None:
        """Start at 1."""
        self._last_fret = last_fret
        self._no_place_is_usual = no_place_is_usual
        self._last_id = 0
        self._beyond: dict[int, tuple[int, int]] = {}  # id of a note off the neck: its string and fret

    def next_id(self) -> int:
        """Return the next number."""
        self._last_id += 1
        return self._last_id

    def make(
        self,
        note_id: int,
        onset_s: float,
        string: int | None,
        fret: int | None,
        midi: int,
        velocity: int,
        channel: int,
        attack: Attack,
        cents: float,
        *,
        doubtful: bool = False,
    ) -> Note:
        """Make a note; where the neck has no such fret, string and fret are None."""
        if string is not None and fret is not None and not 0 <= fret <= self._last_fret:
            self._beyond = {note_id: (string, fret), **dict(list(self._beyond.items())[:7])}
            string = fret = None
        return Note(note_id, onset_s, string, fret, midi, velocity, channel, attack, cents, doubtful)

    def again(self, note: Note, *, doubtful: bool) -> Note:
        """Return the same note with or without doubt."""
        return replace(note, doubtful=doubtful)

    def warnings_of(self, note: Note) -> list[HearingWarning]:
        """Warn of a note that has no place on the neck."""
        if note.fret is not None or self._no_place_is_usual:
            return []
        if note.id not in self._beyond:
            text = f"channel {note.channel + 1} has no string; MIDI note {note.midi} has no place"
        else:
            string, fret = self._beyond[note.id]
            text = (
                f"MIDI note {note.midi} on channel {note.channel + 1} would be fret {fret} of string "
                f"{string}; the neck has 0 to {self._last_fret}"
            )
        return [HearingWarning(note.onset_s, text)]


def nearest(pitch: float) -> int:
    """Round to the nearest semitone, halves upwards."""
    return math.floor(pitch + 0.5)
