"""Block letters for note names, digits and circled string numbers, readable from a metre."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from midifret.show.pixels import Dot, along, arc, moved, stamp, to_lines

LEAST_ROWS, USUAL_ROWS = 4, 7


@dataclass(frozen=True, slots=True)
class _Line:
    """Straight strokes through points, in heights of a capital."""

    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class _Arc:
    """A part of the ellipse in a box (left, top, right, bottom); 0 degrees is right, 90 is down."""

    box: tuple[float, float, float, float]
    start_deg: float = 0
    end_deg: float = 360


@dataclass(frozen=True, slots=True)
class _Glyph:
    width: float  # in heights of a capital
    strokes: tuple[_Line | _Arc, ...]


def _line(*numbers: float) -> _Line:
    return _Line(tuple(zip(numbers[::2], numbers[1::2], strict=True)))


def _glyph(width: float, *strokes: _Line | _Arc) -> _Glyph:
    return _Glyph(width, strokes)


_X = 0.34  # top of the small letters
# Drawn for this program: capitals from y = 0 to 1, small letters from _X to 1.
_GLYPHS = {
    "A": _glyph(0.7, _line(0, 1, 0.35, 0, 0.7, 1), _line(0.12, 0.68, 0.58, 0.68)),
    "B": _glyph(
        0.56,
        _line(0.3, 0, 0, 0, 0, 1, 0.3, 1),
        _line(0, 0.5, 0.3, 0.5),
        _Arc((0.06, 0, 0.5, 0.5), -90, 90),
        _Arc((0.04, 0.5, 0.56, 1), -90, 90),
    ),
    "C": _glyph(0.62, _Arc((0, 0, 0.66, 1), 50, 310)),
    "D": _glyph(0.6, _line(0.25, 0, 0, 0, 0, 1, 0.25, 1), _Arc((-0.1, 0, 0.6, 1), -90, 90)),
    "E": _glyph(0.5, _line(0.5, 0, 0, 0, 0, 1, 0.5, 1), _line(0, 0.5, 0.4, 0.5)),
    "F": _glyph(0.5, _line(0.5, 0, 0, 0, 0, 1), _line(0, 0.5, 0.4, 0.5)),
    "G": _glyph(0.66, _Arc((0, 0, 0.68, 1), 40, 310), _line(0.4, 0.56, 0.66, 0.56, 0.66, 0.84)),
    "H": _glyph(0.58, _line(0, 0, 0, 1), _line(0.58, 0, 0.58, 1), _line(0, 0.5, 0.58, 0.5)),
    "a": _glyph(0.5, _Arc((0, _X, 0.54, 1)), _line(0.5, _X, 0.5, 1)),
    "d": _glyph(0.5, _Arc((0, _X, 0.54, 1)), _line(0.5, 0, 0.5, 1)),
    "e": _glyph(0.52, _Arc((0, _X, 0.52, 1), 50, 360), _line(0, 0.67, 0.52, 0.67)),
    "f": _glyph(
        0.42, _Arc((0.13, 0, 0.5, 0.5), 180, 300), _line(0.13, 0.25, 0.13, 1), _line(0, 0.4, 0.36, 0.4)
    ),
    "i": _glyph(0.0, _line(0, 0.4, 0, 1), _line(0, 0.08, 0, 0.1)),
    "l": _glyph(0.0, _line(0, 0, 0, 1)),
    "m": _glyph(
        0.8,
        _line(0, _X, 0, 1),
        _Arc((0, _X, 0.4, 0.9), 180, 360),
        _line(0.4, 0.6, 0.4, 1),
        _Arc((0.4, _X, 0.8, 0.9), 180, 360),
        _line(0.8, 0.6, 0.8, 1),
    ),
    "o": _glyph(0.54, _Arc((0, _X, 0.54, 1))),
    "r": _glyph(0.34, _line(0, _X, 0, 1), _Arc((0, _X, 0.44, 1), 180, 300)),
    "s": _glyph(0.44, _Arc((0, _X, 0.44, 0.67), 90, 335), _Arc((0, 0.67, 0.44, 1), -90, 155)),
    "♯": _glyph(
        0.62,
        _line(0.18, 0.04, 0.18, 1),
        _line(0.44, 0, 0.44, 0.96),
        _line(0, 0.36, 0.62, 0.3),
        _line(0, 0.7, 0.62, 0.64),
    ),
    "♭": _glyph(0.42, _line(0, 0, 0, 1), _Arc((-0.14, 0.46, 0.42, 0.92), -125, 60), _line(0.28, 0.88, 0, 1)),
    "/": _glyph(0.3, _line(0.3, 0, 0, 1)),
    "?": _glyph(
        0.5,
        _Arc((0, 0, 0.5, 0.5), 180, 420),
        _line(0.36, 0.46, 0.25, 0.6, 0.25, 0.7),
        _line(0.25, 1, 0.25, 1),
    ),
    "↑": _glyph(0.6, _line(0.3, 0.05, 0.3, 1), _line(0, 0.35, 0.3, 0.02, 0.6, 0.35)),
    "↓": _glyph(0.6, _line(0.3, 0, 0.3, 0.95), _line(0, 0.65, 0.3, 0.98, 0.6, 0.65)),
    "0": _glyph(0.56, _Arc((0, 0, 0.56, 1))),
    "1": _glyph(0.24, _line(0, 0.2, 0.24, 0, 0.24, 1)),
    "2": _glyph(0.54, _Arc((0, 0, 0.54, 0.56), 185, 400), _line(0.46, 0.46, 0, 1, 0.54, 1)),
    "3": _glyph(0.54, _Arc((0, 0, 0.52, 0.48), 200, 450), _Arc((0, 0.48, 0.54, 1), -90, 160)),
    "4": _glyph(0.6, _line(0.44, 1, 0.44, 0, 0, 0.7, 0.6, 0.7)),
    "5": _glyph(0.54, _line(0.5, 0, 0.04, 0, 0.04, 0.44, 0.27, 0.4), _Arc((0, 0.4, 0.54, 1), -90, 155)),
    "6": _glyph(0.56, _Arc((0, 0.4, 0.56, 1)), _Arc((0, 0, 0.9, 1.4), 180, 262)),
    "7": _glyph(0.54, _line(0, 0, 0.54, 0, 0.18, 1)),
    "8": _glyph(0.54, _Arc((0.02, 0, 0.52, 0.46)), _Arc((0, 0.46, 0.54, 1))),
    "9": _glyph(0.56, _Arc((0, 0, 0.56, 0.6)), _Arc((-0.34, -0.4, 0.56, 1), 0, 82)),
}  # fmt: skip
_NEVER_NARROW = "♯♭im"  # their strokes would run together
_SPACE = 0.26
_GAP = 0.14


def pen_dots(height_dots: int) -> int:
    """How thick the strokes are for a height of a capital, in dots."""
    return max(1, round(height_dots / 7.5))


@lru_cache(maxsize=512)
def _draw(sign: str, height_dots: int, pen: int, narrow: float) -> tuple[frozenset[Dot], int]:
    """The dots of one sign and how many dots it is wide; straight strokes lie exactly on dots."""
    glyph = _GLYPHS[sign]
    scale = height_dots - pen
    if sign in _NEVER_NARROW:
        narrow = 1.0

    def across(x: float) -> float:
        return round(x * scale * narrow) + pen / 2

    def down(y: float) -> float:
        return round(y * scale) + pen / 2

    points: list[tuple[float, float]] = []
    for stroke in glyph.strokes:
        if isinstance(stroke, _Arc):
            left, top, right, bottom = stroke.box
            points += arc(
                across(left), down(top), across(right), down(bottom), stroke.start_deg, stroke.end_deg
            )
        else:
            snapped = [(across(x), down(y)) for x, y in stroke.points]
            for (x0, y0), (x1, y1) in pairwise(snapped):
                points += along(x0, y0, x1, y1)
    dots = frozenset(dot for dot in stamp(points, pen) if dot[0] >= 0)
    return dots, round(glyph.width * scale * narrow) + pen


@lru_cache(maxsize=512)
def text_dots(
    text: str, height_dots: int, narrow: float = 1.0, pen: int | None = None
) -> tuple[frozenset[Dot], int]:
    """The dots of a text in block letters, and its width in dots.

    narrow: factor on the widths, for long names. pen: thickness in dots, else what suits the height.
    Signs without a glyph are left out.
    """
    pen = pen or pen_dots(height_dots)
    gap = max(1, round(_GAP * height_dots * narrow))
    dots: set[Dot] = set()
    x = 0
    for sign in text:
        if sign == " ":
            x += round(_SPACE * height_dots * narrow)
        elif sign in _GLYPHS:
            drawn, width = _draw(sign, height_dots, pen, narrow)
            dots |= moved(drawn, x, 0)
            x += width + gap
    return frozenset(dots), max(0, x - gap)


@lru_cache(maxsize=256)
def block_text(text: str, rows: int, narrow: float = 1.0) -> tuple[str, ...]:
    """A text in block letters, `rows` terminal rows high."""
    dots, width = text_dots(text, 2 * rows, narrow)
    return to_lines(dots, width, rows)


def has_glyphs(text: str) -> bool:
    """Whether a text can be printed whole in block letters."""
    return all(sign in _GLYPHS or sign == " " for sign in text)


@lru_cache(maxsize=256)
def fitting_text(text: str, rows: int, width: int) -> tuple[str, ...]:
    """A text in the largest block letters that fit, at most `rows` high and `width` wide.

    Letters are made narrower before they become lower than 7 rows. Where nothing fits, the plain text.
    """
    if not has_glyphs(text):
        return (text,)
    sizes = [(size, 1.0) for size in range(rows, USUAL_ROWS - 1, -1)]
    sizes += [(min(rows, USUAL_ROWS), narrow) for narrow in (0.85, 0.7)]
    sizes += [(size, 0.85) for size in range(min(rows, USUAL_ROWS) - 1, LEAST_ROWS - 1, -1)]
    for size, narrow in sizes:
        if LEAST_ROWS <= size <= rows and text_dots(text, 2 * size, narrow)[1] <= width:
            return block_text(text, size, narrow)
    return (text,)


@lru_cache(maxsize=128)
def circled(number: int, rows: int) -> tuple[str, ...]:
    """A number in a drawn circle, `rows` terminal rows high and twice as many cells wide."""
    size = 2 * rows
    pen = max(1, pen_dots(size) - 1)  # the circle is thinner than its number
    edge = pen / 2
    dots = set(stamp(arc(edge, edge, size - edge, size - edge, 0, 360), pen))
    text = str(number)
    height = 2 * round(size * (0.56 if len(text) == 1 else 0.44) / 2)
    inner, width = text_dots(text, height, 1.0, pen + 1 if height >= 10 else pen)
    dots |= moved(inner, (size - width + 1) // 2, (size - height) // 2)
    return to_lines(frozenset(dots), size, rows)
