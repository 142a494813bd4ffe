"""What the book keeps for planning: memories of places, stages that were set, sessions, days and readings."""

import datetime as dt
import json
import math
from collections.abc import Collection, Iterator, Sequence
from typing import TypeVar

import sqlalchemy as sa

from midifret.book.database import Database
from midifret.book.day import practice_day
from midifret.book.names import id_of_player
from midifret.book.rows import NO_PLACE, cue_of_text
from midifret.book.tables import (
    TEXT_LENGTH,
    answers,
    first_answers,
    memories,
    practice_sessions,
    runs,
    stages_set,
)
from midifret.terms import BadInput, Judged, Place, Verdict
from midifret.terms.practised import (
    AskedAnswer,
    AskedRun,
    FirstAnswer,
    MemoryState,
    ReadingDone,
    SessionKept,
    StageSet,
    WaitingRun,
)

_RUNS_AT_ONCE = 200
_IDS_AT_ONCE = 500  # databases bound how many values a statement may name
_MOST_RUN_S = 86_400.0  # no run lasts longer; what is further off was dated by a broken clock [ours]
_MOST_MINUTES = 24 * 60.0
_One = TypeVar("_One")
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


class Practised:
    """The part of the book about planning. Each call raises BadInput for an unknown player."""

    _database: Database

    # Memory of places

    def memory_state(self, player: str) -> MemoryState:
        """Return the kept memory of a player as it was put, and which runs ended since."""
        with self._database.read() as connection:
            player_id = id_of_player(connection, player)
            kept = connection.execute(
                sa.select(memories).where(memories.c.player_id == player_id)
            ).one_or_none()
            query = (
                sa.select(runs.c.id, runs.c.answers)
                .where(
                    runs.c.player_id == player_id,
                    runs.c.remembered.is_(False),
                    runs.c.ended_early.is_not(None),
                )
                .order_by(runs.c.started_utc, runs.c.id)
            )
            waiting = tuple(WaitingRun(run_id, given) for run_id, given in connection.execute(query))
        if kept is None:
            return MemoryState("", None, None, 0, waiting)
        return MemoryState(kept.document, kept.rules_number, kept.newest_s, kept.change, waiting)

    def ended_runs(self, player: str) -> tuple[int, ...]:
        """Return the numbers of all runs that ended, by their begin."""
        with self._database.read() as connection:
            query = sa.select(runs.c.id).where(
                runs.c.player_id == id_of_player(connection, player), runs.c.ended_early.is_not(None)
            )
            return tuple(connection.scalars(query.order_by(runs.c.started_utc, runs.c.id)))

    def asked_runs(self, run_ids: Sequence[int]) -> Iterator[AskedRun]:
        """Yield these runs with their answers to a cue, in the order given, some at a time.

        Answers that showed no cue are left out: nothing had to be recalled.
        """
        for some in _batched(run_ids, _RUNS_AT_ONCE):
            with self._database.read() as connection:
                found = {run.run_id: run for run in _asked_runs(connection, some)}
            yield from (found[run_id] for run_id in some if run_id in found)

    def put_memory(
        self,
        player: str,
        document: str,
        *,
        rules_number: int,
        newest_s: float | None,
        runs_in: Sequence[WaitingRun],
        firsts: Sequence[FirstAnswer],
        after: int,
    ) -> bool:
        """Keep a memory into which these runs have gone, in place of the one of change number `after`.

        firsts: of these runs; of a place, kind and day the earliest holds. Returns False, and keeps nothing,
        where something else was kept meanwhile or answers of these runs changed: then it is worked out anew.
        """
        with self._database.write() as connection:
            player_id = id_of_player(connection, player)
            change = connection.scalar(sa.select(memories.c.change).where(memories.c.player_id == player_id))
            if (change or 0) != after or not _unchanged(connection, player_id, runs_in):
                return False
            connection.execute(sa.delete(memories).where(memories.c.player_id == player_id))
            connection.execute(
                sa.insert(memories).values(
                    player_id=player_id,
                    rules_number=rules_number,
                    newest_s=newest_s,
                    change=after + 1,
                    document=document,
                )
            )
            for some in _batched(runs_in, _IDS_AT_ONCE):
                ids = [run.run_id for run in some]
                connection.execute(sa.update(runs).where(runs.c.id.in_(ids)).values(remembered=True))
            _put_firsts(connection, player_id, firsts)
        return True

    def forget_memory(self, player: str) -> None:
        """Drop what is kept of a player's memory, so that all ended runs wait to be taken into a new one."""
        with self._database.write() as connection:
            forget(connection, id_of_player(connection, player))

    def first_answers(
        self,
        player: str,
        kinds: Collection[str],
        *,
        until: dt.date | None = None,
        last_fret: int | None = None,
    ) -> tuple[FirstAnswer, ...]:
        """Return the first answers of each day of these kinds of cue, as far as memory goes, by day.

        until: the last day wanted; last_fret: the highest fret wanted; None for all.
        """
        names = ("day", "kind", "string", "fret", "at_s", "right_first", "recall_s")
        with self._database.read() as connection:
            query = sa.select(*(first_answers.c[name] for name in names)).where(
                first_answers.c.player_id == id_of_player(connection, player),
                first_answers.c.kind.in_(sorted(kinds)),
            )
            if until is not None:
                query = query.where(first_answers.c.day <= until)
            if last_fret is not None:
                query = query.where(first_answers.c.fret <= last_fret)
            rows = connection.execute(query.order_by(first_answers.c.kind, first_answers.c.day)).all()
        return tuple(map(FirstAnswer._make, rows))

    # The path

    def put_stage(
        self, player: str, strand: str, stage: str, *, by: str, set_utc: dt.datetime, zone: str
    ) -> None:
        """Keep that a player was set on a stage of a strand; an empty stage lets the gates decide again.

        by: `placement` or `player`. Raises BadInput for an unknown zone and a name that is too long.
        """
        if len(stage) > TEXT_LENGTH:
            raise BadInput(
                f"the name of the stage is too long: {stage[:40]}...", allowed=f"up to {TEXT_LENGTH}"
            )
        day = practice_day(set_utc, zone)
        with self._database.write() as connection:
            connection.execute(
                sa.insert(stages_set).values(
                    player_id=id_of_player(connection, player),
                    strand=strand,
                    stage=stage,
                    set_by=by,
                    set_utc=set_utc,
                    day=day,
                )
            )

    def stages_set(self, player: str) -> tuple[StageSet, ...]:
        """Return where a player was set on the path, the oldest first; the newest of a strand holds."""
        with self._database.read() as connection:
            return stages_of(connection, id_of_player(connection, player))

    # Sessions

    def begin_session(self, player: str, plan: str, *, started_utc: dt.datetime, zone: str) -> SessionKept:
        """Keep a session that begins. plan: JSON, as it is to be had again."""
        json.loads(plan)
        day = practice_day(started_utc, zone)
        with self._database.write() as connection:
            done = connection.execute(
                sa.insert(practice_sessions).values(
                    player_id=id_of_player(connection, player),
                    day=day,
                    started_utc=started_utc,
                    plan=plan,
                    done_minutes="[]",
                    block=0,
                )
            )
            (session_id,) = done.inserted_primary_key or (0,)
        return SessionKept(int(session_id), day, started_utc, plan, (), 0, None)

    def go_on_with_session(
        self,
        session_id: int,
        *,
        done: Sequence[float],
        block: int,
        plan: str | None = None,
        ended_utc: dt.datetime | None = None,
    ) -> None:
        """Keep how far a session has come, in place of what was kept of that.

        done: minutes played of each block. block: index of the one at hand. plan: where it changed.
        ended_utc: when it came to its end or was given up. Raises BadInput for an unknown session and for
        minutes that are none.
        """
        if not all(math.isfinite(minutes) and 0 <= minutes <= _MOST_MINUTES for minutes in done):
            raise BadInput(f"minutes of a session cannot be {list(done)}", allowed=f"0 to {_MOST_MINUTES:g}")
        values: dict[str, object] = {
            "done_minutes": json.dumps([float(minutes) for minutes in done]),
            "block": block,
            "ended_utc": ended_utc,
        }
        if plan is not None:
            json.loads(plan)
            values["plan"] = plan
        with self._database.write() as connection:
            changed = connection.execute(
                sa.update(practice_sessions).where(practice_sessions.c.id == session_id).values(values)
            )
            if changed.rowcount != 1:
                raise BadInput(f"there is no practice session {session_id} in the practice book")

    def open_session(self, player: str, day: dt.date) -> SessionKept | None:
        """Return the newest session of a practice day if it has not ended; None where there is none."""
        with self._database.read() as connection:
            query = (
                sa.select(practice_sessions)
                .where(
                    practice_sessions.c.player_id == id_of_player(connection, player),
                    practice_sessions.c.day == day,
                )
                .order_by(practice_sessions.c.id.desc())
                .limit(1)
            )
            row = connection.execute(query).one_or_none()
            return None if row is None or row.ended_utc is not None else _session(row)

    def sessions(self, player: str) -> tuple[SessionKept, ...]:
        """Return all sessions of a player, the oldest first."""
        with self._database.read() as connection:
            return sessions_of(connection, id_of_player(connection, player))

    def sessions_on(self, player: str, day: dt.date) -> tuple[SessionKept, ...]:
        """Return the sessions of a practice day, the oldest first."""
        with self._database.read() as connection:
            return sessions_of(connection, id_of_player(connection, player), day)

    # Days and readings

    def drill_minutes_on(self, player: str, day: dt.date) -> dict[tuple[str, float | None], float]:
        """Return the minutes played on a practice day by drill and tempo, None for free tempo."""
        with self._database.read() as connection:
            query = (
                sa.select(runs.c.drill, runs.c.tempo_bpm, sa.func.sum(runs.c.played_s))
                .where(runs.c.player_id == id_of_player(connection, player), runs.c.day == day)
                .group_by(runs.c.drill, runs.c.tempo_bpm)
            )
            return {(drill, bpm): played_s / 60 for drill, bpm, played_s in connection.execute(query)}

    def minutes_by_day(self, player: str) -> tuple[tuple[dt.date, float], ...]:
        """Return the minutes played on each practice day, pauses left out, the oldest first."""
        with self._database.read() as connection:
            query = (
                sa.select(runs.c.day, sa.func.sum(runs.c.played_s))
                .where(runs.c.player_id == id_of_player(connection, player))
                .group_by(runs.c.day)
                .order_by(runs.c.day)
            )
            return tuple((day, played_s / 60) for day, played_s in connection.execute(query))

    def runs_begun_after(self, player: str, time_utc: dt.datetime) -> int:
        """Return how many runs are dated later than that: where it is now, their clock was wrong."""
        with self._database.read() as connection:
            own = (runs.c.player_id == id_of_player(connection, player), runs.c.started_utc > time_utc)
            return connection.scalar(sa.select(sa.func.count(runs.c.id)).where(*own)) or 0

    def readings_done(self, player: str, stem: str) -> tuple[ReadingDone, ...]:
        """Return all runs played to their end of drills whose names begin so, the oldest first."""
        with self._database.read() as connection:
            query = (
                sa.select(runs.c.day, runs.c.drill, runs.c.answers, runs.c.right_answers, runs.c.tempo_bpm)
                .where(
                    runs.c.player_id == id_of_player(connection, player),
                    runs.c.drill.startswith(stem, autoescape=True),
                    runs.c.ended_early.is_(False),
                    runs.c.answers > 0,
                )
                .order_by(runs.c.day, runs.c.id)
            )
            return tuple(ReadingDone(*row) for row in connection.execute(query))


