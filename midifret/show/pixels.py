"""Drawing with half-blocks: strokes of a round pen on a grid of square dots, two dots to a terminal cell."""

import math
from collections.abc import Iterable

Dot = tuple[int, int]  # column, row of dots from the top left


def stamp(points: Iterable[tuple[float, float]], pen: int) -> frozenset[Dot]:
    """Draw along points, in dots, with a round pen of `pen` dots; the middle of a dot lies at n + 0.5."""
    radius = pen / 2
    reach = radius * radius + 1e-6
    if pen == 2:
        reach = 1.0  # the four dots around a crossing, no fifth one for a curve that comes near it
    dots: set[Dot] = set()
    for x, y in points:
        for column in range(math.floor(x - radius), math.ceil(x + radius)):
            for line in range(math.floor(y - radius), math.ceil(y + radius)):
                if (column + 0.5 - x) ** 2 + (line + 0.5 - y) ** 2 <= reach:
                    dots.add((column, line))
    return frozenset(dots)


def along(x0: float, y0: float, x1: float, y1: float) -> list[tuple[float, float]]:
    """Points of a straight line, less than half a dot apart, both ends included."""
    steps = max(1, math.ceil(2 * math.hypot(x1 - x0, y1 - y0)))
    return [(x0 + (x1 - x0) * i / steps, y0 + (y1 - y0) * i / steps) for i in range(steps + 1)]


def arc(
    left: float, top: float, right: float, bottom: float, start_deg: float, end_deg: float
) -> list[tuple[float, float]]:
    """Points of an arc of the ellipse in a box; 0 degrees is right, 90 is down."""
    x_radius, y_radius = (right - left) / 2, (bottom - top) / 2
    x_middle, y_middle = left + x_radius, top + y_radius
    length = abs(math.radians(end_deg - start_deg)) * max(x_radius, y_radius)
    steps = max(2, math.ceil(2 * length))
    angles = (math.radians(start_deg + (end_deg - start_deg) * i / steps) for i in range(steps + 1))
    return [(x_middle + x_radius * math.cos(a), y_middle + y_radius * math.sin(a)) for a in angles]


def moved(dots: Iterable[Dot], columns: int, rows: int) -> frozenset[Dot]:
    """Move dots to the right and down."""
    return frozenset((x + columns, y + rows) for x, y in dots)


def to_lines(dots: frozenset[Dot], width: int, rows: int) -> tuple[str, ...]:
    """Print dots as `rows` texts of `width` cells, each cell two dots high."""
    lines = []
    for line in range(rows):
        cells = ((x, 2 * line) in dots for x in range(width))
        below = ((x, 2 * line + 1) in dots for x in range(width))
        lines.append("".join(" ▄▀█"[2 * up + low] for up, low in zip(cells, below, strict=True)))
    return tuple(lines)
