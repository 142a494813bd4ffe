"""What each moment shows, for eyes and for ears, on every size of screen."""

import json
from dataclasses import replace
from typing import Any

import pytest

from midifret.stand.messages import NoteMark, Notice, Spot
from tests.stand_page.moments import (
    ELSEWHERE,
    FIGURES,
    NAME,
    RIGHT,
    WRONG,
    hall,
    moments,
    music,
    reading,
    running,
    staff_note,
)
from tests.stand_page.scripted import Stand

SIZES = [(360, 640), (640, 360), (768, 1024), (1280, 800), (1920, 1080), (3840, 2160), (2160, 3840)]


def tell(stand: Stand, page: Any, moment: Any) -> None:
    """Show a moment, and wait until it is there."""
    stand.server.send(staff_note())
    stand.server.send(music()[0])
    stand.server.send(moment)
    page.locator("#hall" if moment.kind == "hall" else "#run").wait_for()
    page.wait_for_timeout(60)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_no_rule_of_accessibility_is_broken(stand: Stand, width: int, scheme: str) -> None:
    """axe-core's rules, WCAG 2.2 A and AA and its own advice."""
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe-playwright-python is missing"
    )
    page = stand.page(viewport={"width": width, "height": 800}, color_scheme=scheme)
    found: list[str] = []
    for name, moment in moments().items():
        tell(stand, page, moment)
        for violation in axe.Axe().run(page).response["violations"]:
            found.append(f"{name}: {violation['id']}: {[node['html'][:120] for node in violation['nodes']]}")
    tell(stand, page, hall())
    for summary in page.locator("#hall summary").all():
        summary.click()
    for violation in axe.Axe().run(page).response["violations"]:
        found.append(f"open hall: {violation['id']}: {[node['html'][:120] for node in violation['nodes']]}")
    pair = stand.page(open_it=False, viewport={"width": width, "height": 800}, color_scheme=scheme)
    pair.goto(f"http://127.0.0.1:{stand.server.port}/pair#WRONG1")
    pair.locator("#words", has_text="does not hold").wait_for()
    found += [f"pair: {each['id']}" for each in axe.Axe().run(pair).response["violations"]]
    stand.server.send(Notice("The click is not heard: no page plays it.", grave=True))
    page.locator("#notice").wait_for()
    found += [f"notice: {each['id']}" for each in axe.Axe().run(page).response["violations"]]
    page.get_by_role("button", name="Close").click()
    stand.server.stop()
    page.locator("#link-words").wait_for()
    found += [f"lost: {each['id']}" for each in axe.Axe().run(page).response["violations"]]
    assert found == []


def test_it_never_has_to_be_moved_sideways_and_asks_no_other_host(stand: Stand) -> None:
    page = stand.page()
    wrong = []
    for name, moment in moments().items():
        tell(stand, page, moment)
        for summary in page.locator("summary:visible").all():
            summary.click()
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            wide = page.evaluate("document.documentElement.scrollWidth")
            if wide > width:
                wrong.append((name, width, wide))
    assert wrong == []
    assert stand.faults == []
    assert {address.split("/")[2] for address in stand.asked} == {f"127.0.0.1:{stand.server.port}"}


def test_a_run_fits_without_moving_on_usual_screens(stand: Stand) -> None:
    page = stand.page()
    wrong = []
    for name, moment in moments().items():
        if name == "hall":
            continue
        tell(stand, page, moment)
        for width, height in [(360, 740), (740, 360), (800, 1280), (1280, 800), (1920, 1080), (3840, 2160)]:
            page.set_viewport_size({"width": width, "height": height})
            high = page.evaluate("document.documentElement.scrollHeight")
            if high > height:
                wrong.append((name, width, height, high))
    assert wrong == []


def test_at_twice_the_size_nothing_is_lost(stand: Stand) -> None:
    """WCAG 2.2, 1.4.4: at 200% of 1280 by 800 a page has 640 by 400."""
    page = stand.page(viewport={"width": 640, "height": 400}, device_scale_factor=2)
    for name, moment in moments().items():
        tell(stand, page, moment)
        for button in page.locator("button:visible").all():
            button.scroll_into_view_if_needed()
            box = button.bounding_box()
            assert box["x"] >= 0, name
            assert box["x"] + box["width"] <= 640, name