def forget(connection: sa.Connection, player_id: int) -> None:
    """Drop what is kept of a player's memory; see Practised.forget_memory."""
    connection.execute(sa.delete(memories).where(memories.c.player_id == player_id))
    connection.execute(sa.delete(first_answers).where(first_answers.c.player_id == player_id))
    own = sa.and_(runs.c.player_id == player_id, runs.c.remembered.is_(True))
    connection.execute(sa.update(runs).where(own).values(remembered=False))


def forget_all(connection: sa.Connection) -> None:
    """Drop what is kept of all memories."""
    connection.execute(sa.delete(memories))
    connection.execute(sa.delete(first_answers))
    connection.execute(sa.update(runs).where(runs.c.remembered.is_(True)).values(remembered=False))


def stages_of(connection: sa.Connection, player_id: int) -> tuple[StageSet, ...]:
    """Return where a player was set on the path; see Practised.stages_set."""
    query = sa.select(stages_set).where(stages_set.c.player_id == player_id).order_by(stages_set.c.id)
    return tuple(
        StageSet(row.strand, row.stage, row.set_by, row.set_utc, row.day) for row in connection.execute(query)
    )


def sessions_of(
    connection: sa.Connection, player_id: int, day: dt.date | None = None
) -> tuple[SessionKept, ...]:
    """Return all sessions of a player, or those of a day; see Practised.sessions."""
    query = sa.select(practice_sessions).where(practice_sessions.c.player_id == player_id)
    if day is not None:
        query = query.where(practice_sessions.c.day == day)
    return tuple(_session(row) for row in connection.execute(query.order_by(practice_sessions.c.id)))


