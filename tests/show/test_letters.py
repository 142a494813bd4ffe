"""Block letters: every name there is, legible sizes, and room for two names beside a circle."""

import pytest

from midifret.neck import Language, pitch_name
from midifret.show.letters import USUAL_ROWS, block_text, circled, fitting_text, has_glyphs
from midifret.terms import SpelledPitch

NAMES = sorted(
    {
        pitch_name(SpelledPitch(step, alter, 4), language)
        for language in Language
        for step in "CDEFGAB"
        for alter in (-2, -1, 0, 1, 2)
    }
)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("rows", [4, 5, 7, 8, 9, 14])
def test_every_name_of_every_language_can_be_drawn_at_every_size(name: str, rows: int) -> None:
    assert has_glyphs(name)
    drawn = block_text(name, rows)
    assert len(drawn) == rows
    assert len({len(line) for line in drawn}) == 1
    assert set("".join(drawn)) <= set(" █▀▄")
    # Nothing is cut off: ink in the first and the last row of a capital or a letter with a stem.
    assert drawn[0].strip() or name.islower()
    assert drawn[-1].strip()


@pytest.mark.parametrize("rows", [5, 7, 9])
def test_no_two_signs_look_alike(rows: int) -> None:
    signs = "ABCDEFGHadefilmors♯♭/?0123456789"
    assert len({block_text(sign, rows) for sign in signs}) == len(signs)


@pytest.mark.parametrize("rows", [6, 7, 9, 12])
def test_straight_stems_are_equally_thick_all_along(rows: int) -> None:
    """The left edge of an H is one column of full blocks; a stem that missed the dots would flicker."""
    drawn = block_text("H", rows)
    assert {line[0] for line in drawn} == {"█"}
    assert {line[-1] for line in drawn} == {"█"}


@pytest.mark.parametrize(
    "text", ["F♯ / G♭", "C♯ / D♭", "A♯ / B♭", "Fis / Ges", "Ais / B", "Gis / As", "do♯ / re♭", "fa♯ / sol♭"]
)
def test_two_names_and_a_circle_fit_into_80_columns(text: str) -> None:
    circle = circled(4, USUAL_ROWS)
    drawn = fitting_text(text, 9, 80 - 4 - len(circle[0]))
    assert len(drawn) >= 5  # in block letters, not in plain ones
    assert len(drawn[0]) + 4 + len(circle[0]) <= 80


@pytest.mark.parametrize("text", ["F♯ / G♭", "C♯ / D♭", "D♯ / E♭", "G♯ / A♭", "A♯ / B♭", "Fis / Ges"])
def test_two_short_names_keep_seven_rows(text: str) -> None:
    assert len(fitting_text(text, 9, 80 - 4 - 2 * USUAL_ROWS)) >= USUAL_ROWS


def test_more_room_makes_larger_letters() -> None:
    sizes = [len(fitting_text("G", rows, 200)) for rows in (7, 9, 12)]
    assert sizes == [7, 9, 12]


def test_a_name_without_glyphs_stays_plain() -> None:
    assert fitting_text("Xq", 9, 80) == ("Xq",)


def test_where_no_block_letters_fit_the_plain_text_does() -> None:
    assert fitting_text("F♯ / G♭", 9, 12) == ("F♯ / G♭",)


@pytest.mark.parametrize("rows", [5, 6, 7, 8, 9])
def test_circled_numbers_are_round_and_all_different(rows: int) -> None:
    drawings = {circled(number, rows) for number in range(1, 9)}
    assert len(drawings) == 8
    for drawing in drawings:
        assert len(drawing) == rows
        assert all(len(line) == 2 * rows for line in drawing)
        # The ring: its top and bottom are centred, and the middle rows touch both sides.
        assert drawing[0] == drawing[0][::-1]
        assert drawing[-1] == drawing[-1][::-1]
        middle = drawing[rows // 2]
        assert middle[0] != " "
        assert middle[-1] != " "
