"""The page at the program itself, with a virtual guitar: drills and a reading, begun and ended there."""

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest

from midifret.book.book import Book
from midifret.players.player import Action, Pluck
from midifret.serve import StandServer
from midifret.terms import Answer, Judged, Prompt
from tests.cli.at_stand import Answers, OffBeat, at_stand
from tests.cli.test_stand import DRILL

ANSWER_S = 0.7


class Slower(OffBeat):
    """Leaves a browser on a busy machine time to draw."""

    def answer(self, prompt: Prompt) -> Sequence[Action]:
        return () if prompt.judged is Judged.NAME else (Pluck(ANSWER_S, prompt.places[0], 90, 0.1),)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    drills = tmp_path / "drills"
    drills.mkdir()
    (drills / "three.yaml").write_text(DRILL, encoding="utf-8")
    (drills / "naming.yaml").write_text(DRILL.replace("judge: place", "judge: name"), encoding="utf-8")
    (drills / "staff.yaml").write_text(DRILL + "show: staff\n", encoding="utf-8")
    return tmp_path


def played(
    home: Path, script: Callable[[Any], None], picture: str = "", player: Answers | None = None
) -> list[str]:
    """Run the stand with a page that a script uses; returns what went wrong in the page."""
    sync_api = pytest.importorskip(
        "playwright.sync_api", reason="playwright is missing: pip install '.[test]'"
    )
    path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if path is None:
        pytest.skip("chromium is missing: apt-get install chromium")
    faults: list[str] = []

    def at_page(server: StandServer) -> None:
        with sync_api.sync_playwright() as started:  # belongs to the thread that it is begun in
            browser = started.chromium.launch(executable_path=path, args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            page.set_default_timeout(15_000)
            page.on("pageerror", lambda error: faults.append(str(error)))
            page.on("console", lambda line: faults.append(line.text) if line.type == "error" else None)
            page.goto(server.address())
            page.locator("#hall").wait_for()
            try:
                script(page)
            finally:
                if picture:
                    page.screenshot(path=picture)
                browser.close()

    assert at_stand(home, at_page, player=player or Slower()) == 0
    return faults


def begin(page: Any, group: str, name: str) -> None:
    """Choose something in the hall."""
    page.locator("summary", has_text=group).click()
    page.locator(f"button.offer[data-name='{name}']").click()


def answers_of(home: Path) -> tuple[Answer, ...]:
    """All answers of the only run."""
    with Book.open(home / "book.sqlite") as book:
        return book.answers_of(1)


def test_a_drill_is_begun_played_and_ended_on_the_page(home: Path) -> None:
    def script(page: Any) -> None:
        begin(page, "mine", "drill three")
        page.locator("#cue-words", has_text="C").wait_for()
        page.locator("#verdict-words", has_text="Right.").wait_for()
        page.get_by_role("heading", name="The run is over").wait_for()
        page.keyboard.press("Enter")
        page.locator("#hall-title").wait_for()
        page.get_by_text("3 of 3 right").first.wait_for()

    assert played(home, script) == []
    answers = answers_of(home)
    assert [answer.right for answer in answers] == [True] * 3
    assert all(answer.cue_sure for answer in answers)
    for answer in answers:
        assert answer.response_s is not None
        assert ANSWER_S - 0.3 < answer.response_s <= ANSWER_S + 0.02  # from the frame, not from the sending


def test_names_are_given_by_buttons(home: Path) -> None:
    def script(page: Any) -> None:
        names = {"string 5, fret 3": "C", "string 4, fret 2": "E", "string 4, fret 3": "F"}
        begin(page, "mine", "drill naming")
        for n, (place, name) in enumerate(names.items(), 1):
            page.locator("#cue-words", has_text=place).wait_for()
            page.get_by_role("button", name=name, exact=True).click()
            if n < len(names):
                page.locator("#verdict-words", has_text="Right.").wait_for()
        page.get_by_role("heading", name="The run is over").wait_for()
        page.get_by_role("button", name="go on").click()
        page.locator("#hall-title").wait_for()

    assert played(home, script) == []
    assert [answer.right for answer in answers_of(home)] == [True] * 3


def test_a_staff_is_drawn_and_a_pause_hides_it(home: Path) -> None:
    def script(page: Any) -> None:
        begin(page, "mine", "drill staff")
        page.locator("#cue-large .staff > svg").wait_for()
        page.keyboard.press("Space")
        page.get_by_role("heading", name="Paused").wait_for()
        assert page.locator("#cue").is_hidden()
        page.keyboard.press("Space")
        page.get_by_role("heading", name="The run is over").wait_for()
        page.keyboard.press("Enter")
        page.locator("#hall-title").wait_for()

    assert played(home, script) == []
    assert [answer.right for answer in answers_of(home)] == [True] * 3


def test_a_melody_is_read_with_every_note_marked(home: Path) -> None:
    def script(page: Any) -> None:
        begin(page, "Unseen melodies", "melody 1")
        page.locator("#music .line > svg").first.wait_for()
        page.locator("#music .cursor").wait_for(state="attached")
        page.locator("#music .note.is-right").first.wait_for()
        page.wait_for_timeout(1500)
        assert page.locator("#music .sign").count() == page.locator("#music .note.is-right").count() > 1
        page.keyboard.press("q")
        page.locator("#hall-title").wait_for()

    assert played(home, script) == []


def test_a_ladder_is_chosen_and_climbed(home: Path) -> None:
    def script(page: Any) -> None:
        page.get_by_text("How it is played").click()
        page.get_by_label("Ladder").check()
        page.get_by_label("Tempo (").fill("200")
        begin(page, "mine", "drill three")
        page.locator("#run-message", has_text="The ladder begins at 200 bpm, for 5 minutes.").wait_for()
        page.locator("#run-message", has_text="Pass 2, at ").wait_for()
        page.locator("#cue-words", has_text="C").wait_for()
        page.keyboard.press("q")
        page.locator("#hall-title").wait_for()
        page.get_by_text("1 pass, clean up to 200 bpm.").first.wait_for()
        page.get_by_text("How it is played: 200 bpm, ladder").wait_for()  # it holds until it is changed

    assert played(home, script, player=Answers()) == []
    with Book.open(home / "book.sqlite") as book:
        (owned,) = book.owned_tempos("me")
    assert (owned.drill, owned.passes, owned.notes) == ("three", 1, 3)


def test_a_fingered_melody_shows_tablature(home: Path) -> None:
    frets: list[str] = []

    def script(page: Any) -> None:
        page.get_by_text("How it is played").click()
        page.get_by_label("Show a fingering").check()
        begin(page, "Unseen melodies", "melody 1")
        page.locator("#music .line > svg").first.wait_for()
        page.locator("#music .note.is-right").first.wait_for()
        frets.extend(page.locator("#music .line text").all_text_contents())
        page.keyboard.press("q")
        page.locator("#hall-title").wait_for()

    assert played(home, script) == []
    assert sum(text.strip().isdigit() for text in frets) >= 8  # one for each note of a melody of two bars
