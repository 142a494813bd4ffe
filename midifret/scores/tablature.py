"""A tablature staff beside the notes: its strings and frets go to the notes, and the staff with them."""

from dataclasses import replace

from midifret.scores.written import WrittenNote, WrittenPart


def with_tablature(staves: list[WrittenPart]) -> list[WrittenPart]:
    """Give the notes of one part the strings and frets that a tablature staff of it prints.

    A note takes those of the same onset, octave apart or not: one staff often says what is written and the
    other what sounds. A tablature staff without a staff of notes stays.
    """
    tabs = [part for part in staves if part.clefs and part.clefs[0] == "TAB"]
    plain = [part for part in staves if part not in tabs]
    if not tabs or len(plain) != 1:
        return staves
    printed: dict[tuple[int, object, int], list[WrittenNote]] = {}
    for tab in tabs:
        for note in tab.notes:
            if note.string is not None or note.fret is not None:
                printed.setdefault(_slot(note), []).append(note)
    notes = []
    for note in plain[0].notes:
        beside = printed.get(_slot(note))
        if beside:
            other = min(beside, key=lambda b: (b.octave - note.octave) ** 2)
            beside.remove(other)
            note = replace(
                note,
                string=other.string if note.string is None else note.string,
                fret=other.fret if note.fret is None else note.fret,
                finger=other.finger if note.finger is None else note.finger,
                slurred=note.slurred or other.slurred,
            )
        notes.append(note)
    tuning = next((part.tuning_midis for part in [*tabs, plain[0]] if part.tuning_midis), ())
    capo = max(part.capo for part in staves)
    return [replace(plain[0], notes=tuple(notes), tuning_midis=tuning, capo=capo)]


def _slot(note: WrittenNote) -> tuple[int, object, int]:
    semitones = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[note.step] + note.alter
    return note.bar, note.onset_quarter, semitones % 12
