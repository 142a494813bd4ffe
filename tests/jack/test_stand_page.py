"""The stand in a browser, at the program in a process of its own, with a guitar that plays over JACK."""

import json
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from midifret.book.book import Book
from midifret.cli.app import App
from midifret.cli.read import reading_asked
from midifret.cli.score_options import ScoreWishes
from midifret.cli.stand_hall import Offers
from midifret.cli.stand_wishes import reading_wishes
from midifret.files import Home
from midifret.stand.messages import Begin
from midifret.terms import Answer
from midifret.terms.marks import MarkKind
from midifret.wire.ports import PortSink, open_sink
from midifret.wire.take import read_take
from tests.cli.test_read import music_xml

from .conftest import wait_until
from .standing import START_S, Program, free_port, pluck, standing

pytestmark = pytest.mark.jack

PORT = "midifret-stood"
PLACES = ("5:3", "4:2", "4:3", "3:2", "2:1", "1:3")
DRILL = f"""\
title: Six places
stage: mine
trains: Trains little.
minutes: 1
ask:
  - {{places: {json.dumps(PLACES)}}}
judge: place
"""
# Which of the notes on the page are marked right, and which is the first whose head the cursor is at.
MARKED = """[...document.querySelectorAll("#music .note")]
  .flatMap((note, at) => note.classList.contains("is-right") ? [at] : [])"""
UNDER_CURSOR = """[...document.querySelectorAll("#music .note")].findIndex((note) => {
  const cursor = document.querySelector("#music .cursor").getBoundingClientRect();
  const head = note.getBoundingClientRect();
  return cursor.left <= head.left && head.right <= cursor.right
    && cursor.top <= head.top && head.bottom <= cursor.bottom;
})"""
MOST_MS = 20_000  # a browser beside other work


@contextmanager
def guitar() -> Iterator[PortSink]:
    """A guitar that is plugged in: its own port, to which the program connects."""
    sink = open_sink(PORT, virtual=True, client_name="midifret-instrument")
    try:
        yield sink
    finally:
        sink.close()


@pytest.fixture
def home(tmp_path: Path) -> Path:
    (tmp_path / "drills").mkdir()
    (tmp_path / "drills" / "six.yaml").write_text(DRILL, encoding="utf-8")
    (tmp_path / "scores").mkdir()
    (tmp_path / "scores" / "tune.musicxml").write_text(music_xml(), encoding="utf-8")
    return tmp_path


class Browser:
    """Pages of one browser, each a device of its own; `faults` is what went wrong in them."""

    def __init__(self, chromium: Any) -> None:
        self.chromium = chromium
        self.contexts: list[Any] = []
        self.faults: list[str] = []

    def page(self, address: str, shown: str = "hall") -> Any:
        """A page that is linked, in the hall or where a run goes on."""
        context = self.chromium.new_context(viewport={"width": 1280, "height": 800})
        context.set_default_timeout(MOST_MS)
        self.contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("console", lambda line: self.faults.append(line.text) if line.type == "error" else None)
        page.goto(address)
        page.locator(f"body[data-link=linked][data-shown={shown}]").wait_for()
        return page


@pytest.fixture
def browser(chromium: Any) -> Iterator[Browser]:
    made = Browser(chromium)
    yield made
    for context in made.contexts:
        context.close()


def begin(page: Any, group: str, name: str) -> None:
    """Choose something in the hall."""
    offer = page.locator(f"button.offer[data-name='{name}']")
    if not offer.is_visible():
        page.locator("#hall-offers summary", has_text=group).click()
    offer.click()


def answer(page: Any, sink: PortSink, home: Path, numbers: range) -> None:
    """Play the right place of each prompt, as soon as the page shows it."""
    neck = App(Home(home)).guitar("default").neck
    for n in numbers:
        shows(page, n)
        time.sleep(0.3)
        pluck(sink, neck, PLACES[n - 1])


def shows(page: Any, n: int) -> None:
    """Wait until the n-th cue is to be seen."""
    page.locator("#run-count", has_text=f"{n - 1} of {len(PLACES)}").wait_for()
    page.locator("#cue").wait_for()


def ended(page: Any) -> None:
    """Wait for the end of the run, and go back to the hall."""
    page.get_by_role("heading", name="The run is over").wait_for()
    page.keyboard.press("Enter")
    page.locator("#hall").wait_for()


def stopped(program: Program) -> int:
    """End the program as a person does."""
    program.process.send_signal(signal.SIGINT)
    return program.process.wait(START_S)


def answers_of(home: Path, run: int) -> tuple[Answer, ...]:
    with Book.open(home / "book.sqlite") as book:
        return book.answers_of(run)


def verdicts_in_take(home: Path, drill: str, take: Path) -> list[str]:
    """What the take gives by itself."""
    judged = subprocess.run(
        [sys.executable, "-m", "midifret", "--home", str(home), "judge", drill, str(take), "--json"],
        capture_output=True,
        text=True,
        check=False,
    )
    return [each["verdict"] for each in json.loads(judged.stdout)["answers"]]


