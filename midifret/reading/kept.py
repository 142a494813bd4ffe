"""A reading as one line of text, for its take: the music, where it was read, and what was right."""

import json
import re
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from midifret.neck import Neck
from midifret.reading.build import (
    DRILL_PREFIX,
    MINUTES,
    MOST_NOTES,
    STAGE,
    position_words,
    reading_name,
)
from midifret.terms import BadInput, CueKind, Exercise, Judged, Place, Prompt, SpelledPitch, Tempo
from midifret.terms.score import BarStart, KeyChange, MeterChange, Score, ScoreNote

_VERSION = 1
_PITCH = re.compile(r"([A-G])(#{0,2}|b{0,2})(-?\d)\Z")


def reading_text(exercise: Exercise) -> str:
    """Write a reading so that `exercise_of_text` gives it back, whatever the rules are by then.

    A JSON object on one line; fractions as texts, in quarter notes. Raises ValueError for what is no reading.
    """
    score = exercise.score
    if score is None:
        raise ValueError(f"{exercise.name} is no reading")
    document = {
        "version": _VERSION,
        "title": score.title,
        "composer": score.composer,
        "source": score.source,
        "position": exercise.position,
        "open_strings": exercise.open_strings,
        "judged": exercise.judged.value,
        "tuning": list(score.tuning_midis),
        "capo": score.capo,
        "bars": [[str(bar.onset_quarter), bar.number, bar.played] for bar in score.bars],
        "meters": [[str(m.onset_quarter), m.beats, m.beat_type] for m in score.meters],
        "keys": [[str(key.onset_quarter), key.fifths, key.mode] for key in score.keys],
        # Onset, duration, pitch, voice, bar, how often played, id; then what was right, and what was said.
        "notes": [
            [
                str(note.onset_quarter),
                str(note.duration_quarter),
                str(note.pitch),
                note.voice,
                note.bar,
                note.played,
                note.ident,
                " ".join(str(place) for place in prompt.places),
                prompt.hint,
            ]
            for note, prompt in zip(score.notes, exercise.prompts, strict=True)
        ],
    }
    return json.dumps(document, ensure_ascii=True, separators=(",", ":"))


def exercise_of_text(text: str, neck_of: Callable[[Score], Neck], *, tempo: Tempo | None = None) -> Exercise:
    """Return the reading that a text was made of.

    neck_of: gives the neck on which a score is played. tempo: in which it was read. Raises BadInput for any
    other text, and where that neck lacks a place.
    """
    try:
        return _exercise(json.loads(text), neck_of, tempo)
    except (ValueError, TypeError, LookupError, ArithmeticError, RecursionError) as error:
        raise BadInput(
            f"the reading that the take names cannot be understood: {error}",
            allowed="a take as `midifret read` keeps it",
        ) from error


def _exercise(document: Any, neck_of: Callable[[Score], Neck], tempo: Tempo | None) -> Exercise:
    if document["version"] != _VERSION:
        raise ValueError(f"version {document['version']!r}")
    rows = document["notes"]
    if not isinstance(rows, list) or not 0 < len(rows) <= MOST_NOTES:
        raise ValueError("no notes, or too many")
    score = Score(
        title=_text(document["title"]),
        composer=_text(document["composer"]),
        source=_text(document["source"]),
        notes=tuple(_note(n, row) for n, row in enumerate(rows, start=1)),
        meters=tuple(
            MeterChange(Fraction(at), _number(beats, 1, 64), _number(kind, 1, 64))
            for at, beats, kind in document["meters"]
        ),
        keys=tuple(
            KeyChange(Fraction(at), _number(fifths, -12, 12), _text(mode))
            for at, fifths, mode in document["keys"]
        ),
        tuning_midis=tuple(_number(midi, 0, 127) for midi in document["tuning"]),
        capo=_number(document["capo"], 0, 24),
        bars=tuple(
            BarStart(Fraction(at), _text(number), _number(played, 1, 1 << 20))
            for at, number, played in document["bars"]
        ),
    )
    onsets = [note.onset_quarter for note in score.notes]
    if onsets != sorted(onsets) or not score.bars:
        raise ValueError("its notes are in no order")
    neck = neck_of(score)
    judged = Judged(document["judged"])
    position = None if document["position"] is None else _number(document["position"], 0, 24)
    fingered = judged is Judged.PLACE
    cue = (CueKind.STAFF, CueKind.PLACE) if fingered else (CueKind.STAFF,)
    prompts = tuple(
        _prompt(note, _text(row[7]), _text(row[8]), cue, judged, neck)
        for note, row in zip(score.notes, rows, strict=True)
    )
    return Exercise(
        name=reading_name(score, position, fingered=fingered),
        title=score.title or score.source or "Reading",
        stage=STAGE,
        trains=f"Reading {'by the fingering shown' if fingered else 'in ' + position_words(position)}.",
        minutes=MINUTES,
        judged=judged,
        prompts=prompts,
        tempo=tempo,
        score=score,
        position=position,
        open_strings=_text(document["open_strings"]),
    )


def _note(n: int, row: Any) -> ScoreNote:
    pitch = _PITCH.match(_text(row[2]))
    if pitch is None:
        raise ValueError(f"{row[2]!r} is no pitch")
    signs = pitch[2]
    spelled = SpelledPitch(pitch[1], len(signs) if signs.startswith("#") else -len(signs), int(pitch[3]))
    return ScoreNote(
        n,
        Fraction(row[0]),
        Fraction(row[1]),
        spelled.midi,
        spelled,
        voice=_number(row[3], 0, 1 << 20),
        bar=_text(row[4]),
        played=_number(row[5], 1, 1 << 20),
        ident=_text(row[6]),
    )


def _prompt(
    note: ScoreNote, places: str, hint: str, cue: tuple[CueKind, ...], judged: Judged, neck: Neck
) -> Prompt:
    found = tuple(Place.parse(place) for place in places.split())
    if not found or not all(neck.has(place) for place in found):
        raise ValueError(f"this neck lacks a place among {places!r}")
    midis = tuple(neck.midi(place) for place in found)
    if set(midis) != {note.midi}:
        raise ValueError(f"on this neck {places} do not sound {note.pitch}: it is tuned otherwise")
    return Prompt(note.n, cue, judged, found, midis, note.pitch, hint=hint)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is no text")
    return value


def _number(value: Any, least: int, most: int) -> int:
    if type(value) is not int or not least <= value <= most:
        raise ValueError(f"{value!r} is out of range")
    return value


def is_reading(drill: str) -> bool:
    """Whether a drill name is that of a reading."""
    return drill.startswith(DRILL_PREFIX)
