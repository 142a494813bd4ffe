"""What a page chooses before it begins something: the same runs as of the commands, kept as theirs are."""

from pathlib import Path

import pytest

from midifret.book.book import Book
from midifret.cli.stand_wishes import (
    LADDER_MINUTES,
    drill_wishes,
    left_out_of_drill,
    left_out_of_reading,
    reading_wishes,
)
from midifret.fingering import OpenStrings
from midifret.serve import StandServer
from midifret.stand.messages import Begin
from midifret.terms import BadInput
from midifret.terms.figures import OwnedTempoKept
from midifret.wire.take import read_take
from tests.cli.at_stand import Answers, at_stand, page_of

DRILL = """\
title: Four places
stage: mine
trains: Trains little.
minutes: 1
tempo: {bpm: 240}
ask:
  - {places: ["5:3", "4:2", "4:3", "3:2"]}
judge: place
"""
# The clef of the guitar, which sounds an octave lower: from string 5, fret 3, on.
ABC = "X:1\nT:Little tune\nM:4/4\nL:1/4\nK:C clef=treble-8\nCDEF|GABc|\n"


@pytest.fixture
def home(tmp_path: Path) -> Path:
    (tmp_path / "drills").mkdir()
    (tmp_path / "drills" / "four.yaml").write_text(DRILL, encoding="utf-8")
    (tmp_path / "scores").mkdir()
    (tmp_path / "scores" / "tune.abc").write_text(ABC, encoding="utf-8")
    return tmp_path


def owned_of(home: Path) -> list[OwnedTempoKept]:
    with Book.open(home / "book.sqlite") as book:
        return list(book.owned_tempos("me"))


# --- drills ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("way", "said"), [("find", "Looking for the tempo you own."), ("ladder", "The ladder begins at 240 bpm")]
)
def test_passes_go_on_by_themselves_and_count_for_the_owned_tempo(home: Path, way: str, said: str) -> None:
    told: list[str] = []

    def script(server: StandServer) -> None:
        page = page_of(server)
        page.sound()
        page.begin("drill four", way=way, tempo_bpm=240)
        first = page.until(lambda m: m["kind"] == "screen" and said in m["message"])
        page.until(  # nobody pressed anything: the next pass has come
            lambda m: m["kind"] == "screen" and m["run"] > first["run"] and "Pass 2, at" in m["message"]
        )
        page.until(lambda m: m["kind"] == "screen" and m["run"] > first["run"] and m["stage"] == "asking")
        before = len(page.told)
        page.press(" ")
        page.stage("paused", since=before)
        page.press("q")
        told.append(page.hall(since=before)["notice"])

    at_stand(home, script, player=Answers())
    (owned,) = owned_of(home)
    assert (owned.drill, owned.passes, owned.notes) == ("four", 1, 4)
    takes = [read_take(path) for path in sorted((home / "takes").glob("*.mid"))]
    assert len(takes) == 2
    assert takes[0].section == (0, 4)
    if way == "find":
        assert "Owned tempo " in told[0]
        assert "by 4 notes in 1 pass of this day." in told[0]
    else:
        assert "1 pass, clean up to 240 bpm." in told[0]


def test_a_drill_in_tempo_is_played_in_free_tempo(home: Path) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("drill four", way="free")
        asked = page.stage("asking")
        assert asked["beat"] is None
        page.stage("ended")
        page.press("enter")

    at_stand(home, script)
    assert owned_of(home) == []


def test_what_does_not_hold_for_a_drill_is_said(home: Path) -> None:
    def script(server: StandServer) -> None:
        page = page_of(server)
        page.begin("drill four", way="free", position=5)
        page.until(lambda m: m["kind"] == "screen" and "A drill has places of its own" in m["message"])
        page.stage("ended")
        page.press("enter")

    at_stand(home, script)


# --- readings -------------------------------------------------------------------------------------


def played(home: Path, **chosen: object) -> tuple[str, tuple[str, ...], int]:
    """Read the tune; return the name under which the book has it, the engraved lines, how many notes."""
    pytest.importorskip("verovio")
    pytest.importorskip("music21")
    lines: list[str] = []
    asked: list[int] = []

    def script(server: StandServer) -> None:
        page = page_of(server)
        page.until(lambda m: m["kind"] == "hall" and any(o["name"] == "score tune.abc" for o in m["offers"]))
        page.begin("score tune.abc", **chosen)
        lines.extend(page.until(lambda m: m["kind"] == "engraving")["lines"])
        asked.append(page.stage("asking")["progress"][1])
        page.stage("ended")
        page.press("enter")

    at_stand(home, script)
    with Book.open(home / "book.sqlite") as book:
        assert [answer.right for answer in book.answers_of(1)] == [True] * asked[0]
    (path,) = (home / "takes").glob("*.mid")
    return read_take(path).drill, tuple(lines), asked[0]


