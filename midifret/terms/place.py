"""A place on the neck: one string at one fret."""

import re
from dataclasses import dataclass

_PLACE = re.compile(r"(\d{1,2}):(\d{1,2})\Z")


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """One place on the neck.

    string: 1 is the highest in pitch on a standard guitar.
    fret: 0 is the open string, counted from the capo.
    """

    string: int
    fret: int

    def __str__(self) -> str:
        """Return the place as a teacher writes it: string, colon, fret."""
        return f"{self.string}:{self.fret}"

    @classmethod
    def parse(cls, text: str) -> "Place":
        """Read `string:fret`, for example `6:5`.

        Raises ValueError, with what is allowed, for any other text. Whether a guitar has
        the place is asked of its neck, not here.
        """
        match = _PLACE.match(text.strip())
        if match is None:
            raise ValueError(f"{text!r} is not a place; write string:fret, for example 6:5")
        return cls(int(match[1]), int(match[2]))
