"""A book in which a player knows almost every place by heart."""

import datetime as dt
from pathlib import Path

from midifret.book.book import Book
from midifret.terms import Answer, CueKind, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.record import RunStart
from tests.melody.making import NECK

PITCH = SpelledPitch("C", 0, 4)  # which one is asked does not matter here


def know_all_but(path: Path, *, string: int, frets: range = range(5, 10)) -> None:
    """Put a run into the book with each place right twenty times, quickly, but those on one string."""
    now = dt.datetime(2026, 11, 1, 12, tzinfo=dt.UTC)
    with Book.open(path) as book:
        book.ensure_player("me", created_utc=now)
        run = book.start_run(RunStart("me", "read", "Reading", 0, "default", now, "UTC", "a.mid"))
        n = 0
        for place in NECK.all_places():
            if place.fret not in frets or place.string == string:
                continue
            for _ in range(20):
                n += 1
                book.put_answer(run, _right(n, place))


def _right(n: int, place: Place) -> Answer:
    midi = NECK.midi(place)
    prompt = Prompt(n, (CueKind.STAFF,), Judged.PLACE, (place,), (midi,), PITCH)
    note = Note(n, n + 0.5, place.string, place.fret, midi, 90, place.string - 1)
    return Answer(prompt, Verdict.RIGHT, float(n), n + 0.5, 0.5, played=note)
