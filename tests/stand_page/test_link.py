"""The link: what the page says first, the exchange of clocks, and what it does when the link is lost."""

import json
from typing import Any

import pytest

from midifret.stand.messages import SCHEMA, Pressed, parse
from tests.stand_page.moments import moments
from tests.stand_page.scripted import Socket, Stand, as_told

SYNC = {"kind": "sync", "number": 7}


def scripted(stand: Stand, *, controls: bool = True, init: str = "") -> tuple[Any, Socket]:
    """A page whose socket says what the test says."""
    page = stand.page(open_it=False, init=init)
    socket = Socket(page, controls)
    page.goto(stand.server.address())
    page.locator("body[data-link=linked]").wait_for()
    return page, socket


def test_it_says_its_schema_its_name_and_that_it_sounds(stand: Stand) -> None:
    page, socket = scripted(stand)
    (hello,) = socket.of_kind("hello")
    assert hello["schema"] == SCHEMA
    assert hello["sounds"] is True
    assert 8 <= len(hello["viewer"]) <= 32
    page.reload()
    page.locator("body[data-link=linked]").wait_for()
    assert socket.of_kind("hello")[1]["viewer"] == hello["viewer"]  # the same tab
    other = stand.page(open_it=False)
    beside = Socket(other)
    other.goto(stand.server.address())
    other.locator("body[data-link=linked]").wait_for()
    assert beside.of_kind("hello")[0]["viewer"] != hello["viewer"]


def test_all_that_it_tells_is_understood(stand: Stand) -> None:
    page, socket = scripted(stand)
    socket.say(SYNC)
    socket.say(as_told("name"))
    page.keyboard.press("n")
    page.get_by_role("button", name="pause").click()
    page.wait_for_timeout(100)
    kinds = {type(parse(json.dumps(message))).__name__ for message in socket.heard}
    assert kinds >= {"Hello", "Synced", "Painted", "Pressed", "Sounding"}


def test_an_exchange_of_clocks_is_answered_at_once(stand: Stand) -> None:
    page, socket = scripted(stand)
    before = page.evaluate("performance.now()")
    socket.say(SYNC)
    page.wait_for_timeout(50)
    after = page.evaluate("performance.now()")
    (answer,) = socket.of_kind("synced")
    assert answer["number"] == 7
    assert before <= answer["came_ms"] <= answer["went_ms"] <= after
    assert answer["went_ms"] - answer["came_ms"] < 2


def test_the_programs_own_server_knows_the_pages_clock(stand: Stand) -> None:
    page = stand.page()
    page.wait_for_timeout(700)
    (viewer,) = stand.server.viewers
    figures = stand.server.sync_figures(viewer.ident)
    assert figures is not None
    page_ms = page.evaluate("performance.now()")
    found = stand.server.to_run_s(viewer.ident, page_ms)
    assert found is not None
    assert found.error_s < 0.005


def test_a_lost_link_is_told_plainly_and_opened_again(stand: Stand) -> None:
    page, socket = scripted(stand)
    socket.say(as_told("name"))
    page.locator("#cue").wait_for()
    socket.open_doors = False
    socket.close()
    words = page.locator("#link-words")
    words.wait_for()
    assert "lost" in words.inner_text()
    assert page.locator("#cue-words").inner_text() == "G on string 4"  # the last state stays
    assert page.evaluate("getComputedStyle(document.getElementById('run')).filter") == "grayscale(1)"
    assert page.evaluate("document.getElementById('buttons').inert") is True
    assert "lost" in page.locator("#say-now").text_content()
    heard = len(socket.of_kind("pressed"))
    page.keyboard.press("n")
    assert len(socket.of_kind("pressed")) == heard
    socket.open_doors = True
    page.locator("body[data-link=linked]").wait_for()
    assert words.is_hidden()
    socket.say(as_told("staff"))
    page.keyboard.press("n")
    page.wait_for_timeout(50)
    assert len(socket.of_kind("pressed")) == heard + 1


def test_a_page_that_is_looked_at_again_tries_at_once(stand: Stand) -> None:
    page, socket = scripted(stand)
    socket.open_doors = False
    socket.close()
    page.wait_for_timeout(2500)  # the waits have grown to more than a second
    socket.open_doors = True
    tries = len(socket.links)
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.wait_for_timeout(200)
    assert len(socket.links) == tries + 1


def test_a_silent_link_is_given_up(stand: Stand) -> None:
    """A tablet that slept may hold a link that leads nowhere; its browser does not tell."""
    quick = "const real = window.setInterval; window.setInterval = (work, ms) => real(work, ms / 20);"
    fast = (
        "const clock = performance.now.bind(performance); const from = clock();"
        "performance.now = () => from + (clock() - from) * 20;"
    )
    page, socket = scripted(stand, init=quick + fast)  # a clock that goes 20 times as fast
    page.wait_for_timeout(1000)
    assert len(socket.of_kind("hello")) >= 2


