"""A book that is open twice in one program, and meanwhile in another one: nobody loses what was written."""

import datetime as dt
import subprocess
import sys
from pathlib import Path

from midifret.book.book import Book

NOW = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
OTHER = """
import datetime as dt, sys
from pathlib import Path
from midifret.book.book import Book
with Book.open(Path(sys.argv[1])) as book:
    book.add_player("Bo", created_utc=dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC))
"""


def test_a_second_look_does_not_give_up_the_locks_of_the_first(tmp_path: Path) -> None:
    """To close any handle of a file gives up all POSIX locks on it that the process has.

    https://www.sqlite.org/howtocorrupt.html, section 2.2. Without them the other program takes the file as
    its own at its end, and removes the log in which this one goes on writing.
    """
    path = tmp_path / "book.sqlite"
    with Book.open(path) as first:
        first.add_player("Ada", created_utc=NOW)
        with Book.open(path) as second:  # as the stand does when it looks for scores
            assert [player.name for player in second.players()] == ["Ada"]
        subprocess.run([sys.executable, "-c", OTHER, str(path)], check=True)
        assert path.with_name(path.name + "-wal").exists()  # it is not the last one
        first.add_player("Cy", created_utc=NOW)
        assert [player.name for player in first.players()] == ["Ada", "Bo", "Cy"]
    with Book.open(path) as again:
        assert [player.name for player in again.players()] == ["Ada", "Bo", "Cy"]
