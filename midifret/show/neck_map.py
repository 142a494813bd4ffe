"""The neck map: at each place a figure, how often right and how fast, legible without colour."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from midifret.show.rows import Block, Row, Span, row
from midifret.terms import Place
from midifret.terms.figures import PlaceFigure

LEAST_STRINGS, LEAST_LAST_FRET = 6, 12
# From dark blue (sure, quick) to light orange (unsure, slow): lightness rises all the way, so that the order
# also holds in shades of grey and for every kind of colour blindness; numbers and shading say the same
# without any colour. Text and ground differ by 4.5 : 1 or more, as WCAG 2.1 asks (1.4.3).
COLOURS = (
    "#ffffff on #08306b",
    "#ffffff on #2f6ea8",
    "#000000 on #7fa3bf",
    "#000000 on #f2ae5c",
    "#000000 on #ffd79a",
)
_SHADES = (" ", " ", "░", "▒", "▓")
# Upper edges of the grades. Seconds: beyond 2 to 3 s a fact is worked out, not recalled (review by
# Crawford citing Ashcraft 1982, Logan 1988); the rest is our own choice.
_WRONG_SHARES = (0.05, 0.10, 0.25, 0.50)
_SECONDS = (1.0, 1.5, 2.0, 3.0)
NEVER_ASKED = "·"


@dataclass(frozen=True, slots=True)
class _Columns:
    """Which frets are shown, each in how many cells."""

    frets: tuple[int, ...]
    cell: int


def _grade(value: float, edges: tuple[float, ...]) -> int:
    return next((grade for grade, edge in enumerate(edges) if value <= edge), len(edges))


def _columns(figures: Mapping[Place, PlaceFigure], width: int) -> _Columns:
    """Frets 0 to 12 and on to the highest asked; where needed in narrow cells, then without unasked frets."""
    last = max([LEAST_LAST_FRET, *(place.fret for place in figures)])
    frets = tuple(range(last + 1))
    asked = {place.fret for place in figures}
    for cell in (5, 4):
        if 2 + cell * len(frets) <= width:
            return _Columns(frets, cell)
    some = tuple(fret for fret in frets if fret in asked or fret in (0, 12))
    if 2 + 4 * len(some) <= width:
        return _Columns(some, 4)
    room = max(1, (width - 2) // 3)
    return _Columns(frets if len(frets) <= room else some[:room], 3)


def share_map(figures: tuple[PlaceFigure, ...], width: int) -> Block:
    """The share answered right at the first try, in per cent, at each place."""

    def cell(figure: PlaceFigure, _cell: int) -> tuple[str, int]:
        grade = _grade(1 - figure.accuracy, _WRONG_SHARES)
        return str(int(100 * figure.accuracy)), grade  # rounded down: only all is called 100

    return _map(figures, width, cell)


def time_map(figures: tuple[PlaceFigure, ...], width: int) -> Block:
    """The median time of the right answers, in seconds, at each place; a dash where none was right."""

    def cell(figure: PlaceFigure, cell: int) -> tuple[str, int]:
        seconds = figure.median_response_s
        if seconds is None:
            return "-", len(_SHADES) - 1
        return seconds_in(seconds, cell - 1), _grade(seconds, _SECONDS)

    return _map(figures, width, cell)


def seconds_in(seconds: float, cells: int) -> str:
    """Seconds in so many cells: one decimal where it fits, else whole seconds, else > with the most."""
    text = f"{seconds:.1f}"
    if len(text) <= cells:
        return text
    if seconds < 0.95:
        return text.removeprefix("0")
    text = f"{seconds:.0f}"
    return text if len(text) <= cells else ">" + "9" * (cells - 1)


def _map(
    figures: tuple[PlaceFigure, ...], width: int, cell_text: Callable[[PlaceFigure, int], tuple[str, int]]
) -> Block:
    by_place = {figure.place: figure for figure in figures}
    columns = _columns(by_place, width)
    strings = max([LEAST_STRINGS, *(place.string for place in by_place)])
    header: list[Span | str] = ["  "]
    header += [Span(f"{fret:>{columns.cell}}", "strong") for fret in columns.frets]
    lines: list[Row] = [row(*header)]
    for string in range(1, strings + 1):
        spans: list[Span | str] = [Span(f"{string:<2}", "strong")]
        for fret in columns.frets:
            figure = by_place.get(Place(string, fret))
            if figure is None:
                spans.append(Span(f"{NEVER_ASKED:>{columns.cell}}", "quiet"))
                continue
            text, grade = cell_text(figure, columns.cell)
            if len(text) >= columns.cell:
                text = "ok" if text == "100" else text[: columns.cell - 1]
            body = f"{_SHADES[grade]}{text}".strip()
            # The gap before a number stays bare of colour, so that numbers never touch.
            gap = body[: len(body) - columns.cell + 1] if len(body) >= columns.cell else " "
            inner = body[len(gap.strip()) :].rjust(columns.cell - 1)
            spans += [gap, Span(inner, COLOURS[grade])]
        lines.append(row(*spans))
    return tuple(lines)


def legend_rows(*, narrow: bool) -> Block:
    """What the numbers and shades mean."""
    words = "Shaded: ░ a little, ▒ more, ▓ most in need of work.  · never asked."
    return (row(Span(words + ("  ok = 100." if narrow else ""), "quiet")),)


def is_narrow(figures: tuple[PlaceFigure, ...], width: int) -> bool:
    """Whether the map has so little room that 100 is written as ok."""
    return _columns({figure.place: figure for figure in figures}, width).cell == 3
