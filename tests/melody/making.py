"""Levels, a neck and melodies that several tests use."""

from functools import cache
from pathlib import Path

from midifret.files import Home
from midifret.gear.melody import load_levels
from midifret.melody import Level, Melody, Wanted, compose
from midifret.neck import Neck, Tuning

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))


@cache
def levels() -> tuple[Level, ...]:
    """The shipped levels: nobody has a file in this folder."""
    return load_levels(Home(Path("/nobody/has/such/a/folder")))


@cache
def melodies(level: int, count: int, position: int | None = None) -> tuple[Melody, ...]:
    """Melodies of a level, in four positions in turn or in one."""
    places = (5, 7, 2, 9) if position is None else (position,)
    return tuple(
        compose(Wanted(levels()[level - 1], NECK, places[seed % len(places)], seed=seed))
        for seed in range(count)
    )
