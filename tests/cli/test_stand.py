"""The stand as a player uses it: begun on a page, played on a virtual guitar, kept in the book."""

from importlib.util import find_spec
from itertools import pairwise
from pathlib import Path
from typing import NoReturn

import pytest

from midifret.book.book import Book
from midifret.cli.main import run
from midifret.gear.guitar import Guitar
from midifret.reading.build import DRILL_PREFIX
from midifret.serve import StandServer
from midifret.serve.pages import BUSY
from midifret.stand.messages import RunScreen
from midifret.terms import Answer, Unavailable
from midifret.terms.calibration import Caveat, ViewKind
from midifret.wire.take import read_take
from tests.cli.at_stand import ANSWER_S, PAINTS_AFTER_MS, Answers, LivePage, at_stand, page_of, sent
from tests.serve.standing import WAIT_S, cookie, get

DRILL = """\
title: Three places
stage: mine
trains: Trains little.
minutes: 1
ask:
  - {places: ["5:3", "4:2", "4:3"]}
judge: place
"""


@pytest.fixture
def home(tmp_path: Path) -> Path:
    drills = tmp_path / "drills"
    drills.mkdir()
    (drills / "three.yaml").write_text(DRILL, encoding="utf-8")
    (drills / "naming.yaml").write_text(DRILL.replace("judge: place", "judge: name"), encoding="utf-8")
    return tmp_path


def answers_of(home: Path) -> tuple[Answer, ...]:
    """All that was answered in the only run."""
    with Book.open(home / "book.sqlite") as book:
        return book.answers_of(1)


def test_a_drill(home: Path) -> None:
    painted: dict[int, float] = {}

    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("drill three")
        asked = page.stage("asking")
        assert (asked["cue"]["name"], asked["title"]) == ("C", "Three places")
        page.until(lambda m: m["kind"] == "screen" and m["told"] and m["told"]["right"])
        assert page.stage("ended")["rows"][0] == "The run is over."
        before = len(page.told)
        page.press("enter")
        assert page.hall(since=before)["notice"] == "Three places: 3 of 3 right."
        painted.update({n: shown_ms for (_, n), shown_ms in page.painted.items()})

    assert at_stand(home, script) == 0
    answers = answers_of(home)
    assert [answer.right for answer in answers] == [True] * 3
    assert all(answer.cue_sure for answer in answers)
    for answer in answers:
        # The virtual guitar plucks so long after the prompt was opened; it was seen some ms later.
        assert answer.response_s is not None
        assert 0 < answer.response_s <= ANSWER_S - PAINTS_AFTER_MS / 1000 + 0.005
    (take,) = (home / "takes").glob("*.mid")
    assert read_take(take).view is ViewKind.STAND
    cues = read_take(take).cues
    assert [cue.sure for cue in cues] == [True] * 3
    seen_ms = [(painted[n] - painted[1]) for n in (1, 2, 3)]
    assert [(cue.time_s - cues[0].time_s) * 1000 for cue in cues] == pytest.approx(seen_ms, abs=2.0)


def test_a_page_that_tells_nothing_of_its_cues_gives_no_times(home: Path) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server, paints=False)
        page.begin("drill three")
        rows = page.stage("ended")["rows"]
        assert any("no time" in row for row in rows)
        page.press("enter")

    at_stand(home, script)
    answers = answers_of(home)
    assert [answer.right for answer in answers] == [True] * 3
    assert [answer.response_s for answer in answers] == [None] * 3
    assert all(answer.recall_caveats == {Caveat.CUE_UNSURE} for answer in answers)


def test_again_and_quit(home: Path) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("drill three")
        first = page.stage("ended")
        before = len(page.told)
        page.press("a")
        second = page.stage("asking", since=before)
        assert second["run"] == first["run"] + 1
        page.press(" ")
        page.stage("paused", since=before)
        page.press("q")
        page.hall(since=before)

    at_stand(home, script)


def test_naming_by_buttons(home: Path) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("drill naming")
        since = 0
        for n in (1, 2, 3):
            asked = page.until(
                lambda m, n=n: m["kind"] == "screen" and m["cue"] and m["cue"]["n"] == n, since=since
            )
            assert asked["naming"][0] == ["C", "D", "E", "F", "G", "A", "B"]
            spot = asked["spots"][0] if len(asked["spots"]) == 1 else asked["spots"][-1]
            assert spot["mark"] == "named"
            since = len(page.told)
            page.name({1: "C", 2: "E", 3: "F"}[n])
        page.stage("ended")
        page.press("enter")

    at_stand(home, script)
    answers = answers_of(home)
    assert [answer.typed for answer in answers] == ["c", "e", "f"]
    assert [answer.right for answer in answers] == [True] * 3
    assert all(answer.response_s is not None for answer in answers)


