"""The neck map: every figure in its place, legible without colour, and in colour for all eyes."""

import io
import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.color import Color
from rich.console import Console
from rich.style import Style

from midifret.show.neck_map import (
    COLOURS,
    NEVER_ASKED,
    STATES,
    legend_rows,
    seconds_in,
    share_map,
    state_legend,
    state_map,
    tenths,
    time_map,
)
from midifret.show.rows import as_ascii, plain, to_text, width_of
from midifret.terms import CueKind, Place
from midifret.terms.figures import PlaceFigure
from midifret.timing import PlaceState, State

SHADES = "░▒▓"


def cells(line: str) -> list[str]:
    """The columns of a map's row: its string, then one text for each fret."""
    return re.sub(f"[{SHADES}]", " ", line).split()


def figures_at(places: list[Place]) -> tuple[PlaceFigure, ...]:
    """A figure for each place with a share and a time of its own."""
    return tuple(
        PlaceFigure(place, 20, (place.string * 3 + place.fret) % 21, 0.5 + place.string / 10 + place.fret / 5)
        for place in places
    )


@pytest.mark.parametrize("last", [5, 12, 15, 18, 19, 24])
def test_each_place_has_its_figure_and_numbers_never_touch(last: int) -> None:
    places = [
        Place(string, fret) for string in range(1, 7) for fret in range(last + 1) if (string + fret) % 3
    ]
    figures = {figure.place: figure for figure in figures_at(places)}
    shown = max(last, 12)
    shares, times = share_map(tuple(figures.values()), 80), time_map(tuple(figures.values()), 80)
    for block in (shares, times):
        assert max(width_of(line) for line in block) <= 80
        assert cells(plain(block[0])) == [str(fret) for fret in range(shown + 1)]
    narrow = last > 18
    for string in range(1, 7):
        share_cells, time_cells = cells(plain(shares[string])), cells(plain(times[string]))
        assert len(share_cells) == len(time_cells) == shown + 2
        assert share_cells[0] == time_cells[0] == str(string)
        for fret in range(shown + 1):
            figure = figures.get(Place(string, fret))
            if figure is None:
                assert share_cells[fret + 1] == time_cells[fret + 1] == NEVER_ASKED
                continue
            share = 100 * figure.right // figure.answers
            assert share_cells[fret + 1] == ("ok" if narrow and share == 100 else str(share))
            assert figure.median_response_s is not None
            shown_s = float(time_cells[fret + 1]) / (10 if narrow else 1)
            assert shown_s == pytest.approx(figure.median_response_s, abs=0.0501)


def test_two_maps_and_their_headings_fit_into_24_rows() -> None:
    figures = figures_at([Place(s, f) for s in range(1, 9) for f in range(13)])
    assert len(share_map(figures, 80)) + len(time_map(figures, 80)) + len(legend_rows(narrow=False)) + 3 <= 24


def test_only_all_right_is_called_100() -> None:
    figure = PlaceFigure(Place(1, 0), 1000, 999, 1.0)
    assert cells(plain(share_map((figure,), 80)[1]))[1] == "99"


def test_a_place_never_answered_right_has_no_time() -> None:
    figure = PlaceFigure(Place(1, 0), 4, 0, None)
    assert cells(plain(time_map((figure,), 80)[1]))[1] == "-"


def test_recall_times_come_first_and_the_others_are_marked_raw() -> None:
    figures = figures_at([Place(1, 0), Place(1, 1), Place(1, 2)])
    line = plain(time_map(figures, 80, {Place(1, 0): 0.42, Place(1, 2): -0.3})[1])
    assert re.findall(r"[r░▒▓]?-?\d+\.\d", line) == ["0.4", "r0.8", "-0.3"]
    assert "r" not in plain(time_map(figures, 80)[1])  # all raw: the heading says it once


@pytest.mark.parametrize("last", [12, 15, 19])
def test_raw_marks_fit_at_every_width_and_hide_no_number(last: int) -> None:
    figures = figures_at([Place(string, fret) for string in range(1, 7) for fret in range(last + 1)])
    block = time_map(figures, 80, {Place(1, 0): 12.34})
    assert max(width_of(line) for line in block) <= 80
    numbers = [re.findall(r"r(\d+(?:\.\d)?)", plain(line)) for line in block[1:]]
    assert [len(found) for found in numbers] == [last, *[last + 1] * 5]


