"""`midifret scores`: a folder of one's own, indexed by level and position, with its faulty files named."""

import datetime as dt
import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from midifret.book.book import Book
from midifret.cli.main import run
from midifret.cli.shelf_choices import choices_path
from midifret.files import Home
from midifret.melody import fingerprint
from midifret.scores import read_score
from midifret.terms.given import GivenMusic, MusicKind

Call = Callable[..., tuple[int, str, str]]
NOW = dt.datetime(2026, 11, 1, 12, tzinfo=dt.UTC)
# Pitches as guitarists read them, an octave above what sounds (treble-8).
EASY = "X:1\nT:Easy\nM:4/4\nL:1/4\nK:C clef=treble-8\nc d e d | c d c2 |]\n"
HARDER = "X:1\nT:Harder\nM:4/4\nL:1/8\nK:Eb clef=treble-8\nE2 G2 B2 e2 | B2 G2 E4 |]\n"
LOW = "X:1\nT:Low\nM:4/4\nL:1/4\nK:C clef=treble-8\nE, F, G, F, | E, F, E,2 |]\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    scores = tmp_path / "scores"
    (scores / "by ear").mkdir(parents=True)
    (scores / "a-harder.abc").write_text(HARDER, encoding="utf-8")
    (scores / "b-easy.abc").write_text(EASY, encoding="utf-8")
    (scores / "by ear" / "low.abc").write_text(LOW, encoding="utf-8")
    return scores