def test_a_score_in_a_position_without_open_strings(home: Path) -> None:
    assert played(home, position=2, open_strings="never")[::2] == ("read:Little tune@II", 8)


def test_a_score_on_the_whole_neck_and_some_bars_of_it(home: Path) -> None:
    assert played(home, anywhere=True, bars="2")[::2] == ("read:Little tune@anywhere", 4)


def test_a_score_that_does_not_tell_its_octave_is_told_it(home: Path) -> None:
    tune = home / "scores" / "tune.abc"
    tune.write_text(ABC.replace(" clef=treble-8", ""), encoding="utf-8")
    assert played(home, octave="written", position=2)[::2] == ("read:Little tune@II", 8)


def test_a_fingered_reading_shows_its_places_as_tablature(home: Path) -> None:
    name, lines, notes = played(home, fingered=True, position=2)
    assert (name, notes) == ("read:Little tune@fingered", 8)
    assert 'class="tabGrp' in lines[0]


def test_a_reading_that_is_not_fingered_shows_none(home: Path) -> None:
    assert 'class="tabGrp' not in "".join(played(home, position=2)[1])


@pytest.mark.parametrize(
    ("chosen", "words"),
    [
        ({"anywhere": True, "position": 5}, "cannot go together"),
        ({"anywhere": True, "open_strings": "never"}, "needs a position"),
        ({"bars": "two"}, "are no bars"),
        ({"bars": "70-80"}, "bar"),
        ({"way": "free", "tempo_bpm": 60}, "no beats a minute"),
    ],
)
def test_what_contradicts_itself_is_told(home: Path, chosen: dict[str, object], words: str) -> None:
    pytest.importorskip("music21")

    def script(server: StandServer) -> None:
        page = page_of(server)
        page.until(lambda m: m["kind"] == "hall" and any(o["name"] == "score tune.abc" for o in m["offers"]))
        page.begin("score tune.abc", **chosen)
        notice = page.until(lambda m: m["kind"] == "notice")
        assert notice["grave"]
        assert words in notice["words"]

    assert at_stand(home, script) == 0


# --- what was chosen, as values -------------------------------------------------------------------


def test_the_wishes_of_a_drill() -> None:
    assert drill_wishes(Begin("x")).ladder_minutes is None
    assert drill_wishes(Begin("x", way="ladder")).ladder_minutes == LADDER_MINUTES
    assert drill_wishes(Begin("x", way="ladder", minutes=2, tempo_bpm=70)).ladder_minutes == 2
    assert drill_wishes(Begin("x", way="find", tempo_bpm=70)).find
    assert drill_wishes(Begin("x", way="free")).free
    with pytest.raises(BadInput, match=r"0\.5 to 120 minutes"):
        drill_wishes(Begin("x", way="ladder", minutes=121))
    with pytest.raises(BadInput, match="no beats a minute"):
        drill_wishes(Begin("x", way="free", tempo_bpm=70))


def test_the_wishes_of_a_reading() -> None:
    usual = reading_wishes(Begin("x"), 5)
    assert (usual.position, usual.open_strings, usual.fingered) == (5, OpenStrings.NEEDED, False)
    assert reading_wishes(Begin("x", anywhere=True), 5).position is None
    assert reading_wishes(Begin("x", position=0), 5).position == 0
    assert reading_wishes(Begin("x", open_strings="freely"), 5).open_strings is OpenStrings.FREELY
    with pytest.raises(BadInput, match="needs a position"):
        reading_wishes(Begin("x", open_strings="freely"), None)


def test_what_is_left_out_is_said_and_nothing_else() -> None:
    assert left_out_of_drill(Begin("x", tempo_bpm=70, minutes=3)) == ""
    assert "whatever the minutes" in left_out_of_drill(Begin("x", way="find", minutes=3))
    for begin in (Begin("x", position=0), Begin("x", fingered=True), Begin("x", bars="2")):
        assert "places of its own" in left_out_of_drill(begin)
    assert left_out_of_reading(Begin("x", bars="2", minutes=3), composed=False) == ""
    assert left_out_of_reading(Begin("x", bars="2"), composed=True) == "A melody is read whole."
    assert "for drills" in left_out_of_reading(Begin("x", way="ladder"), composed=False)
