"""The file of levels: what is shipped holds, and every fault is told with line, key and what is allowed."""

from pathlib import Path

import pytest

from midifret.files import Home, parse_document
from midifret.gear.melody import check_levels, load_levels
from midifret.terms import BadInput
from tests.melody.making import levels

GOOD = """levels:
  - title: One
    bars: 4
    keys: [C major]
    meters: [4/4]
    range: 9
    phrase_range: 7
    intervals: {same: 1, second: 5}
    rhythms: {"1": 1}
"""


def test_the_shipped_levels_are_numbered_and_rise_in_range() -> None:
    assert [level.number for level in levels()] == list(range(1, 9))
    ranges = [level.range_semitones for level in levels()]
    assert ranges == sorted(ranges)


def test_a_file_of_ones_own_takes_their_place(tmp_path: Path) -> None:
    (tmp_path / "melody.yaml").write_text(GOOD, encoding="utf-8")
    (own,) = load_levels(Home(tmp_path))
    assert (own.title, own.range_semitones, dict(own.intervals)) == ("One", 9, {1: 1, 2: 5})


@pytest.mark.parametrize(
    ("old", "new", "line", "key", "said", "allowed"),
    [
        ("bars: 4", "bars: 1000", 3, "levels[1].bars", "1000 is out of range", "2 to 64"),
        (
            "C major",
            "H major",
            4,
            "levels[1].keys[1]",
            "'H major' is not a key",
            "a tonic and major or minor",
        ),
        ("4/4", "5/4", 5, "levels[1].meters[1]", "'5/4' is not a meter", "2/4, 3/4, 4/4, 6/8"),
        ("range: 9", "range: 2", 6, "levels[1].range", "2 is out of range", "7 to 48"),
        ("second: 5", "tenth: 5", 8, "levels[1].intervals", 'no interval "tenth"', "same, second"),
        ("second: 5", "third: 5", 8, "levels[1].intervals", "needs seconds", "above 0"),
        ('"1": 1', '"1/5": 1', 9, "levels[1].rhythms", "'1/5' is not the length", "lengths in quarter notes"),
        ('"1": 1', '"1": -1', 9, "levels[1].rhythms.1", "-1 is out of range", "0 to 1000"),
        ('"1": 1', '"2": 1', 2, "levels[1]", "no group fills one beat", "whole beats"),
        (
            "range: 9\n    phrase_range: 7",
            "range: 7\n    phrase_range: 9",
            2,
            "levels[1]",
            "above range",
            "range",
        ),
        ("title: One", "titel: One", 2, "levels[1].titel", 'unknown key "titel"', "title"),
    ],
)
def test_faults_are_told(old: str, new: str, line: int, key: str, said: str, allowed: str) -> None:
    assert old in GOOD
    found, problems = check_levels(parse_document(GOOD.replace(old, new, 1).encode(), "melody.yaml"))
    assert found == ()
    (problem,) = [p for p in problems if said in p.message]
    assert (problem.file, problem.line, problem.key) == ("melody.yaml", line, key)
    assert allowed in problem.allowed


def test_a_broken_file_names_itself(tmp_path: Path) -> None:
    (tmp_path / "melody.yaml").write_text("levels: [", encoding="utf-8")
    with pytest.raises(BadInput, match=r"melody\.yaml"):
        load_levels(Home(tmp_path))