def test_a_refusal_is_shown_with_what_to_do(stand: Stand) -> None:
    page, socket = scripted(stand)
    words = "This page is of an older midifret: load it anew."
    socket.say({"kind": "refused", "words": words, "reload": True})
    socket.close()
    page.get_by_text(words).first.wait_for()
    tries = len(socket.links)
    page.wait_for_timeout(600)
    assert len(socket.links) == tries  # it does not come again by itself
    page.get_by_role("button", name="Load the page anew").click()
    page.locator("body[data-link=linked]").wait_for()
    assert len(socket.links) == tries + 1


def test_a_refusal_that_a_reload_does_not_mend_can_be_tried_again(stand: Stand) -> None:
    page, socket = scripted(stand)
    socket.say({"kind": "refused", "words": "Too many pages are open.", "reload": False})
    socket.close()
    page.get_by_role("button", name="Try again").click()
    page.locator("body[data-link=linked]").wait_for()
    assert len(socket.links) == 2


def test_a_page_of_another_schema_is_told_to_reload_by_the_program(stand: Stand) -> None:
    page = stand.page(open_it=False)
    page.route(
        "**/shapes.js",
        lambda route: route.fulfill(
            body=route.fetch().text().replace(f"SCHEMA = {SCHEMA}", "SCHEMA = 0"),
            content_type="text/javascript",
        ),
    )
    page.goto(stand.server.address())
    page.get_by_role("button", name="Load the page anew").wait_for()


@pytest.mark.parametrize(
    "bad",
    [
        "{",
        '{"kind":"screen"}',
        '{"kind":"no such thing"}',
        json.dumps({"kind": "hall", "player": 7}),
        "x" * 100_000,
        "[" * 5000,
    ],
)
def test_what_is_not_understood_breaks_nothing(stand: Stand, bad: str) -> None:
    page, socket = scripted(stand)
    socket.say(as_told("name"))
    socket.say(bad)
    page.get_by_text("does not understand").first.wait_for()
    assert page.locator("#cue-words").inner_text() == "G on string 4"
    socket.say(as_told("staff") | {"message": "still here"})
    page.get_by_text("still here").first.wait_for()
    assert stand.faults == []


def test_values_that_make_no_sense_break_nothing(stand: Stand) -> None:
    page, socket = scripted(stand)
    strange = as_told("name") | {
        "strings": 1e9,
        "frets": -4,
        "progress": [9, -1],
        "spots": [{"string": 99, "fret": 1e9, "mark": "constructor", "sign": "<b>"}],
        "buttons": [{"key": "<script>", "words": "<img src=x onerror='window.broken = 1'>"}],
        "title": "<b>title</b>",
        "beat": {"number": 3, "a_bar": 1e9, "counts_in": 0, "struck": True, "tempo_bpm": -1},
    }
    socket.say(strange)
    page.locator("#run-title").wait_for()
    assert page.locator("#run-title").inner_text() == "<b>title</b>"
    assert page.evaluate("document.querySelectorAll('*').length") < 1000
    socket.say({"kind": "engraving", "name": "a", "lines": ["<svg"], "words": ""})
    socket.say(as_told("name") | {"cue": as_told("name")["cue"] | {"engraving": "a"}})
    socket.say(as_told("name") | {"message": "still here"})
    page.get_by_text("still here").first.wait_for()
    assert page.evaluate("window.broken") is None
    # The browser's own page about a drawing that it cannot read has a style of its own, which is refused.
    assert [fault for fault in stand.faults if "inline style" not in fault] == []


def test_a_second_tab_shows_the_same_and_both_may_press(stand: Stand) -> None:
    one, other = stand.page(), stand.page()
    stand.server.send(moments()["name"])
    for page in (one, other):
        page.locator("#cue-words", has_text="G on string 4").wait_for()
    other.keyboard.press("n")
    arrived = stand.wait_for(other, lambda each: isinstance(each.message, Pressed))
    assert arrived.message == Pressed("n", arrived.message.pressed_ms)  # type: ignore[union-attr]


def test_a_page_that_is_let_in_no_longer_says_what_the_program_says(stand: Stand) -> None:
    page, socket = scripted(stand)
    words = "Open the whole address."
    socket.open_doors = False
    page.route("**/link.js", lambda route: route.fulfill(status=403, body=words))
    socket.close()
    page.get_by_text(words).first.wait_for()
    assert page.locator("#link-words").is_hidden()
    page.unroute("**/link.js")
    socket.open_doors = True
    tries = len(socket.links)
    page.wait_for_timeout(1500)
    assert len(socket.links) == tries  # nobody asks again and again
    page.get_by_role("button", name="Load the page anew").click()
    page.locator("body[data-link=linked]").wait_for()


def test_a_browser_without_sockets_is_told_what_to_do(stand: Stand) -> None:
    page = stand.page(open_it=False, init="delete window.WebSocket;")
    page.goto(stand.server.address())
    page.get_by_text("open the page in a newer one").wait_for()


def test_a_browser_that_cannot_read_the_script_is_told_what_to_do(stand: Stand) -> None:
    page = stand.page(open_it=False)
    page.route("**/main.js", lambda route: route.fulfill(body="", content_type="text/javascript"))
    page.goto(stand.server.address())
    page.get_by_text("the browser is too old for the page: open it in a newer one").wait_for()
