"""Plan a day on a book of 1,000,000 answers over a year, against SQLite's own count of these answers.

The book is that of bench_report.py: 25,000 runs of 40 answers to every kind of cue, so that far more places
are kept in mind than by one player who learns by name. Measured are the whole recomputation of memory, which
comes once; taking in one run more; a plan where nothing is new; and the whole command.
Run: python tests/bench/bench_today.py [ANSWERS [FOLDER]]; in FOLDER the book is kept, and used where it is
there already, its memory with it. Goal: a plan under 1 s.
"""

import contextlib
import datetime as dt
import random
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

sys.path.insert(0, str(Path(__file__).resolve().parent))

from bench_report import PER_RUN, fill, one_answer

from midifret.book.book import Book
from midifret.cli.app import App
from midifret.cli.planning import planning_of
from midifret.cli.remembering import memory_now
from midifret.files import Home
from midifret.practice import Memory
from midifret.terms.record import RunEnd, RunStart

PLAYER = "Ana"
ROUNDS = 3
NOW = dt.datetime(2026, 1, 2, 18, tzinfo=dt.UTC)  # two days after the last of its runs
One = TypeVar("One")


def timed(call: Callable[[], One]) -> tuple[float, One]:
    begun = time.perf_counter()
    value = call()
    return time.perf_counter() - begun, value


def one_run_more(book: Book, at_utc: dt.datetime) -> None:
    lots = random.Random(at_utc.timestamp())
    number = book.start_run(RunStart(PLAYER, "drill", "Drill", 0, "default", at_utc, "UTC", "take.mid"))
    book.put_answers(number, tuple(one_answer(n, lots) for n in range(1, PER_RUN + 1)))
    book.end_run(number, RunEnd(False, PER_RUN * 3.0, True), ended_utc=at_utc)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with contextlib.ExitStack() as stack:
        kept = sys.argv[2] if len(sys.argv) > 2 else None
        folder = kept or stack.enter_context(tempfile.TemporaryDirectory())
        app = App(Home.of(folder))
        is_there = app.home.book.exists()
        neck = app.guitar(None).neck
        with Book.open(app.home.book) as book:
            if not is_there:
                made_s, _ = timed(lambda: fill(book, count))
                book.rebuild()
                print(f"made in {made_s:.0f} s; {app.home.book.stat().st_size / 1e6:.0f} MB")
            waiting = sum(run.answers for run in book.memory_state(PLAYER).waiting)
            whole_s, memory = timed(lambda: memory_now(book, PLAYER, NOW))
            if waiting:
                print(
                    f"memory worked out of {waiting:,} answers: {whole_s:.1f} s, "
                    f"{whole_s / waiting * 1e6:.0f} us each; "
                    f"{len(memory.items)} places and kinds, "
                    f"{len(book.memory_state(PLAYER).document) / 1e6:.2f} MB"
                )
            more_s, plan_s, baseline_s = [], [], []
            for _ in range(ROUNDS):
                newest_s = book.memory_state(PLAYER).newest_s or NOW.timestamp()
                at_utc = max(NOW, dt.datetime.fromtimestamp(newest_s + 60, dt.UTC))
                one_run_more(book, at_utc)
                now_utc = at_utc + dt.timedelta(minutes=3)
                more_s.append(timed(lambda: memory_now(book, PLAYER, now_utc))[0])  # noqa: B023
            now_utc += dt.timedelta(hours=1)

            def planned(memory: Memory | None = None) -> object:
                return planning_of(app, book, PLAYER, neck, now_utc=now_utc, zone="UTC", memory=memory)

            with contextlib.closing(sqlite3.connect(app.home.book)) as plain:
                query = "SELECT count(*), sum(verdict = 'right'), avg(response_s) FROM answers"
                for _ in range(ROUNDS):
                    baseline_s.append(timed(lambda: plain.execute(query).fetchone())[0])
                    plan_s.append(timed(planned)[0])
            load_s, memory = timed(lambda: memory_now(book, PLAYER, now_utc))
            rest_s, _ = timed(lambda: planned(memory))
            firsts = len(book.first_answers(PLAYER, ("name",)))
        print(
            f"taking in a run of {PER_RUN} answers: {min(more_s):.3f} s best, {max(more_s):.3f} s worst "
            f"of {ROUNDS}"
        )
        print(
            f"a plan: {min(plan_s):.3f} s best, {max(plan_s):.3f} s worst of {ROUNDS} "
            f"(memory {load_s:.3f} s, the rest {rest_s:.3f} s, {firsts} first answers); one pass of SQL over "
            f"the answers: {min(baseline_s):.2f} s; ratio {min(plan_s) / min(baseline_s):.2f}"
        )
        command = [sys.executable, "-m", "midifret", "--home", folder, "today", "--player", PLAYER]
        taken_s, used_s = [], []
        for _ in range(ROUNDS):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            seconds, done = timed(
                lambda: subprocess.run(command, capture_output=True, text=True, check=False)
            )
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            taken_s.append(seconds)
            used_s.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        if done.returncode:
            print(f"midifret today could not be measured: {done.stderr.strip().splitlines()[-1:]}")
        else:
            print(
                f"whole midifret today: {min(taken_s):.2f} s best, {max(taken_s):.2f} s worst of {ROUNDS}; "
                f"{min(used_s):.2f} s of the processor"
            )
        print(f"peak memory here: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
