"""Melodies nobody has seen: levels, how they are made, and how hard other music is by the same measure."""

from midifret.melody.chance import MOST_SEED, seed_of
from midifret.melody.compose import Melody, Wanted, compose, compose_unseen, fingerprint
from midifret.melody.level import Cell, Level

__all__ = [
    "MOST_SEED",
    "Cell",
    "Level",
    "Melody",
    "Wanted",
    "compose",
    "compose_unseen",
    "fingerprint",
    "seed_of",
]
