"""What the book keeps that a report shows by example: mistakes of the player's own, and readings."""

import datetime as dt

import sqlalchemy as sa

from midifret.book.database import Database
from midifret.book.names import id_of_player
from midifret.book.rows import answer_of
from midifret.book.tables import answers, runs
from midifret.terms import Answer, Verdict
from midifret.terms.figures import Mistake, ReadingPlayed

# So many of the newest runs with a mistake are looked through, a few at a time: an old one tells little of
# now [ours].
MOST_RUNS, _AT_ONCE = 200, 20


class Examples:
    """The part of the book that gives examples. Each call raises BadInput for an unknown player."""

    _database: Database

    def newest_mistakes(self, player: str, since: dt.date | None = None) -> tuple[Mistake, ...]:
        """Return the newest answer of each kind that is not right, among the newest runs with any."""
        with self._database.read() as connection:
            own = [
                runs.c.player_id == id_of_player(connection, player),
                runs.c.right_answers < runs.c.answers,
            ]
            if since is not None:
                own.append(runs.c.day >= since)
            query = sa.select(runs.c.id, runs.c.day).where(*own).order_by(runs.c.id.desc()).limit(MOST_RUNS)
            days: dict[int, dt.date] = {row.id: row.day for row in connection.execute(query)}
            found: dict[Verdict, Mistake] = {}
            wanted = set(Verdict) - {Verdict.RIGHT}
            ids = list(days)
            for first in range(0, len(ids), _AT_ONCE):
                missing = [verdict.value for verdict in wanted - found.keys()]
                if not missing:
                    break
                rows = connection.execute(
                    sa.select(answers)
                    .where(answers.c.run_id.in_(ids[first : first + _AT_ONCE]))
                    .where(answers.c.verdict.in_(missing))
                    .order_by(answers.c.run_id.desc(), answers.c.n.desc())
                ).mappings()
                for row in rows:
                    answer: Answer = answer_of(row)
                    found.setdefault(answer.verdict, Mistake(days[row["run_id"]], answer))
            return tuple(found[verdict] for verdict in Verdict if verdict in found)

    def newest_readings(
        self, player: str, stem: str, since: dt.date | None = None, *, most: int = 3
    ) -> tuple[ReadingPlayed, ...]:
        """Return the newest runs whose drill's name begins with `stem`, the newest first."""
        with self._database.read() as connection:
            own = [
                runs.c.player_id == id_of_player(connection, player),
                runs.c.drill.startswith(stem, autoescape=True),
                runs.c.answers > 0,
            ]
            if since is not None:
                own.append(runs.c.day >= since)
            query = sa.select(
                runs.c.title, runs.c.day, runs.c.answers, runs.c.right_answers, runs.c.take_file
            )
            query = query.where(*own).order_by(runs.c.id.desc()).limit(most)
            return tuple(ReadingPlayed(*row) for row in connection.execute(query))
