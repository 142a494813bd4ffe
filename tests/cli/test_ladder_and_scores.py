"""`midifret ladder` and `midifret scores`: what is printed adds up, and what is refused."""

import json
from pathlib import Path

import pytest

from midifret.cli.main import run

# Sounding as written, which --octave says: C5 E5 G5 lie on a neck of 19 frets, C7 and D7 do not
# (its highest note is B5, MIDI 83: string 1 at fret 19).
_ABC = "X:1\nT:High\nM:4/4\nL:1/4\nK:C\nc e g c''|d'' c e g|\n"


def test_in_reach_and_outside_are_of_the_same_notes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "high.abc"
    file.write_text(_ABC, encoding="utf-8")
    home = ["--home", str(tmp_path / "home")]
    assert run([*home, "ladder", str(file), "--octave", "sounding", "--json"]) == 0
    rungs = json.loads(capsys.readouterr().out)["rungs"]
    assert all(rung["in_reach"] + rung["outside"] + rung["left_out"] == 8 for rung in rungs)
    assert run([*home, "ladder", str(file), "--octave", "sounding"]) == 0
    printed = capsys.readouterr().out
    assert max(map(len, printed.splitlines())) <= 80
    rows = [line.split() for line in printed.splitlines() if "%" in line and line.startswith("  ")]
    assert rows
    for _, _, share, _, _, outside, *_ in rows:
        assert share == f"{100 * (8 - int(outside)) // 8}%"
    assert "or no hand can play the note" in printed


def test_scores_refuses_a_position_that_the_neck_has_not(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["--home", str(tmp_path), "scores", "--position", "40"]) == 2
    told = capsys.readouterr()
    assert "no position 40" in told.err
    assert "0 (the open position) to 16" in told.err
    assert told.out == ""


def test_one_note_is_one_note(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "one.json"
    notes = [{"onset": 0, "duration": 1, "pitch": 60}]
    file.write_text(json.dumps({"piece": "One", "notes": notes}), encoding="utf-8")
    assert run(["--home", str(tmp_path), "ladder", str(file)]) == 0
    assert capsys.readouterr().out.startswith("One, 1 note\n")


def test_what_is_not_worth_it_stands_last_with_the_reason(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """E5 to B5 lie at frets 12 to 19 of the first string: not one of them in the open position."""
    file = tmp_path / "far.json"
    notes = [{"onset": n, "duration": 1, "pitch": midi} for n, midi in enumerate((76, 77, 79, 81, 83))]
    file.write_text(json.dumps({"piece": "Far", "notes": notes}), encoding="utf-8")
    assert run(["--home", str(tmp_path), "ladder", str(file)]) == 0
    lines = capsys.readouterr().out.splitlines()
    at = lines.index("Last, if ever: more than 25% of what can be played lies outside")
    assert any(line.split()[:2] == ["-", "open"] for line in lines[at + 1 :])
    assert not any(" open " in line for line in lines[2:at])
    assert run(["--home", str(tmp_path), "ladder", str(file), "--json"]) == 0
    rungs = json.loads(capsys.readouterr().out)["rungs"]
    assert (rungs[0]["roman"], rungs[0]["order"], rungs[0]["not_yet"]) == ("open", None, "outside")
    climbed = [rung for rung in rungs if rung["order"]]
    assert [rung["order"] for rung in climbed] == list(range(1, len(climbed) + 1))
    assert all(rung["not_yet"] is None for rung in climbed)