@pytest.fixture
def midifret(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Call:
    def call(*arguments: str) -> tuple[int, str, str]:
        code = run(["--home", str(tmp_path), *arguments])
        out, err = capsys.readouterr()
        return code, out, err

    return call


def listed(midifret: Call, *arguments: str) -> dict:
    code, out, _ = midifret("scores", *arguments, "--json")
    assert code == 0
    return json.loads(out)


def files(document: dict) -> list[str]:
    return [score["file"] for score in document["scores"]]


def test_easy_ones_come_first_with_what_makes_others_hard(midifret: Call, folder: Path) -> None:
    document = listed(midifret)
    assert files(document) == ["b-easy.abc", "by ear/low.abc", "a-harder.abc"]
    assert [score["level"] for score in document["scores"]][:2] == [1, 1]
    assert any("3 signs" in words for words in document["scores"][2]["because"])
    code, out, _ = midifret("scores")
    assert code == 0
    assert "Easy: level 1, 7 notes" in out


def test_positions_are_those_of_the_neck(midifret: Call, folder: Path) -> None:
    document = listed(midifret)
    low = next(score for score in document["scores"] if score["file"].endswith("low.abc"))
    # E2 F2 G2: F2 lies at fret 1 of string 6 alone, so position I or open (facts: string 6 is MIDI 40).
    assert [fit["position"] for fit in low["positions"]] == [0, 1]
    assert files(listed(midifret, "--position", "V")) == ["b-easy.abc", "a-harder.abc"]
    assert files(listed(midifret, "--level", "1")) == ["b-easy.abc", "by ear/low.abc"]


def test_what_was_read_comes_last(midifret: Call, folder: Path, tmp_path: Path) -> None:
    mark = fingerprint(read_score(folder / "b-easy.abc"))
    with Book.open(tmp_path / "book.sqlite") as book:
        book.ensure_player("me", created_utc=NOW)
        book.put_given("me", GivenMusic(MusicKind.SCORE, mark, "Easy", 5, None, None, NOW))
    document = listed(midifret)
    assert files(document)[-1] == "b-easy.abc"
    assert document["scores"][-1]["times_read"] == 1
    assert ", read" in midifret("scores")[1]


def test_broken_files_are_named_with_their_reason(midifret: Call, folder: Path) -> None:
    (folder / "broken.musicxml").write_text("<score-partwise><part>", encoding="utf-8")
    (folder / "not.mid").write_text("hello", encoding="utf-8")
    (folder / "empty.abc").write_text("", encoding="utf-8")
    (folder / "words.txt").write_text("no score", encoding="utf-8")
    code, out, err = midifret("scores")
    assert code == 0
    assert "Traceback" not in out + err
    document = listed(midifret)
    assert [faulty["file"] for faulty in document["faulty"]] == ["broken.musicxml", "empty.abc", "not.mid"]
    assert all(faulty["why"] for faulty in document["faulty"])
    assert len(document["scores"]) == 3


def test_files_are_read_again_only_when_they_change(midifret: Call, folder: Path) -> None:
    assert midifret("scores")[2].count("reading") == 3
    assert midifret("scores")[2] == ""
    os.utime(folder / "b-easy.abc", ns=(1, 1))  # another time, the same music
    assert midifret("scores")[2] == ""
    (folder / "b-easy.abc").write_text(HARDER + "% again\n", encoding="utf-8")
    assert midifret("scores")[2].count("reading") == 1
    (folder / "a-harder.abc").unlink()
    document = listed(midifret)
    assert [(score["file"], score["title"]) for score in document["scores"]] == [
        ("by ear/low.abc", "Low"),
        ("b-easy.abc", "Harder"),
    ]


def test_a_renamed_file_is_known_by_what_is_in_it(midifret: Call, folder: Path) -> None:
    midifret("scores", "b-easy.abc", "--octave", "sounding")
    (folder / "b-easy.abc").rename(folder / "by ear" / "renamed.abc")
    assert midifret("scores")[2] == ""
    document = listed(midifret)
    renamed = next(score for score in document["scores"] if score["file"] == "by ear/renamed.abc")
    assert renamed["chosen"] == {"octave": "sounding"}
    assert "b-easy.abc" not in files(document)


def test_what_was_read_is_kept_where_reading_is_stopped(
    midifret: Call, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from midifret.cli import shelf

    monkeypatch.setattr(shelf, "_KEPT_EACH", 1)
    monkeypatch.setattr(shelf, "_MOST_AT_ONCE", 1)
    whole = shelf.read_of

    def stopped(score):
        if score.title == "Low":
            raise KeyboardInterrupt
        return whole(score)

    monkeypatch.setattr(shelf, "read_of", stopped)
    midifret("scores")
    kept = json.loads((tmp_path / "scores-index.json").read_text(encoding="utf-8"))
    assert sorted(kept["files"]) == ["a-harder.abc", "b-easy.abc"]
    monkeypatch.setattr(shelf, "read_of", whole)
    assert midifret("scores")[2].count("reading") == 1


def score_in(document: dict, file: str) -> dict:
    return next(score for score in document["scores"] if score["file"] == file)


# No clef: the file does not say its octave. c to g as written sound C4 to G4 (48 + 12), else C5 to G5.
UNSAID = "X:1\nT:Unsaid\nM:4/4\nL:1/4\nK:C\nc d e f | g f e2 |]\n"


def test_an_octave_that_is_not_said_is_assumed_until_it_is_chosen(midifret: Call, folder: Path) -> None:
    (folder / "unsaid.abc").write_text(UNSAID, encoding="utf-8")
    document = listed(midifret)
    assert document["faulty"] == []
    assumed = score_in(document, "unsaid.abc")
    assert (assumed["octave_assumed"], assumed["chosen"]) == ("written", {})
    assert score_in(document, "b-easy.abc")["octave_assumed"] is None
    out = midifret("scores")[1]
    assert "octave not said, read as written" in out
    assert "midifret scores FILE --octave" in out
    chosen = score_in(listed(midifret, "unsaid.abc", "--octave", "sounding"), "unsaid.abc")
    assert (chosen["octave_assumed"], chosen["chosen"]) == (None, {"octave": "sounding"})
    assert chosen["positions"] != assumed["positions"]
    # Remembered, read from the index alone, and not for the others.
    code, out, err = midifret("scores")
    assert (code, err) == (0, "")
    assert "as you chose: octave sounding" in out
    assert score_in(listed(midifret), "unsaid.abc")["positions"] == chosen["positions"]


def test_other_commands_read_a_file_as_it_was_chosen(midifret: Call, folder: Path, tmp_path: Path) -> None:
    (folder / "unsaid.abc").write_text(UNSAID, encoding="utf-8")
    listed(midifret, "unsaid.abc", "--octave", "sounding")
    elsewhere = tmp_path / "copy.abc"  # known by what is in it
    elsewhere.write_text(UNSAID, encoding="utf-8")
    for path in (folder / "unsaid.abc", elsewhere):
        code, out, err = midifret("finger", str(path), "--json")
        assert code == 0
        assert f"{path.name} is read as you chose with `midifret scores`: octave sounding." in err
        assert json.loads(out)["notes"][0]["midi"] == 72  # c of ABC is C5, 60 being middle C (MIDI 1.0)
    code, out, err = midifret("finger", str(elsewhere), "--octave", "written", "--json")
    assert (code, err) == (0, "")
    assert json.loads(out)["notes"][0]["midi"] == 60
    # A file of choices that is broken is told, and stops nothing.
    choices_path(Home.of(folder.parent)).write_text("{", encoding="utf-8")
    code, _, err = midifret("finger", str(elsewhere), "--octave", "written", "--json")
    assert code == 0
    assert "cannot be read" in err


def test_an_octave_for_all_that_do_not_say(midifret: Call, folder: Path) -> None:
    (folder / "unsaid.abc").write_text(UNSAID, encoding="utf-8")
    document = listed(midifret, "--octave", "sounding")
    assert score_in(document, "unsaid.abc")["chosen"] == {"octave": "sounding"}
    assert score_in(document, "b-easy.abc")["chosen"] == {}  # its clef says it
    assert listed(midifret) == document


def test_a_damaged_index_does_not_lose_what_was_chosen(midifret: Call, folder: Path, tmp_path: Path) -> None:
    (folder / "unsaid.abc").write_text(UNSAID, encoding="utf-8")
    first = listed(midifret, "unsaid.abc", "--octave", "sounding")
    (tmp_path / "scores-index.json").write_text("{", encoding="utf-8")
    assert listed(midifret) == first


@pytest.mark.parametrize(
    "garbage", ["{", "[]", '{"version": 9, "files": {}}', '{"version": 1, "files": {"a": {}}}']
)
def test_damaged_choices_are_told_and_stay(
    midifret: Call, folder: Path, tmp_path: Path, garbage: str
) -> None:
    kept = tmp_path / "scores-choices.json"
    kept.write_text(garbage, encoding="utf-8")
    code, out, err = midifret("scores", "b-easy.abc", "--octave", "sounding")
    assert (code, out) == (2, "")
    assert f"{kept}, which keeps octave" in err
    assert "move it away to choose anew" in err
    assert kept.read_text(encoding="utf-8") == garbage


def test_a_tune_and_a_part_are_chosen_of_a_file(midifret: Call, folder: Path) -> None:
    (folder / "two.abc").write_text(EASY + "\n" + HARDER.replace("X:1", "X:2"), encoding="utf-8")
    voices = 'V:1 name="High"\nc d e d|c4|]\nV:2 name="Low"\nC4|C4|]\n'
    duo = "X:1\nT:Duo\nM:4/4\nL:1/4\nK:C clef=treble-8\n" + voices
    (folder / "duo.abc").write_text(duo, encoding="utf-8")
    whys = {faulty["file"]: faulty["why"] for faulty in listed(midifret)["faulty"]}
    assert "2 tunes" in whys["two.abc"]
    assert "2 parts" in whys["duo.abc"]
    assert score_in(listed(midifret, "two.abc", "--tune", "2"), "two.abc")["title"] == "Harder"
    document = listed(midifret, "duo.abc", "--part", "1+2")
    assert score_in(document, "duo.abc")["notes"] == 7
    assert document["faulty"] == []
    assert score_in(listed(midifret, "duo.abc", "--voices", "2"), "duo.abc")["notes"] == 2


@pytest.mark.parametrize(
    "garbage", ["", "{", '{"version": 1}', '{"version": 1, "files": {"b-easy.abc": {}}}', "[]"]
)
def test_a_damaged_index_is_made_anew(midifret: Call, folder: Path, tmp_path: Path, garbage: str) -> None:
    first = listed(midifret)
    (tmp_path / "scores-index.json").write_text(garbage, encoding="utf-8")
    assert listed(midifret) == first


def test_another_guitar_needs_no_reading(midifret: Call, folder: Path, tmp_path: Path) -> None:
    midifret("scores")
    (tmp_path / "guitars").mkdir()
    capo = "title: With a capo\ntuning: standard\nfrets: 19\ncapo: 5\nchannels: [1, 2, 3, 4, 5, 6]\n"
    (tmp_path / "guitars" / "capo.yaml").write_text(capo, encoding="utf-8")
    code, out, err = midifret("scores", "--guitar", "capo", "--json")
    assert (code, err) == (0, "")
    low = next(score for score in json.loads(out)["scores"] if score["file"].endswith("low.abc"))
    assert low["positions"] == []  # below what the capo leaves


def test_an_empty_folder_says_where_scores_go(midifret: Call, tmp_path: Path) -> None:
    code, out, _ = midifret("scores")
    assert code == 0
    assert str(tmp_path / "scores") in out
    assert listed(midifret)["scores"] == []


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--level", "0"), "there is no level 0 (1 to 9)"),
        (("--position", "ninth"), "ninth"),
        (("--player", "Nobody"), "Nobody"),
        (("--guitar", "lute"), "there is no guitar 'lute'"),
        (("nobody.abc", "--octave", "written"), "there is no score 'nobody.abc'"),
        (("nobody.abc",), "nothing is said of nobody.abc"),
        (("--part", "2"), "chosen of a file"),
    ],
)
def test_what_cannot_be_is_said(midifret: Call, arguments: tuple[str, ...], message: str) -> None:
    code, out, err = midifret("scores", *arguments)
    assert (code, out) == (2, "")
    assert message in err
