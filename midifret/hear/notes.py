"""Numbering the notes of one decoder, and the warnings of those that have no place on the neck."""

from midifret.terms import HearingWarning, Note

_REMEMBERED = 32  # notes off the neck that may still be settled: four on each of eight strings


class NoteMaker:
    """Numbers notes and remembers where those beyond the neck would have been.

    last_fret: of the neck. no_place_is_usual: the source tells no strings, so that nobody is warned of it.
    """

    def __init__(self, last_fret: int, *, no_place_is_usual: bool = False) -> None:
        """Start at 1."""
        self.last_fret = last_fret
        self._no_place_is_usual = no_place_is_usual
        self._last_id = 0
        self._beyond: dict[int, tuple[int, int]] = {}

    def next_id(self) -> int:
        """Return the next number."""
        self._last_id += 1
        return self._last_id

    def beyond(self, note_id: int, string: int, fret: int) -> None:
        """Remember that a note would be at a fret that the neck has not."""
        self._beyond.pop(note_id, None)
        self._beyond[note_id] = string, fret
        if len(self._beyond) > _REMEMBERED:
            del self._beyond[next(iter(self._beyond))]

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
                f"{string}; the neck has 0 to {self.last_fret}"
            )
        return [HearingWarning(note.onset_s, text)]
