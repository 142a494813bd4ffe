"""The commands drills, preview, check, places and guitars, as a person or a program calls them."""

import json
import re
from pathlib import Path

import jsonschema
import pytest

from midifret.cli.main import run
from midifret.files import parse_document, read_document, shipped_folder

README = Path(__file__).parents[2] / "README.md"


@pytest.fixture
def called(tmp_path, capsys):
    def call(*arguments):
        code = run(["--home", str(tmp_path / "home"), *arguments])
        out, err = capsys.readouterr()
        return code, out, err

    return call


def _schema(called):
    return json.loads(called("check", "--schema")[1])


def test_drills_lists_every_drill_with_its_stage(called):
    code, out, err = called("drills", "--json")
    drills = json.loads(out)["drills"]
    assert (code, err) == (0, "")
    assert {"drill": "row-5-leap-2", "title": "Row 5, leaving one string out"}.items() <= next(
        d for d in drills if d["drill"] == "row-5-leap-2"
    ).items()
    assert next(d["prompts"] for d in drills if d["drill"] == "open-position-in-thirds") == 59
    assert "1 Open position" in called("drills")[1]


def test_a_faulty_own_drill_is_left_out_and_told(called, tmp_path):
    folder = tmp_path / "home" / "drills"
    folder.mkdir(parents=True)
    (folder / "bad.yaml").write_text("title: x\n")
    code, out, err = called("drills", "--json")
    assert code == 0
    assert "bad" not in {d["drill"] for d in json.loads(out)["drills"]}
    assert 'the key "ask" is missing' in err


def test_preview_prints_the_prompts_in_asking_order(called):
    code, out, _ = called("preview", "row-7-leap-1", "--json")
    document = json.loads(out)
    assert code == 0
    assert {k: document[k] for k in ("drill", "judged", "tempo_bpm")} == {
        "drill": "row-7-leap-1",
        "judged": "place",
        "tempo_bpm": None,
    }
    fifth = document["prompts"][4]
    # Row 7 is B E A D F# B (common practice); F# on string 2 at fret 7 is MIDI 59 + 7.
    assert (fifth["n"], fifth["places"], fifth["midi"], fifth["name"]) == (
        5,
        [{"string": 2, "fret": 7}],
        66,
        "F#4",
    )


def test_a_seed_gives_the_same_preview_and_another_seed_another(called):
    one, same, other = (called("preview", "row-5-shuffled", "--seed", seed, "--json")[1] for seed in "112")
    assert one == same
    assert one != other


def test_people_are_shown_no_octaves_and_no_line_is_too_wide(called):
    for drill in ("row-5-shuffled", "same-pitch-low", "taken-string-open", "open-position-by-staff"):
        code, out, _ = called("preview", drill)
        assert code == 0
        assert max(len(line) for line in out.splitlines()) <= 80
        assert not re.search(r"\b[A-G][#♯b♭]?[1-6]\b", out)


def test_check_tells_all_problems_like_a_compiler(called, tmp_path):
    path = tmp_path / "x.yaml"
    path.write_text("title: X\nstage: S\ntrains: A. B.\nask: {row: {frett: 5}}\nshow: nme\n")
    code, out, _ = called("check", str(path))
    assert code == 2
    assert f'{path}:4:13: ask.row.frett: unknown key "frett"; did you mean "fret"?' in out.replace(
        "ask[1]", "ask"
    )
    assert f"{path}:5:7: show: 'nme' is not known here" in out
    document = json.loads(called("check", str(path), "--json")[1])
    assert document["files"][0]["ok"] is False
    assert set(document["files"][0]["problems"][0]) == {"line", "column", "key", "message", "allowed"}


def test_check_knows_guitars_tunings_settings_and_thresholds(called, tmp_path):
    config = shipped_folder("config")
    files = [config / "settings.yaml", config / "tunings.yaml", config / "guitars" / "default.yaml"]
    files.append(config / "thresholds.yaml")
    assert called("check", *map(str, files))[0] == 0
    texts = {
        "g.yaml": ("title: G\ntuning: standard\nchannels: [1, 2]\n", "2 channels for 6 strings"),
        "t.yaml": ("low:\n  title: Low\n  strings: [E4, X3, G3]\n", "not a note name"),
        "s.yaml": ("player: me\ncountdown_s: 99\n", "0 to 10"),
        "h.yaml": ("states:\n  automatic_s: 2.5\n", "2.5 is above known_s, 2 (allowed: at most 2)"),
        "e.yaml": ("", "the file is empty"),
    }
    for name, (text, said) in texts.items():
        (tmp_path / name).write_text(text)
        code, out, _ = called("check", str(tmp_path / name))
        assert code == 2
        assert said in out
    assert called("check", str(tmp_path / "none.yaml"))[0] == 2


