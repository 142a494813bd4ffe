"""A small neck: string 1 on top, frets from left to right, with marks at a few places."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum

from midifret.neck import Neck
from midifret.show.rows import Block, Row, Span, fit, row
from midifret.terms import Place

# The frets that the method learns first; an octave further up they return.
LANDMARK_FRETS = (3, 5, 7, 10, 12)
_WIDEST_CELL, _NARROWEST_CELL = 6, 3


class Mark(Enum):
    """What a mark on the neck says: its sign, its style, and its word for the line below."""

    RIGHT = ("✓", "right mark", "you played")
    WRONG = ("✗", "wrong mark", "you played")
    ASKED = ("○", "mark", "asked")
    GIVEN = ("◆", "mark", "given")
    NAMED = ("◆", "mark", "name this")
    SHOWN = ("◆", "mark", "play here")
    HELD = ("●", "mark", "hold")

    @property
    def sign(self) -> str:
        """The one sign that stands at the place."""
        return self.value[0]

    @property
    def style(self) -> str:
        """Its style, a key of STYLES."""
        return self.value[1]

    @property
    def word(self) -> str:
        """What it means, for the line below the neck."""
        return self.value[2]


def is_landmark(fret: int) -> bool:
    """Whether a fret is one of the method's landmarks, or one an octave above."""
    return fret in LANDMARK_FRETS or (fret > 12 and fret - 12 in LANDMARK_FRETS)


@dataclass(frozen=True, slots=True)
class _Window:
    """The frets that are shown, and how many cells each takes with its fret wire."""

    first: int
    last: int
    cell: int


def _window(last_fret: int, marked: Iterable[int], room: int) -> _Window:
    """All frets where they fit, as wide as possible; else as many as fit around the marked ones."""
    for cell in range(_WIDEST_CELL, _NARROWEST_CELL - 1, -1):
        if last_fret * cell <= room:
            return _Window(1, last_fret, cell)
    shown = max(1, room // _NARROWEST_CELL)
    frets = [fret for fret in marked if fret > 0]
    if not frets or max(frets) <= shown:
        return _Window(1, shown, _NARROWEST_CELL)
    middle = (min(frets) + max(frets)) // 2
    first = min(max(1, middle - shown // 2, max(frets) - shown + 1), last_fret - shown + 1)
    return _Window(first, first + shown - 1, _NARROWEST_CELL)


def small_neck(neck: Neck, marks: Mapping[Place, Mark], width: int) -> Block:
    """The neck with its marks: one row a string, and below them the numbers of the landmark frets.

    Frets count from the capo, which then stands in place of the nut. width: cells there are.
    Frets that do not fit are left out, the marked ones last.
    """
    window = _window(neck.last_fret, (place.fret for place in marks), width - 7)
    lines: list[Row] = []
    for string in range(1, neck.strings + 1):
        spans: list[Span | str] = [Span(f"{string:>2} ", "strong"), _open_cell(marks.get(Place(string, 0)))]
        spans.append("║" if window.first == 1 else "┼")
        for fret in range(window.first, window.last + 1):
            spans += _cell(marks.get(Place(string, fret)), window.cell, at_end=fret == neck.last_fret)
        lines.append(row(*spans))
    lines.append(_numbers(window, "capo" if neck.capo else "", width))
    return tuple(fit(line, width) for line in lines)


def _open_cell(mark: Mark | None) -> Span:
    return Span("   ") if mark is None else Span(f" {mark.sign} ", mark.style)


def _cell(mark: Mark | None, cell: int, *, at_end: bool) -> list[Span]:
    wire = Span("│" if at_end else "┼", "quiet")
    string = cell - 1
    if mark is None:
        return [Span("─" * string, "quiet"), wire]
    if string < 3:
        return [Span(f" {mark.sign} ", mark.style)]
    before = (string - 3) // 2
    after = string - 3 - before
    return [
        *row(Span("─" * before, "quiet"), Span(f" {mark.sign} ", mark.style), Span("─" * after, "quiet")),
        wire,
    ]


def _numbers(window: _Window, label: str, width: int) -> Row:
    spans: list[Span | str] = [Span(f"{label:<6}" if window.first == 1 else " " * 6, "quiet"), " "]
    for fret in range(window.first, window.last + 1):
        text = str(fret) if is_landmark(fret) or fret == window.first > 1 else ""
        spans.append(
            Span(f"{text:>2} " if window.cell == _NARROWEST_CELL else f"{text:^{window.cell - 1}} ", "strong")
        )
    return fit(row(*spans), width)


def legend(marks: Iterable[Mark]) -> Row:
    """The meaning of the signs in use, for the line below the neck."""
    spans: list[Span | str] = []
    for mark in Mark:
        if mark in set(marks):
            spans += ["   " if spans else "", Span(f" {mark.sign} ", mark.style), f" {mark.word}"]
    return row(*spans)