def test_a_guitar_that_goes_and_comes_back_pauses_the_run(
    home: Path, jack_environment: dict[str, str], browser: Browser
) -> None:
    with standing(home, jack_environment, "--input", PORT) as program:
        with guitar() as sink:
            page = browser.page(program.address)
            begin(page, "mine", "drill six")
            answer(page, sink, home, range(1, 4))
            shows(page, 4)
        page.locator("#run-message", has_text="The guitar's port is gone").wait_for()
        page.get_by_role("heading", name="Paused").wait_for()
        assert page.locator("#cue").is_hidden()
        with guitar() as sink:
            page.locator("#run[data-stage=asking]").wait_for()
            assert "is gone" not in page.locator("#run-message").inner_text()
            answer(page, sink, home, range(4, 7))
            ended(page)
            page.get_by_text("6 of 6 right").first.wait_for()
            assert stopped(program) == 0
    answers = answers_of(home, 1)
    assert [each.right for each in answers] == [True] * 6
    assert all(each.cue_sure for each in answers)
    for each in answers:  # the time without a guitar is in none of them
        assert each.response_s is not None
        assert each.response_s < 2
    (take,) = (home / "takes").glob("*.mid")
    assert MarkKind.GONE in [mark.kind for mark in read_take(take).marks]
    assert verdicts_in_take(home, "six", take) == ["right"] * 6
    assert browser.faults == []


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_a_program_that_is_killed_and_started_anew_is_found_again(
    home: Path, jack_environment: dict[str, str], browser: Browser, how: signal.Signals
) -> None:
    port = free_port()
    with guitar() as sink:
        with standing(home, jack_environment, "--input", PORT, port=port) as program:
            page = browser.page(program.address)
            begin(page, "mine", "drill six")
            answer(page, sink, home, range(1, 4))
            shows(page, 4)
            (journal,) = (home / "takes").glob("*.journal")
            wait_until(lambda: re.search(r"^c [\d.]+ 4$", journal.read_text(), re.M), "cue 4 on disk")
            program.process.send_signal(how)
            code = program.process.wait(START_S)
            assert code == (130 if how is signal.SIGINT else -signal.SIGKILL)
        words = page.locator("#link-words")
        words.wait_for()
        assert "The link to the program is lost" in words.inner_text()
        assert [each.right for each in answers_of(home, 1)] == [True] * 3
        with standing(home, jack_environment, "--input", PORT, port=port) as program:
            page.locator("body[data-link=linked][data-shown=hall]").wait_for()  # by itself
            assert words.is_hidden()
            assert page.locator("button.offer[data-name='drill six']").count() == 1
            (take,) = (home / "takes").glob("*.mid")  # made from the journal where nobody ended the run
            assert len(read_take(take).cues) == 4
            assert verdicts_in_take(home, "six", take)[:3] == ["right"] * 3
            begin(page, "mine", "drill six")
            answer(page, sink, home, range(1, 7))
            ended(page)
            assert stopped(program) == 0
    assert [each.right for each in answers_of(home, 1)] == [True] * 3
    assert [each.right for each in answers_of(home, 2)] == [True] * 6
    assert all(each.cue_sure for each in answers_of(home, 2))


def test_a_page_whose_key_holds_no_longer_says_what_to_do(
    home: Path, jack_environment: dict[str, str], browser: Browser
) -> None:
    port = free_port()
    with standing(home, jack_environment, "--input", PORT, port=port) as program:
        page = browser.page(program.address)
        assert stopped(program) == 0
    page.locator("#link-words").wait_for()
    with standing(home, jack_environment, "--input", PORT, "--forget", port=port) as program:
        page.locator(
            "#waiting-words", has_text="Open the whole address that midifret stand printed"
        ).wait_for()
        assert page.locator("#link-words").is_hidden()
        page.goto(program.address)  # as told
        page.locator("#hall").wait_for()


def test_one_of_two_pages_is_closed_and_the_run_goes_on(
    home: Path, jack_environment: dict[str, str], browser: Browser
) -> None:
    with guitar() as sink, standing(home, jack_environment, "--input", PORT) as program:
        first, second = browser.page(program.address), browser.page(program.address)
        begin(first, "mine", "drill six")
        answer(first, sink, home, range(1, 4))
        shows(second, 4)
        shows(first, 4)
        first.close()
        answer(second, sink, home, range(4, 7))
        second.get_by_role("heading", name="The run is over").wait_for()
        third = browser.page(program.address, shown="run")  # sees the same when it comes at the end
        third.get_by_role("heading", name="The run is over").wait_for()
        ended(second)
        assert stopped(program) == 0
    answers = answers_of(home, 1)
    assert [each.right for each in answers] == [True] * 6
    assert all(each.cue_sure for n, each in enumerate(answers, 1) if n != 4)
    (take,) = (home / "takes").glob("*.mid")
    assert not read_take(take).marks  # nothing was paused
    assert browser.faults == []


def test_notes_of_a_reading_are_marked_as_they_are_played(
    home: Path, jack_environment: dict[str, str], browser: Browser
) -> None:
    app = App(Home(home))
    chosen = app.guitar("default")
    offers = Offers(app, None, "", chosen.neck)
    with standing(home, jack_environment, "--input", PORT) as program, guitar() as sink:
        page = browser.page(program.address)
        begin(page, "Your own scores", "score tune.musicxml")
        page.locator("#music .cursor").wait_for(state="attached")
        offers.look_for_scores()  # as the program has, which kept what it found
        position = offers.positions["score tune.musicxml"][0]
        asked = reading_wishes(Begin("score tune.musicxml"), position)
        exercise = reading_asked(app, asked, home / "scores" / "tune.musicxml", ScoreWishes(), chosen)
        for prompt in exercise.prompts:
            page.locator("#run-count", has_text=f"{prompt.n - 1} of {len(exercise.prompts)}").wait_for()
            assert page.evaluate(MARKED) == [*range(prompt.n - 1)]
            assert page.evaluate(UNDER_CURSOR) == prompt.n - 1
            time.sleep(0.3)
            pluck(sink, chosen.neck, str(prompt.places[0]))
            page.wait_for_function(f"{MARKED}.length === {prompt.n}")
        assert page.evaluate(MARKED) == [*range(7)]  # each note itself, in the order of the music
        ended(page)
        assert stopped(program) == 0
    assert [each.right for each in answers_of(home, 1)] == [True] * 7
    assert browser.faults == []
