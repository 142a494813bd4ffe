"""What the book keeps of the music that players were given to read."""

import sqlalchemy as sa

from midifret.book.database import Database
from midifret.book.names import id_of_player
from midifret.book.tables import TEXT_LENGTH, given_music
from midifret.terms import BadInput
from midifret.terms.given import GivenMusic, MusicKind

FINGERPRINT_LENGTH = 32
_FIELDS = ("kind", "fingerprint", "title", "position", "level", "seed", "given_utc")


class Given:
    """The part of the book about music that was given. Each call raises BadInput for an unknown player."""

    _database: Database

    def put_given(self, player: str, music: GivenMusic, *, if_unseen: bool = False) -> bool:
        """Keep that a player was given this music. Raises BadInput for a fingerprint that is none.

        if_unseen: only if the player was not given this tune before, by another program at the same moment
            for example; looked at and kept in one writing transaction.
        Returns whether it was kept.
        """
        if len(music.fingerprint) != FINGERPRINT_LENGTH:
            raise BadInput(
                f"{music.fingerprint[:40]!r} is no fingerprint of a tune",
                allowed=f"{FINGERPRINT_LENGTH} hexadecimal digits",
            )
        values = {name: getattr(music, name) for name in _FIELDS}
        values |= {"kind": music.kind.value, "title": music.title[:TEXT_LENGTH]}
        with self._database.write() as connection:
            player_id = id_of_player(connection, player)
            if if_unseen and music.fingerprint in _fingerprints(connection, player_id):
                return False
            connection.execute(sa.insert(given_music).values(player_id=player_id, **values))
        return True

    def given(self, player: str) -> tuple[GivenMusic, ...]:
        """Return all music that a player was given, the oldest first."""
        with self._database.read() as connection:
            return given_of(connection, id_of_player(connection, player))

    def given_fingerprints(self, player: str) -> frozenset[str]:
        """Return the fingerprints of all music that a player was given."""
        with self._database.read() as connection:
            return _fingerprints(connection, id_of_player(connection, player))

    def melodies_given(self, player: str) -> int:
        """Return how many melodies a player was given."""
        with self._database.read() as connection:
            own = given_music.c.player_id == id_of_player(connection, player)
            query = sa.select(sa.func.count(given_music.c.id))
            melodies = given_music.c.kind == MusicKind.MELODY.value
            return connection.scalar(query.where(own, melodies)) or 0


def _fingerprints(connection: sa.Connection, player_id: int) -> frozenset[str]:
    query = sa.select(given_music.c.fingerprint).distinct().where(given_music.c.player_id == player_id)
    return frozenset(connection.scalars(query))


def given_of(connection: sa.Connection, player_id: int) -> tuple[GivenMusic, ...]:
    """Return all music that a player was given; see Given.given."""
    query = sa.select(*(given_music.c[name] for name in _FIELDS))
    query = query.where(given_music.c.player_id == player_id).order_by(given_music.c.id)
    return tuple(
        GivenMusic(**{**row, "kind": MusicKind(row["kind"])}) for row in connection.execute(query).mappings()
    )
