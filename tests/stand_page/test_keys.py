"""Keys and buttons: the same as in the terminal, with the moment at which they were touched."""

from typing import Any

import pytest

from midifret.stand.messages import Begin, Named, Pressed
from tests.stand_page.moments import hall, moments
from tests.stand_page.scripted import Socket, Stand, as_told


def shown(stand: Stand, name: str, **options: Any) -> Any:
    """A page that shows a moment of a run."""
    page = stand.page(**options)
    stand.server.send(moments()[name])
    page.locator("#run-title").wait_for()
    return page


def pressed(stand: Stand, page: Any, key: str) -> list[str]:
    """What the page tells of a key."""
    page.keyboard.press(key)
    return [message.key for message in stand.told_of(page, Pressed, 80)]


def test_keys_in_a_drill(stand: Stand) -> None:
    page = shown(stand, "name")
    for key, told in {
        "n": ["n"], "N": ["n"], "a": ["a"], "q": ["q"], "Space": [" "], "Enter": ["enter"],
        "Escape": ["escape"], "x": [], "Tab": [], "Control+q": [], "Alt+n": [], "ArrowRight": ["n"],
        "ArrowLeft": ["a"], "Shift": [],
    }.items():  # fmt: skip
        page.evaluate("document.activeElement.blur()")
        assert pressed(stand, page, key) == told, key


def test_a_typed_name_gets_every_letter(stand: Stand) -> None:
    page = shown(stand, "naming")
    typed = [pressed(stand, page, key) for key in ("a", "#", "b", "n", "q", "Backspace", "Enter")]
    assert typed == [["a"], ["#"], ["b"], ["n"], ["q"], ["backspace"], ["enter"]]
    assert pressed(stand, page, "ArrowRight") == ["tab"]  # what tab does in a terminal


def test_tab_goes_from_button_to_button_and_they_work_by_key(stand: Stand) -> None:
    page = shown(stand, "name")
    words = []
    for _ in range(4):
        assert pressed(stand, page, "Tab") == []
        words.append(page.evaluate("document.activeElement.querySelector('span')?.textContent"))
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline == "solid"
    assert words == ["pause", "next", "again", "quit"]
    assert pressed(stand, page, "Enter") == ["q"]  # once, and not enter besides
    assert pressed(stand, page, "Space") == ["q"]
    assert pressed(stand, page, "n") == ["n"]  # letters go on


def test_a_button_pressed_by_mouse_takes_no_focus(stand: Stand) -> None:
    page = shown(stand, "name")
    page.get_by_role("button", name="next").click()
    assert [message.key for message in stand.told_of(page, Pressed)] == ["n"]
    assert pressed(stand, page, "Space") == [" "]  # it pauses, and does not press next again


def test_a_press_is_told_as_of_when_it_was_touched(stand: Stand) -> None:
    page = shown(stand, "naming")
    button = page.get_by_role("button", name="D", exact=True)
    box = button.bounding_box()
    page.mouse.move(box["x"] + 5, box["y"] + 5)
    before = page.evaluate("performance.now()")
    page.mouse.down()
    down = page.evaluate("performance.now()")
    page.wait_for_timeout(200)
    page.mouse.up()
    told = stand.of_kind(page, Named)
    assert told.name == "D"
    assert before <= told.pressed_ms <= down


def test_a_held_key_is_told_once(stand: Stand) -> None:
    page = shown(stand, "name")
    page.keyboard.down("n")
    page.keyboard.down("n")  # the driver repeats a key that is held
    page.keyboard.up("n")
    assert [message.key for message in stand.told_of(page, Pressed)] == ["n"]


@pytest.mark.parametrize("name", ["naming", "naming_do"])
def test_every_name_has_its_button(stand: Stand, name: str) -> None:
    page = shown(stand, name, viewport={"width": 360, "height": 740})
    screen = moments()[name]
    told = []
    for row in screen.naming:  # type: ignore[union-attr]
        for each in row:
            button = page.get_by_role("button", name=each, exact=True)
            box = button.bounding_box()
            assert box["width"] >= 40
            assert box["height"] >= 48
            button.click()
            told.append(each)
    assert [message.name for message in stand.told_of(page, Named)] == told


def test_single_keys_can_be_switched_off(stand: Stand) -> None:
    """WCAG 2.2, 2.1.4: shortcuts of one character can be turned off."""
    page = stand.page()
    stand.server.send(hall())
    page.get_by_label("Single keys do what the buttons do").uncheck()
    stand.server.send(moments()["name"])
    page.locator("#run-title").wait_for()
    assert pressed(stand, page, "n") == []
    assert pressed(stand, page, "Space") == [" "]
    page.reload()
    page.locator("body[data-link=linked]").wait_for()
    assert pressed(stand, page, "q") == []


def test_keys_begin_nothing_in_the_hall(stand: Stand) -> None:
    page = stand.page()
    stand.server.send(hall())
    page.locator("#hall-title").wait_for()
    for key in ("n", "q", "Space", "Enter"):
        assert pressed(stand, page, key) == []


def test_the_hall_begins_what_is_chosen_with_what_was_typed(stand: Stand) -> None:
    page = stand.page()
    stand.server.send(hall())
    page.get_by_role("button", name="Begin today's practice").click()
    assert stand.of_kind(page, Begin) == Begin("today")
    page.get_by_text("How it is played").click()
    page.get_by_label("Tempo (").fill("66")
    page.get_by_label("Position (").fill("99")  # there is none
    page.get_by_text("Stage 2: natural notes", exact=True).click()
    drill = page.get_by_role("button", name="Stage 2: natural notes drill 3")
    drill.click()
    assert stand.told_of(page, Begin) == []
    assert page.evaluate("document.activeElement === document.querySelector('input:invalid')")
    page.get_by_label("Position (").fill("")
    drill.click()
    assert stand.of_kind(page, Begin) == Begin("Stage 2: natural notes/3", tempo_bpm=66)


def test_the_report_is_this_programs_or_not_there(stand: Stand) -> None:
    page = stand.page()
    stand.server.send(hall())
    link = page.get_by_role("link", name="Show the report")
    assert link.get_attribute("href").endswith("/report")
    of = "async ([a, b]) => (await import('/hall.js')).reportAddress(a, b)"
    for address in (
        "javascript:alert(1)",
        "http://elsewhere.example/report",
        "//elsewhere.example/",
        "data:,x",
        "",
    ):
        assert page.evaluate(of, [address, "http://127.0.0.1:8000/"]) == ""
    assert page.evaluate(of, ["/report", "http://127.0.0.1:8000/"]) == "http://127.0.0.1:8000/report"


def test_who_watches_has_no_buttons_and_no_keys(stand: Stand) -> None:
    page = stand.page(open_it=False)
    socket = Socket(page, controls=False)
    page.goto(stand.server.address())
    page.locator("body[data-link=linked]").wait_for()
    page.get_by_text("You are watching").wait_for()
    socket.say(as_told("naming"))
    page.locator("#cue").wait_for()
    assert page.locator("#buttons, #naming").locator("visible=true").count() == 0
    for key in ("n", "Space", "Enter", "a"):
        page.keyboard.press(key)
    socket.say(as_told("hall"))
    page.locator("#hall-title").wait_for()
    assert page.get_by_role("button").count() == 0
    page.wait_for_timeout(50)
    assert not socket.of_kind("pressed") + socket.of_kind("begin")