def _batched(values: Sequence[_One], at_once: int) -> Iterator[Sequence[_One]]:
    for first in range(0, len(values), at_once):
        yield values[first : first + at_once]


def _session(row: sa.Row[tuple[object, ...]]) -> SessionKept:
    return SessionKept(
        row.id,
        row.day,
        row.started_utc,
        row.plan,
        tuple(json.loads(row.done_minutes)),
        row.block,
        row.ended_utc,
    )


def _unchanged(connection: sa.Connection, player_id: int, runs_in: Sequence[WaitingRun]) -> bool:
    """Whether these runs are still out of the memory, with as many answers as they had."""
    for some in _batched(runs_in, _IDS_AT_ONCE):
        query = sa.select(runs.c.id, runs.c.answers).where(
            runs.c.player_id == player_id,
            runs.c.id.in_([run.run_id for run in some]),
            runs.c.remembered.is_(False),
        )
        found = {row.id: row.answers for row in connection.execute(query)}
        if found != {run.run_id: run.answers for run in some}:
            return False
    return True


def _put_firsts(connection: sa.Connection, player_id: int, firsts: Sequence[FirstAnswer]) -> None:
    """Keep first answers; of one place, kind and day the earliest holds."""
    if not firsts:
        return
    since, until = min(first.day for first in firsts), max(first.day for first in firsts)
    query = sa.select(
        first_answers.c.kind,
        first_answers.c.day,
        first_answers.c.string,
        first_answers.c.fret,
        first_answers.c.at_s,
    ).where(first_answers.c.player_id == player_id, first_answers.c.day.between(since, until))
    before = {(kind, day, string, fret): at_s for kind, day, string, fret, at_s in connection.execute(query)}
    rows = []
    for first in firsts:
        key = (first.kind, first.day, first.string, first.fret)
        at_s = before.get(key)
        if at_s is not None:
            if at_s <= first.at_s:
                continue
            connection.execute(
                sa.delete(first_answers).where(
                    first_answers.c.player_id == player_id,
                    first_answers.c.kind == first.kind,
                    first_answers.c.day == first.day,
                    first_answers.c.string == first.string,
                    first_answers.c.fret == first.fret,
                )
            )
        rows.append(
            {
                "player_id": player_id,
                "kind": first.kind,
                "day": first.day,
                "string": first.string,
                "fret": first.fret,
                "at_s": first.at_s,
                "right_first": first.right,
                "recall_s": first.recall_s,
            }
        )
    if rows:
        connection.execute(sa.insert(first_answers), rows)


