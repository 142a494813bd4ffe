"""`midifret finger`: what it prints, its document, and what it refuses."""

import json
from pathlib import Path

import pytest

from midifret.cli.main import run

SCORE = {
    "piece": "Air",
    "tuning": [64, 59, 55, 50, 45, 40],
    "notes": [
        {"onset": 0, "duration": 1, "pitch": 48, "finger": 4, "string": 6},
        {"onset": 0, "duration": 0.5, "pitch": 64},
        {"onset": 0.5, "duration": 0.5, "pitch": 65},
        {"onset": 1, "duration": 1, "pitch": 40},
        {"onset": 1, "duration": 1, "pitch": 41},
    ],
}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "air.json"
    path.write_text(json.dumps(SCORE), encoding="utf-8")
    return path


def document(capsys: pytest.CaptureFixture[str], home: Path, *arguments: str) -> dict[str, object]:
    assert run(["--home", str(home), "finger", *arguments, "--json"]) == 0
    found: dict[str, object] = json.loads(capsys.readouterr().out)
    return found


def refused(capsys: pytest.CaptureFixture[str], home: Path, *arguments: str) -> str:
    assert run(["--home", str(home), "finger", *arguments]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    return told.err


def test_every_note_of_the_input_comes_once(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # design.md, "Contracts", `finger`.
    found = document(capsys, tmp_path, str(file))
    notes = found["notes"]
    assert [note["n"] for note in notes] == [1, 2, 3, 4, 5]
    assert [note["midi"] for note in notes] == [48, 64, 65, 40, 41]
    assert {"n", "onset_quarter", "duration_quarter", "midi", "string", "fret", "finger"} <= set(notes[0])
    assert {"shifts", "open_strings", "cost", "unplayable"} <= set(found)
    assert [note["string"] for note in notes].count(None) == 1
    assert found["unplayable"][0]["notes"] == [4, 5]
    assert abs(sum(found["cost_parts"].values()) - found["cost"]) < 1e-4


def test_what_is_printed_is_kept_only_where_asked_for(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    free = document(capsys, tmp_path, str(file))["notes"][0]
    assert (free["string"], free["fret"]) == (5, 3)
    kept = document(capsys, tmp_path, str(file), "--keep", "fingers,strings")["notes"][0]
    assert (kept["string"], kept["fret"], kept["finger"]) == (6, 8, 4)


def test_in_a_position_frets_below_it_are_barred(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    notes = document(capsys, tmp_path, str(file), "--position", "V")["notes"]
    assert [note["fret"] for note in notes[:3]] == [8, 5, 6]


def test_other_places_and_alternatives(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = document(capsys, tmp_path, str(file), "--places", "--best", "3")
    assert len(found["alternatives"]) == 2
    others = found["notes"][1]["other_places"]
    assert {(other["string"], other["fret"]) for other in others} == {(2, 5), (3, 9), (4, 14), (5, 19)}
    by_string = {other["string"]: other for other in others}
    assert "the string is taken" in by_string[5]["against"]
    assert "vibrato" in by_string[2]["for"]


def test_people_are_told_bar_notes_and_the_nearest_change(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["--home", str(tmp_path), "finger", str(file)]) == 0
    told = capsys.readouterr().out
    assert "quarter 1: E (note 4), F (note 5): out of one hand's reach" in told
    assert "an octave up" in told
    assert "cannot be played" in told


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--position", "banana"], "banana"),
        (["--position", "24"], "no position 24"),
        (["--region", "9-5"], "9-5"),
        (["--region", "x"], "x"),
        (["--keep", "toes"], "toes"),
        (["--tempo", "1e9"], "bpm"),
        (["--tempo", "nan"], "bpm"),
        (["--open", "maybe"], "maybe"),
        (["--best", "0"], "0"),
        (["--hardest", "--best", "2"], "--best"),
        (["--guitar", "nobody"], "nobody"),
    ],
)
def test_bad_choices_are_refused(
    arguments: list[str], said: str, file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert said in refused(capsys, tmp_path, str(file), *arguments)


def test_bad_files_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    broken = tmp_path / "broken.json"
    broken.write_bytes(b"{")
    folder = tmp_path / "folder.json"
    folder.mkdir()
    huge = tmp_path / "huge.json"
    huge.write_text(json.dumps({"notes": [SCORE["notes"][0]] * 100_000}), encoding="utf-8")
    low = tmp_path / "low.json"
    low.write_text(json.dumps({"notes": [{"onset": 0, "duration": 1, "pitch": 20}]}), encoding="utf-8")
    capo = tmp_path / "capo.json"
    capo.write_text(json.dumps(SCORE | {"capo": 22}), encoding="utf-8")
    for path in (broken, folder, huge, low, capo, tmp_path / "nothing.json"):
        assert path.name in refused(capsys, tmp_path, str(path))


def test_a_persons_own_weights_count(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = document(capsys, tmp_path, str(file))["open_strings"]
    (tmp_path / "fingering.yaml").write_text("open: 50\n", encoding="utf-8")
    assert document(capsys, tmp_path, str(file))["open_strings"] < before
    (tmp_path / "fingering.yaml").write_text("open: much\nopne: 3\n", encoding="utf-8")
    told = refused(capsys, tmp_path, str(file))
    assert "fingering.yaml:1" in told
    assert "fingering.yaml:2" in told


def test_places_barred_in_a_position_are_not_called_in_reach(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # design.md, "Reach of a position": frets below N are barred. B3 (59) in position V is string 4, fret 9;
    # string 3, fret 4 lies below.
    file = tmp_path / "b.json"
    notes = [{"onset": 0, "duration": 1, "pitch": 59}]
    file.write_text(json.dumps({"piece": "B", "tuning": SCORE["tuning"], "notes": notes}), encoding="utf-8")
    assert run(["--home", str(tmp_path), "finger", str(file), "--position", "5", "--places"]) == 0
    rows = capsys.readouterr().out.splitlines()
    (below,) = [row for row in rows if "string 3 fret 4" in row]
    assert "out of reach in position 5" in below
    (opened,) = [row for row in rows if "string 2 open" in row]
    assert "open strings only where needed" in opened
