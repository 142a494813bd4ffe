"""Players by their names."""

import unicodedata

import sqlalchemy as sa

from midifret.book.tables import NAME_LENGTH, players
from midifret.terms import BadInput


def player_name(text: str) -> str:
    """Return a player's name without spaces around it, in composed form.

    Raises BadInput for an empty, too long or unprintable one.
    """
    name = unicodedata.normalize("NFC", text).strip()
    if not name or len(name) > NAME_LENGTH or not name.isprintable():
        raise BadInput(
            f"{text!r} cannot be a player's name", allowed=f"1 to {NAME_LENGTH} printable characters"
        )
    return name


def id_of_player(connection: sa.Connection, name: str) -> int:
    """Return the number of the player of that name. Raises BadInput, listing the known ones, without one."""
    found = connection.scalar(sa.select(players.c.id).where(players.c.name == player_name(name)))
    if found is None:
        raise unknown_player(connection, name)
    return int(found)


def unknown_player(connection: sa.Connection, name: str) -> BadInput:
    """Return the error for a name that no player has."""
    known = connection.scalars(sa.select(players.c.name).order_by(players.c.name)).all()
    allowed = "known: " + ", ".join(known) if known else "none are known yet"
    return BadInput(
        f"there is no player {name!r} in the practice book",
        allowed=f"{allowed}; add one with: midifret players --add NAME",
    )
