"""Thresholds: the shipped file says what the code says, a person's own lies over it, every fault is told.

That each number has its source beside it is checked as far as a program can: each line has a comment.
"""

import datetime as dt
from dataclasses import fields, is_dataclass

import pytest

from midifret.files import Document, Home, parse_document, read_document, shipped_folder
from midifret.gear.thresholds import ThresholdsFile, check_thresholds, load_thresholds
from midifret.terms import BadInput
from midifret.timing import LatencyRules, ReactionRules, StateThresholds, TimingRules, TrendRules

SHIPPED = shipped_folder("config") / "thresholds.yaml"


@pytest.fixture
def home(tmp_path):
    return Home.of(tmp_path)


def document(text: str) -> Document:
    return parse_document(text.encode(), "t.yaml")


def problems(text: str) -> list[tuple[int | None, str, str, str]]:
    rules, found = check_thresholds(document(text))
    assert rules is None
    return [(p.line, p.key, p.message, p.allowed) for p in found]


def test_the_shipped_file_says_what_the_code_says(home):
    rules, _ = check_thresholds(read_document(SHIPPED), scrambled())
    assert rules == load_thresholds(home) == TimingRules()


def scrambled() -> TimingRules:
    """Every number another one, so that what a file leaves out shows."""
    return TimingRules(
        LatencyRules(0.3, 20, 7, 0.006, 0.3, 0.07, (-1.0, 5.0), 0.6, 97),
        ReactionRules(0.2, 2.0, 6.0, 4.5, 13, 0.3, 25),
        StateThresholds(0.9, 30, 0.51, 0.71, 0.81, 0.91, 1.1, 2.1, 3.1),
        TrendRules(9, 3.0),
        dt.timedelta(days=91),
        6,
    )


def values(rules: object) -> list[object]:
    found: list[object] = []
    for each in fields(rules):  # type: ignore[arg-type]
        value = getattr(rules, each.name)
        found += values(value) if is_dataclass(value) else [value]
    return found


def test_no_number_was_forgotten():
    """Of all rules there is one in the file, and none comes out as another."""
    pairs = zip(values(scrambled()), values(TimingRules()), strict=True)
    assert all(one != other for one, other in pairs)
    said, _ = check_thresholds(document("trend: {}"), scrambled())
    assert said is not None
    for one, other in zip(values(said), values(scrambled()), strict=True):
        assert one == pytest.approx(other, rel=1e-12) if isinstance(one, float) else one == other


def test_the_shipped_file_has_every_key_and_a_word_beside_each_number():
    lines = [line for line in SHIPPED.read_text(encoding="utf-8").splitlines() if line.startswith("  ")]
    numbers = [line for line in lines if not line.strip().startswith("#")]
    keys = [key for group in ThresholdsFile.model_fields.values() for key in group.annotation.model_fields]
    assert sorted(line.split(":")[0].strip() for line in numbers) == sorted(keys)
    for line in numbers:
        assert "# " in line, line
    assert all(len(line) <= 110 for line in lines)


def test_own_thresholds_lie_over_the_shipped_ones(home):
    home.thresholds.write_text(
        "states:\n  automatic_s: 0.8\n  newest_answers: 30\ncalibration:\n  good_for_days: 30\n"
        "click:\n  furthest_ms: 150\n"
    )
    rules = load_thresholds(home)
    assert (rules.states.automatic_s, rules.states.newest, rules.states.known_s) == (0.8, 30, 2.0)
    assert rules.good_for == dt.timedelta(days=30)
    assert rules.latency == LatencyRules(furthest_s=0.15)
    assert rules.reaction == ReactionRules()


def test_faults_name_file_line_key_value_and_what_is_allowed(home):
    home.thresholds.write_text("states:\n  automatic_s: 61\n  knwn_s: 2\nclik: {}\n")
    with pytest.raises(BadInput) as caught:
        load_thresholds(home)
    told = str(caught.value)
    assert f"{home.thresholds}:2:16: states.automatic_s: 61 is out of range (allowed: 0.05 to 60" in told
    assert f'{home.thresholds}:3:3: states.knwn_s: unknown key "knwn_s"; did you mean "known_s"?' in told
    assert f'{home.thresholds}:4:1: clik: unknown key "clik"; did you mean "click"?' in told


@pytest.mark.parametrize(
    ("text", "line", "key", "message", "allowed"),
    [
        ("states:\n  automatic_s: 2.5\n", 2, "states.automatic_s", "2.5 is above known_s, 2", "at most 2"),
        ("states:\n  slow_s: 1.5\n", 2, "states.slow_s", "1.5 is below known_s, 2", "at least 2"),
        (
            "states: {known_s: 4, slow_s: 3.5}\n",
            1,
            "states.known_s",
            "4 is above slow_s, 3.5",
            "at most 3.5",
        ),
        ("states: {found_right: yes}\n", 1, "states.found_right", "'yes' is not a number", "0.01 to 1"),
        ("states: {found_right: true}\n", 1, "states.found_right", "true is not a number", "0.01 to 1"),
        ("states: {confidence: .nan}\n", 1, "states.confidence", "'.nan' is not a number", "0.5 to 0.99"),
        ("click: {least_plucks: 16.5}\n", 1, "click.least_plucks", "16.5 is not a whole number", "4 to 1000"),
        (
            "click:\n  least_plucks: 100\n",
            2,
            "click.least_plucks",
            "100 is above planned_plucks, 96",
            "at most 96",
        ),
        ("click: 3\n", 1, "click", "3 is not a group of keys", "a group of keys"),
        ("reaction: ~\n", 1, "reaction", "nothing is written here", "a group of keys"),
    ],
)
def test_single_faults(text: str, line: int, key: str, message: str, allowed: str) -> None:
    ((at, where, told, may),) = problems(text)
    assert (at, where, told) == (line, key, message)
    assert allowed in may
