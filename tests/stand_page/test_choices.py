"""How what is begun next is to be played: what is chosen is told to the program, and nothing more."""

from dataclasses import replace
from typing import Any

import pytest

from midifret.stand.messages import Begin
from tests.stand_page.moments import hall
from tests.stand_page.scripted import Stand

DRILL = "Stage 2: natural notes/3"


@pytest.fixture
def page(stand: Stand) -> Any:
    made = stand.page(viewport={"width": 900, "height": 800})
    stand.server.send(hall())
    made.locator("#hall summary").first.wait_for()
    for summary in made.locator("#hall summary").all():
        summary.click()
    return made


def begin(stand: Stand, page: Any) -> Begin:
    page.get_by_role("button", name="Stage 2: natural notes drill 3").click()
    told: Begin = stand.of_kind(page, Begin)
    return told


def summary(page: Any) -> str:
    text: str = page.locator(".settings summary").inner_text()
    return text


def test_as_it_is_nothing_is_told_but_what_to_play(stand: Stand, page: Any) -> None:
    assert begin(stand, page) == Begin(DRILL)
    assert summary(page) == "How it is played"


@pytest.mark.parametrize(
    ("label", "way", "words"),
    [
        ("In free tempo", "free", "free tempo"),
        ("Search for the tempo that you own", "find", "search for the tempo"),
        ("Ladder", "ladder", "ladder"),
    ],
)
def test_a_way_of_a_drill(stand: Stand, page: Any, label: str, way: Any, words: str) -> None:
    page.get_by_label(label).check()
    assert summary(page) == f"How it is played: {words}"
    assert begin(stand, page) == Begin(DRILL, way=way)
    page.get_by_label("In the drill's own way").check()
    assert begin(stand, page) == Begin(DRILL)


def test_all_choices_of_a_reading_and_back(stand: Stand, page: Any) -> None:
    page.get_by_label("Tempo (").fill("66")
    page.get_by_label("Position (").fill("5")
    page.get_by_label("Open strings are right").select_option("never")
    page.get_by_label("Bars of a score").fill(" 9-16 ")
    page.get_by_label("Octave of a score").select_option("written")
    page.get_by_label("Show a fingering").check()
    page.get_by_label("On the whole neck").check()
    assert begin(stand, page) == Begin(
        DRILL,
        tempo_bpm=66,
        position=5,
        open_strings="never",
        bars="9-16",
        octave="written",
        fingered=True,
        anywhere=True,
    )
    assert summary(page) == (
        "How it is played: 66 bpm, position 5, whole neck, open strings never, fingered, bars 9-16, "
        "octave written"
    )
    page.get_by_role("button", name="Leave all as it is").click()
    assert summary(page) == "How it is played"
    assert begin(stand, page) == Begin(DRILL)


def test_todays_practice_takes_its_minutes_alone(stand: Stand, page: Any) -> None:
    page.get_by_label("Ladder").check()
    page.get_by_label("Time (").fill("20")
    page.get_by_role("button", name="Begin today's practice").click()
    assert stand.of_kind(page, Begin) == Begin("today", minutes=20)


def test_choices_and_focus_stay_when_the_hall_comes_anew(stand: Stand, page: Any) -> None:
    page.get_by_label("Tempo (").fill("66")
    page.get_by_label("Search for").check()
    page.get_by_label("Tempo (").focus()
    offers = hall().offers
    stand.server.send(replace(hall(), offers=offers[:-1]))
    page.get_by_role("button", name=offers[-1].title).wait_for(state="detached")
    assert page.evaluate("document.activeElement === document.querySelector('.settings input')")
    assert page.locator(".settings").get_attribute("open") is not None
    assert begin(stand, page) == Begin(DRILL, tempo_bpm=66, way="find")


def test_by_keyboard_alone(stand: Stand) -> None:
    page = stand.page()
    stand.server.send(hall())
    page.locator("#hall summary").first.wait_for()
    page.get_by_text("How it is played").focus()
    for key in ("Enter", "Tab", "7", "2", "Tab", "Tab", "ArrowDown", "ArrowDown"):  # tempo, time, ways
        page.keyboard.press(key)
    assert summary(page) == "How it is played: 72 bpm, search for the tempo"
    for key in ("Tab", "Tab", "n", "Tab", "Tab", "Tab", "Tab", "Space"):  # then past bars, octave, whole neck
        page.keyboard.press(key)
    assert summary(page) == "How it is played: 72 bpm, search for the tempo, open strings never, fingered"
