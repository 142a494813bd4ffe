"""Music that a player was given to read: what the book keeps so that nothing unseen comes twice."""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum


class MusicKind(StrEnum):
    """Where the music comes from."""

    MELODY = "melody"  # made from a seed
    SCORE = "score"  # a file of the player's own


@dataclass(frozen=True, slots=True)
class GivenMusic:
    """One piece of music as it was given to a player.

    fingerprint: of the tune, 32 hexadecimal digits. position: None for none. level: of melodies, None where
    nobody measured. seed: of a melody, None for a score. given_utc: aware, in UTC.
    """

    kind: MusicKind
    fingerprint: str
    title: str
    position: int | None
    level: int | None
    seed: int | None
    given_utc: dt.datetime
