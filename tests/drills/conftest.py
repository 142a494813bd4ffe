"""Drills made from text, and those shipped."""

from collections.abc import Callable
from pathlib import Path

import pytest

from midifret.drills import build
from midifret.drills.library import find
from midifret.files import Home
from midifret.neck import Neck, Tuning
from midifret.terms import Exercise

HEAD = "title: T\nstage: S\ntrains: Trains. Spend 3 minutes.\n"
STANDARD = (64, 59, 55, 50, 45, 40)  # music21 instrument.Guitar().stringPitches, see tests/outside

Make = Callable[..., Exercise]


def make_exercise(
    folder: Path, text: str, *, seed: int = 0, neck: Neck | None = None, **others: str
) -> Exercise:
    """Write a drill, and others that it joins, into a home of their own; read and build it."""
    home = Home.of(folder)
    home.drills.mkdir(exist_ok=True)
    for name, content in {**others, "own": text}.items():
        (home.drills / f"{name.replace('_', '-')}.yaml").write_text(HEAD + content, encoding="utf-8")
    return build(find("own", home), neck or Neck(Tuning("standard", "Standard", STANDARD)), seed=seed)


@pytest.fixture
def make(tmp_path: Path) -> Make:
    def made(text: str, *, seed: int = 0, neck: Neck | None = None, **others: str) -> Exercise:
        return make_exercise(tmp_path, text, seed=seed, neck=neck, **others)

    return made


@pytest.fixture
def made(make: Make) -> Make:
    """The same by the name that older tests know it by."""
    return make


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return Home.of(tmp_path / "home")


@pytest.fixture
def make_neck() -> Callable[..., Neck]:
    def made(*open_midi: int, frets: int = 19, capo: int = 0) -> Neck:
        return Neck(Tuning("t", "T", open_midi or STANDARD), frets, capo)

    return made
