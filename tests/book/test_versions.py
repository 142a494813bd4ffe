"""From earlier versions of the book to the current one: nothing lost, the new usable, on every database."""

import io
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.script import ScriptDirectory
from sqlalchemy.dialects import mysql, postgresql, sqlite

from midifret.book.book import Book
from midifret.book.database import CURRENT, backups_of
from midifret.book.migrating import upgrade
from midifret.book.rows import answer_row
from midifret.book.tables import metadata
from midifret.terms import Answer, Glitch, Note, Place, Verdict
from midifret.terms.calibration import (
    CalibrationPart,
    Caveat,
    Measurement,
    NoteInterval,
    Reading,
    Recall,
)
from midifret.terms.figures import OwnedTempoKept
from midifret.terms.record import RunEnd

EARLIER = ("0001", "0002")
# A note in the corrections of a book of version 1, written by hand from what that version wrote.
OLD_CORRECTION = (
    '[{"id": 7, "onset_s": 22.5, "string": 6, "fret": 5, "midi": 45, "velocity": 90, "channel": 5, '
    '"attack": "plucked", "cents": 0.0}]'
)


@pytest.fixture(params=EARLIER)
def earlier(path: Path, answer, noon, request) -> tuple[Path, tuple[Answer, ...]]:
    """A book as an earlier version wrote it: Ana's run with three answers, ended, and one cut off."""
    answers = (
        answer(1),
        answer(2, Place(5, 5), Verdict.WRONG),
        answer(3, verdict=Verdict.MISSED),
    )
    path.parent.mkdir(parents=True)
    engine = sa.create_engine(f"sqlite:///{path}")
    with engine.begin() as connection:
        upgrade(connection, CURRENT.versions, request.param)
        tables = sa.MetaData()
        tables.reflect(connection)
        players, runs, rows = (tables.tables[name] for name in ("players", "runs", "answers"))
        naive = noon.replace(tzinfo=None)
        connection.execute(sa.insert(players).values(name="Ana", simulated=False, created_utc=naive))
        run = {
            "player_id": 1,
            "drill": "rows/row-5",
            "title": "Row 5",
            "seed": 0,
            "guitar": "default",
            "started_utc": naive,
            "zone": "UTC",
            "day": noon.date(),
            "take_file": "take.mid",
            "midifret_version": "0.1",
            "played_s": 60.0,
            "answers": 3,
            "right_answers": 1,
            "median_response_s": 1.5,
        }
        ended = {"ended_utc": naive, "ended_early": False, "gate_met": True}
        connection.execute(sa.insert(runs).values({**run, **ended}))
        connection.execute(
            sa.insert(runs).values({**run, "answers": 0, "right_answers": 0, "median_response_s": None})
        )
        for one in answers:
            row = answer_row(1, one)
            values = {name: value for name, value in row.items() if name in rows.c}
            assert set(rows.c.keys()) == set(values)
            if one.n == 2:
                values["corrections"] = OLD_CORRECTION
            connection.execute(sa.insert(rows).values(values))
    engine.dispose()
    corrected = Note(7, 22.5, 6, 5, 45, 90, 5)
    return path, tuple(
        one
        if one.n != 2
        else Answer(
            one.prompt,
            one.verdict,
            one.cue_s,
            one.answer_s,
            one.response_s,
            played=one.played,
            corrections=(corrected,),
        )
        for one in answers
    )


def test_a_book_of_an_earlier_version_keeps_its_answers(earlier) -> None:
    path, answers = earlier
    with Book.open(path) as book:
        assert book.answers_of(1) == answers
        assert not any(one.played.place_assumed for one in book.answers_of(1) if one.played)
        assert book.rebuild() == 3
        report = book.report("Ana")
        assert (report.answers, report.right, len(report.runs)) == (3, 1, 1)
        assert report.runs[0].gate_met
        assert report.voided == ()
    (backup,) = backups_of(path)
    assert backup.name == f"book.sqlite.before-{CURRENT.head}"


@pytest.mark.parametrize("earlier", ["0001", "0005"], indirect=True)
def test_runs_of_an_earlier_version_wait_to_be_remembered(earlier, noon) -> None:
    path, answers = earlier
    with Book.open(path) as book:
        (waiting,) = book.memory_state("Ana").waiting  # the other run never ended
        assert (waiting.run_id, waiting.answers) == (1, 3)
        (run,) = book.asked_runs([1])
        assert [given.right for given in run.answers] == [answer.right for answer in answers]
        assert book.put_memory(
            "Ana", "{}", rules_number=1, newest_s=None, runs_in=[waiting], firsts=(), after=0
        )
        assert book.memory_state("Ana").waiting == ()
        book.put_stage("Ana", "rows", "row-7", by="player", set_utc=noon, zone="UTC")
        begun = book.begin_session("Ana", "{}", started_utc=noon, zone="UTC")
        assert book.sessions("Ana") == (begun,)


