"""The one module that knows the printing library: a document as PDF, PNG or SVG."""

import importlib
from collections.abc import Iterator
from enum import StrEnum
from typing import Any

from midifret.pages.document import (
    MARGIN_MM,
    Beside,
    Block,
    Cell,
    Document,
    Drawing,
    Figures,
    Legend,
    Paper,
    Table,
    Words,
)
from midifret.pages.engraver import FONT, INSTALL
from midifret.terms import Unavailable

PNG_DOTS_PER_INCH = 200.0  # staff lines of 0.18 mm are more than a dot wide
_PAPERS = {Paper.A4: "a4", Paper.LETTER: "us-letter"}
_LONG_CELL = 24  # letters; a longer text is wrapped [ours]
# Letters of the font that travels with the library; a title with others takes the machine's fonts as well.
_LAST_OWN_LETTER = 0x52F


class Format(StrEnum):
    """The kinds of file that are written, by their endings."""

    PDF = "pdf"
    PNG = "png"
    SVG = "svg"


def load_library() -> Any:
    """Import the printing library. Raises Unavailable where it is missing."""
    try:
        return importlib.import_module("typst")
    except ImportError:
        raise Unavailable("for printed pages the library typst is missing", allowed=INSTALL) from None


def printed(document: Document, format_: Format) -> tuple[bytes, ...]:
    """Print a document: one PDF, or one PNG (200 dots an inch) or SVG for each page.

    Fonts are embedded. Raises Unavailable without the library.
    """
    library = load_library()
    source = _source(document)
    words = "".join((document.title, document.by, document.about, document.foot, *_words(document.blocks)))
    made = library.compile(
        source.encode(),
        format=format_.value,
        ppi=PNG_DOTS_PER_INCH if format_ is Format.PNG else None,
        ignore_system_fonts=all(ord(letter) <= _LAST_OWN_LETTER for letter in words),
    )
    return tuple(made) if isinstance(made, list) else (made,)


def _words(blocks: tuple[Block, ...]) -> Iterator[str]:
    """The words in paragraphs and tables of figures."""
    for block in blocks:
        match block:
            case Words(text):
                yield text
            case Figures(heads, rows):
                yield from heads
                yield from (cell for row in rows for cell in row)
            case Beside(_, cells):
                for cell in cells:
                    yield from _words(cell)


def _text(text: str) -> str:
    """A text as the printing language quotes it; nothing in it is taken as markup."""
    plain = "".join(letter if letter >= " " else " " for letter in text)
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _svg(svg: str, width: str) -> str:
    quoted = svg.replace("\\", "\\\\").replace('"', '\\"')
    return f'image(bytes("{quoted}"), format: "svg", width: {width})'


def _source(document: Document) -> str:
    about = "" if not document.about else _text(document.about)
    lines = [
        f"#set document(title: {_text(document.title or 'midifret')})",
        f'#set text(font: "{FONT}", size: 11pt, lang: "en")',
        f'#set page(paper: "{_PAPERS[document.paper]}", margin: (x: {MARGIN_MM}mm, top: 16mm, bottom: 18mm),',
        "  footer: context { set text(size: 9pt)",
        f"    grid(columns: (1fr, auto, 1fr), align: (left, center, right), {_text(document.foot)},",
        '      str(counter(page).get().first()) + " / " + str(counter(page).final().first()), [])',
        "  },",
        "  header: context { if counter(page).get().first() > 1 { set text(size: 9pt)",
        f"    align(center, {_text(document.title)}) }} }})",
        f"#align(center, text(size: 17pt, {_text(document.title)}))",
        f"#grid(columns: (1fr, auto), align: (left, right), {about or '[]'}, {_text(document.by)})",
        "#v(3mm)",
    ]
    for index, block in enumerate(document.blocks):
        if index in document.breaks:
            lines.append("#pagebreak(weak: true)")
        lines += _block(block)
    return "\n".join(lines) + "\n"


def _block(block: Block) -> list[str]:
    match block:
        case Drawing(svg, width_mm, gap_mm):
            width = "100%" if width_mm is None else f"{width_mm}mm"
            return [f"#block(breakable: false, above: {gap_mm}mm, below: {gap_mm}mm, {_svg(svg, width)})"]
        case Words(text, heading, small, number, kept):
            if heading:
                above, size = ("4mm", "11pt") if small else ("6mm", "13pt")
                bold = f'text(size: {size}, weight: "bold", {_text(text)})'
                return [f"#block(sticky: true, above: {above}, below: 3mm, {bold})"]
            if number is not None:
                return [f"#grid(columns: (8mm, 1fr), {_text(f'{number}.')}, {_text(text)})"]
            return [f"#block(sticky: true, {_text(text)})" if kept else f"#par({_text(text)})"]
        case Legend(items):
            shown = ", ".join(
                f"box({_svg(svg, '4mm')}, baseline: 20%) + h(1mm) + {_text(t)}" for svg, t in items
            )
            return [f"#block(above: 4mm, below: 3mm, {{ set text(size: 9pt); ({shown},).join(h(5mm)) }})"]
        case Table(columns, cells):
            return _table(columns, cells)
        case Figures():
            return _figures(block)
        case Beside(columns, beside):
            widths = ", ".join(["1fr"] * columns)
            inside = [f"  [{' '.join(line for one in cell for line in _block(one))}]," for cell in beside]
            return [f"#grid(columns: ({widths},), column-gutter: 8mm, row-gutter: 4mm,", *inside, ")"]


def _table(columns: int, cells: tuple[Cell, ...]) -> list[str]:
    """Cells along the rows, so that their order holds over the pages; no row is parted."""
    ordered = [_cell(cell) for cell in cells]
    widths = ", ".join(["1fr"] * columns)
    return [
        f"#grid(columns: ({widths},), column-gutter: 6mm, row-gutter: 3.2mm, align: horizon,",
        *(f"  {cell}," for cell in ordered),
        ")",
    ]


def _figures(figures: Figures) -> list[str]:
    """A table whose heads come again on each page; no row is parted."""
    heads = ", ".join(f"strong({_text(head)})" for head in figures.heads)
    # Long texts share the width, numbers take what they need.
    longest = [
        max((len(row[column]) for row in figures.rows), default=0) for column in range(len(figures.heads))
    ]
    widths = ", ".join("1fr" if length > _LONG_CELL else "auto" for length in longest)
    rows = [f"  {', '.join(map(_text, row))}," for row in figures.rows]
    return [
        "#{ set text(size: 9.5pt)",
        f"table(columns: ({widths},), stroke: (x, y) => (bottom: 0.4pt), inset: (x: 2mm, y: 1.4mm),",
        f"  table.header({heads}),",
        *rows,
        ") }",
    ]


def _cell(cell: Cell) -> str:
    svg = _svg(cell.svg, f"{cell.svg_mm}mm") if cell.svg else "[]"
    line = "box(width: 1fr, baseline: 20%, line(length: 100%, stroke: 0.5pt))" if cell.line else "[]"
    widths = "(6mm, auto, auto, 1fr)"
    number = f"align(right, text(size: 9pt, {_text(cell.number)}))"
    parts = f"{number}, {_text(cell.text)}, {svg}, {line}"
    return f"grid(columns: {widths}, column-gutter: 2mm, align: horizon, {parts})"
