"""`midifret demo --converter`: the virtual player's guitar with the faults of a converter."""

import json
from pathlib import Path

import pytest

from midifret.cli.main import run
from midifret.wire.scenarios import SCENARIOS


def demo(home: Path, *arguments: str) -> int:
    return run(["--home", str(home), "demo", "--fast", *arguments])


@pytest.mark.parametrize("name", [name for name in SCENARIOS if name != "clean"])
def test_a_faulty_converter_is_said(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert demo(tmp_path, "--converter", name) == 0
    assert f"The guitar's converter is {name}" in capsys.readouterr().out


def test_a_clean_one_is_not_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert demo(tmp_path) == 0
    assert "converter" not in capsys.readouterr().out


def test_the_document_names_it_and_its_faults_do_not_change_what_was_played(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An ordinary converter is heard right (the goal for one: string 100%, fret at least 99.95%)."""
    right = {}
    for name in ("clean", "ordinary"):
        assert demo(tmp_path / name, "--converter", name, "--json") == 0
        document = json.loads(capsys.readouterr().out)
        assert document["converter"] == name
        right[name] = [run["summary"]["right"] for run in document["runs"]]
    assert right["clean"] == right["ordinary"]


def test_an_unknown_one_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert demo(tmp_path, "--converter", "good") == 2
    error = capsys.readouterr().err
    assert "'good'" in error
    assert "clean, ordinary, poor, hostile" in error
