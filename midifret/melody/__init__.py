"""Melodies nobody has seen: levels, how they are made, and how hard other music is by the same measure."""

from midifret.melody.chance import MOST_SEED, seed_of
from midifret.melody.compose import Melody, Wanted, compose, compose_unseen, fingerprint
from midifret.melody.fits import Fit, fits
from midifret.melody.level import Cell, Level
from midifret.melody.measures import Hardness, Measures, hardness, measure

__all__ = [
    "MOST_SEED",
    "Cell",
    "Fit",
    "Hardness",
    "Level",
    "Measures",
    "Melody",
    "Wanted",
    "compose",
    "compose_unseen",
    "fingerprint",
    "fits",
    "hardness",
    "measure",
    "seed_of",
]
