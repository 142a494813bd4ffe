"""The screen on which a guitar is hooked up: it fits every size, and says in words what it shows."""

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.neck import Neck, Tuning
from midifret.session.hook_up import Showing, Step, StringRow
from midifret.show.rows import Block, plain, width_of
from midifret.show.setup_screen import SetupLines, changes, setup_frame
from midifret.terms import Place

STANDARD = Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40))


def rows(strings: int = 6, heard: int = 3) -> tuple[StringRow, ...]:
    known = [
        StringRow(s, "F♯", 9 + s, -40.0 if s == 6 else 2.4, "40 cents flat" if s == 6 else "heard", ok=s != 6)
        for s in range(strings - heard + 1, strings + 1)
    ]
    return (*(StringRow(s) for s in range(1, strings - heard + 1)), *known)


KEYS = (("n", "it does not arrive"), ("q", "quit"))
MOMENTS = {
    "open": Showing(
        Step.OPEN, "port", rows(), "Pluck string 3, open.", "One at a time.", "Heard.", 3, 0, keys=KEYS
    ),
    "fret 12": Showing(
        Step.FRET_12, "port", rows(8, 8), "Pluck string 4 at fret 12.", string=4, fret=12, keys=KEYS
    ),
    "silence": Showing(Step.SILENCE, "port", rows(heard=6), "Keep still.", left_s=3, keys=KEYS),
    "question": Showing(
        Step.OFFSET,
        "port",
        rows(heard=6),
        "All strings arrive 2 semitones higher.",
        "Which is it?",
        options=(("1", "a capo lies at fret 2"), ("2", "the strings are tuned 2 semitones higher")),
        neck=Neck(STANDARD),
        marks=(Place(1, 0),),
    ),
    "found": Showing(
        Step.FOUND,
        "a port with a name that is longer than anybody would want to see on a screen",
        rows(heard=6),
        "This is your guitar.",
        found=("Strings 1 to 6 on channels 1 2 3 4 5 6.", "Tuning: Standard, capo at fret 2.", "x" * 100),
        keys=(("enter", "write it"),),
        neck=Neck(STANDARD, capo=2),
        marks=(Place(1, 0), Place(4, 12)),
    ),
    "name": Showing(
        Step.NAME, "port", rows(heard=6), "What is it called?", typed="nylon", neck=Neck(STANDARD)
    ),
    "nothing": Showing(
        Step.OPEN, "port", rows(heard=0), "Pluck.", message="Nothing has come. " * 12, keys=KEYS
    ),
}


def text_of(block: Block) -> str:
    return "\n".join(plain(line) for line in block)


@pytest.mark.parametrize("name", MOMENTS)
@given(width=st.integers(1, 200), height=st.integers(1, 60), ascii_only=st.booleans())
def test_every_moment_fits_every_size(name: str, width: int, height: int, ascii_only: bool) -> None:
    block = setup_frame(MOMENTS[name], width, height, ascii_only=ascii_only)
    assert len(block) == height
    assert all(width_of(line) <= width for line in block)
    if ascii_only:
        assert text_of(block).isascii()


@pytest.mark.parametrize("size", [(80, 24), (60, 16), (40, 14)])
def test_what_to_do_and_the_keys_are_always_there(size: tuple[int, int]) -> None:
    for showing in MOMENTS.values():
        text = " ".join(text_of(setup_frame(showing, *size)).split())
        assert showing.ask in text
        for key, words in (*showing.keys, *showing.options):
            assert key in text
            assert words in text


def test_strings_are_shown_with_channel_from_1_name_and_cents() -> None:
    text = text_of(setup_frame(MOMENTS["open"], 80, 24))
    assert "· string 1" in text
    line = next(line for line in text.splitlines() if "string 5" in line)
    assert "✓ string 5  channel 15  F♯" in line  # channel 14 in the program, 15 to people
    assert "+2 cents" in line
    line = next(line for line in text.splitlines() if "string 6" in line)
    assert "✗ string 6" in line  # a sign and words, not colour alone
    assert "40 cents flat" in line
    assert "step 1 of 6: open strings" in text


def test_what_was_found_stands_on_a_neck() -> None:
    lines = text_of(setup_frame(MOMENTS["found"], 80, 24)).splitlines()
    line = next(line for line in lines if "string 4" in line)
    assert line.count("✓") == 2  # heard, and the mark at fret 12
    assert any("Tuning: Standard, capo at fret 2." in line for line in lines)
    assert "What is it called?" in text_of(setup_frame(MOMENTS["name"], 80, 24))
    assert "nylon_" in text_of(setup_frame(MOMENTS["name"], 80, 24))


def test_lines_tell_each_new_thing_once() -> None:
    first = changes(None, MOMENTS["open"])
    assert first[0] == "Heard."
    assert "> Pluck string 3, open. One at a time." in first
    assert changes(MOMENTS["open"], MOMENTS["open"]) == []
    found = changes(MOMENTS["silence"], MOMENTS["found"])
    assert "Tuning: Standard, capo at fret 2." in found
    assert any(line.startswith("✓ string 1") for line in found)


def test_lines_are_ascii_where_the_terminal_is() -> None:
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    with SetupLines(stream) as view:
        for showing in MOMENTS.values():
            view.show(showing)
        assert view.keys() == []
    stream.seek(0)
    assert "v string 1" in stream.read()
