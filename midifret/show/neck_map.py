"""The neck map: at each place how often right, how fast or how well known, legible without colour."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple, TypeVar

from midifret.show.rows import Block, Row, Span, row
from midifret.terms import Place
from midifret.terms.figures import PlaceFigure
from midifret.timing import PlaceState, State

Figure = TypeVar("Figure")

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
RAW_MARK = "r"
_NARROW = 3  # cells; a number of two figures and a gap
# A letter and a grade for each state; the best is bare, the worst shaded most.
STATES = {
    State.AUTOMATIC: ("a", 0),
    State.KNOWN: ("k", 1),
    State.SLOW: ("s", 2),
    State.FOUND: ("f", 3),
    State.DARK: ("d", 4),
}


class _Cell(NamedTuple):
    """What stands at one place. grade: from 0, sure and quick. mark: stands where the shade would."""

    text: str
    grade: int
    mark: str = ""


@dataclass(frozen=True, slots=True)
class _Columns:
    """Which frets are shown, each in how many cells."""

    frets: tuple[int, ...]
    cell: int


def _grade(value: float, edges: tuple[float, ...]) -> int:
    return next((grade for grade, edge in enumerate(edges) if value <= edge), len(edges))


def _columns(figures: Iterable[Place], width: int) -> _Columns:
    """Frets 0 to 12 and on to the highest asked; where needed in narrow cells, then without unasked frets."""
    asked = {place.fret for place in figures}
    last = max([LEAST_LAST_FRET, *asked])
    frets = tuple(range(last + 1))
    for cell in (5, 4):
        if 2 + cell * len(frets) <= width:
            return _Columns(frets, cell)
    some = tuple(fret for fret in frets if fret in asked or fret in (0, 12))
    if 2 + 4 * len(some) <= width:
        return _Columns(some, 4)
    room = max(1, (width - 2) // 3)
    return _Columns(frets if len(frets) <= room else some[:room], _NARROW)


def share_map(figures: tuple[PlaceFigure, ...], width: int) -> Block:
    """The share answered right at the first try, in per cent, at each place."""

    def cell(figure: PlaceFigure, _cell: int) -> _Cell:
        grade = _grade(1 - figure.accuracy, _WRONG_SHARES)
        return _Cell(str(int(100 * figure.accuracy)), grade)  # rounded down: only all is called 100

    return _map({figure.place: figure for figure in figures}, width, cell)


def time_map(
    figures: tuple[PlaceFigure, ...], width: int, recall_s: Mapping[Place, float] | None = None
) -> Block:
    """The time of the right answers at each place; a dash where none was right, or none had a time.

    In seconds; in tenths of a second where the map is narrow, which the heading has to say.
    recall_s: the recall times that are known. Beside these the other times, which are raw, have RAW_MARK
    instead of a shade; where there are none all are raw, and the heading has to say so.
    """
    known_s = recall_s or {}

    def cell(figure: PlaceFigure, cell: int) -> _Cell:
        recalled_s = known_s.get(figure.place)
        seconds = figure.median_response_s if recalled_s is None else recalled_s
        if seconds is None:
            return _Cell("-", 0 if figure.right else len(_SHADES) - 1)
        text = tenths(seconds) if cell == _NARROW else seconds_in(seconds, cell - 1)
        mark = RAW_MARK if known_s and recalled_s is None else ""
        return _Cell(text, _grade(seconds, _SECONDS), mark)

    return _map({figure.place: figure for figure in figures}, width, cell)


def state_map(states: Iterable[PlaceState], width: int) -> Block:
    """How well each place is known, as letters, for one kind of cue."""
    by_place = {state.place: state for state in states}
    return _map(by_place, width, lambda figure, _cell: _Cell(*STATES[figure.state]))


def seconds_in(seconds: float, cells: int) -> str:
    """Seconds in so many cells: one decimal where it fits, else whole seconds, else > with the most.

    Times below nought, which only recall times can be, are <0 where nothing else fits.
    """
    text = f"{seconds:.1f}".replace("-0.0", "0.0")
    if len(text) <= cells:
        return text
    if abs(seconds) < 0.95 and len(text) - 1 <= cells:
        return text.replace("0.", ".", 1)
    if seconds < 0:
        return "<0"
    text = f"{seconds:.0f}"
    return text if len(text) <= cells else ">" + "9" * (cells - 1)


def tenths(seconds: float) -> str:
    """Tenths of a second in two cells."""
    number = round(10 * seconds)
    return "<0" if number < -9 else ">9" if number > 99 else str(number)


def _map(by_place: Mapping[Place, Figure], width: int, cell_of: Callable[[Figure, int], _Cell]) -> Block:
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
            text, grade, mark = cell_of(figure, columns.cell)
            if len(text) >= columns.cell:
                text = "ok" if text == "100" else text[: columns.cell - 1]
            body = f"{mark or _SHADES[grade]}{text}".strip()
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


def state_legend(width: int) -> Block:
    """What the letters mean."""
    words = [f"{letter} {state}" for state, (letter, _) in STATES.items()] + [f"{NEVER_ASKED} never asked"]
    lines = [words[0]]
    for word in words[1:]:
        longer = f"{lines[-1]}   {word}"
        lines[-1:] = [longer] if len(longer) <= width else [lines[-1], word]
    return tuple(row(Span(line, "quiet")) for line in lines)


def is_narrow(figures: tuple[PlaceFigure, ...], width: int) -> bool:
    """Whether the map has so little room that 100 is written as ok, and times in tenths of a second."""
    return _columns((figure.place for figure in figures), width).cell == _NARROW
