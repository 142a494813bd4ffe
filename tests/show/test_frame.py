"""The screen of a run at every size: it fits, says what it must, and hides what it must."""

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.neck import Accidentals, Language
from midifret.session.conductor import Beat
from midifret.session.screen import Screen, Stage
from midifret.show.frame import frame
from midifret.show.letters import block_text, circled
from midifret.show.rows import Block, plain, width_of
from midifret.show.words import CAUTION
from midifret.terms import Verdict

SIZES = [(80, 24), (60, 16), (79, 23), (120, 40), (200, 60), (59, 16), (60, 15), (40, 10), (20, 5), (1, 1)]


def text(block: Block) -> str:
    return "\n".join(plain(line) for line in block)


def words(block: Block) -> str:
    """The screen's words, line breaks taken out."""
    return " ".join(text(block).split())


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("ascii_only", [False, True])
def test_it_fits(screen: Screen, width: int, height: int, ascii_only: bool) -> None:
    lines = frame(screen, width, height, ascii_only=ascii_only)
    assert len(lines) == height
    assert max(width_of(line) for line in lines) <= width
    if ascii_only:
        assert text(lines).isascii()


def test_at_80x24_everything_is_there(screens: dict[str, Screen]) -> None:
    shown = words(frame(screens["name"], 80, 24))
    for part in (
        "Open position: the naturals in order",
        "3 of 17",
        "1 right",
        "1:05",
        "D on string 4",
        "✗ Right string, one fret too high.",
        "1.23 s",
        "✗ you played",
        "○ asked",
        "space pause",
        "n next",
        "a again",
        "q quit",
    ):
        assert part in shown


def test_the_prompt_is_large_and_the_string_circled(screens: dict[str, Screen]) -> None:
    lines = [plain(line) for line in frame(screens["name"], 80, 24)]
    assert all(any(piece.strip() in line for line in lines) for piece in circled(4, 9))
    rows = [
        rows
        for rows in range(7, 15)
        if all(any(p.rstrip() in x for x in lines) for p in block_text("D", rows))
    ]
    assert rows  # seven rows or more


@pytest.mark.parametrize("name", ["both names", "both names in German", "both names in fixed-do"])
def test_both_names_and_the_circle_stand_side_by_side_at_80x24(screens: dict[str, Screen], name: str) -> None:
    lines = frame(screens[name], 80, 24)
    inked = [line for line in lines[2:12] if "█" in plain(line)]
    assert len(inked) >= 7
    assert max(width_of(line) for line in inked) > 60  # side by side, not one of them left out


def test_the_neck_shows_played_and_asked(screens: dict[str, Screen]) -> None:
    lines = [plain(line) for line in frame(screens["name"], 80, 24)]
    fourth = next(line for line in lines if line.strip().startswith("4 "))
    assert fourth.index("○") < fourth.index("✗")  # asked fret 5, played fret 6


def test_nothing_is_given_away_before_the_answer(screens: dict[str, Screen]) -> None:
    for name in ("both names in fixed-do", "staff", "interval", "no cue"):
        screen = dataclasses.replace(screens[name], last=None)
        shown = text(frame(screen, 80, 24)[14:])
        assert not set("○◆●✓✗") & set(shown)


def test_the_staff_is_not_read_aloud(screens: dict[str, Screen]) -> None:
    shown = words(frame(screens["staff"], 80, 24))
    assert "space 1" not in shown
    assert "F♯" not in shown
    assert "string 4" in shown


def test_a_naming_prompt_shows_the_place_and_the_letters_typed(screens: dict[str, Screen]) -> None:
    screen = screens["naming"]
    lines = frame(screen, 80, 24)
    assert "name the note on string 4, fret 4" in words(lines)
    assert "◆ name this" in words(lines)
    empty = frame(dataclasses.replace(screen, typed=""), 80, 24)
    assert text(lines) != text(empty)
    question = [plain(line) for line in empty]
    assert any(
        all(any(p.rstrip() in x for x in question) for p in block_text("?", rows)) for rows in range(7, 11)
    )


def test_places_still_to_be_found_are_not_shown(screens: dict[str, Screen]) -> None:
    assert "○" not in text(frame(screens["each place once"], 80, 24))


def test_a_given_place_is_large_and_called_given(screens: dict[str, Screen]) -> None:
    lines = [plain(line) for line in frame(screens["place given alone"], 80, 24)]
    assert all(any(piece.strip() in line for line in lines) for piece in circled(4, 9))
    assert any("given, open" in line for line in lines)


