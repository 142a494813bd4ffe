"""Summaries for each player, day and place: kept with every answer, and computed again from all of them."""

import datetime as dt
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from midifret.book.histogram import bin_of, changed, packed
from midifret.book.rows import caveats_of_text, caveats_text
from midifret.book.tables import VERDICT_COLUMNS, answers, runs, summaries
from midifret.terms import Judged, Place, Verdict
from midifret.terms.calibration import Caveat


@dataclass(frozen=True, slots=True)
class Counted:
    """What a summary counts of one answer. response_s counts where the answer is right.

    named: the place was shown and its name asked.
    """

    place: Place
    named: bool
    verdict: Verdict
    response_s: float | None


_NO_ANSWERS: dict[str, int] = dict.fromkeys(VERDICT_COLUMNS.values(), 0)


def counted_in(connection: sa.Connection, run_id: int, first: int, last: int | None) -> list[Counted]:
    """Return what is counted of a run's answers from number `first` to `last`, or to the end."""
    wanted = [answers.c.run_id == run_id, answers.c.n >= first]
    if last is not None:
        wanted.append(answers.c.n <= last)
    columns = (
        answers.c.counted_string,
        answers.c.counted_fret,
        answers.c.judged,
        answers.c.verdict,
        answers.c.response_s,
    )
    return [
        Counted(Place(string, fret), judged == Judged.NAME, Verdict(verdict), response_s)
        for string, fret, judged, verdict, response_s in connection.execute(
            sa.select(*columns).where(*wanted)
        )
    ]


def count(connection: sa.Connection, player_id: int, day: dt.date, counted: Counted, *, by: int) -> None:
    """Count an answer in its summary, or take it out again with `by` = -1; an empty summary goes."""
    key = sa.and_(
        summaries.c.player_id == player_id,
        summaries.c.day == day,
        summaries.c.string == counted.place.string,
        summaries.c.fret == counted.place.fret,
        summaries.c.named == counted.named,
    )
    row = connection.execute(sa.select(summaries).where(key)).mappings().one_or_none()
    column = VERDICT_COLUMNS[counted.verdict]
    counts = dict(_NO_ANSWERS) if row is None else {name: row[name] for name in _NO_ANSWERS}
    bins: bytes = b"" if row is None else row["right_response_bins"]
    counts[column] += by
    if counted.verdict is Verdict.RIGHT and counted.response_s is not None:
        bins = changed(bins, counted.response_s, by)
    if not any(counts.values()):
        connection.execute(sa.delete(summaries).where(key))
    elif row is None:
        place = {"string": counted.place.string, "fret": counted.place.fret, "named": counted.named}
        values = {"player_id": player_id, "day": day, **place, **counts, "right_response_bins": bins}
        connection.execute(sa.insert(summaries).values(values))
    else:
        values = {column: counts[column], "right_response_bins": bins}
        connection.execute(sa.update(summaries).where(key).values(values))


def refresh_run(connection: sa.Connection, run_id: int) -> None:
    """Bring a run's own figures up to its answers; its time played only while it lasts."""
    columns = (
        answers.c.verdict,
        answers.c.response_s,
        answers.c.cue_s,
        answers.c.answer_s,
        answers.c.played_place_assumed,
        answers.c.cue,
        answers.c.judged,
        answers.c.due_s,
        answers.c.recall_s,
        answers.c.recall_caveats,
    )
    rows = connection.execute(sa.select(*columns).where(answers.c.run_id == run_id)).all()
    right = [row for row in rows if row.verdict == Verdict.RIGHT.value]
    times_s = [row.response_s for row in right if row.response_s is not None]
    values: dict[str, object] = {
        "answers": len(rows),
        "right_answers": len(right),
        "median_response_s": statistics.median(times_s) if times_s else None,
        "answers_by_pitch": sum(bool(row.played_place_assumed) for row in rows),
        **_recall_values(rows),
    }
    connection.execute(sa.update(runs).where(runs.c.id == run_id).values(values))
    moments_s = [time_s for row in rows for time_s in (row.cue_s, row.answer_s) if time_s is not None]
    played_s = max(moments_s) - min(moments_s) if moments_s else 0.0
    lasting = sa.and_(runs.c.id == run_id, runs.c.ended_early.is_(None))
    connection.execute(sa.update(runs).where(lasting).values(played_s=played_s))


def _recall_values(rows: Sequence[Any]) -> dict[str, object]:
    """What a run knows of its recall times: of right answers to a cue, raw ones only where all are."""
    cued = [row for row in rows if row.cue and row.judged != Judged.NAME.value and row.due_s is None]
    raw_s: list[float] = []
    times_s: list[float] = []
    caveats: set[Caveat] = set()
    for row in cued:
        if row.verdict != Verdict.RIGHT.value:
            continue
        known = caveats_of_text(row.recall_caveats)
        if row.recall_s is not None and Caveat.RAW not in known:
            times_s.append(row.recall_s)
            caveats |= known
        elif row.recall_s is not None or row.response_s is not None:
            raw_s.append(row.response_s if row.recall_s is None else row.recall_s)
    if not times_s:
        times_s, caveats = raw_s, {Caveat.RAW}
    return {
        "cued_answers": len(cued),
        "median_recall_s": statistics.median(times_s) if times_s else None,
        "recall_answers": len(times_s),
        "recall_caveats": caveats_text(caveats) if times_s else None,
    }


@dataclass(slots=True)
class _Sum:
    counts: dict[str, int] = field(default_factory=lambda: dict(_NO_ANSWERS))
    bins: dict[int, int] = field(default_factory=dict)


def rebuild(connection: sa.Connection) -> int:
    """Compute every summary and every run's figures again from the answers; return their number.

    Works day by day, so that its memory does not grow with the book.
    """
    connection.execute(sa.delete(summaries))
    days = connection.execute(
        sa.select(runs.c.player_id, runs.c.day).distinct().order_by(runs.c.player_id, runs.c.day)
    ).all()
    return sum(_rebuild_day(connection, player_id, day) for player_id, day in days)


def _rebuild_day(connection: sa.Connection, player_id: int, day: dt.date) -> int:
    sums: dict[tuple[Place, bool], _Sum] = {}
    read = 0
    ids = connection.scalars(
        sa.select(runs.c.id).where(runs.c.player_id == player_id, runs.c.day == day)
    ).all()
    for run_id in ids:
        for counted in counted_in(connection, run_id, 0, None):
            read += 1
            place_sum = sums.setdefault((counted.place, counted.named), _Sum())
            place_sum.counts[VERDICT_COLUMNS[counted.verdict]] += 1
            if counted.verdict is Verdict.RIGHT and counted.response_s is not None:
                number = bin_of(counted.response_s)
                place_sum.bins[number] = place_sum.bins.get(number, 0) + 1
        refresh_run(connection, run_id)
    if sums:
        rows = [
            {
                "player_id": player_id,
                "day": day,
                "string": place.string,
                "fret": place.fret,
                "named": named,
                **place_sum.counts,
                "right_response_bins": packed(place_sum.bins),
            }
            for (place, named), place_sum in sums.items()
        ]
        connection.execute(sa.insert(summaries), rows)
    return read
