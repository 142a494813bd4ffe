"""The kinds of value in a drill file: places, ranges, positions, what is shown and by what is judged."""

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field

from midifret.files import choice, refuse
from midifret.files.fields import schema_of, shown
from midifret.terms import CueKind, Judged, Place

_RANGE = re.compile(r"\s*(\d{1,2})\s*(?:-|–|to)\s*(\d{1,2})\s*\Z")
_ROMAN = {"I": 1, "V": 5, "X": 10, "L": 50}
_ROMAN_NUMERAL = re.compile(r"(X{0,3})(IX|IV|V?I{0,3})\Z")
NOTHING = "nothing"


class Order(StrEnum):
    """In which order the questions of a drill come."""

    AS_WRITTEN = "as written"
    SHUFFLED = "shuffled"


class Side(StrEnum):
    """On which side of a row its neighbour lies."""

    BELOW = "below"
    ABOVE = "above"


class Broken(StrEnum):
    """The interval of a broken walk."""

    THIRDS = "thirds"
    FOURTHS = "fourths"
    FIFTHS = "fifths"
    SIXTHS = "sixths"
    SEVENTHS = "sevenths"
    OCTAVES = "octaves"

    @property
    def steps(self) -> int:
        """The interval as musicians count: 3 for thirds."""
        return 3 + list(Broken).index(self)


@dataclass(frozen=True, slots=True)
class JudgeBy:
    """By what a drill judges. position: of the hand, where that is what counts."""

    judged: Judged
    position: int | None = None


def position_number(text: str) -> int:
    """Read a position: a number or a Roman numeral, 0 for the open position. Raises ValueError."""
    text = text.strip()
    if re.fullmatch(r"\d{1,2}", text):
        return int(text)
    match = _ROMAN_NUMERAL.match(text.upper())
    if not text or match is None:
        raise ValueError(f"{text!r} is not a position; write a number or a Roman numeral, for example 5 or V")
    values = [_ROMAN[letter] for letter in text.upper()]
    following = [*values[1:], 0]
    return sum(-v if v < n else v for v, n in zip(values, following, strict=True))


def position_words(position: int) -> str:
    """Name a position as a score does: open position, position V."""
    if position == 0:
        return "open position"
    tens, ones = divmod(position, 10)
    units = ("", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX")[ones]
    return f"position {'X' * tens}{units}"


def _range(value: Any) -> tuple[int, int]:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 99:
        return (value, value)
    if isinstance(value, tuple):
        return value[0], value[1]
    match = _RANGE.match(value) if isinstance(value, str) else None
    if match is None:
        raise refuse(f"{shown(value)} is not a range", "one number or two with a hyphen, for example 0-3")
    first, last = int(match[1]), int(match[2])
    return (min(first, last), max(first, last))


def _place(text: str) -> str:
    Place.parse(text)
    return text


def _show(value: Any) -> Any:
    words = [value] if isinstance(value, str) else value
    if words == [NOTHING]:
        return ()
    unknown = [word for word in words if word not in list(CueKind)] if isinstance(words, list) else [value]
    if unknown:
        raise refuse(f"{shown(unknown[0])} is not known here", f"{', '.join(CueKind)}, {NOTHING}")
    return tuple(dict.fromkeys(CueKind(word) for word in words))


def _judge(value: Any) -> Any:
    if isinstance(value, JudgeBy):
        return value
    words = value.split() if isinstance(value, str) else []
    if len(words) == 1 and words[0] in (Judged.PLACE, Judged.PITCH, Judged.NAME):
        return JudgeBy(Judged(words[0]))
    if len(words) == 2 and words[0] == Judged.POSITION:
        try:
            return JudgeBy(Judged.POSITION, position_number(words[1]))
        except ValueError:
            pass
    raise refuse(
        f"{shown(value)} is not known here", "place, pitch, name, or position and its number: position 5"
    )


def _as_list(value: Any) -> Any:
    return value if isinstance(value, list) else [value]


def one_or_more(item: Any, most: int) -> BeforeValidator:
    """Annotate a list of up to so many that may also be written as its only member."""
    several = Annotated[list[item], Field(min_length=1, max_length=most)]
    return BeforeValidator(_as_list, json_schema_input_type=item | several)


_RANGE_SCHEMA = int | Annotated[str, Field(pattern=r"^\s*\d{1,2}\s*(-|–|to)\s*\d{1,2}\s*$")]
_CueWord = Annotated[CueKind, choice(CueKind), schema_of(CueKind)]
_ShowWord = Annotated[str, Field(pattern=f"^({'|'.join(CueKind)}|{NOTHING})$")]
_JudgeWord = Annotated[str, Field(pattern=r"^(place|pitch|name|position (\d{1,2}|[ivxIVX]+))$")]

PlaceText = Annotated[str, AfterValidator(_place), Field(description="a place: string:fret, for example 6:5")]
Range = Annotated[
    tuple[int, int], BeforeValidator(_range, json_schema_input_type=_RANGE_SCHEMA), Field(strict=False)
]
Show = Annotated[
    tuple[_CueWord, ...],
    BeforeValidator(_show, json_schema_input_type=_ShowWord | list[_CueWord]),
    Field(strict=False),
]
Judge = Annotated[JudgeBy, BeforeValidator(_judge, json_schema_input_type=_JudgeWord)]