def test_with_no_cue_the_player_is_told_to_carry_on(screens: dict[str, Screen]) -> None:
    assert "The walk is yours" in words(frame(screens["no cue"], 80, 24))


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_a_pause_hides_the_prompt(screens: dict[str, Screen], width: int, height: int) -> None:
    """What is on the screen while paused is the same whatever is asked."""
    paused = [
        dataclasses.replace(screens[name], stage=Stage.PAUSED, last=None, language=Language.ENGLISH,
                            accidentals=Accidentals.SHARPS, typed="", message="")
        for name in ("name", "both names", "staff", "naming", "given place", "interval", "no cue")
    ]  # fmt: skip
    assert len({text(frame(screen, width, height)) for screen in paused}) == 1


@pytest.mark.parametrize(("width", "height"), [(80, 24), (60, 16), (120, 40), (40, 10)])
def test_a_pause_that_ends_by_itself_counts(screens: dict[str, Screen], width: int, height: int) -> None:
    gone = "The guitar's port is gone (Guitar 20:0). Plug it in again. The run waits."
    paused = dataclasses.replace(screens["name"], stage=Stage.PAUSED, last=None, message=gone)
    assert "Plug it in again." in " ".join(words(frame(paused, width, height)).split())
    counting = [
        text(frame(dataclasses.replace(paused, message="The guitar is back.", count=count), width, height))
        for count in (None, 3, 2, 1)
    ]
    assert len(set(counting)) == 4


def test_a_pause_hides_what_was_said_of_the_open_prompt(screens: dict[str, Screen]) -> None:
    screen = screens["name"]
    assert screen.last is not None
    assert screen.prompt is not None
    paused = dataclasses.replace(
        screen, stage=Stage.PAUSED, last=dataclasses.replace(screen.last, n=screen.prompt.n)
    )
    assert "one fret" not in words(frame(paused, 80, 24))


def test_the_end_shows_figures_and_the_gate(screens: dict[str, Screen]) -> None:
    shown = words(frame(screens["ended"], 80, 24))
    for part in (
        "14 of 17",
        "82%",
        "0.82 s",
        "Gate not met",
        "right 82% of 90% asked: not yet",
        "one fret off 2",
    ):
        assert part in shown


def test_the_countdown_shows_a_large_number_and_what_the_drill_trains(screens: dict[str, Screen]) -> None:
    lines = frame(screens["countdown"], 80, 24)
    assert "Say each name before you play it." in words(lines)
    assert "Spend 3 to 5 minutes on it." in words(lines)
    assert sum("██" in plain(line) for line in lines) >= 7


def test_the_check_shows_each_string(screens: dict[str, Screen]) -> None:
    shown = words(frame(screens["checking"], 80, 24))
    assert "✓ string 1 E +2 cents heard, in tune" in shown
    assert "✗ string 2 B -17 cents heard, 17 cents flat" in shown
    assert shown.count("waiting") == 4


def test_a_small_terminal_still_asks_and_judges(screens: dict[str, Screen]) -> None:
    shown = words(frame(screens["name"], 50, 8))
    for part in ("D on string 4", "one fret too high", "3 of 17", "q quit"):
        assert part in shown


def test_where_there_is_no_room_for_the_neck_places_are_told_in_words(screens: dict[str, Screen]) -> None:
    assert "Asked: string 4, fret 5." in words(frame(screens["name"], 80, 16))


def test_a_count_in_leaves_room_for_the_caution(screens: dict[str, Screen]) -> None:
    beat = Beat(number=1, a_bar=4, counts_in=4, struck=False, tempo_bpm=80)
    message = "No click is heard, only seen: the eye follows a beat less well than the ear. " + CAUTION
    screen = dataclasses.replace(screens["name"], last=None, message=message, beat=beat)
    assert message in words(frame(screen, 80, 24))


def test_a_long_message_is_broken_not_cut(screens: dict[str, Screen]) -> None:
    message = "Play without strain: " + "take regular breaks, " * 5 + "and stop when it hurts."
    screen = dataclasses.replace(screens["countdown"], message=message)
    assert message in words(frame(screen, 80, 24))


def test_control_codes_in_titles_never_reach_the_terminal(screens: dict[str, Screen]) -> None:
    screen = screens["name"]
    nasty = dataclasses.replace(
        screen, exercise=dataclasses.replace(screen.exercise, title="Up\x1b[2J\x07\x9bdown"), player="a\nb"
    )
    assert not {c for c in text(frame(nasty, 80, 24)) if c != "\n" and not c.isprintable()}


@settings(max_examples=60)
@given(width=st.integers(1, 220), height=st.integers(1, 70), data=st.data())
def test_any_size_fits(width: int, height: int, data: st.DataObject, screens_all: dict[str, Screen]) -> None:
    screen = data.draw(st.sampled_from(list(screens_all.values())))
    verdict = data.draw(st.sampled_from(list(Verdict)))
    if screen.last is not None:
        screen = dataclasses.replace(screen, last=dataclasses.replace(screen.last, verdict=verdict))
    lines = frame(screen, width, height)
    assert len(lines) == height
    assert max(width_of(line) for line in lines) <= width
