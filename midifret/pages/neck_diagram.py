"""The neck drawn as an SVG: strings, frets, landmarks and dots with words in them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

from midifret.neck import Neck
from midifret.pages.engraver import FONT
from midifret.terms import Place

# Frets with an inlay, the one of two dots last [common practice, no source].
_INLAYS, _DOUBLE = (3, 5, 7, 9, 15, 17, 19, 21), (12, 24)
_FRET, _STRING, _LEFT, _TOP, _FOOT = 60.0, 26.0, 70.0, 26.0, 34.0
_DOT = 11.5
LEAST_FRETS_SHOWN = 4


@dataclass(frozen=True, slots=True)
class Dot:
    """A dot at a place. words: in it, at most five letters. open: a ring instead of a full dot."""

    place: Place
    words: str = ""
    ring: bool = False


def neck_diagram(
    neck: Neck, dots: Sequence[Dot], *, frets: tuple[int, int] | None = None, left_handed: bool = False
) -> str:
    """Draw the neck as the player looks at it from above: string 1 on top, the nut at the left.

    frets: first and last that are shown; by default those of the dots, four at least. A row or a position is
    drawn so. left_handed: the nut at the right, as a left-handed player looks at it. Open strings stand
    before the nut; where the nut is not shown a fret number says where it is.
    Raises ValueError for a dot that the neck has not got.
    """
    for dot in dots:
        if not neck.has(dot.place):
            raise ValueError(f"this neck has no place {dot.place}")
    first, last = frets or frets_of(neck, [dot.place for dot in dots])
    count = last - first + 1
    width = _LEFT + count * _FRET + 24
    lowest = _TOP + (neck.strings - 1) * _STRING
    height = lowest + _FOOT

    def across(x: float) -> float:
        return width - x if left_handed else x

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}" font-family="{FONT}" text-anchor="middle">',
    ]
    middle = (_TOP + lowest) / 2
    for fret in range(first, last + 1):
        x = across(_LEFT + (fret - first + 0.5) * _FRET)
        counted = fret + neck.capo
        if counted in _INLAYS:
            parts.append(f'<circle cx="{x:g}" cy="{middle:g}" r="6" fill="#cccccc"/>')
        elif counted in _DOUBLE:
            parts += [
                f'<circle cx="{x:g}" cy="{middle + away:g}" r="6" fill="#cccccc"/>'
                for away in (-_STRING, _STRING)
            ]
        parts.append(
            f'<text x="{x:g}" y="{height - 8:g}" font-size="{14 if count <= 12 else 18}">{fret}</text>'
        )
    for line in range(count + 1):
        x = across(_LEFT + line * _FRET)
        thick = 6 if line == 0 and first == 1 else 1.5
        parts.append(_line(x, _TOP, x, lowest, thick))
    for string in range(1, neck.strings + 1):
        y = _TOP + (string - 1) * _STRING
        parts.append(_line(across(_LEFT), y, across(_LEFT + count * _FRET), y, 0.8 + 0.25 * string))
        parts.append(f'<circle cx="{across(16):g}" cy="{y:g}" r="9" fill="none" stroke="#000000"/>')
        parts.append(f'<text x="{across(16):g}" y="{y + 4.5:g}" font-size="13">{string}</text>')
    for dot in dots:
        parts += _dot(dot, first, last, across)
    return "".join([*parts, "</svg>"])


def frets_of(neck: Neck, places: Sequence[Place]) -> tuple[int, int]:
    """The first and the last fret of a drawing that holds these places: four frets at least."""
    stopped = [place.fret for place in places if place.fret] or [1]
    lowest, highest = min(stopped), max(stopped)
    if any(place.fret == 0 for place in places):
        lowest = 1
    missing = LEAST_FRETS_SHOWN - (highest - lowest + 1)
    lowest = max(1, lowest - max(0, missing) // 2)
    highest = min(neck.last_fret, max(highest, lowest + LEAST_FRETS_SHOWN - 1))
    return max(1, min(lowest, highest - LEAST_FRETS_SHOWN + 1)), highest


def _dot(dot: Dot, first: int, last: int, across: Callable[[float], float]) -> list[str]:
    fret = dot.place.fret
    if fret and not first <= fret <= last:
        return []
    x = across(_LEFT + (fret - first + 0.5) * _FRET if fret else _LEFT - 24)
    y = _TOP + (dot.place.string - 1) * _STRING
    fill, ink = ("#ffffff", "#000000") if dot.ring or not fret else ("#000000", "#ffffff")
    letters = len(dot.words)
    size = 15 if letters < 2 else 12.5
    wide = max(_DOT, 3.0 + 3.6 * letters)  # an oval for sol with its sign
    return [
        f'<ellipse cx="{x:g}" cy="{y:g}" rx="{wide:g}" ry="{_DOT}" fill="{fill}" stroke="#000000" '
        'stroke-width="1.5"/>',
        f'<text x="{x:g}" y="{y + size * 0.34:g}" font-size="{size}" fill="{ink}">{escape(dot.words)}</text>',
    ]


def _line(x1: float, y1: float, x2: float, y2: float, width: float) -> str:
    return (
        f'<line x1="{x1:g}" y1="{y1:g}" x2="{x2:g}" y2="{y2:g}" stroke="#000000" stroke-width="{width:g}" '
        'stroke-linecap="square"/>'
    )
