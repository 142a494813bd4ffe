"""A neck with a number at each place, as an inline SVG and as the table that says the same."""

from collections.abc import Mapping
from html import escape

from midifret.terms import Place

_CELL, _HEIGHT, _EDGE = 44, 32, 30
# Four steps of one hue, from light to dark, told apart by lightness alone; the number says it exactly. [ours]
LEVELS = 4


def neck_picture(
    cells: Mapping[Place, tuple[str, int]], *, title: str, heading_id: str, left_handed: bool = False
) -> str:
    """Return the picture and its table. cells: of each place its number in words and a level from 0 to 3."""
    strings = max(6, *(place.string for place in cells)) if cells else 6
    first, last = min(place.fret for place in cells), max(place.fret for place in cells)
    frets = list(range(first, last + 1))
    drawn = frets[::-1] if left_handed else frets
    width, height = _EDGE * 2 + _CELL * len(frets), _EDGE + _HEIGHT * strings + 4
    parts = [
        f'<svg viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" '
        f'aria-label="{escape(title)}; the table below has the same numbers">'
    ]
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
    head = "".join(f'<th scope="col">{fret}</th>' for fret in frets)
    rows = "".join(
        f'<tr><th scope="row">{string}</th>'
        + "".join(f"<td>{escape(cells.get(Place(string, fret), ('–', 0))[0])}</td>" for fret in frets)
        + "</tr>"
        for string in range(1, strings + 1)
    )
    return (
        f'<div class="wide" tabindex="0" role="region" aria-labelledby="{heading_id}">{"".join(parts)}</div>'
        f"<details><summary>{escape(title)}, as a table</summary>"
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(title)}, table"><table>'
        f'<tr><th scope="col">String \\ fret</th>{head}</tr>{rows}</table></div></details>'
    )
