"""`midifret today` and `midifret path`: words, documents, and what is refused."""

import datetime as dt
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest
import tzlocal

from midifret.book.book import Book
from midifret.cli.main import run
from midifret.show.today_rows import counted_minutes, day_words
from midifret.terms import Place
from tests.cli.practised import OPEN_POSITION, practise_days

Call = Callable[..., tuple[int, str, str]]
NEXT_YEAR = dt.date.today().replace(day=1) + dt.timedelta(days=400)


@pytest.fixture
def now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


@pytest.fixture
def midifret(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    monkeypatch.setenv("COLUMNS", "80")

    def call(*arguments: str) -> tuple[int, str, str]:
        code = run(["--home", str(tmp_path), *arguments])
        out, err = capsys.readouterr()
        return code, out, err

    return call


def lesson(folder: Path, name: str = "lesson.yaml", **more: object) -> Path:
    file = folder / name
    lines = [f"until: {more.pop('until', NEXT_YEAR)}", *(f"{key}: {value}" for key, value in more.items())]
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


def test_a_beginner_is_told_what_to_play_and_why(midifret: Call, tmp_path: Path) -> None:
    code, out, err = midifret("today")
    assert (code, err) == (0, "")
    assert "15 minutes for me" in out
    assert "midifret drill open-position-in-order" in out
    assert "E on string 6, A on 5" in out
    assert "Rows, stage 1 of 9: Open position." in out
    assert "Reading: not begun." in out
    assert not list(tmp_path.iterdir())  # to look makes no book


def test_no_line_is_longer_than_the_terminal(midifret: Call, tmp_path: Path, now, monkeypatch) -> None:
    practise_days(tmp_path, now, [40, 39], OPEN_POSITION)
    lesson_file = lesson(tmp_path, note='"' + "Play it slowly, and listen to every note. " * 6 + '"')
    midifret("path", "--assign", str(lesson_file))
    for width in (80, 60):
        monkeypatch.setenv("COLUMNS", str(width))
        for command in ("today", "path"):
            _, out, _ = midifret(command)
            assert max(len(line) for line in out.splitlines()) <= width


def test_what_was_lost_in_months_away_is_told(midifret: Call, tmp_path: Path, now) -> None:
    # Learnt just then, not known long before: worked out at first, then faster.
    for ago, recall_s in ((203, 3.0), (202, 1.8), (201, 1.0)):
        practise_days(tmp_path, now, [ago], OPEN_POSITION, recall_s=recall_s)
    _, out, _ = midifret("today")
    assert "You last played 201 days ago. Of 24 places that came in time then" in out
    document = json.loads(midifret("today", "--json")[1])
    assert document["lost"]["away_days"] == pytest.approx(201, abs=0.2)
    assert document["lost"]["had"] == 24
    faded = [*document["lost"]["slow"], *document["lost"]["gone"]]
    assert faded[0].keys() == {"string", "fret", "kind"}


def test_the_document_has_what_the_contract_says(midifret: Call, tmp_path: Path, now) -> None:
    practise_days(tmp_path, now, [3, 2, 1], OPEN_POSITION)
    code, out, err = midifret("today", "--minutes", "25", "--json")
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert document.keys() == {
        "player", "day", "minutes", "blocks", "remarks", "lost", "load", "unfinished", "standing",
        "assignments",
    }  # fmt: skip
    assert document["minutes"] == pytest.approx(
        sum(block["minutes"] for block in document["blocks"]), abs=0.1
    )
    for block in document["blocks"]:
        assert block.keys() == {
            "kind", "minutes", "why", "title", "drill", "score", "places", "position", "level", "tempo_bpm",
            "command",
        }  # fmt: skip
        assert block["why"]
    reading = next(block for block in document["blocks"] if block["kind"] == "reading")
    assert (reading["position"], reading["level"]) == (1, 1)
    assert reading["command"] == "midifret melody --level 1 --position 1"
    places = [place for block in document["blocks"] for place in block["places"]]
    assert {"string": 6, "fret": 0, "kind": "name", "name": "E"} in places
    assert document["standing"]["rows"] == {"stage": "row-5", "title": "Row 5", "set_by": None}
    assert document["standing"]["held"] == ["open-position"]


def test_a_session_that_is_not_finished_is_told(midifret: Call, tmp_path: Path, now) -> None:
    practise_days(tmp_path, now, [1], OPEN_POSITION)
    assert json.loads(midifret("today", "--json")[1])["unfinished"] is None
    with Book.open(tmp_path / "book.sqlite") as book:
        # The zone of this machine decides which practice day it is, as for the command.
        begun = book.begin_session("me", "{}", started_utc=now, zone=tzlocal.get_localzone_name())
        book.go_on_with_session(begun.session_id, done=[3.0, 1.5], block=1)
    text = " ".join(midifret("today")[1].split())
    assert "A session of today is not finished, 4.5 minutes of it played: `midifret practice` goes" in text
    assert json.loads(midifret("today", "--json")[1])["unfinished"] == {"minutes_played": 4.5, "block": 1}


def test_names_follow_the_settings(midifret: Call, tmp_path: Path) -> None:
    (tmp_path / "settings.yaml").write_text("language: fixed-do\n", encoding="utf-8")
    _, out, _ = midifret("today")
    assert "mi on string 6, la on 5" in out


def test_every_command_it_names_for_a_drill_is_one(midifret: Call, tmp_path: Path, now) -> None:
    practise_days(tmp_path, now, [3, 2, 1], OPEN_POSITION)
    for stage in ("row-5", "beside-7", "all-places"):
        midifret("path", "--rows", stage)
        document = json.loads(midifret("today", "--json")[1])
        drills = [block["command"].split()[2] for block in document["blocks"] if block["drill"]]
        for drill in drills:
            assert midifret("preview", drill)[0] == 0


def test_an_assignment_stands_first_with_its_note_and_date(midifret: Call, tmp_path: Path) -> None:
    scores = tmp_path / "scores"
    scores.mkdir()
    (scores / "my waltz.abc").write_text("X:1\nK:C\nCDEF|\n", encoding="utf-8")
    file = lesson(
        tmp_path,
        note="Slowly, please.",
        rows="row-7",
        tasks="[{score: my waltz.abc, minutes: 4, position: 5, tempo_bpm: 60}]",
    )
    code, _, err = midifret("path", "--assign", str(file))
    assert (code, err) == (0, "")
    assert (tmp_path / "assignments" / "lesson.yaml").read_bytes() == file.read_bytes()
    _, out, _ = midifret("today")
    until = f"{NEXT_YEAR.day} {NEXT_YEAR:%B}"
    text = " ".join(out.split())
    assert f"From your teacher, until {until}; rows at row-7 Slowly, please." in text
    assert out.index("Slowly") < out.index("my waltz.abc")
    assert "my waltz.abc, at 60 beats a minute, in position V" in text
    assert "Rows, stage 3 of 9, set by your teacher: Row 7." in text
    block = json.loads(midifret("today", "--json")[1])["blocks"][0]
    assert block["kind"] == "task"
    assert block["command"] == f"midifret read '{scores}/my waltz.abc' --position 5 --tempo 60"


def test_a_faulty_assignment_is_told_and_the_plan_is_printed(midifret: Call, tmp_path: Path) -> None:
    (tmp_path / "assignments").mkdir()
    lesson(tmp_path / "assignments", tasks="[{drill: row-5-leap-9}]")
    code, out, err = midifret("today")
    assert code == 0
    assert "15 minutes for me" in out
    assert "left out: the assignment in" in err
    assert 'there is no drill "row-5-leap-9"; did you mean "row-5-leap' in err
    assert json.loads(midifret("today", "--json")[1])["assignments"] == []


@pytest.mark.parametrize("minutes", ["2", "121", "nan", "inf", "-5"])
def test_minutes_out_of_range(midifret: Call, minutes: str) -> None:
    code, out, err = midifret("today", "--minutes", minutes)
    assert (code, out) == (2, "")
    assert "3 to 120 minutes" in err


def test_minutes_that_are_no_number(midifret: Call) -> None:
    code, _, err = midifret("today", "--minutes", "many")
    assert code == 2
    assert "'many' is not a valid float" in err


def test_an_unknown_player(midifret: Call, tmp_path: Path, now) -> None:
    assert "is still empty" in midifret("today", "--player", "Eva")[2]
    practise_days(tmp_path, now, [1], OPEN_POSITION, player="Ana")
    code, _, err = midifret("today", "--player", "Eva")
    assert code == 2
    assert "there is no player 'Eva'" in err
    assert midifret("path", "--player", "Eva")[0] == 2


def test_long_sessions_have_breaks_and_the_usual_caution(midifret: Call, tmp_path: Path, now) -> None:
    practise_days(tmp_path, now, [3, 2, 1], OPEN_POSITION, minutes=30)
    _, out, _ = midifret("today", "--minutes", "75")
    text = " ".join(out.split())
    assert "away from the guitar: hands and ears rest." in text
    assert "Pain is a sign to stop; if it returns, ask your teacher or a doctor." in text
    _, short, _ = midifret("today")
    assert "doctor" not in short  # sparing


def test_no_word_urges(midifret: Call, tmp_path: Path, now) -> None:
    """Plain, sparing, honest: no exclamation, nothing about days in a row, no praise for coming."""
    practise_days(tmp_path, now, [40, 3, 2, 1], OPEN_POSITION)
    for arguments in (("today",), ("today", "--minutes", "60"), ("path",)):
        _, out, _ = midifret(*arguments)
        for word in ("!", "streak", "in a row", "great", "Great", "well done", "must", "keep going"):
            assert word not in out


# Terminals


def test_a_terminal_without_these_signs_gets_ascii(midifret: Call, monkeypatch, tmp_path: Path) -> None:
    midifret("path", "--rows", "row-5")
    captured = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr("sys.stdout", captured)
    assert run(["--home", str(tmp_path), "path"]) == 0
    captured.seek(0)
    out = captured.read()
    assert out.isascii()
    assert "> . Row 5" in out
    assert "v Open position" in out.replace("  ", " ")


def test_without_colour_and_into_a_pipe_there_are_no_control_codes(midifret: Call, monkeypatch) -> None:
    for name, value in (("NO_COLOR", "1"), ("TERM", "dumb")):
        monkeypatch.setenv(name, value)
        assert "\x1b" not in midifret("today")[1] + midifret("path")[1]


def test_control_codes_in_a_note_reach_no_terminal(midifret: Call, tmp_path: Path) -> None:
    (tmp_path / "assignments").mkdir()
    lesson(tmp_path / "assignments", note='"one\\ttwo\\x9b31m"')
    _, out, _ = midifret("today")
    assert "\x9b" not in out
    assert "\t" not in out


# The path


def test_going_on_and_back(midifret: Call, tmp_path: Path) -> None:
    code, out, _ = midifret("path", "--rows", "row-7", "--reading", "position-3")
    assert code == 0
    assert "✓ Row 5  holds" in out
    assert "→ · Row 7  your stage" in out
    assert "You set this stage; it holds until its gate is met from then on." in " ".join(out.split())
    document = json.loads(midifret("path", "--json")[1])
    assert document["standing"]["rows"] == {"stage": "row-7", "title": "Row 7", "set_by": "player"}
    assert document["standing"]["reading"]["stage"] == "position-3"
    midifret("path", "--rows", "open-position")
    assert json.loads(midifret("path", "--json")[1])["standing"]["rows"]["stage"] == "open-position"
    _, out, _ = midifret("path", "--by-gates")
    assert "It begins when this holds: Open position." in out
    assert json.loads(midifret("path", "--json")[1])["standing"]["rows"]["set_by"] is None
    with Book.open(tmp_path / "book.sqlite") as book:
        assert len(book.stages_set("me")) == 5


def test_what_a_gate_still_lacks_is_said_in_words(midifret: Call, tmp_path: Path, now) -> None:
    """config/path.yaml: row 5 asks for 90% right, 1.5 s and 50 beats a minute on 2 days."""
    practise_days(tmp_path, now, [5, 4], OPEN_POSITION)
    practise_days(tmp_path, now, [2], [Place(string, 5) for string in range(1, 7)], recall_s=2.0)
    text = " ".join(midifret("path")[1].split())
    day = (now - dt.timedelta(days=2, hours=2)).date()
    assert "The next stage begins with 90% right at the first try, the middle answer within 1.5 s and" in text
    assert "the middle answer after 2.0 s, no tempo measured. Not yet enough: it takes" in text
    stage = json.loads(midifret("path", "--json")[1])["rows"][1]
    assert stage["gate"] == {"right": 0.9, "recall_s": 1.5, "tempo_bpm": 50.0, "days": 2}
    assert stage["days_met"] == 0
    assert (dt.date.fromisoformat(stage["newest"]["day"]) - day).days in (
        -1,
        0,
    )  # at night it is the day before
    assert stage["newest"]["right"] == 1.0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--rows", "row5"), "there is no stage 'row5' of rows; did you mean row-5? (open-position, row-5"),
        (("--rows", "position-1"), "there is no stage 'position-1' of rows"),
        (("--reading", "row-5"), "there is no stage 'row-5' of reading"),
        (("--rows", "row-5", "--by-gates"), "--by-gates and a stage: one or the other"),
        (("--overwrite",), "it needs --assign FILE"),
        (("--assign", "nowhere.yaml"), "nowhere.yaml"),
        (("--assign", "lesson.txt"), "a file that ends in .yaml"),
    ],
)
def test_what_cannot_be_set(midifret: Call, tmp_path: Path, arguments: tuple[str, ...], said: str) -> None:
    code, out, err = midifret("path", *arguments)
    assert (code, out) == (2, "")
    assert said in " ".join(err.split())
    assert not (tmp_path / "book.sqlite").exists()


