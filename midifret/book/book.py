"""The practice book: players, runs and answers, and the figures that are read from them."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

import sqlalchemy as sa
from sqlalchemy import exc

import midifret
from midifret.book.database import (
    CURRENT,
    Database,
    Schema,
    backups_of,
    copy_sqlite,
    open_database,
    sqlite_url,
)
from midifret.book.day import practice_day
from midifret.book.examples import Examples
from midifret.book.export import export_pieces
from midifret.book.given import Given
from midifret.book.names import id_of_player, player_name, unknown_player
from midifret.book.practised import Practised, forget, forget_all
from midifret.book.report import read_report
from midifret.book.rows import answer_of, answer_row, counted_place
from midifret.book.summaries import Counted, count, counted_in, rebuild, refresh_run
from midifret.book.tables import (
    TEXT_LENGTH,
    answers,
    calibrations,
    first_answers,
    given_music,
    memories,
    owned_tempos,
    players,
    practice_sessions,
    runs,
    stages_set,
    string_checks,
    summaries,
    voided_notes,
)
from midifret.book.times import Times, check_length
from midifret.terms import Answer, BadInput, Judged
from midifret.terms.figures import Report
from midifret.terms.record import RunEnd, RunStart

__all__ = ["BUSY_TIMEOUT_S", "Book", "Deleted", "Player", "player_name"]

BUSY_TIMEOUT_S = 5.0  # how long to wait while another midifret writes
_SEED_LIMIT = 2**63
# What goes with a player, beside runs and their answers.
_OF_A_PLAYER = (
    summaries,
    calibrations,
    owned_tempos,
    given_music,
    memories,
    first_answers,
    stages_set,
    practice_sessions,
)


@dataclass(frozen=True, slots=True)
class Player:
    """Someone whose practice the book keeps.

    simulated: a virtual player. last_day: the last practice day, None before the first run.
    """

    name: str
    simulated: bool
    created_utc: dt.datetime
    runs: int
    answers: int
    minutes: float
    last_day: dt.date | None


@dataclass(frozen=True, slots=True)
class Deleted:
    """What was deleted with a player, or would be.

    take_files: names of the player's takes in the takes folder; the book does not touch them.
    backups: older copies of the whole book beside it, which still hold the player.
    """

    player: str
    runs: int
    answers: int
    take_files: tuple[str, ...]
    backups: tuple[Path, ...]


class Book(Times, Given, Practised, Examples):
    """An open practice book. It reads no clock: every time is handed in, aware and in UTC.

    Safe to use from several threads; each transaction has a connection of its own. Whatever reads or writes
    raises Unavailable where the database cannot be used: full disk, no rights, damage, a lock held too long.
    """

    def __init__(self, database: Database, *, busy_timeout_s: float = BUSY_TIMEOUT_S) -> None:
        """Keep the record in an open database; see `open`."""
        self._database = database
        self._busy_timeout_s = busy_timeout_s

    @classmethod
    def open(
        cls,
        where: str | Path,
        *,
        busy_timeout_s: float = BUSY_TIMEOUT_S,
        schema: Schema = CURRENT,
    ) -> "Book":
        """Open the book in a file or at an SQLAlchemy URL, making it where there is none.

        An older book is brought to the current version, a SQLite file after a backup beside it; on another
        database a backup is its administrator's task. Raises BadInput for a wrong URL (never repeating a
        password), Unavailable for a book that is damaged, newer, locked or cannot be written.
        """
        url = sqlite_url(where) if isinstance(where, Path) else where
        return cls(
            open_database(url, busy_timeout_s=busy_timeout_s, schema=schema), busy_timeout_s=busy_timeout_s
        )

    def close(self) -> None:
        """Close every connection; what was written stays."""
        self._database.reading.dispose()

    def __enter__(self) -> "Book":
        """Return the book itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the book."""
        self.close()

    @property
    def place(self) -> str:
        """Where the book is kept, for messages: a path, or an address without user and password."""
        return self._database.place

    # Players

    def players(self) -> tuple[Player, ...]:
        """Return all players by name, people before simulated ones."""
        query = (
            sa.select(
                players.c.name,
                players.c.simulated,
                players.c.created_utc,
                sa.func.count(runs.c.id),
                sa.func.coalesce(sa.func.sum(runs.c.answers), 0),
                sa.func.coalesce(sa.func.sum(runs.c.played_s), 0.0),
                sa.func.max(runs.c.day),
            )
            .outerjoin(runs, runs.c.player_id == players.c.id)
            .group_by(players.c.id, players.c.name, players.c.simulated, players.c.created_utc)
            .order_by(players.c.simulated, players.c.name)
        )
        with self._database.read() as connection:
            return tuple(
                Player(name, simulated, created_utc, runs_made, int(given), played_s / 60, last_day)
                for name, simulated, created_utc, runs_made, given, played_s, last_day in connection.execute(
                    query
                )
            )

    def player(self, name: str) -> Player:
        """Return one player. Raises BadInput, listing the known ones, where there is none of that name."""
        found = [player for player in self.players() if player.name == player_name(name)]
        if not found:
            with self._database.read() as connection:
                raise unknown_player(connection, name)
        return found[0]

    def add_player(self, name: str, *, created_utc: dt.datetime, simulated: bool = False) -> str:
        """Add a player and return the name as it is kept. Raises BadInput for a taken or unfit name."""
        name = player_name(name)
        try:
            with self._database.write() as connection:
                connection.execute(
                    sa.insert(players).values(name=name, simulated=simulated, created_utc=created_utc)
                )
        except exc.IntegrityError:
            raise BadInput(f"there is a player {name!r} already", allowed="choose another name") from None
        return name

    def ensure_player(self, name: str, *, created_utc: dt.datetime, simulated: bool = False) -> str:
        """Add a player unless there is one of that name already; return the name as it is kept.

        Raises BadInput where a person has the name of a simulated player, or the other way round.
        """
        name = player_name(name)
        is_simulated = self._is_simulated(name)
        if is_simulated is None:
            try:
                return self.add_player(name, created_utc=created_utc, simulated=simulated)
            except BadInput:
                is_simulated = self._is_simulated(name)  # another program was quicker
                if is_simulated is None:
                    raise
        _refuse_mixing(name, is_simulated=is_simulated, run_simulated=simulated)
        return name

    def _is_simulated(self, name: str) -> bool | None:
        """Whether the player of that name is simulated, None where there is none."""
        with self._database.read() as connection:
            return connection.scalar(sa.select(players.c.simulated).where(players.c.name == name))

    def to_delete(self, name: str) -> Deleted:
        """Return what deleting a player would delete. Raises BadInput for an unknown one."""
        with self._database.read() as connection:
            return self._deleted(connection, id_of_player(connection, name), name)

    def delete_player(self, name: str) -> Deleted:
        """Delete a player with all that is kept of them; the takes are the caller's to delete.

        Raises BadInput for an unknown player.
        """
        with self._database.write() as connection:
            player_id = id_of_player(connection, name)
            deleted = self._deleted(connection, player_id, name)
            own = sa.select(runs.c.id).where(runs.c.player_id == player_id)
            connection.execute(sa.delete(answers).where(answers.c.run_id.in_(own)))
            connection.execute(sa.delete(voided_notes).where(voided_notes.c.run_id.in_(own)))
            for table in _OF_A_PLAYER:
                connection.execute(sa.delete(table).where(table.c.player_id == player_id))
            connection.execute(sa.delete(runs).where(runs.c.player_id == player_id))
            connection.execute(sa.delete(players).where(players.c.id == player_id))
        if self._database.path is not None:
            # The log beside the file would still hold what was deleted.
            with self._database.told(), self._database.reading.connect() as connection:
                cursor = connection.connection.cursor()
                cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                cursor.close()
        return deleted

    def _deleted(self, connection: sa.Connection, player_id: int, name: str) -> Deleted:
        own = runs.c.player_id == player_id
        run_count, given = connection.execute(
            sa.select(sa.func.count(runs.c.id), sa.func.coalesce(sa.func.sum(runs.c.answers), 0)).where(own)
        ).one()
        takes = {
            name
            for table in (runs, calibrations)
            for name in connection.scalars(
                sa.select(table.c.take_file).where(table.c.player_id == player_id, table.c.take_file != "")
            )
        }
        path = self._database.path
        return Deleted(
            player_name(name),
            run_count,
            int(given),
            tuple(sorted(takes)),
            () if path is None else backups_of(path),
        )

    # Runs and answers

    def start_run(self, start: RunStart) -> int:
        """Begin a run and return its number.

        Raises BadInput for an unknown player or zone, and where a person's and a simulated player's runs
        would be mixed.
        """
        day = practice_day(start.started_utc, start.zone)
        for label, text in (
            ("drill", start.drill),
            ("guitar", start.guitar),
            ("take", start.take_file),
            ("port", start.port),
        ):
            check_length(label, text)
        if not -_SEED_LIMIT <= start.seed < _SEED_LIMIT:
            raise BadInput(f"the seed {start.seed} is too large", allowed="a whole number of up to 18 digits")
        with self._database.write() as connection:
            player_id = id_of_player(connection, start.player)
            simulated = connection.scalar(sa.select(players.c.simulated).where(players.c.id == player_id))
            _refuse_mixing(start.player, is_simulated=bool(simulated), run_simulated=start.simulated)
            result = connection.execute(
                sa.insert(runs).values(
                    player_id=player_id,
                    drill=start.drill,
                    title=start.title[:TEXT_LENGTH],
                    seed=start.seed,
                    guitar=start.guitar,
                    started_utc=start.started_utc,
                    zone=start.zone,
                    day=day,
                    take_file=start.take_file,
                    port=start.port,
                    tempo_bpm=start.tempo_bpm,
                    names_cued=start.names_cued,
                    window_ms=start.window_ms,
                    midifret_version=midifret.__version__,
                    played_s=0.0,
                    answers=0,
                    right_answers=0,
                )
            )
            key: Any = result.inserted_primary_key
            return int(key[0])

    def put_answer(self, run_id: int, answer: Answer) -> None:
        """Keep an answer; one of the same number in the same run is replaced. Summaries follow at once."""
        self.put_answers(run_id, (answer,))

    def put_answers(self, run_id: int, given: tuple[Answer, ...]) -> None:
        """Keep several answers of one run in one transaction."""
        with self._database.write() as connection:
            player_id, day = _owner(connection, run_id, changes=True)
            for answer in given:
                row = answer_row(run_id, answer)
                for old in counted_in(connection, run_id, answer.n, answer.n):
                    count(connection, player_id, day, old, by=-1)
                connection.execute(
                    sa.delete(answers).where(answers.c.run_id == run_id, answers.c.n == answer.n)
                )
                connection.execute(sa.insert(answers).values(row))
                new = Counted(
                    counted_place(answer),
                    answer.prompt.judged is Judged.NAME,
                    answer.verdict,
                    answer.response_s,
                )
                count(connection, player_id, day, new, by=1)
            refresh_run(connection, run_id)

    def withdraw_from(self, run_id: int, n: int) -> None:
        """Delete the answers `n` and above of a run; summaries follow at once."""
        with self._database.write() as connection:
            player_id, day = _owner(connection, run_id, changes=True)
            for old in counted_in(connection, run_id, n, None):
                count(connection, player_id, day, old, by=-1)
            connection.execute(sa.delete(answers).where(answers.c.run_id == run_id, answers.c.n >= n))
            refresh_run(connection, run_id)

    def end_run(self, run_id: int, end: RunEnd, *, ended_utc: dt.datetime) -> None:
        """End a run.

        end.gate_met must say whether this run alone met the figures of the gate, without asking how many runs
        in a row did: `runs_passed_in_a_row` counts these.
        """
        with self._database.write() as connection:
            _owner(connection, run_id)
            connection.execute(
                sa.update(runs)
                .where(runs.c.id == run_id)
                .values(
                    ended_utc=ended_utc,
                    ended_early=end.ended_early,
                    played_s=end.played_s,
                    gate_met=end.gate_met,
                    notes=end.notes,
                    tempo_moved=end.tempo_moved,
                )
            )
            connection.execute(sa.delete(voided_notes).where(voided_notes.c.run_id == run_id))
            found = [
                {"run_id": run_id, "glitch": glitch.value, "notes": notes}
                for glitch, notes in end.voided
                if notes
            ]
            if found:
                connection.execute(sa.insert(voided_notes), found)

    def end_abandoned(self, *, started_before_utc: dt.datetime) -> int:
        """Mark runs that began before that time and never ended, after a crash, as ended early.

        Their end is taken from their last answer. Returns how many there were. Should one of them still be
        going on in another program, its own end will correct the mark.
        """
        with self._database.write() as connection:
            lasting = sa.select(runs.c.id, runs.c.started_utc, runs.c.played_s).where(
                runs.c.ended_early.is_(None), runs.c.started_utc < started_before_utc
            )
            found = connection.execute(lasting).all()
            for run_id, started_utc, played_s in found:
                ended_utc = started_utc + dt.timedelta(seconds=played_s)
                connection.execute(
                    sa.update(runs).where(runs.c.id == run_id).values(ended_early=True, ended_utc=ended_utc)
                )
            return len(found)

    def answers_of(self, run_id: int) -> tuple[Answer, ...]:
        """Return the answers of a run in order. Raises BadInput for an unknown run."""
        with self._database.read() as connection:
            _owner(connection, run_id)
            query = sa.select(answers).where(answers.c.run_id == run_id).order_by(answers.c.n)
            return tuple(answer_of(row) for row in connection.execute(query).mappings())

    # The check of the open strings

    def string_check_done(self, guitar: str, day: dt.date) -> bool:
        """Whether the open strings of a guitar were checked on that practice day."""
        key = sa.and_(string_checks.c.guitar == guitar, string_checks.c.day == day)
        with self._database.read() as connection:
            return connection.scalar(sa.select(string_checks.c.day).where(key)) is not None

    def put_string_check(self, guitar: str, *, checked_utc: dt.datetime, zone: str) -> None:
        """Keep that the open strings were checked; a second check on a day replaces the first."""
        day = practice_day(checked_utc, zone)
        with self._database.write() as connection:
            connection.execute(
                sa.delete(string_checks).where(string_checks.c.guitar == guitar, string_checks.c.day == day)
            )
            connection.execute(
                sa.insert(string_checks).values(guitar=guitar, day=day, checked_utc=checked_utc)
            )

    # Figures

    def report(self, player: str, since: dt.date | None = None, *, last_runs: int = 10) -> Report:
        """Return where a player stands, over all time or from a practice day on.

        Medians of places and days are read from histograms and are off by at most 1% (histogram.py); counts,
        minutes and the medians of runs are exact. Reads summaries and runs only, never the answers.
        runs: the newest `last_runs` with at least one answer. by_verdict: those that occur, in their order.
        Raises BadInput for an unknown player.
        """
        with self._database.read() as connection:
            player_id = id_of_player(connection, player)
            row = connection.execute(sa.select(players).where(players.c.id == player_id)).mappings().one()
            return read_report(
                connection,
                player_id,
                row["name"],
                simulated=row["simulated"],
                since=since,
                last_runs=last_runs,
            )

    def runs_of(self, player: str, drill: str) -> int:
        """Return how many runs of a drill a player has begun. Raises BadInput for an unknown player."""
        with self._database.read() as connection:
            own = (runs.c.player_id == id_of_player(connection, player), runs.c.drill == drill)
            return connection.scalar(sa.select(sa.func.count(runs.c.id)).where(*own)) or 0

    def runs_passed_in_a_row(self, player: str, drill: str) -> int:
        """Return how many of the latest ended runs of a drill met its gate without one between that did not.

        Runs without a result at the gate (a crash, or a drill that had no gate then) are left out.
        Raises BadInput for an unknown player.
        """
        with self._database.read() as connection:
            query = (
                sa.select(runs.c.gate_met)
                .where(
                    runs.c.player_id == id_of_player(connection, player),
                    runs.c.drill == drill,
                    runs.c.gate_met.is_not(None),
                )
                .order_by(runs.c.id.desc())
            )
            passed = 0
            for met in connection.execute(query).scalars():
                if not met:
                    break
                passed += 1
            return passed

    def minutes_on(self, player: str, day: dt.date) -> float:
        """Return the minutes played on a day, pauses left out. Raises BadInput for an unknown player."""
        with self._database.read() as connection:
            own = (runs.c.player_id == id_of_player(connection, player), runs.c.day == day)
            return (connection.scalar(sa.select(sa.func.sum(runs.c.played_s)).where(*own)) or 0.0) / 60

    def runs_on(self, player: str, day: dt.date) -> int:
        """Return how many runs were begun on a practice day. Raises BadInput for an unknown player."""
        with self._database.read() as connection:
            own = (runs.c.player_id == id_of_player(connection, player), runs.c.day == day)
            return connection.scalar(sa.select(sa.func.count(runs.c.id)).where(*own)) or 0

    def last_run_end(self, player: str) -> dt.datetime | None:
        """Return when the player's latest run ended, aware and in UTC; None before the first.

        Raises BadInput for an unknown player.
        """
        with self._database.read() as connection:
            own = runs.c.player_id == id_of_player(connection, player)
            query = sa.select(runs.c.ended_utc).where(own, runs.c.ended_utc.is_not(None))
            return connection.scalar(query.order_by(runs.c.ended_utc.desc()).limit(1))

    # The whole book

    def rebuild(self) -> int:
        """Compute all summaries again from the answers; return how many answers there are.

        What was kept of memories is dropped: it is worked out again where it is next wanted.
        """
        with self._database.write() as connection:
            forget_all(connection)
            return rebuild(connection)

    def backup(self, target: Path) -> None:
        """Copy the whole book into a new SQLite file, also while it is written.

        Raises BadInput where the file exists or the book is not kept in a file, Unavailable where it cannot
        be written.
        """
        if self._database.path is None:
            raise BadInput(
                f"the practice book {self.place} is kept by a server",
                allowed="its administrator makes the backups; `midifret book export` keeps one player",
            )
        copy_sqlite(self._database.path, target, busy_timeout_s=self._busy_timeout_s)

    def export(self, player: str) -> Iterator[str]:
        """Yield a player's whole book as pieces of one JSON document; export.py describes it.

        Raises BadInput for an unknown player.
        """
        with self._database.read() as connection:
            yield from export_pieces(connection, id_of_player(connection, player))


def _owner(connection: sa.Connection, run_id: int, *, changes: bool = False) -> tuple[int, dt.date]:
    """Return player and day of a run, and hold the run's player against other writers on a server.

    changes: its answers are about to change: a memory that they have gone into is forgotten.
    """
    query = sa.select(runs.c.player_id, runs.c.day, runs.c.remembered).where(runs.c.id == run_id)
    row = connection.execute(query).one_or_none()
    if row is None:
        raise BadInput(f"there is no run {run_id} in the practice book")
    connection.execute(sa.select(players.c.id).where(players.c.id == row.player_id).with_for_update())
    if changes and row.remembered:
        forget(connection, row.player_id)
    return row.player_id, row.day


def _refuse_mixing(name: str, *, is_simulated: bool, run_simulated: bool) -> None:
    if is_simulated != run_simulated:
        kind = "a simulated player" if is_simulated else "a person"
        raise BadInput(
            f"{name!r} is {kind} in the practice book", allowed="people and simulated players are never mixed"
        )