def test_tenths_fit_into_two_cells() -> None:
    for seconds in (-100.0, -0.95, -0.94, -0.04, 0.0, 0.04, 0.95, 9.94, 9.96, 1e6):
        text = tenths(seconds)
        assert len(text) <= 2
        if text not in ("<0", ">9"):
            assert int(text) / 10 == pytest.approx(seconds, abs=0.0501)
    assert (tenths(-1.0), tenths(10.0)) == ("<0", ">9")


@given(st.floats(-1000, 1000), st.integers(2, 6))
def test_seconds_fit_and_are_near(seconds: float, cells: int) -> None:
    text = seconds_in(seconds, cells)
    assert len(text) <= cells
    if text.startswith("<"):
        assert seconds < 0
    elif text.startswith(">"):
        assert seconds > 9
    else:
        assert float(text) == pytest.approx(seconds, abs=0.0501 if "." in text else 0.501)


@pytest.mark.parametrize("width", [40, 80])
def test_each_state_has_a_letter_and_a_shade(width: int) -> None:
    order = [State.AUTOMATIC, State.KNOWN, State.SLOW, State.FOUND, State.DARK]
    states = [
        PlaceState(Place(1, fret), (CueKind.NAME,), state, 9, 5, None) for fret, state in enumerate(order)
    ]
    block = state_map(states, width)
    line = plain(block[1])
    assert re.findall(r"[░▒▓]?[a-z]", line) == ["a", "k", "░s", "▒f", "▓d"]
    assert plain(as_ascii(block)[1]).split()[1:6] == ["a", "k", ":s", "+f", "#d"]
    legend = state_legend(width)
    assert max(map(width_of, legend)) <= width
    words = " ".join(plain(line) for line in legend)
    assert all(f"{letter} {state}" in words for state, (letter, _) in STATES.items())
    assert set(STATES) == set(State)
    assert max(map(width_of, block)) <= width


def test_shades_tell_weak_from_sure_without_colour() -> None:
    figures = tuple(
        PlaceFigure(Place(1, fret), 100, right, 1.0) for fret, right in enumerate((100, 95, 80, 60, 30))
    )
    text = plain(share_map(figures, 80)[1])
    assert re.findall(r"[░▒▓]?\d+", text)[1:6] == ["100", "95", "░80", "▒60", "▓30"]


def test_without_colour_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    out = io.StringIO()
    console = Console(file=out, width=80, height=24, force_terminal=True, color_system="truecolor")
    console.print(to_text(share_map(figures_at([Place(1, 0), Place(6, 12)]), 80)))
    # SGR 30-49, 90-107 are the colours (ECMA-48 and common practice); bold, dim and reverse are not.
    codes = [
        int(n) for group in re.findall(r"\x1b\[([\d;]*)m", out.getvalue()) for n in group.split(";") if n
    ]
    assert codes
    assert not [n for n in codes if 30 <= n <= 49 or 90 <= n <= 107]


@given(st.integers(20, 200), st.lists(st.builds(Place, st.integers(1, 8), st.integers(0, 24)), unique=True))
def test_it_fits_any_width(width: int, places: list[Place]) -> None:
    figures = figures_at(places)
    for block in (share_map(figures, width), time_map(figures, width)):
        assert max(width_of(line) for line in block) <= max(width, 41)  # 13 frets need 2 + 13 * 3 cells
        assert "".join(plain(line) for line in as_ascii(block)).isascii()


@pytest.mark.parametrize(
    ("seconds", "cells_free", "text"),
    [
        (0.84, 3, "0.8"),
        (12.34, 4, "12.3"),
        (12.34, 3, "12"),
        (0.84, 2, ".8"),
        (0.97, 2, "1"),
        (123.0, 2, ">9"),
    ],
)
def test_seconds_in_few_cells(seconds: float, cells_free: int, text: str) -> None:
    assert seconds_in(seconds, cells_free) == text
    assert len(text) <= cells_free


def luminance(colour: Color) -> float:
    """Relative luminance as WCAG 2.1 defines it."""
    triplet = colour.get_truecolor()
    channels = [value / 255 for value in triplet]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_colours_keep_their_order_in_grey_and_their_text_legible() -> None:
    """Contrast as WCAG 2.1, 1.4.3: 4.5 : 1. Order by luminance needs no colour vision at all."""
    grounds = []
    for text in COLOURS:
        style = Style.parse(text)
        assert style.color is not None
        assert style.bgcolor is not None
        ground = luminance(style.bgcolor)
        low, high = sorted((luminance(style.color), ground))
        assert (high + 0.05) / (low + 0.05) >= 4.5
        grounds.append(ground)
    assert all((b + 0.05) / (a + 0.05) > 1.25 for a, b in pairwise(grounds))