_ASKED = (
    answers.c.run_id,
    answers.c.counted_string,
    answers.c.counted_fret,
    answers.c.given,
    answers.c.cue,
    answers.c.judged,
    answers.c.verdict,
    answers.c.cue_s,
    answers.c.answer_s,
    answers.c.recall_s,
    answers.c.skipped,
    answers.c.late_ms,
    answers.c.corrections.is_not(None).label("corrected"),
)


def _asked_runs(connection: sa.Connection, run_ids: Sequence[int]) -> Iterator[AskedRun]:
    heads = {
        run_id: (day, (started_utc - _EPOCH).total_seconds())
        for run_id, day, started_utc in connection.execute(
            sa.select(runs.c.id, runs.c.day, runs.c.started_utc).where(runs.c.id.in_(list(run_ids)))
        )
    }
    found: dict[int, list[AskedAnswer]] = {run_id: [] for run_id in heads}
    first_s: dict[int, float] = {}
    last_s: dict[int, float] = {}
    query = sa.select(*_ASKED).where(answers.c.run_id.in_(list(heads)))
    for row in connection.execute(query.order_by(answers.c.run_id, answers.c.n)):
        run_id = row.run_id
        # Those without a cue are read too: the first of them says where the run's own clock began.
        time_s = row.cue_s if row.answer_s is None else row.answer_s
        if time_s is not None:
            begun_s = first_s.setdefault(run_id, time_s if row.cue_s is None else row.cue_s)
            last_s[run_id] = min(max(time_s - begun_s, 0.0), _MOST_RUN_S)
        named = row.judged == Judged.NAME
        if not row.cue and not named:
            continue
        place = None if row.counted_string == NO_PLACE.string else Place(row.counted_string, row.counted_fret)
        if named:
            place = None if row.given is None else Place.parse(row.given)
        right = row.verdict == Verdict.RIGHT
        put_right = row.corrected and not row.skipped and row.late_ms is None
        found[run_id].append(
            AskedAnswer(
                place,
                cue_of_text(row.cue),
                Judged(row.judged),
                heads[run_id][1] + last_s.get(run_id, 0.0),
                right,
                row.recall_s,
                right or put_right,
            )
        )
    for run_id, (day, started_s) in heads.items():
        yield AskedRun(run_id, day, started_s, tuple(found[run_id]))
