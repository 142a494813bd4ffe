"""What the book keeps of time: calibrations, recall times, and runs and owned tempos in tempo."""

import datetime as dt
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import sqlalchemy as sa

from midifret.book.database import Database
from midifret.book.names import id_of_player
from midifret.book.rows import MOST_TIME, NO_PLACE, caveats_of_text, cue_of_text, is_time, recall_of
from midifret.book.tables import TEXT_LENGTH, answers, calibrations, owned_tempos, runs
from midifret.terms import BadInput, Judged, Place, Verdict
from midifret.terms.calibration import CalibrationPart, Caveat, Measurement, Reading, Recall, ViewKind
from midifret.terms.figures import CuedRow, LateAnswer, OwnedTempoKept, ReadingMark, RunRecall, TempoRun

MOST_CUED = 10_000
MOST_MEASUREMENTS = 100
_RUNS_AT_ONCE = 200
_RAW = frozenset({Caveat.RAW})


class Times:
    """The part of the book that is about time. Each of its calls raises BadInput for an unknown player."""

    _database: Database

    # Calibrations

    def put_measurement(
        self, player: str, measurement: Measurement, result: Mapping[str, object] | None = None
    ) -> None:
        """Keep one part of a calibration.

        result: what was made of it and shown, as a JSON object; it can be computed again from the readings.
        Raises BadInput for a measurement without readings, a name that is too long, and a time that is no
        finite number.
        """
        text = measurement_json(measurement.readings)
        for label, name in (
            ("guitar", measurement.guitar),
            ("port", measurement.port),
            ("click", measurement.click),
            ("take", measurement.take_file),
        ):
            check_length(label, name)
        with self._database.write() as connection:
            connection.execute(
                sa.insert(calibrations).values(
                    player_id=id_of_player(connection, player),
                    part=measurement.part.value,
                    guitar=measurement.guitar,
                    port=measurement.port,
                    click=measurement.click,
                    measured_utc=measurement.measured_utc,
                    take_file=measurement.take_file,
                    readings=text,
                    result=json.dumps(dict(result or {}), allow_nan=False),
                    view=measurement.view.value,
                )
            )

    def measurements(self, player: str, *, most: int = MOST_MEASUREMENTS) -> tuple[Measurement, ...]:
        """Return the newest parts of calibrations, at most so many, the newest first, on all guitars."""
        with self._database.read() as connection:
            query = (
                sa.select(calibrations)
                .where(calibrations.c.player_id == id_of_player(connection, player))
                .order_by(calibrations.c.measured_utc.desc(), calibrations.c.id.desc())
                .limit(most)
            )
            return tuple(measurement_of(row) for row in connection.execute(query).mappings())

    # Recall times

    def newest_cued(
        self, player: str, since: dt.date | None = None, *, most: int = MOST_CUED
    ) -> tuple[CuedRow, ...]:
        """Return the newest answers to a cue that count for a place, the newest first, at most so many.

        Left out are answers in tempo, which had no time of their own, and names typed. Where nothing but the
        response was kept, that is the recall time, as a raw one.
        """
        with self._database.read() as connection:
            found: list[CuedRow] = []
            for rows in self._cued(connection, id_of_player(connection, player), since, most):
                found += rows
                if len(found) >= most:
                    break
            return tuple(found[:most])

    def _cued(
        self, connection: sa.Connection, player_id: int, since: dt.date | None, most: int
    ) -> Iterator[list[CuedRow]]:
        """A few runs at a time; the answers of a run lie together, so they need no index of their own."""
        query = (
            sa.select(runs.c.id, runs.c.day, runs.c.cued_answers)
            .where(runs.c.player_id == player_id, runs.c.cued_answers > 0)
            .order_by(runs.c.day.desc(), runs.c.id.desc())
        )
        if since is not None:
            query = query.where(runs.c.day >= since)
        days: dict[int, dt.date] = {}
        cued = 0
        for run_id, day, number in connection.execute(query.limit(most)).all():
            days[run_id] = day
            cued += number
            if len(days) >= _RUNS_AT_ONCE or cued >= most:
                yield _cued_rows(connection, days)
                days, cued = {}, 0
        if days:
            yield _cued_rows(connection, days)

    def recall_by_run(self, player: str, since: dt.date | None = None) -> tuple[RunRecall, ...]:
        """Return the recall time of each run that has one, oldest first, raw and calibrated told apart."""
        with self._database.read() as connection:
            query = sa.select(
                runs.c.id,
                runs.c.drill,
                runs.c.day,
                runs.c.median_recall_s,
                runs.c.recall_answers,
                runs.c.cued_answers,
                runs.c.recall_caveats,
            ).where(runs.c.player_id == id_of_player(connection, player), runs.c.median_recall_s.is_not(None))
            if since is not None:
                query = query.where(runs.c.day >= since)
            return tuple(
                RunRecall(run_id, drill, day, median_s, right, cued, caveats_of_text(caveats))
                for run_id, drill, day, median_s, right, cued, caveats in connection.execute(
                    query.order_by(runs.c.day, runs.c.id)
                )
            )

    # In tempo

    def passes_on(
        self, player: str, drill: str, day: dt.date, *, window_ms: float, most_moved: float
    ) -> tuple[tuple[float, int, int], ...]:
        """Return (tempo_bpm, prompts, right) of each run of a drill in tempo, played to its end on that day.

        Only runs in that window count, and of those that followed a clock only those whose tempo moved by no
        more than such a share; where the book does not know, they count. Oldest first.
        """
        with self._database.read() as connection:
            query = (
                sa.select(runs.c.tempo_bpm, runs.c.answers, runs.c.right_answers)
                .where(
                    runs.c.player_id == id_of_player(connection, player),
                    runs.c.drill == drill,
                    runs.c.day == day,
                    runs.c.tempo_bpm.is_not(None),
                    runs.c.ended_early.is_(False),
                    runs.c.answers > 0,
                    sa.or_(runs.c.window_ms.is_(None), sa.func.abs(runs.c.window_ms - window_ms) < 0.01),
                    sa.or_(runs.c.tempo_moved.is_(None), runs.c.tempo_moved <= most_moved),
                )
                .order_by(runs.c.id)
            )
            return tuple((tempo_bpm, given, right) for tempo_bpm, given, right in connection.execute(query))

    def put_owned_tempo(self, player: str, kept: OwnedTempoKept) -> None:
        """Keep the owned tempo of a drill on a day, in place of an earlier one of the same day.

        Raises BadInput for a tempo that is no finite number above 0 or lies outside its own interval, and for
        a name that is too long.
        """
        if not 0 < kept.low_bpm <= kept.tempo_bpm <= kept.high_bpm < math.inf:
            raise BadInput(
                f"an owned tempo of {kept.tempo_bpm} bpm from {kept.low_bpm} to {kept.high_bpm} bpm "
                "cannot be kept",
                allowed="finite numbers above 0, the tempo between the other two",
            )
        check_length("drill", kept.drill)
        check_length("guitar", kept.guitar)
        values = {name: getattr(kept, name) for name in _TEMPO_FIELDS}
        with self._database.write() as connection:
            player_id = id_of_player(connection, player)
            connection.execute(
                sa.delete(owned_tempos).where(
                    owned_tempos.c.player_id == player_id,
                    owned_tempos.c.drill == kept.drill,
                    owned_tempos.c.day == kept.day,
                )
            )
            connection.execute(sa.insert(owned_tempos).values(player_id=player_id, **values))

    def owned_tempos(self, player: str, since: dt.date | None = None) -> tuple[OwnedTempoKept, ...]:
        """Return all owned tempos, by drill and then the newest first."""
        with self._database.read() as connection:
            return owned_tempos_of(connection, id_of_player(connection, player), since)

    def reading_marks(self, player: str, stem: str) -> tuple[ReadingMark, ...]:
        """Return what was read to the end of all drills whose names begin so, by name."""
        with self._database.read() as connection:
            query = (
                sa.select(
                    runs.c.drill,
                    sa.func.count(runs.c.id),
                    sa.func.max(sa.cast(runs.c.right_answers, sa.Double) / runs.c.answers),
                )
                .where(
                    runs.c.player_id == id_of_player(connection, player),
                    runs.c.drill.startswith(stem, autoescape=True),
                    runs.c.ended_early.is_(False),
                    runs.c.answers > 0,
                )
                .group_by(runs.c.drill)
                .order_by(runs.c.drill)
            )
            return tuple(ReadingMark(*row) for row in connection.execute(query))

    def tempo_runs(self, player: str, since: dt.date | None = None, *, most: int = 5) -> tuple[TempoRun, ...]:
        """Return the newest runs in tempo that have an answer, with their answers, the newest first."""
        with self._database.read() as connection:
            query = sa.select(runs).where(
                runs.c.player_id == id_of_player(connection, player),
                runs.c.tempo_bpm.is_not(None),
                runs.c.answers > 0,
            )
            if since is not None:
                query = query.where(runs.c.day >= since)
            rows = connection.execute(query.order_by(runs.c.day.desc(), runs.c.id.desc()).limit(most)).all()
            return tuple(
                TempoRun(
                    row.id, row.drill, row.title, row.day, row.tempo_bpm, _late_answers(connection, row.id)
                )
                for row in rows
            )