@pytest.mark.parametrize(
    ("size", "least_mm"),
    [({"width": 1920, "height": 1080}, 30.0), ({"width": 1280, "height": 800}, 20.0)],
)
def test_what_is_asked_is_read_from_a_metre(stand: Stand, size: dict[str, int], least_mm: float) -> None:
    """Letters are easily read from 20 to 22 minutes of arc on, 5.8 mm at a metre (ISO 9241-303, from memory).

    In millimetres at 96 dots an inch, as CSS counts: cue names have capitals of some 0.7 em. A screen of
    1280 by 800 of 10 inches has 149 dots an inch: there 20 mm are 13.
    """
    page = stand.page(viewport=size)
    heights = {}
    for name in ("name", "both_names", "staff", "naming", "interval"):
        tell(stand, page, moments()[name])
        em = page.evaluate("parseFloat(getComputedStyle(document.querySelector('.piece')).fontSize)")
        heights[name] = em * 0.7 * 25.4 / 96
    assert heights["name"] > least_mm
    assert min(heights.values()) > 12
    for ident in ("#verdict-words", "#cue-words"):
        tell(stand, page, moments()["name"])
        px = page.evaluate(f"parseFloat(getComputedStyle(document.querySelector('{ident}')).fontSize)")
        assert px * 0.7 * 25.4 / 96 > 5.8, ident


# --- words and signs ------------------------------------------------------------------------------


def test_a_verdict_has_a_sign_and_words_besides_its_colour(stand: Stand) -> None:
    page = stand.page()
    looks = set()
    for told in (RIGHT, WRONG, ELSEWHERE):
        tell(stand, page, running(told=told))
        assert page.locator("#verdict-sign").inner_text() == told.sign
        assert page.locator("#verdict-words").inner_text() == told.words
        assert page.locator("#verdict-time").inner_text() == told.time
        looks.add(page.evaluate("getComputedStyle(document.getElementById('verdict-sign')).borderRadius"))
    assert len(looks) == 3  # a shape for each, too


def test_everything_a_moment_has_is_to_be_seen(stand: Stand) -> None:
    page = stand.page()
    for name, moment in moments().items():
        tell(stand, page, moment)
        seen = page.locator("main").inner_text()
        told = json.loads(json.dumps(_words(moment)))
        for words in told:
            for word in words.split():
                assert word.lower() in seen.lower(), (name, words)


def _words(moment: Any) -> list[str]:
    if moment.kind == "hall":
        return [
            moment.notice,
            *(offer.title for offer in moment.today),
            *(offer.group for offer in moment.offers),
        ]
    words = [
        moment.title,
        moment.block,
        moment.message,
        moment.clock,
        *(button.words for button in moment.buttons),
    ]
    words += [name for row in moment.naming for name in row]
    words += [row.removesuffix(".").replace("Paused. ", "Paused ") for row in moment.rows]
    if moment.cue is not None:
        words += [moment.cue.words, moment.cue.hint]
    if moment.told is not None:
        words += [moment.told.words, moment.told.time]
    if moment.beat is not None:
        words += [f"{moment.beat.tempo_bpm:.0f} bpm"]
    return words


def test_between_blocks_nothing_is_said_to_be_right_and_blocks_are_counted(stand: Stand) -> None:
    page = stand.page()
    tell(stand, page, moments()["between"])
    assert page.locator("#run-figures").inner_text().strip() == "1 of 3 blocks done"
    assert page.locator("#run-bar").get_attribute("aria-label") == "Blocks done"
    tell(stand, page, replace(moments()["between"], progress=(0, 0)))  # before the first, and after all
    assert page.locator("#run-figures").inner_text().strip() == ""
    assert not page.locator("#run-bar").is_visible()
    tell(stand, page, running())
    assert page.locator("#run-figures").inner_text().split() == ["1:24", "11", "of", "40", "9", "right"]
    assert page.locator("#run-bar").get_attribute("aria-label") == "Prompts done"


def test_the_neck_has_every_spot_at_its_place(stand: Stand) -> None:
    page = stand.page(viewport={"width": 1280, "height": 800})
    spots = (Spot(1, 0, "asked", "?"), Spot(6, 19, "wrong", "✗"), Spot(3, 7, "right", "✓"))
    for left in (False, True):
        tell(stand, page, running(spots=spots, left_handed=left))
        assert page.locator("#neck svg").get_attribute("aria-label") == (
            "The neck. asked was: string 1, open; wrong: string 6, fret 19; right: string 3, fret 7"
        )
        drawn = [spot.bounding_box() for spot in page.locator("#neck .spot").all()]
        numbers = {text.text_content(): text.bounding_box() for text in page.locator("#neck .number").all()}
        for spot, box in zip(spots, drawn, strict=True):
            if spot.fret > 6:  # the numbers of strings and frets are alike up to 6
                number = numbers[str(spot.fret)]
                assert abs(box["x"] + box["width"] / 2 - number["x"] - number["width"] / 2) < 2
        assert drawn[0]["y"] < drawn[2]["y"] < drawn[1]["y"]  # string 1 on top
        assert (drawn[0]["x"] < drawn[2]["x"]) is not left
        assert [spot.text_content() for spot in page.locator("#neck .spot").all()] == ["?", "✗", "✓"]