def test_a_drill_in_tempo_clicks_on_the_page(home: Path) -> None:
    clicks: list[tuple[float, int]] = []

    def script(server: StandServer) -> None:
        page = page_of(server)
        page.sound()
        page.begin("drill three", tempo_bpm=180)
        page.until(lambda m: m["kind"] == "screen" and m["beat"])
        page.stage("ended")
        page.press("enter")
        for message in page.told:
            if message["kind"] == "clicks":
                clicks.extend((at_ms, strength) for at_ms, strength in message["clicks"])

    at_stand(home, script, player=Answers())
    between = [later[0] - earlier[0] for earlier, later in pairwise(clicks)]
    assert len(clicks) >= 4 + 3  # the count-in, and a beat for each note
    assert between == pytest.approx([60_000 / 180] * len(between), abs=1.0)
    assert clicks[0][1] == 2
    answers = answers_of(home)
    assert [answer.right for answer in answers] == [True] * 3
    assert all(answer.late_ms is not None and abs(answer.late_ms) < 20 for answer in answers)


@pytest.mark.skipif(find_spec("verovio") is None, reason="needs the library that engraves music: verovio")
def test_a_reading_with_every_note_marked(home: Path) -> None:
    marks: dict[str, str] = {}
    reports: list[str] = []

    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("melody 1", position=5)
        music = page.until(lambda m: m["kind"] == "engraving")
        asked = page.stage("asking")
        assert asked["reading"]["engraving"] == music["name"]
        assert f'id="{asked["reading"]["cursor"]}"' in "".join(music["lines"])
        page.stage("ended")
        for message in page.told:
            if message["kind"] == "screen" and message["reading"]:
                if message["reading"]["whole"]:
                    marks.clear()
                marks.update({mark["ident"]: mark["sign"] for mark in message["reading"]["marks"]})
        before = len(page.told)
        page.press("enter")
        report = page.hall(since=before)["report"]
        reports.append(get(server, report, cookie=cookie(server))[2].decode())

    at_stand(home, script)
    answers = answers_of(home)
    assert len(answers) > 8
    assert len(marks) == len(answers)
    assert set(marks.values()) == {"✓"}
    # The report has the reading, but no marked page: the hall would come seconds later for it.
    with Book.open(home / "book.sqlite") as book:
        (reading,) = book.newest_readings("me", DRILL_PREFIX)
    figures = f"{reading.right} of {reading.answers}"
    assert reading.title in reports[0]
    assert figures in reports[0]
    assert "the marked page" not in reports[0]
    assert "Each note has the mark" not in reports[0]
    assert run(["--home", str(home), "report", "--html", str(home / "report.html")]) == 0
    written = (home / "report.html").read_text(encoding="utf-8")
    assert figures in written
    assert "the marked page" in written
    assert "Each note has the mark" in written


def test_a_calibration_knows_that_it_was_seen_on_the_stand(home: Path) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("calibrate reaction")
        page.stage("countdown")  # it waits for a key, so that there is time to read
        page.press("enter")
        page.until(lambda m: m["kind"] == "screen" and m["progress"][0] >= 2)
        page.press("q")
        page.hall(since=len(page.told) - 1)

    at_stand(home, script)
    with Book.open(home / "book.sqlite") as book:
        (measured,) = book.measurements("me")
    assert measured.view is ViewKind.STAND
    for reading in measured.readings:
        assert 0 < reading.time_s <= ANSWER_S - PAINTS_AFTER_MS / 1000 + 0.005


def test_todays_practice_begins_with_what_is_planned(home: Path) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server)
        hall = page.until(lambda m: m["kind"] == "hall" and m["today"])
        assert {offer["name"] for offer in hall["today"]} == {"practice"}
        assert all(offer["detail"] for offer in hall["today"])  # each says why
        page.begin("practice", minutes=3)
        offered = page.stage("ended")
        assert (offered["title"], offered["right"]) == ("Practice", None)
        since = len(page.told)
        skip = next(button for button in offered["buttons"] if button["key"] not in ("enter", "q"))
        page.press(skip["key"])  # no placement: begin at the beginning
        block = page.until(
            lambda m: m["kind"] == "screen" and m["progress"][1] > 0 and m["stage"] == "ended", since=since
        )
        assert block["rows"][0]
        assert (block["counted"], block["progress"][0], block["right"]) == ("blocks", 0, None)
        since = len(page.told)
        page.press("enter")
        asked = page.until(
            lambda m: m["kind"] == "screen" and m["stage"] == "asking" and m["cue"], since=since
        )
        assert block["rows"][0] in asked["block"]
        page.until(lambda m: m["kind"] == "screen" and m["right"] >= 3, since=since)
        page.press(" ")
        page.stage("paused", since=since)
        page.press("q")
        left = page.stage("ended", since=len(page.told) - 1)
        assert left["title"] == "Practice"
        page.press("q")

    at_stand(home, script)
    assert sum(answer.right for answer in answers_of(home)) >= 3