@pytest.mark.parametrize("name", ["settings.yaml", "tunings.yaml"])
def test_check_works_where_the_faulty_file_is_the_one_in_use(called, tmp_path, name):
    home = tmp_path / "home"
    home.mkdir()
    faulty, sound = home / name, shipped_folder("config") / "melody.yaml"
    drill = sorted(shipped_folder("drills").rglob("*.yaml"))[0]
    faulty.write_text("nosuch: [1,\n")
    code, out, err = called("check", str(faulty), str(sound), str(drill), "--json")
    of_faulty, of_sound, of_drill = json.loads(out)["files"]
    assert (code, err) == (2, "")
    # The bracket is open at the end of the file, which is the beginning of line 2.
    assert [problem["line"] for problem in of_faulty["problems"]] == [2]
    assert of_sound["ok"]
    # The lines of one file are never told as those of another.
    assert [(p["line"], "it cannot be checked" in p["message"]) for p in of_drill["problems"]] == [
        (None, True)
    ]
    assert str(faulty) in of_drill["problems"][0]["message"]


def test_every_shipped_drill_passes_check_and_the_schema(called):
    paths = sorted(shipped_folder("drills").rglob("*.yaml"))
    code, out, _ = called("check", *map(str, paths), "--json")
    assert [f["file"] for f in json.loads(out)["files"] if not f["ok"]] == []
    assert code == 0
    validator = jsonschema.Draft202012Validator(_schema(called))
    jsonschema.Draft202012Validator.check_schema(validator.schema)
    for path in paths:
        validator.validate(read_document(path).root.plain())
    assert not validator.is_valid({"title": "x"})
    assert not validator.is_valid({"title": "x", "stage": "s", "trains": "t", "ask": {"rows": 5}})


def test_places_of_a_pitch_of_a_name_and_in_a_position(called):
    document = json.loads(called("places", "E4", "--json")[1])
    assert document["midi"] == 64  # Lombardo & Radicioni, Fig. 1: E4 = 64 at (1,0) (2,5) (3,9) (4,14)
    got = {(p["string"], p["fret"]) for p in document["places"]}
    assert {(1, 0), (2, 5), (3, 9), (4, 14)} <= got
    everywhere = json.loads(called("places", "F#", "--json")[1])
    assert everywhere["midi"] is None
    assert {p["midi"] % 12 for p in everywhere["places"]} == {6}
    for position in ("5", "V", "v"):
        within = json.loads(called("places", "E4", "--position", position, "--json")[1])["places"]
        assert [(p["string"], p["fret"], p["stretch"]) for p in within] == [(2, 5, False), (3, 9, True)]


def test_places_speak_the_players_language_and_english(called, tmp_path):
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "settings.yaml").write_text("language: german\n")
    assert json.loads(called("places", "H3", "--json")[1])["midi"] == 59
    assert json.loads(called("places", "F#3", "--json")[1])["midi"] == 54


@pytest.mark.parametrize(
    "arguments", [["places", "X"], ["places", "E4", "--position", "IIX"], ["preview", "nothing"]]
)
def test_bad_names_exit_with_2_and_say_what_is_allowed(called, arguments):
    code, out, err = called(*arguments)
    assert code == 2
    assert out == ""
    assert "(" in err or "; write" in err


def test_guitars_says_where_ones_own_go(called, tmp_path):
    code, out, _ = called("guitars")
    assert code == 0
    assert str(tmp_path / "home" / "guitars") in out
    document = json.loads(called("guitars", "--json")[1])
    assert document["guitars"][0]["channels"] == [1, 2, 3, 4, 5, 6]
    assert {"standard", "lute", "dropped-d"} <= {t["tuning"] for t in document["tunings"]}


def test_the_examples_of_the_readme_are_drills(called, tmp_path):
    section = README.read_text(encoding="utf-8").split("## Writing a drill")[1].split("\n## ")[0]
    examples = re.findall(r"```yaml\n(.*?)```", section, flags=re.S)
    assert len(examples) == 3
    for number, example in enumerate(examples):
        path = tmp_path / f"example-{number}.yaml"
        path.write_text(example, encoding="utf-8")
        code, out, _ = called("preview", str(path), "--json")
        assert code == 0
        assert json.loads(out)["prompts"]
        jsonschema.validate(parse_document(example.encode(), "x").root.plain(), _schema(called))
