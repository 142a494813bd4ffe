"""Pictures of time: a row's days with the fitted curve, and the minutes of each day. Inline SVG."""

import datetime as dt
import math
from collections.abc import Sequence

from midifret.estimates import t_quantile
from midifret.report_page.values import RowTrend
from midifret.terms.figures import DayFigure
from midifret.timing import Trend

_WIDTH, _HEIGHT = 420, 170
_LEFT, _RIGHT, _TOP, _BOTTOM = 44, 12, 14, 26
_CONFIDENCE = 0.95
# A day takes its own place on paper up to so many; of more the bars would be hairlines [ours].
MOST_BARS = 60


def row_chart(row: RowTrend, goal_s: float) -> str:
    """Draw the days of a row, the curve through them and the band in which 95% of such days lie.

    goal_s: what counts as automatic, drawn as a broken line. The same stands in the table beside it.
    """
    first, last = row.days[0].day, row.days[-1].day
    band = _band(row)
    most_s = max([goal_s * 1.3, *(day.time_s for day in row.days), *(high for *_, high in band)])
    most_s = _nice(most_s)
    span = max((last - first).days, 1)

    def x(day: dt.date) -> float:
        return _LEFT + (day - first).days / span * (_WIDTH - _LEFT - _RIGHT)

    def y(time_s: float) -> float:
        inside = min(max(time_s, 0.0), most_s)
        return _HEIGHT - _BOTTOM - inside / most_s * (_HEIGHT - _TOP - _BOTTOM)

    parts = [_frame(most_s, first, last)]
    if band:
        top = " ".join(f"{x(day):.1f},{y(high):.1f}" for day, _, _, high in band)
        foot = " ".join(f"{x(day):.1f},{y(low):.1f}" for day, _, low, _ in reversed(band))
        parts.append(f'<polygon class="band" points="{top} {foot}"/>')
        curve = " ".join(f"{x(day):.1f},{y(middle):.1f}" for day, middle, _, _ in band)
        parts.append(f'<polyline class="curve" points="{curve}"/>')
    parts.append(f'<path class="goal" d="M{_LEFT} {y(goal_s):.1f}H{_WIDTH - _RIGHT}"/>')
    many = len(row.days) > MOST_BARS
    dot, radius = ("dot many", 1.5) if many else ("dot", 3.5)
    dots = [
        f'<circle class="{dot}" cx="{x(d.day):.1f}" cy="{y(d.time_s):.1f}" r="{radius}"/>' for d in row.days
    ]
    parts[1:1] = dots if many else []  # under the curve, which they would hide
    parts += [] if many else dots
    parts.append("</svg>")
    return "".join(parts)


def _band(row: RowTrend) -> list[tuple[dt.date, float, float, float]]:
    """The fitted time of each day, and between which two 95% of days like it lie, by their own spread."""
    trend = row.trend
    if not isinstance(trend, Trend):
        return []
    reach_s = t_quantile((1 + _CONFIDENCE) / 2, trend.points - 3) * trend.spread_s
    found = []
    for day in row.days:
        middle_s = trend.at(day.practice)
        found.append((day.day, middle_s, middle_s - reach_s, middle_s + reach_s))
    return found


def days_chart(days: Sequence[DayFigure]) -> str:
    """Draw the minutes of each practice day as bars; days without practice are empty."""
    shown = [day for day in days if (days[-1].day - day.day).days < MOST_BARS]
    first, last = shown[0].day, shown[-1].day
    count = (last - first).days + 1
    most = _nice(max(max(day.minutes for day in shown), 1.0))
    room = (_WIDTH - _LEFT - _RIGHT) / count
    parts = [_frame(most, first, last)]
    for day in shown:
        height = min(day.minutes, most) / most * (_HEIGHT - _TOP - _BOTTOM)
        left = _LEFT + (day.day - first).days * room
        parts.append(
            f'<rect class="bar" x="{left + room * 0.1:.1f}" y="{_HEIGHT - _BOTTOM - height:.1f}" '
            f'width="{min(room * 0.8, 24):.1f}" height="{height:.1f}"/>'
        )
    parts.append("</svg>")
    return "".join(parts)


def _frame(most: float, first: dt.date, last: dt.date) -> str:
    """The picture's beginning: two lines with numbers, and the days at both ends."""
    foot = _HEIGHT - _BOTTOM
    lines = "".join(
        f'<path class="wire" d="M{_LEFT} {height:.1f}H{_WIDTH - _RIGHT}"/>'
        f'<text class="edge end" x="{_LEFT - 6}" y="{height + 5:.1f}">{value:g}</text>'
        for value in (0.0, most / 2, most)
        for height in (foot - value / most * (foot - _TOP),)
    )
    ends = f'<text class="edge start" x="{_LEFT}" y="{_HEIGHT - 6}">{first:%d %b %Y}</text>'
    if last > first:
        ends += f'<text class="edge end" x="{_WIDTH - _RIGHT}" y="{_HEIGHT - 6}">{last:%d %b %Y}</text>'
    size = f'viewBox="0 0 {_WIDTH} {_HEIGHT}" width="{_WIDTH}" height="{_HEIGHT}"'
    return f'<svg class="whole" {size}>{lines}{ends}'


def _nice(value: float) -> float:
    """The least of 1, 2, 3, 4, 5, 6, 8 and 10 times a power of ten that is not below a value."""
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1, 2, 3, 4, 5, 6, 8, 10) if step * power >= value * (1 - 1e-9))
