"""The words of the house as frozen values; every other room speaks in them, this one imports none of ours."""

from midifret.terms.answers import Answer, Verdict
from midifret.terms.errors import BadInput, MidifretError, Problem, Unavailable
from midifret.terms.exercise import CueKind, Exercise, Gate, Judged, Prompt, Tempo
from midifret.terms.hearing import Encoding, Thresholds, Wiring
from midifret.terms.messages import TimedMessage
from midifret.terms.notes import (
    Attack,
    Glitch,
    HeardEvent,
    HearingWarning,
    Note,
    NoteEnded,
    NoteRevised,
    NoteSettled,
    Voided,
)
from midifret.terms.pitch import SpelledPitch
from midifret.terms.place import Place

__all__ = [
    "Answer",
    "Attack",
    "BadInput",
    "CueKind",
    "Encoding",
    "Exercise",
    "Gate",
    "Glitch",
    "HeardEvent",
    "HearingWarning",
    "Judged",
    "MidifretError",
    "Note",
    "NoteEnded",
    "NoteRevised",
    "NoteSettled",
    "Place",
    "Problem",
    "Prompt",
    "SpelledPitch",
    "Tempo",
    "Thresholds",
    "TimedMessage",
    "Unavailable",
    "Verdict",
    "Voided",
    "Wiring",
]