def test_a_narrow_neck_shows_the_part_with_the_spots(stand: Stand) -> None:
    page = stand.page()
    of = "async ([f, s, n]) => (await import('/neck.js')).fretsShown(f, s.map((fret) => ({fret})), n)"
    assert page.evaluate(of, [19, [5], False]) == [0, 19]
    assert page.evaluate(of, [19, [], True]) == [0, 12]
    assert page.evaluate(of, [19, [0, 12], True]) == [0, 12]
    assert page.evaluate(of, [19, [14, 19], True]) == [8, 19]
    assert page.evaluate(of, [24, [13, 15], True]) == [12, 23]
    assert page.evaluate(of, [24, [0, 24], True]) == [0, 24]


# --- what is heard ----------------------------------------------------------------------------------


def test_verdict_and_next_cue_are_said_once_in_one_sentence(stand: Stand) -> None:
    init = """
    window.said = [];
    addEventListener("DOMContentLoaded", () => {
      const note = () => window.said.push(document.getElementById("say-calm").textContent);
      const all = {childList: true, characterData: true, subtree: true};
      new MutationObserver(note).observe(document.getElementById("say-calm"), all);
    });"""
    page = stand.page(init=init)
    tell(stand, page, running(told=None))
    page.wait_for_timeout(200)
    for second in range(3):
        tell(
            stand,
            page,
            running(
                cue=replace(NAME, n=13, words="C on string 3"), told=replace(RIGHT, n=12), clock=f"{second}"
            ),
        )
        page.wait_for_timeout(150)
    tell(stand, page, running(cue=replace(NAME, n=14, words="C on string 2"), told=replace(RIGHT, n=13)))
    page.wait_for_timeout(200)
    assert [words.strip() for words in page.evaluate("window.said")] == [
        "G on string 4",
        "Right. C on string 3",
        "Right. C on string 2",
    ]


def test_who_listens_hears_the_staff_in_words(stand: Stand) -> None:
    page = stand.page()
    tell(stand, page, moments()["staff"])
    page.wait_for_timeout(200)
    said = page.locator("#say-calm").text_content()
    assert staff_note().words in said
    assert "on string 4" in said


def test_notes_in_tempo_are_not_said_but_warnings_are(stand: Stand) -> None:
    page = stand.page()
    tell(stand, page, moments()["tempo"])
    page.wait_for_timeout(200)
    assert page.locator("#say-calm").text_content() == ""
    tell(stand, page, replace(moments()["tempo"], message="No sound is heard."))
    assert page.locator("#say-now").text_content() == "No sound is heard."


def test_stages_are_said_and_the_heading_has_the_focus(stand: Stand) -> None:
    page = stand.page()
    tell(stand, page, hall())
    assert page.evaluate("document.activeElement.id") == "hall-title"
    tell(stand, page, moments()["countdown"])
    assert page.evaluate("document.activeElement.id") == "run-title"
    tell(stand, page, moments()["ended"])
    page.wait_for_timeout(200)
    assert FIGURES[2] in page.locator("#say-calm").text_content()


# --- music ------------------------------------------------------------------------------------------


def test_what_came_of_a_run_is_said_with_the_hall(stand: Stand) -> None:
    page = stand.page()
    tell(stand, page, running())
    tell(stand, page, replace(hall(), notice="Owned tempo 84 bpm."))
    page.locator("#say-calm", has_text="Owned tempo 84 bpm. What will you play?").wait_for(state="attached")


def test_each_note_is_marked_as_it_was_played(stand: Stand) -> None:
    page = stand.page(viewport={"width": 1280, "height": 800})
    shown = reading(30)
    tell(stand, page, shown)
    assert shown.reading is not None
    assert page.locator("#music .sign").count() == len(shown.reading.marks)
    for looks, verdicts in (
        ("is-right", {"right"}),
        ("is-other", {"elsewhere"}),
        ("is-wrong", {"wrong", "missed"}),
    ):
        wanted = sum(mark.verdict in verdicts for mark in shown.reading.marks)
        assert page.locator(f"#music .note.{looks}").count() == wanted
    # Only what changed, then one taken back, then all anew.
    heads = music()[1]
    more = replace(shown.reading, marks=(NoteMark(heads[30], "wrong", "✗"),), whole=False, cursor=heads[31])
    tell(stand, page, replace(shown, reading=more))
    assert page.locator("#music .sign").count() == len(shown.reading.marks) + 1
    changed = replace(more, marks=(NoteMark(heads[30], "right", "✓"),))
    tell(stand, page, replace(shown, reading=changed))
    assert page.locator("#music .sign").count() == len(shown.reading.marks) + 1
    tell(
        stand, page, replace(shown, reading=replace(shown.reading, marks=(NoteMark(heads[1], "right", "✓"),)))
    )
    assert page.locator("#music .sign").count() == 1
    assert page.locator("#music .note.is-wrong").count() == 0