def test_an_assignment_is_checked_before_it_is_taken_in(midifret: Call, tmp_path: Path) -> None:
    faulty = lesson(tmp_path, tasks="[{drill: nothing-like-it}]")
    code, _, err = midifret("path", "--assign", str(faulty))
    assert code == 2
    assert f"{faulty}:2" in err
    over = lesson(tmp_path, until="2020-01-01")
    code, _, err = midifret("path", "--assign", str(over))
    assert code == 2
    assert "was until 2020-01-01" in err
    assert not (tmp_path / "assignments").exists()


def test_an_assignment_is_written_over_only_when_asked(midifret: Call, tmp_path: Path) -> None:
    first = lesson(tmp_path, note="one")
    assert midifret("path", "--assign", str(first))[0] == 0
    lesson(tmp_path, note="two")
    code, _, err = midifret("path", "--assign", str(first))
    assert code == 2
    assert "exists already" in err
    assert midifret("path", "--assign", str(first), "--overwrite")[0] == 0
    kept = tmp_path / "assignments" / "lesson.yaml"
    assert "two" in kept.read_text(encoding="utf-8")
    assert midifret("path", "--assign", str(kept))[0] == 0  # the one that is there already
    assert [file.name for file in kept.parent.iterdir()] == ["lesson.yaml"]


