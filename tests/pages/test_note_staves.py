"""Staves of single notes stand alike: one may take the place of another and nothing moves but the note."""

import re

import pytest

from midifret.pages.note_staves import note_staves, steady
from midifret.terms import SpelledPitch, Unavailable

pytest.importorskip("verovio")

LOWEST, HIGHEST = SpelledPitch("E", 0, 2), SpelledPitch("B", 0, 5)  # of six strings and 19 frets [facts]


def test_all_are_of_one_size_with_their_staves_at_one_height() -> None:
    made = note_staves([LOWEST, SpelledPitch("F", 1, 3), HIGHEST, LOWEST])
    assert list(made) == [LOWEST, SpelledPitch("F", 1, 3), HIGHEST]
    views = [re.search(r'viewBox="(\S+) (\S+) (\S+) (\S+)"', svg) for svg in made.values()]
    sizes = {(view[3], view[4]) for view in views if view is not None}
    assert len(sizes) == 1
    tops = []
    for svg, view in zip(made.values(), views, strict=True):
        # From the top edge of the drawing to the top line of the staff, in its own units.
        margin = re.search(r'class="page-margin" transform="translate\(\S+ (\S+)\)"', svg)
        line = re.search(r'class="staff">\s*<path d="M\S+ (\S+) L', svg)
        assert view is not None
        assert margin is not None
        assert line is not None
        tops.append((float(margin[1]) + float(line[1])) / 10 - float(view[2]))
    assert tops == pytest.approx([tops[0]] * len(tops), abs=0.05)


def test_a_drawing_of_another_kind_is_told() -> None:
    with pytest.raises(Unavailable, match="the engraver draws in a way that is not known here"):
        steady(["<svg/>"])


def test_nothing_is_engraved_for_nothing() -> None:
    assert note_staves([]) == {}
