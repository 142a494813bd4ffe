"""What other programs rely on: keys, exit codes and the schema of the commands about drills."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from midifret.cli.main import run
from midifret.files import read_document, shipped_folder
from midifret.neck import Neck, in_reach

Called = Callable[..., tuple[int, str, str]]
HEAD = "title: T\nstage: Own\ntrains: W. W.\n"


@pytest.fixture
def called(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> Called:
    def call(*arguments: str) -> tuple[int, str, str]:
        code = run(["--home", str(tmp_path / "home"), *arguments])
        out, err = capfd.readouterr()
        return code, out, err

    return call


def document(called: Called, *arguments: str) -> Any:
    code, out, err = called(*arguments, "--json")
    assert (code, err) == (0, "")
    return json.loads(out)


def own_drill(tmp_path: Path, name: str, text: str) -> Path:
    folder = tmp_path / "home" / "drills"
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{name}.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_drills_has_the_keys_of_the_contract_and_names_that_preview_takes(called: Called) -> None:
    drills = document(called, "drills")["drills"]
    assert {frozenset(drill) for drill in drills} == {frozenset({"drill", "title", "stage", "prompts"})}
    stages = [drill["stage"] for drill in drills]
    assert stages == sorted(stages)
    for drill in drills[::9]:
        previewed = document(called, "preview", drill["drill"])
        assert previewed["drill"] == drill["drill"]
        assert len(previewed["prompts"]) == drill["prompts"]


def test_a_drill_for_frets_that_the_guitar_has_not_is_left_out_and_told(
    called: Called, tmp_path: Path
) -> None:
    own_drill(tmp_path, "too-high", f"{HEAD}ask: {{row: {{fret: 24}}}}\n")
    own_drill(tmp_path, "fits", f"{HEAD}ask: {{row: {{fret: 5}}}}\n")
    code, out, err = called("drills", "--json")
    names = {drill["drill"] for drill in json.loads(out)["drills"]}
    assert code == 0
    assert "fits" in names
    assert "too-high" not in names
    assert "the guitar has no fret 24" in err
    assert "Traceback" not in err


def test_own_drills_stand_beside_the_shipped_ones(called: Called, tmp_path: Path) -> None:
    own_drill(tmp_path, "morning", f"{HEAD}ask: {{row: {{fret: 5}}}}\n")
    code, out, _ = called("drills")
    assert code == 0
    assert "morning" in out
    assert str(tmp_path / "home" / "drills") in out.replace("\n", "")


def test_preview_has_the_keys_of_the_contract(called: Called) -> None:
    previewed = document(called, "preview", "row-5-leap-2")
    assert {"drill", "judged", "tempo_bpm", "prompts"} <= set(previewed)
    assert {"n", "cue", "places", "midi", "name"} <= set(previewed["prompts"][0])
    # facts.md [common practice, no source]: row 5 leap 2.
    strings = [prompt["places"][0]["string"] for prompt in previewed["prompts"]]
    assert strings == [6, 4, 5, 3, 4, 2, 3, 1, 2, 1, 3, 2, 4, 3, 5, 4, 6, 5, 6]
    assert all(
        prompt["places"] == [{"string": s, "fret": 5}]
        for prompt, s in zip(previewed["prompts"], strings, strict=True)
    )
    assert all(prompt["cue"] == [] for prompt in previewed["prompts"])


def test_a_drill_is_previewed_from_its_file(called: Called, tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text(f"{HEAD}ask: {{places: [6:5]}}\n", encoding="utf-8")
    previewed = document(called, "preview", str(path))
    assert previewed["prompts"][0]["places"] == [{"string": 6, "fret": 5}]
    assert previewed["prompts"][0]["name"] == "A2"  # A2 = 45 = 40 + 5


def test_preview_tells_the_position_that_is_asked(called: Called) -> None:
    code, out, _ = called("preview", "position-7-by-staff")
    assert code == 0
    assert "position VII" in out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["preview", "row-5-leap2"], "did you mean row-5-leap-2"),
        (["preview", "nowhere.yaml"], "no such file"),
        (["preview", "row-5-leap-2", "--guitar", "defalt"], "did you mean default?"),
        (["drills", "--guitar", "lute"], "known: default"),
        (["check", "--guitar", "x", "y.yaml"], "known: default"),
        (["places", "H"], "a letter a to g"),
        (["places", "E4", "--position", "20"], "0 (open) to 19"),
        (["places", "E4", "--position", "IIII"], "Roman numeral"),
    ],
)
def test_what_is_unknown_is_refused_with_what_is_known(
    called: Called, arguments: list[str], said: str
) -> None:
    code, out, err = called(*arguments)
    assert (code, out) == (2, "")
    assert said in err
    assert "Traceback" not in err


def test_check_needs_a_file_and_a_wrong_option_is_a_usage_error(called: Called) -> None:
    assert called("check")[0] == 2
    assert called("check", "--no-such-option")[0] == 2
    assert called("preview")[0] == 2


def test_check_has_the_keys_of_the_contract_for_good_and_bad(called: Called, tmp_path: Path) -> None:
    good, bad = tmp_path / "good.yaml", tmp_path / "bad.yaml"
    good.write_text(f"{HEAD}ask: {{row: {{fret: 5}}}}\n", encoding="utf-8")
    bad.write_text(f"{HEAD}ask: {{row: {{fret: 99}}}}\n", encoding="utf-8")
    code, out, err = called("check", str(good), str(bad), str(tmp_path / "none.yaml"), "--json")
    assert (code, err) == (2, "")
    files = json.loads(out)["files"]
    assert [(f["file"], f["ok"]) for f in files] == [
        (str(good), True),
        (str(bad), False),
        (str(tmp_path / "none.yaml"), False),
    ]
    [problem] = files[1]["problems"]
    assert problem == {
        "line": 4,
        "column": 19,
        "key": "ask[1].row.fret",
        "message": "99 is out of range",
        "allowed": "0 to 24",
    }
    assert called("check", str(good))[0] == 0


def test_a_drill_is_checked_against_the_guitar_that_is_named(called: Called, tmp_path: Path) -> None:
    guitars = tmp_path / "home" / "guitars"
    guitars.mkdir(parents=True)
    text = "title: Eight\ntuning: eight-string-d-b\nfrets: 24\nchannels: [1, 2, 3, 4, 5, 6, 7, 8]\n"
    (guitars / "eight.yaml").write_text(text, encoding="utf-8")
    path = tmp_path / "low.yaml"
    path.write_text(f"{HEAD}ask: {{places: [8:24]}}\n", encoding="utf-8")
    assert called("check", str(path))[0] == 2
    assert called("check", str(path), "--guitar", "eight")[0] == 0
    previewed = document(called, "preview", str(path), "--guitar", "eight")
    assert previewed["prompts"][0]["midi"] == 35 + 24  # B1 = 35, the eighth string of config/tunings.yaml


@pytest.fixture
def validator(called: Called) -> jsonschema.Draft202012Validator:
    code, out, err = called("check", "--schema")
    assert (code, err) == (0, "")
    schema = json.loads(out)
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def a_shipped_drill() -> Path:
    """One with a count."""
    return shipped_folder("drills") / "1-open-position" / "open-position-by-name.yaml"


def shipped_documents() -> list[Any]:
    paths = sorted(shipped_folder("drills").rglob("*.yaml"))
    return [read_document(path).root.plain() for path in paths]


def test_the_schema_takes_every_shipped_drill(validator: jsonschema.Draft202012Validator) -> None:
    documents = shipped_documents()
    assert len(documents) > 100
    for content in documents:
        assert [error.message for error in validator.iter_errors(content)] == []


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("shwo", "name"),
        ("show", "colour"),
        ("judge", "fast"),
        ("order", "sideways"),
        ("minutes", "long"),
        ("minutes", [3, 5]),
        ("naming_rate", 2),
        ("count", 0),
        ("title", ""),
        ("title", 5),
        ("ask", []),
        ("ask", {}),
        ("ask", [{"row": {"fret": 5}, "string": {"number": 1}}]),
        ("ask", [{"row": {"fret": 5}}] * 101),
        ("repeat", 2),  # the drill has a count
        ("ask", {"row": {"fret": 25}}),
        ("ask", {"row": {"frett": 5}}),
        ("ask", {"rwo": {"fret": 5}}),
        ("ask", {"walk": {"from": "6:0"}}),
        ("gate", {"right": 95}),
        ("accidentals", "maybe"),
    ],
)
def test_the_schema_refuses_what_check_refuses(
    validator: jsonschema.Draft202012Validator, called: Called, tmp_path: Path, key: str, value: object
) -> None:
    content = read_document(a_shipped_drill()).root.plain()
    assert validator.is_valid(content)
    assert "count" in content
    content[key] = value
    assert not validator.is_valid(content)
    path = tmp_path / "faulty.yaml"
    path.write_text(json.dumps(content), encoding="utf-8")  # JSON is YAML (1.2.2, chapter 1.2)
    assert called("check", str(path))[0] == 2


@pytest.mark.parametrize("position", ["0", "1", "V", "9", "19"])
@pytest.mark.parametrize("note", ["E4", "F#3", "C5", "E2"])
def test_places_within_a_position_are_those_in_reach(
    called: Called, neck: Neck, note: str, position: str
) -> None:
    found = document(called, "places", note, "--position", position)
    number = 5 if position == "V" else int(position)
    reached = in_reach(neck, number, found["midi"])
    assert [(p["string"], p["fret"], p["stretch"]) for p in found["places"]] == [
        (r.place.string, r.place.fret, r.stretch) for r in reached
    ]
    assert (found["note"], set(found)) == (note, {"note", "midi", "places"})


def test_a_note_off_the_neck_has_no_places_and_that_is_no_error(called: Called) -> None:
    assert document(called, "places", "C1")["places"] == []
    code, out, _ = called("places", "C1")
    assert code == 0
    assert "cannot be played" in out


def test_a_faulty_own_guitar_does_not_hide_the_others(called: Called, tmp_path: Path) -> None:
    folder = tmp_path / "home" / "guitars"
    folder.mkdir(parents=True)
    (folder / "broken.yaml").write_text("title: B\n", encoding="utf-8")
    code, out, err = called("guitars", "--json")
    assert code == 0
    assert [guitar["guitar"] for guitar in json.loads(out)["guitars"]] == ["default"]
    assert "broken.yaml" in err