_TEMPO_FIELDS = (
    "drill",
    "day",
    "guitar",
    "tempo_bpm",
    "low_bpm",
    "high_bpm",
    "notes",
    "passes",
    "doubt",
    "names_cued",
)


def check_length(label: str, name: str) -> None:
    """Raise BadInput for a name that the tables have no room for."""
    if len(name) > TEXT_LENGTH:
        raise BadInput(f"the name of the {label} is too long: {name[:40]}...", allowed=f"up to {TEXT_LENGTH}")


def owned_tempos_of(
    connection: sa.Connection, player_id: int, since: dt.date | None
) -> tuple[OwnedTempoKept, ...]:
    """Return a player's owned tempos; see Times.owned_tempos."""
    query = sa.select(*(owned_tempos.c[name] for name in _TEMPO_FIELDS))
    query = query.where(owned_tempos.c.player_id == player_id)
    if since is not None:
        query = query.where(owned_tempos.c.day >= since)
    rows = connection.execute(query.order_by(owned_tempos.c.drill, owned_tempos.c.day.desc()))
    return tuple(OwnedTempoKept(**row) for row in rows.mappings())


def measurement_json(readings: Sequence[Reading]) -> str:
    """Return readings as the text of their column. Raises BadInput for none, and for a time out of range."""
    if not readings:
        raise BadInput("a calibration without a pluck cannot be kept", allowed="1 pluck or more")
    for number, reading in enumerate(readings, start=1):
        if not is_time(reading.time_s):
            raise BadInput(
                f"pluck {number} of the calibration cannot be kept: its time is {reading.time_s} s",
                allowed=f"from {-MOST_TIME:g} to {MOST_TIME:g} s, negative where it came before the beat",
            )
    return json.dumps([reading_document(reading) for reading in readings])


