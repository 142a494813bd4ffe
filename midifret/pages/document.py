"""A printed document as a value: title, blocks one under another, paper."""

from dataclasses import dataclass
from enum import StrEnum


class Paper(StrEnum):
    """The papers that are printed on, by the names that people write."""

    A4 = "a4"
    LETTER = "letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height: ISO 216, ANSI Y14.1 (8.5 by 11 inches)."""
        return (210.0, 297.0) if self is Paper.A4 else (215.9, 279.4)

    @property
    def text_mm(self) -> float:
        """Width between the margins."""
        return self.size_mm[0] - 2 * MARGIN_MM


MARGIN_MM = 18.0  # what home printers leave white is less [common practice, no source]


@dataclass(frozen=True, slots=True)
class Drawing:
    """An SVG. width_mm: None for the whole width between the margins. gap_mm: free over and under it."""

    svg: str
    width_mm: float | None = None
    gap_mm: float = 6.0


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph. heading: it stands over what follows; small: over a part of that. number: of a step.

    kept: on one page with what follows.
    """

    text: str
    heading: bool = False
    small: bool = False
    number: int | None = None
    kept: bool = False


@dataclass(frozen=True, slots=True)
class Cell:
    """One question or answer. number: before it. line: to write on. svg: drawn after the text."""

    number: str
    text: str
    line: bool = False
    svg: str = ""
    svg_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Table:
    """Cells in columns, along the rows."""

    columns: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Legend:
    """Small drawings with words beside each other."""

    items: tuple[tuple[str, str], ...]  # SVG, words


@dataclass(frozen=True, slots=True)
class Figures:
    """A table of figures; the first cell of each row heads it."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Beside:
    """Blocks next to one another, so many in a row of them."""

    columns: int
    cells: tuple[tuple["Block", ...], ...]


Block = Drawing | Words | Table | Legend | Figures | Beside


@dataclass(frozen=True, slots=True)
class Document:
    """What is printed. by: at the right under the title. about: at the left. foot: at the foot of each page.

    breaks: numbers of the blocks, from 0, that begin a new page.
    """

    title: str
    blocks: tuple[Block, ...]
    by: str = ""
    about: str = ""
    foot: str = ""
    paper: Paper = Paper.A4
    breaks: tuple[int, ...] = ()
