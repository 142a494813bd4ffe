"""Music that was given: kept by player, found by its fingerprint, exported, and gone with the player."""

import datetime as dt
import json
from pathlib import Path

import pytest

from midifret.book.book import Book
from midifret.terms import BadInput
from midifret.terms.given import GivenMusic, MusicKind

NOW = dt.datetime(2026, 11, 1, 12, tzinfo=dt.UTC)
MELODY = GivenMusic(MusicKind.MELODY, "a" * 32, "Melody 3-7", 5, 3, 7, NOW)
SCORE = GivenMusic(MusicKind.SCORE, "b" * 32, "Minuet", None, None, None, NOW)


def test_it_is_kept_by_player(tmp_path: Path) -> None:
    with Book.open(tmp_path / "book.sqlite") as book:
        for name in ("Ada", "Ben"):
            book.add_player(name, created_utc=NOW)
        for music in (MELODY, SCORE, MELODY):
            book.put_given("Ada", music)
        assert book.given("Ada") == (MELODY, SCORE, MELODY)
        assert book.given_fingerprints("Ada") == {"a" * 32, "b" * 32}
        assert book.melodies_given("Ada") == 2
        assert (book.given("Ben"), book.melodies_given("Ben")) == ((), 0)


def test_what_was_seen_is_not_kept_again_where_that_is_asked(tmp_path: Path) -> None:
    with Book.open(tmp_path / "book.sqlite") as book:
        for name in ("Ada", "Ben"):
            book.add_player(name, created_utc=NOW)
        kept = [book.put_given(name, MELODY, if_unseen=True) for name in ("Ada", "Ada", "Ben")]
        assert kept == [True, False, True]
        assert (book.given("Ada"), book.given("Ben")) == ((MELODY,), (MELODY,))


def test_it_stands_in_the_export(tmp_path: Path) -> None:
    with Book.open(tmp_path / "book.sqlite") as book:
        book.add_player("Ada", created_utc=NOW)
        book.put_given("Ada", MELODY)
        document = json.loads("".join(book.export("Ada")))
    assert document["given_music"] == [
        {
            "kind": "melody",
            "fingerprint": "a" * 32,
            "title": "Melody 3-7",
            "position": 5,
            "level": 3,
            "seed": 7,
            "given_utc": NOW.isoformat(),
        }
    ]


def test_it_goes_with_the_player(tmp_path: Path) -> None:
    import sqlite3

    with Book.open(tmp_path / "book.sqlite") as book:
        book.add_player("Ada", created_utc=NOW)
        book.put_given("Ada", MELODY)
        book.delete_player("Ada")
    with sqlite3.connect(tmp_path / "book.sqlite") as connection:
        assert connection.execute("select count(*) from given_music").fetchone() == (0,)


def test_what_is_none_is_refused(tmp_path: Path) -> None:
    from dataclasses import replace

    with Book.open(tmp_path / "book.sqlite") as book:
        book.add_player("Ada", created_utc=NOW)
        with pytest.raises(BadInput, match="is no fingerprint"):
            book.put_given("Ada", replace(MELODY, fingerprint="abc"))
        with pytest.raises(BadInput, match="Nobody"):
            book.put_given("Nobody", MELODY)
