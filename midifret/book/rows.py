"""Answers as rows of the answers table, and back, whole."""

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

from midifret.terms import Answer, Attack, CueKind, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.calibration import Recall

NO_PLACE = Place(0, 0)  # of answers that count for no place of the neck, only for their day
_PITCH = re.compile(r"([A-G])(#*|b*)(-?\d+)\Z")
_ALTER = {"#": 1, "b": -1}
_NOTE_FIELDS = (
    "id",
    "onset_s",
    "string",
    "fret",
    "midi",
    "velocity",
    "channel",
    "attack",
    "cents",
    "place_assumed",
)


def note_document(note: Note) -> dict[str, object]:
    """Return a note as a JSON object, its fields by name."""
    return {name: getattr(note, name) for name in _NOTE_FIELDS}


def counted_place(answer: Answer) -> Place:
    """Return the place whose summary counts an answer, NO_PLACE where none does."""
    return answer.counted_place or NO_PLACE


def answer_row(run_id: int, answer: Answer) -> dict[str, object]:
    """Return an answer as a row, by the names of its columns."""
    prompt, played, counted = answer.prompt, answer.played, counted_place(answer)
    return {
        "run_id": run_id,
        "n": prompt.n,
        "counted_string": counted.string,
        "counted_fret": counted.fret,
        "verdict": answer.verdict.value,
        "response_s": answer.response_s,
        "recall_s": answer.recall_s,
        "cue_s": answer.cue_s,
        "answer_s": answer.answer_s,
        "skipped": answer.skipped,
        "held_sounding": answer.held_sounding,
        "typed": answer.typed,
        "judged": prompt.judged.value,
        "cue": " ".join(prompt.cue),
        "pitch": str(prompt.pitch),
        "midi": prompt.midi,
        "places": _joined(prompt.places),
        "midis": _joined(prompt.midis),
        "given": None if prompt.given is None else str(prompt.given),
        "may_play": _joined(prompt.may_play) or None,
        "held": None if prompt.held is None else str(prompt.held),
        "each_once": prompt.each_once,
        "interval_semitones": prompt.interval_semitones,
        "hint": prompt.hint or None,
        **{f"played_{name}": None if played is None else getattr(played, name) for name in _NOTE_FIELDS},
        "played_attack": None if played is None else played.attack.value,
        "corrections": json.dumps([note_document(note) for note in answer.corrections])
        if answer.corrections
        else None,
    }


def answer_of(row: Mapping[Any, Any]) -> Answer:
    """Return the answer that a row was made of."""
    prompt = Prompt(
        n=row["n"],
        cue=tuple(CueKind(kind) for kind in row["cue"].split()),
        judged=Judged(row["judged"]),
        places=_places(row["places"]),
        midis=tuple(int(midi) for midi in row["midis"].split()),
        pitch=_pitch(row["pitch"]),
        given=None if row["given"] is None else Place.parse(row["given"]),
        may_play=_places(row["may_play"] or ""),
        held=None if row["held"] is None else Place.parse(row["held"]),
        each_once=row["each_once"],
        interval_semitones=row["interval_semitones"],
        hint=row["hint"] or "",
    )
    played = None
    if row["played_id"] is not None:
        played = _note({name: row[f"played_{name}"] for name in _NOTE_FIELDS})
    return Answer(
        prompt,
        Verdict(row["verdict"]),
        row["cue_s"],
        answer_s=row["answer_s"],
        response_s=row["response_s"],
        recall=None if row["recall_s"] is None else Recall(row["recall_s"], None, None),
        played=played,
        typed=row["typed"],
        corrections=tuple(_note(note) for note in json.loads(row["corrections"] or "[]")),
        skipped=row["skipped"],
        held_sounding=row["held_sounding"],
    )


def _note(values: Mapping[str, Any]) -> Note:
    assumed = bool(values.get("place_assumed"))  # nothing in rows of older books, whose places were heard
    return Note(**{**values, "attack": Attack(values["attack"]), "place_assumed": assumed})


def _joined(values: Iterable[object]) -> str:
    return " ".join(str(value) for value in values)


def _places(text: str) -> tuple[Place, ...]:
    return tuple(Place.parse(part) for part in text.split())


def _pitch(text: str) -> SpelledPitch:
    match = _PITCH.match(text)
    if match is None:
        raise ValueError(f"{text!r} is not a spelled pitch")
    return SpelledPitch(match[1], sum(_ALTER[sign] for sign in match[2]), int(match[3]))
