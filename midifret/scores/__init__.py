"""Scores in: files of strangers read, in a process of their own, as one part for one guitar."""

from midifret.scores.choices import FIT, USUAL_RANGE_MIDIS, Choices, Octave, PartLook, ScoreLook
from midifret.scores.read import OctaveUnsaid, look_at_score, look_of, read_score, score_of

__all__ = [
    "FIT",
    "USUAL_RANGE_MIDIS",
    "Choices",
    "Octave",
    "OctaveUnsaid",
    "PartLook",
    "ScoreLook",
    "look_at_score",
    "look_of",
    "read_score",
    "score_of",
]
