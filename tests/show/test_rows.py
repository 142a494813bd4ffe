"""The small layout language: widths in cells, cropping, and plain ASCII where it must be."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from midifret.show.rows import Span, beside, can_print_signs, ends, fit, pad, plain, row, to_ascii, width_of

TEXTS = st.text(alphabet=st.characters(exclude_categories=["C", "M", "Z"]), max_size=30)


@given(st.lists(TEXTS, max_size=5), st.integers(1, 60))
def test_a_row_is_cropped_and_padded_to_a_width(texts: list[str], width: int) -> None:
    """Wide characters included; their width is rich's."""
    line = row(*texts)
    assert width_of(line) == cell_len("".join(texts))
    fitted = fit(line, width)
    assert width_of(fitted) <= width
    assert width_of(pad(fitted, width)) == width


def test_both_ends_of_a_row() -> None:
    assert plain(ends(row("left"), row("right"), 20)) == "left" + " " * 11 + "right"
    cropped = plain(ends(row("a long title indeed"), row("right"), 20))
    assert len(cropped) == 20
    assert cropped.startswith("a long title")
    assert "…" in cropped
    assert cropped.endswith("  right")


def test_blocks_beside_each_other_stay_in_line() -> None:
    tall, low = (row("aa"), row("aa"), row("aa")), (row("b"),)
    assert [plain(line) for line in beside([tall, low], 2)] == ["aa   ", "aa  b", "aa   "]


@pytest.mark.parametrize(
    ("encoding", "printable"),
    [
        ("utf-8", True),
        ("ascii", False),
        ("cp437", False),
        ("latin-1", False),
        ("no-such", False),
        (None, True),
    ],
)
def test_which_encodings_have_the_signs(encoding: str | None, printable: bool) -> None:
    assert can_print_signs(encoding) is printable


def test_ascii_keeps_the_meaning_of_signs() -> None:
    assert to_ascii("F♯ / G♭ ✓ ✗") == "F# / Gb v x"
    assert to_ascii("é") == "?"
    assert len(to_ascii("║──┼ ○ █▀▄")) == len("║──┼ ○ █▀▄")


def test_empty_pieces_are_left_out() -> None:
    assert row("", Span(""), "a") == (Span("a"),)