# --- pages that come and go -----------------------------------------------------------------------


def test_a_run_waits_for_a_page_that_was_closed(home: Path) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("drill naming")
        page.stage("asking")
        paused = sent(server, lambda m: isinstance(m, RunScreen) and m.stage == "paused")
        page.link.close()
        assert paused.wait(WAIT_S)
        again = page_of(server)
        shown = again.until(lambda m: m["kind"] == "screen")
        assert shown["stage"] == "paused"
        asked = again.stage("asking")
        assert asked["progress"] == [0, 3]
        again.press(" ")
        again.stage("paused", since=len(again.told) - 1)
        again.press("q")
        again.hall()

    assert at_stand(home, script) == 0


def test_a_second_page_sees_the_same_run_and_begins_no_other(home: Path) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("drill naming")
        page.stage("asking")
        other = page_of(server, viewer="two")
        assert other.until(lambda m: m["kind"] == "screen")["title"] == "Three places"
        other.begin("drill three")
        notice = other.until(lambda m: m["kind"] == "notice")
        assert notice["words"] == BUSY
        other.name("C")
        page.until(lambda m: m["kind"] == "screen" and m["told"])
        page.press(" ")
        page.stage("paused")
        page.press("q")
        page.hall(since=len(page.told) - 1)

    at_stand(home, script)


def test_a_stand_that_is_started_again_lets_its_page_in_again(home: Path) -> None:
    texts: list[str] = []
    ports: list[int] = []

    def first(server: StandServer) -> None:
        page = page_of(server)
        page.hall()
        texts.append(cookie(server))
        ports.append(server.port)

    def second(server: StandServer) -> None:
        # Cookies are named after the port, which a free one changes.
        text = texts[0].replace(str(ports[0]), str(server.port))
        page = LivePage(server, text)
        assert page.hall()["player"] == "me"

    at_stand(home, first)
    at_stand(home, second)


# --- what cannot be played ------------------------------------------------------------------------


@pytest.mark.parametrize("what", ["drill nothing", "drill ../../etc/passwd", "score ../book.sqlite", "x", ""])
def test_what_the_hall_does_not_offer_is_not_begun(home: Path, what: str) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server)
        page.hall()
        page.begin(what)
        notice = page.until(lambda m: m["kind"] == "notice")
        assert notice["grave"]
        assert "cannot be begun" in notice["words"]

    assert at_stand(home, script) == 0


def test_without_a_guitar_the_page_says_what_to_do(home: Path) -> None:
    def missing(guitar: Guitar) -> NoReturn:
        raise Unavailable("there is no MIDI input", allowed="plug the guitar in")

    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("drill three")
        notice = page.until(lambda m: m["kind"] == "notice")
        assert notice["grave"]
        assert "plug the guitar in" in notice["words"]
        page.hall()

    assert at_stand(home, script, source=missing) == 0


def test_a_tempo_out_of_range_is_told(home: Path) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("drill three", tempo_bpm=999)
        assert page.until(lambda m: m["kind"] == "notice")["grave"]

    at_stand(home, script)


def test_interrupted_in_a_run_keeps_what_was_played(home: Path) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("drill naming")
        page.stage("asking")
        page.name("C")
        page.until(lambda m: m["kind"] == "screen" and m["told"])

    assert at_stand(home, script) == 130
    assert [answer.typed for answer in answers_of(home)] == ["c"]


def test_the_hall(home: Path) -> None:
    def script(server: StandServer) -> None:
        hall = page_of(server).hall()
        names = {offer["name"]: offer for offer in hall["offers"]}
        assert names["drill three"]["group"] == "mine"
        assert names["drill three"]["detail"] == "3 prompts, your own"
        assert {"melody 1", "calibrate", "calibrate reaction"} <= names.keys()
        status, headers, body = get(server, hall["report"], cookie=cookie(server))
        assert (status, headers["content-type"]) == (200, "text/html; charset=utf-8")
        assert b"</html>" in body

    at_stand(home, script)
