"""From earlier versions of the book to the current one: nothing lost, the new usable, on every database."""

import io
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
from midifret.terms.record import RunEnd

FIRST = "0001"
# A note in the corrections of a book of version 1, written by hand from what that version wrote.
OLD_CORRECTION = (
    '[{"id": 7, "onset_s": 22.5, "string": 6, "fret": 5, "midi": 45, "velocity": 90, "channel": 5, '
    '"attack": "plucked", "cents": 0.0}]'
)


@pytest.fixture
def first_version(path: Path, answer, noon) -> tuple[Path, tuple[Answer, ...]]:
    """A book as its first version wrote it: Ana's run with three answers, ended, and one cut off."""
    answers = (
        answer(1),
        answer(2, Place(5, 5), Verdict.WRONG),
        answer(3, verdict=Verdict.MISSED),
    )
    path.parent.mkdir(parents=True)
    engine = sa.create_engine(f"sqlite:///{path}")
    with engine.begin() as connection:
        upgrade(connection, CURRENT.versions, FIRST)
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
        connection.execute(sa.insert(runs).values({**run, "answers": 0, "right_answers": 0}))
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


def test_a_book_of_the_first_version_keeps_its_answers(first_version) -> None:
    path, answers = first_version
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


def test_what_is_new_can_be_used_in_an_upgraded_book(first_version, answer, noon) -> None:
    path, _ = first_version
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
