"""A book in a temporary folder, and makers of runs and answers."""

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from midifret.book.book import Book
from midifret.terms import Answer, CueKind, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.record import RunStart

ROW_5 = Place(6, 5)
NOON = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)

MakeStart = Callable[..., RunStart]
MakeAnswer = Callable[..., Answer]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "home" / "book.sqlite"


@pytest.fixture
def book(path: Path) -> Iterator[Book]:
    """A new book with the player Ana."""
    with Book.open(path) as opened:
        opened.add_player("Ana", created_utc=NOON)
        yield opened


@pytest.fixture(scope="session")
def noon() -> dt.datetime:
    return NOON


@pytest.fixture(scope="session")
def start() -> MakeStart:
    def make(
        player: str = "Ana",
        *,
        drill: str = "rows/row-5",
        started_utc: dt.datetime = NOON,
        zone: str = "UTC",
        take_file: str = "take.mid",
        simulated: bool = False,
        seed: int = 0,
        guitar: str = "default",
    ) -> RunStart:
        return RunStart(player, drill, "Row 5", seed, guitar, started_utc, zone, take_file, simulated)

    return make


@pytest.fixture(scope="session")
def answer() -> MakeAnswer:
    def make(
        n: int, place: Place = ROW_5, verdict: Verdict = Verdict.RIGHT, response_s: float | None = 1.5
    ) -> Answer:
        prompt = Prompt(n, (CueKind.NAME,), Judged.PLACE, (place,), (45,), SpelledPitch("A", 0, 2))
        if verdict is Verdict.MISSED:
            return Answer(prompt, verdict, cue_s=10.0 * n)
        played = Note(n, 10.0 * n + (response_s or 0), place.string, place.fret, 45, 90, 5)
        return Answer(prompt, verdict, 10.0 * n, played.onset_s, response_s, played=played)

    return make
