"""A neck with a number at each place, as an inline SVG and as the table that says the same."""

from collections.abc import Mapping
from html import escape

from midifret.report_page.parts import Numbers
from midifret.terms import Place

_CELL, _HEIGHT, _EDGE = 44, 32, 30
# Four steps of one hue, from light to dark, told apart by lightness alone; the number says it exactly. [ours]
LEVELS = 4


def neck_picture(cells: Mapping[Place, tuple[str, int]], *, left_handed: bool = False) -> str:
    """Return the picture. cells: of each place its number in words and a level from 0 to 3."""
    strings, frets = _extent(cells)
    drawn = frets[::-1] if left_handed else frets
    width, height = _EDGE * 2 + _CELL * len(frets), _EDGE + _HEIGHT * strings + 4
    parts = [f'<svg viewBox="0 0 {width} {height}" width="{width}" height="{height}">']
    for column, fret in enumerate(drawn):
        parts.append(f'<text class="edge" x="{_EDGE + _CELL * column + _CELL // 2}" y="20">{fret}</text>')
    for string in range(1, strings + 1):
        middle = _EDGE + _HEIGHT * (string - 1) + _HEIGHT // 2
        side = width - _EDGE // 2 if left_handed else _EDGE // 2
        parts.append(f'<text class="edge" x="{side}" y="{middle + 5}">{string}</text>')
        parts.append(f'<path class="wire" d="M{_EDGE} {middle}H{width - _EDGE}"/>')
        for column, fret in enumerate(drawn):
            cell = cells.get(Place(string, fret))
            if cell is None:
                continue
            left = _EDGE + _CELL * column
            parts.append(
                f'<rect class="level{cell[1]}" x="{left + 2}" y="{middle - 13}" '
                f'width="40" height="26" rx="4"/>'
                f'<text class="on{cell[1]}" x="{left + 22}" y="{middle + 5}">{escape(cell[0])}</text>'
            )
    parts.append("</svg>")
    return "".join(parts)


def neck_table(cells: Mapping[Place, tuple[str, int]], title: str) -> Numbers:
    """Return the same numbers as a table."""
    strings, frets = _extent(cells)
    rows = tuple(
        (str(string), *(cells.get(Place(string, fret), ("–", 0))[0] for fret in frets))
        for string in range(1, strings + 1)
    )
    heads = ("String \\ fret", *map(str, frets))
    return Numbers(heads, rows, f"{title}, as a table", folded=True, repeats=True)


def _extent(cells: Mapping[Place, tuple[str, int]]) -> tuple[int, list[int]]:
    strings = max(6, *(place.string for place in cells))
    first, last = min(place.fret for place in cells), max(place.fret for place in cells)
    return strings, list(range(first, last + 1))