def test_what_is_new_can_be_used_in_an_upgraded_book(earlier, answer, noon) -> None:
    path, _ = earlier
    one = answer(1)
    assumed = Answer(
        one.prompt,
        one.verdict,
        one.cue_s,
        one.answer_s,
        one.response_s,
        played=one.played._replace(place_assumed=True),
        corrections=(one.played._replace(id=9, place_assumed=True),),
    )
    with Book.open(path) as book:
        book.put_answer(2, assumed)
        book.end_run(2, RunEnd(False, 5.0, None, voided=((Glitch.LIFT_OFF, 3),)), ended_utc=noon)
        assert book.answers_of(2) == (assumed,)
        assert dict(book.report("Ana").voided) == {Glitch.LIFT_OFF: 3}
        book.delete_player("Ana")
        with book._database.read() as connection:
            assert connection.exec_driver_sql("SELECT count(*) FROM voided_notes").scalar() == 0


def test_older_answers_to_a_cue_have_raw_times(earlier) -> None:
    """Nothing was taken off them: the response stands as it came, and is called raw."""
    path, answers = earlier
    raw = Recall(1.5, None, None, frozenset({Caveat.RAW}))
    with Book.open(path) as book:
        assert all(one.recall is None for one in book.answers_of(1))  # what was kept stays as it was
        rows = book.newest_cued("Ana")
        assert [(row.place, row.right, row.recall) for row in rows] == [
            (answers[2].prompt.places[0], False, None),
            (answers[1].prompt.places[0], False, raw),
            (answers[0].prompt.places[0], True, raw),
        ]
        (run,) = book.recall_by_run("Ana")
        assert (run.run_id, run.median_recall_s, run.answers, run.cued) == (1, 1.5, 1, 3)
        assert run.caveats == {Caveat.RAW}
        book.rebuild()
        assert book.recall_by_run("Ana") == (run,)


def test_times_can_be_kept_in_an_upgraded_book(earlier, answer, noon) -> None:
    path, _ = earlier
    recall = Recall(-0.3, 0.01, 0.03, frozenset({Caveat.STALE, Caveat.WITH_TRAVEL}))
    timed = replace(answer(1), recall=recall, interval=NoteInterval(0.4, None))
    in_tempo = replace(answer(2), response_s=None, due_s=21.0, late_ms=-12.5)
    reading = Reading(0.25, 64, Place(1, 0))
    measurement = Measurement(CalibrationPart.REACTION, "default", "port", noon, (reading,))
    tempo = OwnedTempoKept("rows/row-5", noon.date(), "default", 80.0, 76.0, 84.0, 96, 12, "", True)
    with Book.open(path) as book:
        book.put_answers(2, (timed, in_tempo))
        book.put_measurement("Ana", measurement)
        book.put_owned_tempo("Ana", tempo)
        assert book.answers_of(2) == (timed, in_tempo)
        assert book.measurements("Ana") == (measurement,)
        assert book.owned_tempos("Ana") == (tempo,)
        book.delete_player("Ana")
        with book._database.read() as connection:
            for table in ("answers", "calibrations", "owned_tempos"):
                assert connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar() == 0


DIALECTS = {"sqlite": sqlite, "postgresql": postgresql, "mysql": mysql}


@pytest.mark.parametrize("name", DIALECTS)
def test_every_table_can_be_made_on_every_database(name: str) -> None:
    """SQLAlchemy's own compilers refuse what a database cannot hold, as a text without length as a key."""
    for table in metadata.sorted_tables:
        told = str(sa.schema.CreateTable(table).compile(dialect=DIALECTS[name].dialect()))
        assert table.name in told
        for column in table.c:
            assert column.name in told


@pytest.mark.parametrize("name", DIALECTS)
def test_every_migration_can_be_written_for_every_database(name: str) -> None:
    """All of them, as SQL: offline, so that no server is needed."""
    script = ScriptDirectory(str(CURRENT.versions.parent), version_locations=[str(CURRENT.versions)])
    out = io.StringIO()
    with EnvironmentContext(
        Config(),
        script,
        as_sql=True,
        fn=lambda revision, context: script._upgrade_revs(CURRENT.head, revision),
    ) as environment:
        environment.configure(dialect_name=name, output_buffer=out)
        environment.run_migrations()
    for table in metadata.sorted_tables:
        assert f"CREATE TABLE {table.name} " in out.getvalue()
        made = out.getvalue()
        assert all(column.name in made for column in table.c)