def reading_document(reading: Reading) -> dict[str, Any]:
    """Return one pluck of a calibration as a JSON object."""
    return {
        "time_s": reading.time_s,
        "midi": reading.midi,
        "string": reading.place.string,
        "fret": reading.place.fret,
        "right": reading.right,
    }


def measurement_of(row: Mapping[Any, Any]) -> Measurement:
    """Return the measurement that a row was made of."""
    readings = tuple(
        Reading(one["time_s"], one["midi"], Place(one["string"], one["fret"]), one["right"])
        for one in json.loads(row["readings"])
    )
    return Measurement(
        CalibrationPart(row["part"]),
        row["guitar"],
        row["port"],
        row["measured_utc"],
        readings,
        row["take_file"],
        row["click"],
        ViewKind(row["view"]),
    )


def _cued_rows(connection: sa.Connection, days: Mapping[int, dt.date]) -> list[CuedRow]:
    """The answers of some runs, in the order of these, each run's last answer first."""
    query = sa.select(
        answers.c.run_id,
        answers.c.counted_string,
        answers.c.counted_fret,
        answers.c.cue,
        answers.c.verdict,
        answers.c.response_s,
        answers.c.recall_s,
        answers.c.recall_shared_s,
        answers.c.recall_own_s,
        answers.c.recall_caveats,
    ).where(
        answers.c.run_id.in_(list(days)),
        answers.c.cue != "",
        answers.c.judged != Judged.NAME.value,
        answers.c.due_s.is_(None),
        answers.c.counted_string != NO_PLACE.string,
    )
    by_run: dict[int, list[CuedRow]] = {run_id: [] for run_id in days}
    for run_id, string, fret, cue, verdict, response_s, *recall in connection.execute(
        query.order_by(answers.c.run_id, answers.c.n.desc())
    ):
        known = recall_of(*recall)
        if known is None and response_s is not None:
            known = Recall(response_s, None, None, _RAW)
        by_run[run_id].append(
            CuedRow(
                Place(string, fret),
                cue_of_text(cue),
                verdict == Verdict.RIGHT.value,
                response_s,
                known,
                days[run_id],
            )
        )
    return [row for own in by_run.values() for row in own]


def _late_answers(connection: sa.Connection, run_id: int) -> tuple[LateAnswer, ...]:
    query = sa.select(answers.c.n, answers.c.verdict, answers.c.due_s, answers.c.late_ms)
    query = query.where(answers.c.run_id == run_id, answers.c.due_s.is_not(None)).order_by(answers.c.n)
    return tuple(
        LateAnswer(n, Verdict(verdict), due_s, late_ms)
        for n, verdict, due_s, late_ms in connection.execute(query)
    )
