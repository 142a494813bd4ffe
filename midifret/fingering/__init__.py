"""The left hand on the neck: string, fret and finger for every note of a score."""

from midifret.fingering.choices import Aim, Choices, Kept, OpenStrings
from midifret.fingering.engine import MOST_NOTES, cost_with, finger, finger_ways, neck_for
from midifret.fingering.values import FingeredNote, Fingering, OctaveMove, Unplayable
from midifret.fingering.weights import WEIGHT_NAMES, Weights

__all__ = [
    "MOST_NOTES",
    "WEIGHT_NAMES",
    "Aim",
    "Choices",
    "FingeredNote",
    "Fingering",
    "Kept",
    "OctaveMove",
    "OpenStrings",
    "Unplayable",
    "Weights",
    "cost_with",
    "finger",
    "finger_ways",
    "neck_for",
]
