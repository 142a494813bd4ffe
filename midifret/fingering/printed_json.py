"""Scores with printed fingerings in JSON: onset, duration, pitch, finger and string of each note."""

import json
from fractions import Fraction
from typing import Any

from midifret.neck import spell
from midifret.terms.score import Barre, PositionMark, Printed, Score, ScoreNote

FINEST = 3840  # onsets written as decimals are parts of a quarter note no finer than this [ours]


def _quarters(value: float) -> Fraction:
    return Fraction(value).limit_denominator(FINEST)


def score_from_json(data: bytes | str, file: str) -> Score:
    raw: Any = json.loads(data)
    order = sorted(range(len(raw["notes"])), key=lambda i: (raw["notes"][i]["onset"], raw["notes"][i]["pitch"], i))
    voices: dict[str, int] = {}
    notes = []
    for n, i in enumerate(order, start=1):
        r = raw["notes"][i]
        notes.append(ScoreNote(n, _quarters(r["onset"]), _quarters(r["duration"]), r["pitch"], spell(r["pitch"])[0],
            voices.setdefault(str(r.get("voice", "1")), len(voices) + 1), harmonic=bool(r.get("harmonic")),
            printed=Printed(r.get("finger"), r.get("string"))))
    marks = tuple(PositionMark(_quarters(m["onset"]), m["position"],
        (Barre.FULL if m["kind"] == "barre" else None), _quarters(m["end"]) if "end" in m else None)
        for m in raw.get("marks", []) if m["kind"] in ("barre", "position"))
    return Score(raw.get("piece", ""), raw.get("composer", ""), file, tuple(notes), marks, tuning_midis=tuple(raw["tuning"]))
