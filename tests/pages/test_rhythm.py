"""How times are written: values, ties at strong points, tuplets."""

import itertools
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.pages.rhythm import Meter, Piece, Span, Value, _NotWritten, value_of, written


def spans(*lengths: str) -> list[Span]:
    """Spans one after another; a rest is negative."""
    made, at = [], Fraction(0)
    for text in lengths:
        length = abs(Fraction(text))
        made.append(Span(at, at + length, Fraction(text) < 0))
        at += length
    return made


def words(pieces: list[Piece]) -> str:
    """Values as 4, 4. and so on, ~ between those of one span."""
    text = ""
    for index, piece in enumerate(pieces):
        tied = index and pieces[index - 1].source == piece.source
        text += ("~" if tied else " " if index else "") + str(piece.value.base) + "." * piece.value.dots
    return text


@pytest.mark.parametrize(
    ("meter", "lengths", "expected"),
    [  # common practice, no source
        ((4, 4), ("1", "2", "1"), "4 2 4"),
        ((4, 4), ("1/2", "1", "1/2", "2"), "8 4 8 2"),
        ((4, 4), ("1/2", "1", "1", "1", "1/2"), "8 4 8~8 4 8"),
        ((4, 4), ("4",), "1"),
        ((3, 4), ("3",), "2."),
        ((6, 8), ("3",), "2."),
        ((6, 8), ("1/2", "1", "3/2"), "8 4 4."),
        ((6, 8), ("1", "1", "1"), "4 8~8 4"),
        ((2, 2), ("3", "1"), "2. 4"),
        ((4, 4), ("1", "-3"), "4 4~2"),
        ((12, 8), ("6",), "1."),
        ((5, 4), ("5",), "2.~2"),
    ],
)
def test_values_show_where_the_bar_is_strong(
    meter: tuple[int, int], lengths: tuple[str, ...], expected: str
) -> None:
    pieces, true = written(spans(*lengths), Meter(*meter))
    assert true
    assert words(pieces) == expected


def test_tuplets_are_found_and_closed_on_the_beat() -> None:
    pieces, true = written(spans("1/3", "1/3", "4/3", "2/5", "2/5", "2/5", "2/5", "2/5"), Meter(4, 4))
    assert true
    triplet = [p for p in pieces if p.tuplet == (3, 2)]
    assert words(triplet) == "8 8 8"
    assert [p.value for p in pieces if p.tuplet == (5, 4)] == [Value(8)] * 5
    assert words(pieces) == "8 8 8~4 8 8 8 8 8"


def test_a_rhythm_without_a_written_form_is_drawn_on_the_nearest_short_values() -> None:
    pieces, true = written(spans("13/100", "87/100", "3"), Meter(4, 4))
    assert not true
    assert pieces[-1].end == 4


def test_more_notes_than_short_values_are_refused() -> None:
    with pytest.raises(_NotWritten):
        written([Span(Fraction(i, 300), Fraction(i + 1, 300), False) for i in range(300)], Meter(4, 4))


meters = st.sampled_from([(4, 4), (3, 4), (2, 4), (6, 8), (9, 8), (2, 2), (5, 4), (7, 8), (3, 8), (12, 8)])


@given(meters, st.lists(st.integers(1, 96), max_size=12), st.sampled_from([8, 12, 16, 24]), st.data())
def test_pieces_last_as_long_as_what_they_write(
    meter: tuple[int, int], steps: list[int], grid: int, data: st.DataObject
) -> None:
    """Grids of eighths, triplets and sixteenths: all of them have a written form."""
    time = Meter(*meter)
    points = sorted({Fraction(step, grid) for step in steps if Fraction(step, grid) < time.bar})
    edges = [Fraction(0), *points, time.bar]
    given_spans = [Span(a, b, data.draw(st.booleans())) for a, b in itertools.pairwise(edges)]
    pieces, _ = written(given_spans, time)
    assert pieces[0].start == 0
    assert pieces[-1].end == time.bar
    assert all(a.end == b.start for a, b in itertools.pairwise(pieces))
    for piece in pieces:
        parts, time_of = piece.tuplet or (1, 1)
        assert value_of((piece.end - piece.start) * parts / time_of) == piece.value
    assert {piece.source for piece in pieces} == set(range(len(given_spans)))
