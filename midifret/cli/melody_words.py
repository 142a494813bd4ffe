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
_TIE = "~"
_MORE = {_REST: "- a rest", _TIE: "~ tied to the next", "'": "' an octave above", ",": ", an octave below"}


def melody_lines(melody: Melody, level: Level, language: Language) -> list[str]:
    """The melody for people. A ' or , after a name: so many octaves above or below the first note's own."""
    beats, beat_type = melody.meter
    upbeat = " and an upbeat" if melody.upbeat_quarters else ""
    head = (
        f"{melody.score.title}, {beats}/{beat_type}, {melody.bars} bars{upbeat}, "
        f"for {position_words(melody.position)}"
    )
    bars = _bar_texts(melody, language)
    lines = [*textwrap.wrap(head, _WIDTH), f"Level {level.number}: {level.title}", ""]
    lines += _rows(bars)
    together = " ".join(bars)
    used = {
        word.partition(":")[2].removesuffix(_TIE) or word.removeprefix(_REST) for word in together.split()
    }
    signs = [words for sign, words in _WORDS.items() if sign in used]
    signs += [words for sign, words in _MORE.items() if sign in together]
    lines += ["", *textwrap.wrap("; ".join(signs), _WIDTH)]
    span = [note.midi for note in melody.score.notes]
    said = (
        f"{len(span)} notes over {max(span) - min(span)} semitones, all within reach; they lie on "
        f"{len(melody.places)} places, and {melody.key} has {melody.within} in this position"
    )
    lines += textwrap.wrap(said, _WIDTH)
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
        end = begin + (start.duration_quarter or length)
        words = []
        for note in melody.score.notes:
            first, last = max(note.onset_quarter, begin), min(note.end_quarter, end)
            if first >= last:
                continue
            if first > at:
                words.append(_REST + _length(first - at))
            tie = _TIE if note.end_quarter > end else ""
            words.append(_word(note, base, language, last - first) + tie)
            at = last
        if at < end:
            words.append(_REST + _length(end - at))
        texts.append(" ".join(words))
    return texts


def _word(note: ScoreNote, base: int, language: Language, quarters: Fraction) -> str:
    octaves = note.pitch.octave - base
    name = pitch_name(note.pitch, language, signs=False) + ("'" * octaves if octaves > 0 else "," * -octaves)
    return f"{name}:{_length(quarters)}"


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
        "bars": melody.bars,
        "upbeat_quarter": round(float(melody.upbeat_quarters), 6),
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
