"""Where a player stands, from the summaries and the list of runs; the answers themselves are not read."""

import datetime as dt
import operator
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from midifret.book.day import local_time
from midifret.book.histogram import add_packed, median
from midifret.book.rows import NO_PLACE, caveats_of_text
from midifret.book.tables import VERDICT_COLUMNS, runs, summaries, voided_notes
from midifret.terms import Glitch, Place, Verdict
from midifret.terms.figures import DayFigure, PlaceFigure, Report, RunFigure

_RIGHT = VERDICT_COLUMNS[Verdict.RIGHT]


@dataclass(slots=True)
class _Sum:
    answers: int = 0
    right: int = 0
    bins: dict[int, int] = field(default_factory=dict)


def read_report(
    connection: sa.Connection,
    player_id: int,
    player: str,
    *,
    simulated: bool,
    since: dt.date | None,
    last_runs: int,
) -> Report:
    """Compute a player's report; see Book.report."""
    by_place: dict[tuple[bool, int, int], _Sum] = {}
    by_day: dict[dt.date, _Sum] = {}
    totals = [0] * len(VERDICT_COLUMNS)
    query = sa.select(
        summaries.c.day,
        summaries.c.string,
        summaries.c.fret,
        summaries.c.named,
        summaries.c.right_response_bins,
        *(summaries.c[name] for name in VERDICT_COLUMNS.values()),
    ).where(summaries.c.player_id == player_id)
    if since is not None:
        query = query.where(summaries.c.day >= since)
    right_index = list(Verdict).index(Verdict.RIGHT)
    for day, string, fret, named, bins, *counts in connection.execute(
        query.execution_options(yield_per=1000)
    ):
        totals = list(map(operator.add, totals, counts))
        answers, right = sum(counts), counts[right_index]
        key = (named, string, fret)
        of_place, of_day = by_place.get(key), by_day.get(day)
        if of_place is None:
            of_place = by_place[key] = _Sum()
        if of_day is None:
            of_day = by_day[day] = _Sum()
        for sums in (of_place, of_day):
            sums.answers += answers
            sums.right += right
        add_packed(bins, of_place.bins, of_day.bins)
    verdicts = dict(zip(Verdict, totals, strict=True))
    minutes = _minutes(connection, player_id, since)
    return Report(
        player=player,
        simulated=simulated,
        answers=sum(verdicts.values()),
        right=verdicts[Verdict.RIGHT],
        places=_figures(by_place, named=False),
        named_places=_figures(by_place, named=True),
        days=tuple(
            DayFigure(day, sums.answers, sums.right, median(sums.bins), minutes.get(day, 0.0))
            for day, sums in sorted(by_day.items())
        ),
        runs=_last_runs(connection, player_id, since, last_runs),
        by_verdict=tuple((verdict, number) for verdict, number in verdicts.items() if number),
        voided=_voided(connection, player_id, since),
        notes=_sum(connection, runs.c.notes, player_id, since),
        answers_by_pitch=_sum(connection, runs.c.answers_by_pitch, player_id, since),
    )


def _figures(by_place: dict[tuple[bool, int, int], _Sum], *, named: bool) -> tuple[PlaceFigure, ...]:
    return tuple(
        PlaceFigure(Place(string, fret), sums.answers, sums.right, median(sums.bins))
        for (was_named, string, fret), sums in sorted(by_place.items(), key=lambda pair: pair[0])
        if was_named == named and string != NO_PLACE.string
    )


def _minutes(connection: sa.Connection, player_id: int, since: dt.date | None) -> dict[dt.date, float]:
    query = sa.select(runs.c.day, sa.func.sum(runs.c.played_s)).where(*_own(player_id, since))
    return {day: played_s / 60 for day, played_s in connection.execute(query.group_by(runs.c.day))}


def _voided(
    connection: sa.Connection, player_id: int, since: dt.date | None
) -> tuple[tuple[Glitch, int], ...]:
    notes = sa.func.sum(voided_notes.c.notes)
    query = sa.select(voided_notes.c.glitch, notes).join(runs, runs.c.id == voided_notes.c.run_id)
    query = query.where(*_own(player_id, since)).group_by(voided_notes.c.glitch)
    return _most_first((glitch, int(number)) for glitch, number in connection.execute(query))


def _most_first(counts: Iterable[tuple[str, int]]) -> tuple[tuple[Glitch, int], ...]:
    found = [(Glitch(glitch), number) for glitch, number in counts]
    return tuple(sorted(found, key=lambda pair: (-pair[1], pair[0])))


def _sum(
    connection: sa.Connection, column: sa.ColumnElement[Any], player_id: int, since: dt.date | None
) -> int:
    return int(connection.scalar(sa.select(sa.func.sum(column)).where(*_own(player_id, since))) or 0)


def _own(player_id: int, since: dt.date | None) -> list[sa.ColumnElement[bool]]:
    """The runs that a report is about."""
    own: list[sa.ColumnElement[bool]] = [runs.c.player_id == player_id]
    return own if since is None else [*own, runs.c.day >= since]


def _last_runs(
    connection: sa.Connection, player_id: int, since: dt.date | None, last_runs: int
) -> tuple[RunFigure, ...]:
    query = sa.select(runs).where(*_own(player_id, since), runs.c.answers > 0)
    rows = connection.execute(query.order_by(runs.c.id.desc()).limit(last_runs)).mappings().all()
    voided: dict[int, list[tuple[str, int]]] = {row["id"]: [] for row in rows}
    of_these = sa.select(voided_notes).where(voided_notes.c.run_id.in_(list(voided)))
    for run_id, glitch, number in connection.execute(of_these):
        voided[run_id].append((glitch, number))
    return tuple(
        RunFigure(
            run_id=row["id"],
            started=local_time(row["started_utc"], row["zone"]),
            drill=row["drill"],
            title=row["title"],
            answers=row["answers"],
            right=row["right_answers"],
            median_response_s=row["median_response_s"],
            gate_met=row["gate_met"],
            ended_early=bool(row["ended_early"]),
            notes=row["notes"],
            voided=_most_first(voided[row["id"]]),
            tempo_bpm=row["tempo_bpm"],
            median_recall_s=row["median_recall_s"],
            recall_caveats=caveats_of_text(row["recall_caveats"]),
        )
        for row in rows
    )
