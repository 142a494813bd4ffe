"""Report on a book of 1,000,000 answers over a year, against SQLite's own count of these answers.

Each run of 40 answers has glitches of three kinds, as from a poor converter, and its recall times; every
tenth is in tempo. There are a calibration a quarter and owned tempos of every day.
Run: python tests/bench/bench_report.py [ANSWERS]. Goals: Book.report under 1 s, the whole command under 2 s,
with the page under 3 s.
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
from pathlib import Path

import sqlalchemy as sa

from midifret.book.book import Book
from midifret.book.rows import answer_row
from midifret.book.tables import answers, runs, voided_notes
from midifret.terms import Answer, CueKind, Glitch, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.calibration import CalibrationPart, Caveat, Measurement, Reading, Recall, period_s
from midifret.terms.figures import OwnedTempoKept
from midifret.terms.record import RunEnd, RunStart

OPEN_MIDI = (64, 59, 55, 50, 45, 40)
FRETS = 20
PER_RUN = 40
VERDICTS = [Verdict.RIGHT] * 16 + [Verdict.FRET_OFF, Verdict.STRING_OFF, Verdict.WRONG, Verdict.MISSED]


CUES = ((CueKind.NAME, CueKind.STRING), (CueKind.STAFF,), (CueKind.NAME,), (CueKind.INTERVAL,))
TRAVELLED = frozenset({Caveat.WITH_TRAVEL})
TEMPO_EACH = 10  # every tenth run


def one_answer(n: int, lots: random.Random, *, in_tempo: bool = False) -> Answer:
    place = Place(lots.randint(1, 6), lots.randrange(FRETS))
    midi = OPEN_MIDI[place.string - 1] + place.fret
    response_s = lots.lognormvariate(0.3, 0.5)
    prompt = Prompt(n, lots.choice(CUES), Judged.PLACE, (place,), (midi,), SpelledPitch("A", 0, 2))
    played = Note(n, n * 3 + response_s, place.string, place.fret, midi, 90, place.string - 1)
    verdict = lots.choice(VERDICTS)
    if in_tempo:
        late_ms = lots.gauss(-20, 15)
        return Answer(prompt, verdict, n * 3.0, played.onset_s, played=played, due_s=n * 3.0, late_ms=late_ms)
    recall = Recall(response_s - 0.35, 0.008, 0.04, TRAVELLED)
    return Answer(prompt, verdict, n * 3.0, played.onset_s, response_s, recall, played)


def fill(book: Book, count: int) -> None:
    """Make runs through the book itself, answers through its table; the summaries come from its rebuild."""
    lots = random.Random(1)
    first = dt.datetime(2025, 1, 1, 18, tzinfo=dt.UTC)
    book.add_player("Ana", created_utc=first)
    run_count = count // PER_RUN
    with book._database.write() as connection:
        connection.exec_driver_sql("PRAGMA defer_foreign_keys=ON")
        start = RunStart("Ana", "drill", "Drill", 0, "default", first, "UTC", "take.mid")
    run = book.start_run(start)
    book.end_run(run, RunEnd(False, PER_RUN * 3.0, True, PER_RUN), ended_utc=first)
    with book._database.write() as connection:
        like = dict(connection.execute(sa.select(runs)).mappings().one())
        connection.execute(sa.delete(runs))
        rows = []
        for number in range(run_count):
            time_utc = first + dt.timedelta(days=number * 365 // run_count, seconds=number % 70 * 150)
            row = {**like, "id": number + 1, "started_utc": time_utc, "day": time_utc.date()}
            rows.append({**row, "tempo_bpm": None if number % TEMPO_EACH else 80.0})
        connection.execute(sa.insert(runs), rows)
        glitches = [
            {"run_id": row["id"], "glitch": glitch.value, "notes": lots.randint(1, 9)}
            for row in rows
            for glitch in lots.sample(list(Glitch), 3)
        ]
        connection.execute(sa.insert(voided_notes), glitches)
        for number in range(run_count):
            in_tempo = number % TEMPO_EACH == 0
            batch = [
                answer_row(number + 1, one_answer(n, lots, in_tempo=in_tempo)) for n in range(1, PER_RUN + 1)
            ]
            connection.execute(sa.insert(answers), batch)
    for quarter in range(4):
        for part in CalibrationPart:
            time_utc = first + dt.timedelta(days=91 * quarter)
            book.put_measurement("Ana", Measurement(part, "default", "port", time_utc, plucks(part, lots)))
    for day in range(365):
        date = (first + dt.timedelta(days=day)).date()
        tempo = OwnedTempoKept(f"drill-{day % 20}", date, "default", 80.0, 76.0, 84.0, 96, 12, "", True)
        book.put_owned_tempo("Ana", tempo)


def plucks(part: CalibrationPart, lots: random.Random) -> tuple[Reading, ...]:
    """As a player with a latency of two periods and a reaction of 0.25 s plucks, at both ends of the neck."""
    places = (Place(6, 0), Place(6, 3), Place(1, 12), Place(1, 17))
    least_s = 0.0 if part is CalibrationPart.CLICK else 0.25 if part is CalibrationPart.REACTION else 0.5
    return tuple(
        Reading(least_s + 2 * period_s(midi) + lots.gauss(0, 0.012), midi, place)
        for place in (places[number % 4] for number in range(96))
        for midi in (OPEN_MIDI[place.string - 1] + place.fret,)
    )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "book.sqlite"
        with Book.open(path) as book:
            begun = time.perf_counter()
            fill(book, count)
            print(f"made in {time.perf_counter() - begun:.0f} s")
            begun = time.perf_counter()
            rebuilt = book.rebuild()
            print(f"rebuild of {rebuilt} answers: {time.perf_counter() - begun:.1f} s")
            print(f"book: {path.stat().st_size / 1e6:.0f} MB")
            with contextlib.closing(sqlite3.connect(path)) as plain:
                baseline_s, report_s = [], []
                for _ in range(3):
                    begun = time.perf_counter()
                    query = "SELECT count(*), sum(verdict = 'right'), avg(response_s) FROM answers"
                    (found, *_) = plain.execute(query).fetchone()
                    baseline_s.append(time.perf_counter() - begun)
                    begun = time.perf_counter()
                    report = book.report("Ana")
                    report_s.append(time.perf_counter() - begun)
                    assert found == report.answers == rebuilt
            for name, read in (
                ("newest_cued", lambda: book.newest_cued("Ana")),
                ("recall_by_run", lambda: book.recall_by_run("Ana")),
                ("tempo_runs", lambda: book.tempo_runs("Ana")),
                ("owned_tempos", lambda: book.owned_tempos("Ana")),
                ("newest_mistakes", lambda: book.newest_mistakes("Ana")),
                ("newest_readings", lambda: book.newest_readings("Ana", "read:")),
            ):
                begun = time.perf_counter()
                found = read()
                print(f"Book.{name}: {time.perf_counter() - begun:.3f} s for {len(found)}")
        ratio = min(report_s) / min(baseline_s)
        print(
            f"Book.report: {min(report_s):.2f} s, {len(report.places)} places, {len(report.days)} days; "
            f"one pass of SQL over the answers: {min(baseline_s):.2f} s; ratio {ratio:.2f}"
        )
        command = [sys.executable, "-m", "midifret", "--home", folder, "report", "--player", "Ana"]
        page = [*command, "--html", str(Path(folder) / "report.html"), "--overwrite"]
        page += ["--since", "2025-12-01"]
        today = [*command[:-3], "today", "--player", "Ana"]
        for which, arguments in (
            ("report --html, memory waiting", page),
            ("today, which works the memory of all answers out", today),
            ("report --html with plan and forecast", page),
            ("report --html and --pdf", [*page, "--pdf", str(Path(folder) / "report.pdf")]),
        ):
            taken_s, used_s = [], []
            for _ in range(1 if arguments is today else 3):
                begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
                subprocess.run(arguments, capture_output=True, check=True)
                taken_s.append(time.perf_counter() - begun)
                after = resource.getrusage(resource.RUSAGE_CHILDREN)
                used_s.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
            print(
                f"whole midifret {which}: {min(taken_s):.2f} s best, {max(taken_s):.2f} s worst; "
                f"{min(used_s):.2f} s of the processor"
            )
        taken_s, used_s = [], []
        for _ in range(3):
            begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
            done = subprocess.run(command, capture_output=True, text=True, check=False)
            taken_s.append(time.perf_counter() - begun)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            used_s.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        if done.returncode:
            print(f"midifret report could not be measured: {done.stderr.strip().splitlines()[-1:]}")
        else:
            print(
                f"whole midifret report: {min(taken_s):.2f} s best, {max(taken_s):.2f} s worst of 3; "
                f"{min(used_s):.2f} s of the processor"
            )
        print(f"peak memory here: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
