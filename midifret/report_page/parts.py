"""What a report is put together from, whatever it is shown on: sections with texts, pictures and tables."""

from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph, as plain text."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Steps:
    """Numbered sentences."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """An SVG by class names that the style knows. label: what it shows, for who cannot see it."""

    svg: str
    label: str


@dataclass(frozen=True, slots=True)
class Numbers:
    """A table; the first cell of each row heads it.

    folded: it is a click away on the screen. repeats: a picture beside it says the same, so that paper does
    without.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    label: str
    folded: bool = False
    repeats: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """Engraved music, one SVG a line. label: what it is, for who cannot see it.

    legend: SVG and words of each mark in it.
    """

    lines: tuple[str, ...]
    label: str
    legend: tuple[tuple[str, str], ...] = ()


class Group(StrEnum):
    """How a section lies among others."""

    PLAIN = "plain"
    ROWS = "rows"  # its sections lie beside each other
    TEACHER = "teacher"  # it begins a page


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it."""

    title: str
    parts: tuple["Part", ...]
    group: Group = Group.PLAIN


Part = Text | Steps | Picture | Numbers | Sheet | Section