def test_signs_stand_by_their_notes(stand: Stand) -> None:
    page = stand.page(viewport={"width": 1280, "height": 800})
    tell(stand, page, reading(6))
    heads = page.locator("#music .note.is-right .notehead, #music .note.is-right")
    notes = [box["x"] + box["width"] / 2 for box in (each.bounding_box() for each in heads.all())]
    signs = [
        box["x"] + box["width"] / 2
        for box in (each.bounding_box() for each in page.locator("#music .sign.is-right").all())
    ]
    assert len(signs) == 4
    for sign in signs:
        assert min(abs(sign - note) for note in notes) < 12


@pytest.mark.parametrize("size", [(360, 740), (740, 360), (1280, 800), (1920, 1080)])
def test_the_line_being_played_stays_in_view_with_its_cursor(stand: Stand, size: tuple[int, int]) -> None:
    page = stand.page(viewport={"width": size[0], "height": size[1]}, reduced_motion="reduce")
    engraving, heads = music()
    lines = {
        n: next(at for at, line in enumerate(engraving.lines) if f'id="{ident}"' in line)
        for n, ident in heads.items()
    }
    for n in (1, 20, 40, 60, len(heads)):
        tell(stand, page, reading(n, lines[n]))
        box, frame = page.locator("#music .cursor").bounding_box(), page.locator("#music").bounding_box()
        assert page.locator("#music .cursor").count() == 1
        assert frame["x"] - 1 <= box["x"] <= frame["x"] + frame["width"] - box["width"] + 1, n
        assert frame["y"] - 3 <= box["y"] + box["height"] / 2 <= frame["y"] + frame["height"], n
    box = page.locator("#music .line").nth(lines[len(heads)]).bounding_box()
    assert (
        box["y"]
        < page.locator("#music").bounding_box()["y"] + page.locator("#music").bounding_box()["height"]
    )


def test_motion_is_reduced_where_that_is_wished(stand: Stand) -> None:
    page = stand.page(
        viewport={"width": 740, "height": 360},
        reduced_motion="reduce",
        init="const to = Element.prototype.scrollTo; window.ways = [];"
        "Element.prototype.scrollTo = function (how) {"
        " window.ways.push(how.behavior); return to.call(this, how); };",
    )
    tell(stand, page, reading(60, 3))
    assert set(page.evaluate("window.ways")) == {"instant"}


def test_with_few_colours_every_shape_is_still_there(stand: Stand) -> None:
    page = stand.page(forced_colors="active", viewport={"width": 1280, "height": 800})
    for name in ("staff", "name", "tempo", "reading", "naming"):
        tell(stand, page, moments()[name])
        assert page.locator("#verdict-sign").is_visible()
    tell(stand, page, moments()["name"])
    colours = "(s) => { const c = getComputedStyle(document.querySelector(s)); return [c.fill, c.stroke]; }"
    fill, _ = page.evaluate(colours, ".spot text")
    shape, _ = page.evaluate(colours, ".spot circle")
    assert fill != shape


def test_a_notice_is_seen_wherever_the_page_stands_and_said_once(stand: Stand) -> None:
    page = stand.page(viewport={"width": 360, "height": 640})
    words = "No MIDI input is there: plug in the guitar's interface."
    tell(stand, page, hall())
    page.get_by_role("button", name="Begin today's practice").click()
    page.locator("#notice-words", has_text="Beginning").wait_for()
    page.mouse.wheel(0, 400)
    stand.server.send(Notice(words, grave=True))
    tell(stand, page, replace(hall(), notice=words))
    box = page.locator("#notice").bounding_box()
    assert box["y"] >= 0
    assert box["y"] + box["height"] < 640
    assert page.locator("#hall-notice").is_hidden()
    page.get_by_role("button", name="Close").click()
    assert page.locator("#hall-notice").inner_text() == words
    tell(stand, page, running())
    assert page.locator("#notice").is_hidden()
