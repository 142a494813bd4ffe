"""The neck: pitches and their spelling, tunings, places, positions and their reach."""

from midifret.neck.intervals import interval_number, interval_words
from midifret.neck.names import Accidentals, Language, parse_name, pitch_name, spell
from midifret.neck.neck import Neck, Tuning
from midifret.neck.position import ReachedPlace, in_reach, position_compass, roman
from midifret.neck.scale import Scale, parse_scale

__all__ = [
    "Accidentals",
    "Language",
    "Neck",
    "ReachedPlace",
    "Scale",
    "Tuning",
    "in_reach",
    "interval_number",
    "interval_words",
    "parse_name",
    "parse_scale",
    "pitch_name",
    "position_compass",
    "roman",
    "spell",
]
