"""A melody in the terminal: the names of its notes by bar, with their lengths."""

import textwrap
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from midifret.melody import Level, Melody
from midifret.melody.level import bar_quarters
from midifret.neck import Language, pitch_name
from midifret.reading.build import position_words
from midifret.terms import Place
from midifret.terms.score import ScoreNote

_BARS_A_LINE = 4
_WIDTH = 78
# Lengths in quarter notes as the terminal shows them; others as fractions of a quarter.
_LENGTHS = {
    Fraction(4): "o",
    Fraction(3): "h.",
    Fraction(2): "h",
    Fraction(3, 2): "q.",
    Fraction(1): "q",
    Fraction(3, 4): "e.",
    Fraction(1, 2): "e",
    Fraction(1, 4): "s",
    Fraction(1, 3): "t",
    Fraction(2, 3): "qt",
}
_WORDS = {
    "o": "o whole",
    "h.": "h. dotted half",
    "h": "h half",
    "q.": "q. dotted quarter",
    "q": "q quarter",
    "e.": "e. dotted eighth",
    "e": "e eighth",
    "s": "s sixteenth",
    "t": "t eighth of a triplet",
    "qt": "qt quarter of a triplet",
}
_REST = "-"
_MORE = {_REST: "- a rest", "'": "' an octave above", ",": ", an octave below"}


def melody_lines(melody: Melody, level: Level, language: Language) -> list[str]:
    """The melody for people. A ' or , after a name: so many octaves above or below the first note's own."""
    beats, beat_type = melody.meter
    head = (
        f"{melody.score.title}, {beats}/{beat_type}, {len(melody.score.bars)} bars, "
        f"for {position_words(melody.position)}"
    )
    bars = _bar_texts(melody, language)
    lines = [*textwrap.wrap(head, _WIDTH), f"Level {level.number}: {level.title}", ""]
    lines += _rows(bars)
    used = {text for note in melody.score.notes if (text := _length(note.duration_quarter))}
    signs = [words for sign, words in _WORDS.items() if sign in used]
    together = " ".join(bars)
    signs += [words for sign, words in _MORE.items() if sign in together]
    lines += ["", *textwrap.wrap("; ".join(signs), _WIDTH)]
    span = [note.midi for note in melody.score.notes]
    lines.append(
        f"{len(span)} notes over {max(span) - min(span)} semitones, on {len(melody.places)} of "
        f"{melody.within} places that {melody.key} has here"
    )
    return lines


def _rows(bars: Sequence[str]) -> list[str]:
    """Bars side by side, as many as fit."""
    rows: list[str] = []
    row = ""
    count = 0
    for bar in bars:
        joined = f"{row} {bar} |" if row else f"| {bar} |"
        if row and (len(joined) > _WIDTH or count == _BARS_A_LINE):
            rows.append(row)
            joined, count = f"| {bar} |", 0
        row = joined
        count += 1
    return [*rows, row]


def _bar_texts(melody: Melody, language: Language) -> list[str]:
    length = bar_quarters(melody.meter)
    base = melody.score.notes[0].pitch.octave
    texts = []
    for start in melody.score.bars:
        begin = at = start.onset_quarter
        words = []
        for note in melody.score.notes:
            if not begin <= note.onset_quarter < begin + length:
                continue
            if note.onset_quarter > at:
                words.append(_REST + _length(note.onset_quarter - at))
            words.append(_word(note, base, language))
            at = note.end_quarter
        if at < begin + length:
            words.append(_REST + _length(begin + length - at))
        texts.append(" ".join(words))
    return texts


def _word(note: ScoreNote, base: int, language: Language) -> str:
    octaves = note.pitch.octave - base
    name = pitch_name(note.pitch, language, signs=False) + ("'" * octaves if octaves > 0 else "," * -octaves)
    return f"{name}:{_length(note.duration_quarter)}"


def _length(quarters: Fraction) -> str:
    return _LENGTHS.get(quarters, str(quarters))


def melody_document(melody: Melody, visited: Sequence[Place]) -> dict[str, Any]:
    """What `melody --json` prints.

    notes: in order, onset and duration in quarter notes, name with its sounding octave, places in the order
    in which the position has them. visited: places that were sought and come in it.
    """
    return {
        "title": melody.score.title,
        "level": melody.level,
        "position": melody.position,
        "key": melody.key,
        "meter": f"{melody.meter[0]}/{melody.meter[1]}",
        "bars": len(melody.score.bars),
        "seed": melody.seed,
        "fingerprint": melody.fingerprint,
        "places": [_place(place) for place in sorted(melody.places)],
        "places_of_key": melody.within,
        "visited": [_place(place) for place in visited],
        "notes": [
            {
                "n": note.n,
                "bar": int(note.bar),
                "onset_quarter": round(float(note.onset_quarter), 6),
                "duration_quarter": round(float(note.duration_quarter), 6),
                "midi": note.midi,
                "name": str(note.pitch),
            }
            for note in melody.score.notes
        ],
    }


def _place(place: Place) -> dict[str, int]:
    return {"string": place.string, "fret": place.fret}
