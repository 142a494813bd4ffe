"""`midifret melody`: melodies for a player with a book, on the screen, as documents and as files."""

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from music21 import converter

from midifret.book.book import Book
from midifret.cli.main import run
from midifret.scores import read_score

Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def midifret(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Call:
    def call(*arguments: str) -> tuple[int, str, str]:
        code = run(["--home", str(tmp_path), *arguments])
        out, err = capsys.readouterr()
        return code, out, err

    return call


def test_it_is_shown_by_bars_and_fits_the_terminal(midifret: Call) -> None:
    code, out, _ = midifret("melody", "--level", "7", "--seed", "5")
    assert code == 0
    lines = out.splitlines()
    assert max(map(len, lines[:-1])) <= 79
    assert out.count("|") > 12
    assert not re.search(r"[A-G][#b]?\d", "".join(line for line in lines if line.startswith("|")))


def test_no_melody_comes_twice_and_the_book_counts(midifret: Call, tmp_path: Path) -> None:
    seen = [json.loads(midifret("melody", "--json")[1]) for _ in range(12)]
    assert len({melody["fingerprint"] for melody in seen}) == 12
    with Book.open(tmp_path / "book.sqlite") as book:
        assert book.melodies_given("me") == 12
        assert book.given_fingerprints("me") == {melody["fingerprint"] for melody in seen}
        first = book.given("me")[0]
    assert (first.seed, first.level, first.position) == (seen[0]["seed"], 1, 5)


def test_two_programs_at_once_do_not_give_the_same(
    midifret: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked_up = Book.given_fingerprints

    def with_another_in_between(book: Book, player: str) -> frozenset[str]:
        known = looked_up(book, player)
        monkeypatch.setattr(Book, "given_fingerprints", looked_up)
        assert run(["--home", str(tmp_path), "melody", "--json"]) == 0
        return known

    monkeypatch.setattr(Book, "given_fingerprints", with_another_in_between)
    assert midifret("melody", "--json")[0] == 0
    with Book.open(tmp_path / "book.sqlite") as book:
        assert (len(book.given("me")), len(book.given_fingerprints("me"))) == (2, 2)


def test_two_players_get_different_ones(midifret: Call) -> None:
    midifret("players", "--add", "Ada")
    mine = json.loads(midifret("melody", "--json")[1])
    hers = json.loads(midifret("melody", "--json", "--player", "Ada")[1])
    assert mine["notes"] != hers["notes"]


def test_what_stands_under_again_gives_it_again(midifret: Call) -> None:
    code, out, _ = midifret(
        "melody", "--level", "3", "--bars", "6", "--key", "D major", "--visit", "2:7 4:5=0.5"
    )
    assert code == 0
    words = re.findall(r'"[^"]*"|\S+', out.splitlines()[-1].removeprefix("Again: midifret "))
    _, again, _ = midifret(*(word.strip('"') for word in words))
    assert again == out


def test_a_seed_gives_the_same_document(midifret: Call) -> None:
    first = midifret("melody", "--level", "5", "--seed", "77", "--json")
    assert first == midifret("melody", "--level", "5", "--seed", "77", "--json")


def test_a_file_that_is_there_stays_unless_it_is_to_go(midifret: Call, tmp_path: Path) -> None:
    path = tmp_path / "mine.abc"
    path.write_text("mine", encoding="utf-8")
    code, out, err = midifret("melody", "--out", str(path))
    assert (code, out, path.read_text(encoding="utf-8")) == (2, "", "mine")
    assert "there already (another name, or --overwrite)" in err
    assert midifret("melody", "--out", str(path), "--overwrite")[0] == 0
    assert path.read_text(encoding="utf-8").startswith("X:1\nT:Melody")


@pytest.mark.parametrize("ending", ["musicxml", "abc"])
@pytest.mark.parametrize("level", [1, 4, 5, 7, 8])
def test_files_are_read_back_with_the_same_notes(
    midifret: Call, tmp_path: Path, ending: str, level: int
) -> None:
    """By our own reader, in sounding pitch, and by music21."""
    path = tmp_path / f"melody.{ending}"
    code, out, err = midifret("melody", "--level", str(level), "--seed", "2", "--json", "--out", str(path))
    assert (code, err) == (0, "")
    notes = json.loads(out)["notes"]
    told = [(n["onset_quarter"], n["duration_quarter"], n["midi"]) for n in notes]
    score = read_score(path)
    assert [
        (round(float(n.onset_quarter), 6), round(float(n.duration_quarter), 6), n.midi) for n in score.notes
    ] == told
    # music21 shows sounding pitches under a clef with an 8 in MusicXML, and in ABC leaves them as written.
    octave = 12 if ending == "abc" else 0
    other = converter.parse(path, forceSource=True).stripTies().flatten().notes
    assert [n.pitch.midi - octave for n in other] == [n["midi"] for n in notes]


def test_dark_places_are_visited(midifret: Call, tmp_path: Path) -> None:
    """Without --visit the book says which places are dark; here all but one string are known."""
    from tests.cli.knowing import know_all_but

    know_all_but(tmp_path / "book.sqlite", string=2)
    on_two = []
    for _ in range(15):
        document = json.loads(midifret("melody", "--level", "2", "--json")[1])
        assert all(place["string"] == 2 for place in document["visited"])
        on_two.append(len(document["visited"]))
    assert sum(on_two) / len(on_two) >= 1.5


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--level", "0"), "there is no level 0 of melodies (1 to 8)"),
        (("--level", "99"), "there is no level 99 of melodies (1 to 8)"),
        (("--bars", "0"), "a melody of 0 bars (2 to 64 bars)"),
        (("--bars", "10000"), "a melody of 10000 bars (2 to 64 bars)"),
        (("--position", "17"), "this neck has no position 17 (0 (the open position) to 16)"),
        (("--position", "ninth"), "ninth"),
        (("--key", "Z major"), "'Z major' is not a key for melodies"),
        (("--meter", "5/4"), "'5/4' is not a meter here (2/4, 3/4, 4/4, 6/8)"),
        (("--level", "1", "--meter", "6/8"), "has no rhythms for 6/8"),
        (("--seed", "-1"), "the seed -1 is out of range"),
        (("--visit", "7:1"), "the guitar has no place 7:1"),
        (("--visit", "2:7=x"), "'2:7=x' is no place to be sought"),
        (("--visit", "2:7=9"), "cannot be sought by 9 (0 to 1)"),
        (("--out", "melody.txt"), "the ending '.txt'"),
        (("--out", "no/such/folder/m.abc"), "there is no folder"),
        (("--player", "Nobody"), "Nobody"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_kept(
    midifret: Call, arguments: tuple[str, ...], message: str
) -> None:
    code, out, err = midifret("melody", *arguments)
    assert (code, out) == (2, "")
    assert message in err
    assert "Traceback" not in err


def test_a_broken_file_of_levels_is_told(midifret: Call, tmp_path: Path) -> None:
    (tmp_path / "melody.yaml").write_text("levels:\n  - title: One\n    bars: many\n", encoding="utf-8")
    code, _, err = midifret("melody")
    assert code == 2
    assert "melody.yaml:3:11: levels[1].bars: 'many' is not a whole number" in err


def test_check_knows_levels_of_melodies(midifret: Call, tmp_path: Path) -> None:
    from midifret.files import shipped_folder

    shipped = (shipped_folder("config") / "melody.yaml").read_text(encoding="utf-8")
    for name in ("melody.yaml", "my-levels.yaml"):  # by its name, and by its key
        own = tmp_path / name
        own.write_text(shipped, encoding="utf-8")
        code, out, _ = midifret("check", str(own))
        assert (code, out.strip()) == (0, f"{own}: no problems")
        own.write_text(
            shipped.replace("bars: 4", "bars: 400", 1).replace("[4/4]", "[7/16]", 1), encoding="utf-8"
        )
        code, out, _ = midifret("check", str(own))
        assert code == 2
        assert "levels[1].bars: 400" in out
        assert "7/16" in out
        assert len(out.strip().splitlines()) == 2


@pytest.mark.parametrize("ending", [".abc", ".musicxml"])
@pytest.mark.parametrize(("level", "seed", "has"), [(4, 9, "an upbeat"), (5, 3, "~ tied")])
def test_upbeats_and_ties_are_written_and_read_again(
    midifret: Call, tmp_path: Path, ending: str, level: int, seed: int, has: str
) -> None:
    out = tmp_path / f"tune{ending}"
    words = ("melody", "--level", str(level), "--seed", str(seed))
    code, said, _ = midifret(*words, "--out", str(out))
    assert code == 0
    assert has in said
    made = json.loads(midifret(*words, "--json")[1])
    score = read_score(out)
    assert [(float(n.onset_quarter), float(n.duration_quarter), n.midi) for n in score.notes] == [
        (n["onset_quarter"], n["duration_quarter"], n["midi"]) for n in made["notes"]
    ]
    lengths = [float(bar.duration_quarter) for bar in score.bars if bar.duration_quarter is not None]
    assert (lengths[0] == made["upbeat_quarter"]) == (has == "an upbeat")
    assert sum(lengths) == made["bars"] * lengths[1]
