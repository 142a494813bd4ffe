"""The small neck: marks where they belong, within the width, nothing marked ever left out."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.gear.guitar import Guitar
from midifret.neck import Neck, Tuning
from midifret.show.neck import LANDMARK_FRETS, Mark, is_landmark, legend, small_neck
from midifret.show.rows import plain, width_of
from midifret.terms import Place

STANDARD = (64, 59, 55, 50, 45, 40)


def column(line: str, sign: str) -> int:
    return line.index(sign)


def test_a_mark_stands_above_the_number_of_its_fret() -> None:
    neck = Neck(Tuning("standard", "", STANDARD))
    for fret in (3, 5, 7, 12, 15, 17, 19):  # one sign wide or right of two
        lines = [plain(line) for line in small_neck(neck, {Place(4, fret): Mark.WRONG}, 80)]
        numbers = lines[-1]
        # The number's last digit stands under the sign or one cell beside it.
        at = numbers.index(str(fret)) + len(str(fret)) - 1
        assert abs(column(lines[3], "✗") - at) <= 1
        assert not any("✗" in line for number, line in enumerate(lines) if number != 3)


def test_frets_of_neighbouring_marks_are_told_apart() -> None:
    neck = Neck(Tuning("standard", "", STANDARD))
    columns = []
    for fret in range(20):
        lines = [plain(line) for line in small_neck(neck, {Place(1, fret): Mark.RIGHT}, 80)]
        columns.append(column(lines[0], "✓"))
    assert columns == sorted(set(columns))


@given(
    strings=st.integers(6, 8),
    frets=st.integers(12, 24),
    capo=st.integers(0, 5),
    width=st.integers(60, 120),
    data=st.data(),
)
def test_it_fits_and_shows_what_is_marked(
    strings: int, frets: int, capo: int, width: int, data: st.DataObject
) -> None:
    neck = Neck(Tuning("t", "", (64, 59, 55, 50, 45, 40, 38, 35)[:strings]), frets, capo)
    string = data.draw(st.integers(1, strings))
    fret = data.draw(st.integers(0, neck.last_fret))
    lines = small_neck(neck, {Place(string, fret): Mark.ASKED}, width)
    assert len(lines) == strings + 1
    assert max(width_of(line) for line in lines) <= width
    assert "○" in plain(lines[string - 1])
    assert ("capo" in plain(lines[-1])) == (capo > 0) or fret > 15


def test_24_frets_fit_into_80_columns() -> None:
    neck = Neck(Tuning("standard", "", STANDARD), 24)
    marks = {Place(1, 24): Mark.RIGHT, Place(1, 1): Mark.ASKED}
    top = plain(small_neck(neck, marks, 80)[0])
    assert "✓" in top
    assert "○" in top


def test_landmarks_are_those_of_the_method() -> None:
    # 3, 5, 7, 10, 12: the landmark rows of the method; an octave is 12 frets.
    assert LANDMARK_FRETS == (3, 5, 7, 10, 12)
    assert [fret for fret in range(25) if is_landmark(fret)] == [3, 5, 7, 10, 12, 15, 17, 19, 22, 24]


def test_strings_are_numbered_with_the_highest_on_top(guitar_of: Callable[..., Guitar]) -> None:
    lines = small_neck(guitar_of().neck, {}, 80)
    assert [plain(line).split()[0][0] for line in lines[:-1]] == list("123456")


def test_the_legend_names_each_sign_once() -> None:
    text = plain(legend([Mark.ASKED, Mark.WRONG, Mark.WRONG]))
    assert text.split() == ["✗", "you", "played", "○", "asked"]


@pytest.mark.parametrize("mark", list(Mark))
def test_every_mark_has_a_sign_of_its_own_and_a_word(mark: Mark) -> None:
    assert len(mark.sign) == 1
    assert mark.word
    assert mark.style.endswith("mark")
    assert {Mark.RIGHT.sign, Mark.WRONG.sign, Mark.ASKED.sign, Mark.GIVEN.sign, Mark.HELD.sign} == set(
        "✓✗○◆●"
    )
