"""Answers as rows of the answers table, and back, whole."""

import json
import math
import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

from midifret.terms import (
    Answer,
    Attack,
    BadInput,
    CueKind,
    Judged,
    Note,
    Place,
    Prompt,
    SpelledPitch,
    Verdict,
)
from midifret.terms.calibration import Caveat, NoteInterval, Recall

# Thirty thousand years: beyond it lie wrong units and broken clocks, and sums that overflow [ours].
MOST_TIME = 1e12
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


def is_time(value: float) -> bool:
    """Whether a number can be a time, in seconds or milliseconds; it may be negative."""
    return math.isfinite(value) and abs(value) <= MOST_TIME


def answer_row(run_id: int, answer: Answer) -> dict[str, object]:
    """Return an answer as a row, by the names of its columns.

    Raises BadInput for a time that is no number or further off than MOST_TIME: no figure could be made of it.
    """
    prompt, played, counted = answer.prompt, answer.played, counted_place(answer)
    recall, interval = answer.recall, answer.interval
    times = {
        "cue_s": answer.cue_s,
        "answer_s": answer.answer_s,
        "response_s": answer.response_s,
        "recall_s": answer.recall_s,
        "recall_shared_s": None if recall is None else recall.shared_s,
        "recall_own_s": None if recall is None else recall.own_s,
        "interval_s": None if interval is None else interval.time_s,
        "interval_error_s": None if interval is None else interval.standard_error_s,
        "due_s": answer.due_s,
        "late_ms": answer.late_ms,
        "wait_s": prompt.wait_s or None,
    }
    for name, value in times.items():
        if value is not None and not is_time(value):
            raise BadInput(
                f"answer {prompt.n} of run {run_id} cannot be kept: {name} is {value}",
                allowed=f"a number from {-MOST_TIME:g} to {MOST_TIME:g}",
            )
    return {
        "run_id": run_id,
        "n": prompt.n,
        "counted_string": counted.string,
        "counted_fret": counted.fret,
        "verdict": answer.verdict.value,
        **times,
        "recall_caveats": caveats_text(answer.recall_caveats),
        "interval_caveats": None if interval is None else caveats_text(interval.caveats),
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
        cue=cue_of_text(row["cue"]),
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
        wait_s=row["wait_s"] or 0.0,
    )
    played = None
    if row["played_id"] is not None:
        played = _note({name: row[f"played_{name}"] for name in _NOTE_FIELDS})
    interval = None
    if row["interval_s"] is not None:
        interval = NoteInterval(
            row["interval_s"], row["interval_error_s"], caveats_of_text(row["interval_caveats"])
        )
    return Answer(
        prompt,
        Verdict(row["verdict"]),
        row["cue_s"],
        answer_s=row["answer_s"],
        response_s=row["response_s"],
        recall=recall_of(row["recall_s"], row["recall_shared_s"], row["recall_own_s"], row["recall_caveats"]),
        played=played,
        typed=row["typed"],
        corrections=tuple(_note(note) for note in json.loads(row["corrections"] or "[]")),
        skipped=row["skipped"],
        held_sounding=row["held_sounding"],
        interval=interval,
        due_s=row["due_s"],
        late_ms=row["late_ms"],
        cue_sure=Caveat.CUE_UNSURE not in caveats_of_text(row["recall_caveats"]),
    )


def recall_of(
    time_s: float | None, shared_s: float | None, own_s: float | None, caveats: str | None
) -> Recall | None:
    """Return a recall time from its four columns, None where there is none."""
    return None if time_s is None else Recall(time_s, shared_s, own_s, caveats_of_text(caveats))


@lru_cache(maxsize=256)  # the same few texts stand in every row
def caveats_of_text(text: str | None) -> frozenset[Caveat]:
    """Return what `caveats_text` was given."""
    return frozenset(Caveat(part) for part in text.split(",")) if text else frozenset()


@lru_cache(maxsize=256)
def cue_of_text(text: str) -> tuple[CueKind, ...]:
    """Return the kinds of a cue from their column."""
    return tuple(CueKind(kind) for kind in text.split())


def caveats_text(caveats: Iterable[Caveat]) -> str | None:
    """Return caveats as the text of their column, None for none."""
    return ",".join(sorted(caveat.value for caveat in caveats)) or None


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