def test_what_is_taken_in_is_told_beside_a_document_not_in_it(midifret: Call, tmp_path: Path) -> None:
    _, out, err = midifret("path", "--assign", str(lesson(tmp_path, rows="row-10")), "--json")
    assert json.loads(out)["standing"]["rows"] == {"stage": "row-10", "title": "Row 10", "set_by": "teacher"}
    assert err.startswith("Taken in: ")


def test_rebuilding_the_book_works_memory_out_again(midifret: Call, tmp_path: Path, now) -> None:
    practise_days(tmp_path, now, [3, 2], OPEN_POSITION)
    before = json.loads(midifret("path", "--json")[1])
    assert midifret("book", "rebuild")[0] == 0
    with Book.open(tmp_path / "book.sqlite") as book:
        assert book.memory_state("me").waiting == ()
        assert book.memory_state("me").document
    assert json.loads(midifret("path", "--json")[1]) == before


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(0.5, "half a minute"), (1.0, "1 minute"), (2.5, "2.5 minutes"), (14.9, "15 minutes")],
)
def test_minutes_in_words(minutes: float, words: str) -> None:
    assert counted_minutes(minutes) == words


def test_days_in_words() -> None:
    assert day_words(dt.date(2026, 11, 6)) == "Friday 6 November"


def test_path_and_assignments_are_checked_like_other_files(midifret: Call, tmp_path: Path) -> None:
    own = tmp_path / "path.yaml"
    shipped = Path(__file__).parents[2] / "config" / "path.yaml"
    own.write_text(shipped.read_text(encoding="utf-8"), encoding="utf-8")
    assert midifret("check", str(own))[:2] == (0, f"{own}: no problems\n")
    good = lesson(tmp_path, rows="row-7")
    assert midifret("check", str(good))[0] == 0
    faulty = lesson(tmp_path, rows="row-6", tasks="[{drill: row-5-leap-9}, {score: none.abc}]")
    code, out, _ = midifret("check", str(faulty))
    assert code == 2
    assert [part in out for part in ('"row-6"', '"row-5-leap-9"', '"none.abc"')] == [True, True, True]
    own.write_text("reading_after: x\nrows: []\nreading: []\n", encoding="utf-8")
    code, out, _ = midifret("check", str(own))
    assert code == 2
    assert "path.yaml:2" in out


def test_the_assignment_of_the_readme_can_be_taken_in(midifret: Call, tmp_path: Path) -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    part = readme[readme.index("## What to practise today") : readme.index("## In tempo")]
    lines = [line[4:] for line in part.splitlines() if line.startswith("    ")]
    (tmp_path / "scores").mkdir()
    (tmp_path / "scores" / "waltz.abc").write_text("X:1\nK:C\nCDEF|\n", encoding="utf-8")
    file = tmp_path / "readme.yaml"
    text = "\n".join([f"until: {NEXT_YEAR}", *lines[1:]])
    assert lines[0].startswith("until: ")
    file.write_text(text, encoding="utf-8")
    code, _, err = midifret("path", "--assign", str(file))
    assert (code, err) == (0, "")
    blocks = json.loads(midifret("today", "--json")[1])["blocks"]
    assert [(block["drill"], block["score"]) for block in blocks[:2]] == [
        ("row-7-leap-1", None),
        (None, "waltz.abc"),
    ]
