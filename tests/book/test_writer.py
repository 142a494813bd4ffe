"""The writer thread: never blocks its caller, loses nothing that a later try could keep, survives a kill."""

import contextlib
import datetime as dt
import os
import signal
import sqlite3
import subprocess
import sys
import threading
import time

import pytest

from midifret.book.book import Book
from midifret.book.writer import BookWriter
from midifret.terms import Unavailable, Verdict
from midifret.terms.record import RunEnd

# A program that plays answers into a book without end, telling the number of each once it is handed over.
PLAYER = """
import datetime as dt, sys
from pathlib import Path
from midifret.book.book import Book
from midifret.book.writer import BookWriter
from midifret.terms import Answer, CueKind, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.record import RunEnd, RunStart
path, count, waits = Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3] == "waits"
noon = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)
book = Book.open(path, busy_timeout_s=30)
book.ensure_player("Ana", created_utc=noon)
writer = BookWriter(book)
writer.start_run(RunStart("Ana", "drill", "Drill", 0, "default", noon, "UTC", "take.mid"))
for n in range(1, count + 1):
    prompt = Prompt(n, (CueKind.NAME,), Judged.PLACE, (Place(6, 5),), (45,), SpelledPitch("A", 0, 2))
    writer.answer(Answer(prompt, Verdict.RIGHT, n, n + 0.5, 0.5, played=Note(n, n + 0.5, 6, 5, 45, 90, 5)))
    if waits:
        writer.flush()
        print(n, flush=True)
writer.end_run(RunEnd(False, 1.0, None), ended_utc=noon)
writer.close()
book.close()
"""


def test_a_run_is_written(book, start, answer, noon) -> None:
    with BookWriter(book) as writer:
        writer.start_run(start())
        for n in (1, 2, 3, 4):
            writer.answer(answer(n))
        writer.withdraw_from(3)
        writer.answer(answer(3, verdict=Verdict.WRONG))
        writer.end_run(RunEnd(False, 33.0, True), ended_utc=noon)
        writer.start_run(start(drill="again"))
        writer.answer(answer(1))
        writer.flush()
        assert [one.verdict for one in book.answers_of(1)] == [Verdict.RIGHT] * 2 + [Verdict.WRONG]
        assert writer.run_id == 2
    assert book.answers_of(2) == (answer(1),)
    report = book.report("Ana")
    assert [(one.answers, one.gate_met) for one in report.runs] == [(1, None), (3, True)]
    book.rebuild()
    assert book.report("Ana") == report


def test_the_caller_waits_for_no_lock_and_nothing_is_lost(path, start, answer, noon) -> None:
    with Book.open(path, busy_timeout_s=0.05) as book:
        book.add_player("Ana", created_utc=noon)
        with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
            writer = BookWriter(book)
            writer.start_run(start())
            writer.flush()
            other.execute("BEGIN IMMEDIATE")
            begun = time.perf_counter()
            for n in range(1, 101):
                writer.answer(answer(n))
            assert time.perf_counter() - begun < 0.05 * 100  # less than one wait for the lock each
            with pytest.raises(Unavailable, match="another program holds"):
                writer.flush()
            writer.check()  # told once
            other.execute("ROLLBACK")
            writer.end_run(RunEnd(False, 1.0, None), ended_utc=noon)
            writer.close()
        assert [one.n for one in book.answers_of(1)] == list(range(1, 101))
        assert not book.report("Ana").runs[0].ended_early


def test_all_writing_is_done_by_one_other_thread(book, start, answer, monkeypatch) -> None:
    threads = set()
    put = Book.put_answers

    def put_and_tell(*arguments) -> None:
        threads.add(threading.get_ident())
        put(*arguments)

    monkeypatch.setattr(Book, "put_answers", put_and_tell)
    with BookWriter(book) as writer:
        writer.start_run(start())
        for n in range(1, 20):
            writer.answer(answer(n))
    assert len(threads) == 1
    assert threads != {threading.get_ident()}


def test_trouble_is_told_on_close_with_what_to_do(path, start, answer, noon) -> None:
    with Book.open(path, busy_timeout_s=0.05) as book:
        book.add_player("Ana", created_utc=noon)
        with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            writer = BookWriter(book)
            writer.start_run(start())
            writer.answer(answer(1))
            with pytest.raises(Unavailable, match="another program holds"):
                writer.close()
            writer.close()  # a second time does nothing
            with pytest.raises(RuntimeError, match="closed"):
                writer.answer(answer(2))


def test_close_has_a_time_limit(path, start, answer, noon) -> None:
    with Book.open(path, busy_timeout_s=2) as book:
        book.add_player("Ana", created_utc=noon)
        with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            writer = BookWriter(book)
            writer.start_run(start())
            with pytest.raises(Unavailable, match=r"not written after 0\.1 s"):
                writer.close(within_s=0.1)
            other.execute("ROLLBACK")
        writer._thread.join(10)


def test_one_bad_order_takes_no_others_with_it(book, start, answer, noon) -> None:
    bad = answer(2, response_s=float("inf"))
    writer = BookWriter(book)
    writer.start_run(start())
    for one in (answer(1), bad, answer(3)):
        writer.answer(one)
    with pytest.raises(Unavailable, match="could not be written"):
        writer.close()
    assert [one.n for one in book.answers_of(1)] == [1, 3]


def test_an_unknown_player_is_told(book, start, answer) -> None:
    writer = BookWriter(book)
    writer.start_run(start("Eva"))
    writer.answer(answer(1))
    with pytest.raises(Unavailable, match="no player 'Eva'"):
        writer.close()


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
@pytest.mark.parametrize("after", [1, 7, 40])
def test_killed_at_any_moment_it_loses_only_what_was_in_the_queue(path, noon, after) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", PLAYER, str(path), "1000000", "waits"], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    for line in process.stdout:
        if int(line) >= after:
            break
    os.kill(process.pid, signal.SIGKILL)
    told = [after, *(int(line) for line in process.stdout if line.endswith("\n"))][-1]
    process.wait()
    process.stdout.close()
    with Book.open(path) as book:
        kept = [one.n for one in book.answers_of(1)]
        assert kept == list(range(1, len(kept) + 1))
        # All that were said to be written, and at most the one that was under way.
        assert told <= len(kept) <= told + 1
        report = book.report("Ana")
        assert report.answers == len(kept)
        book.rebuild()
        assert book.report("Ana") == report
        assert book.end_abandoned(started_before_utc=noon + dt.timedelta(days=1)) == 1
        assert book.report("Ana").runs[0].ended_early


def test_two_programs_write_one_book(path) -> None:
    """Both begin at once on a book that is not there yet."""
    both = [subprocess.Popen([sys.executable, "-c", PLAYER, str(path), "150", "on"]) for _ in range(2)]
    assert [process.wait(timeout=60) for process in both] == [0, 0]
    with Book.open(path) as book:
        report = book.report("Ana")
        assert [one.answers for one in report.runs] == [150, 150]
        assert [one.ended_early for one in report.runs] == [False, False]
        assert report.answers == report.places[0].answers == 300
        assert book.rebuild() == 300
        assert book.report("Ana") == report
