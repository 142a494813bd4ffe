"""Weights of fingering: the shipped file says what the code says, with a reason on each line."""

import re

import pytest

from midifret.files import Home, parse_document, read_document, shipped_folder
from midifret.fingering import WEIGHT_NAMES, Weights
from midifret.gear.fingering import check_weights, load_weights
from midifret.terms import BadInput

SHIPPED = shipped_folder("config") / "fingering.yaml"


def test_the_shipped_file_says_what_the_code_says(tmp_path):
    assert load_weights(Home.of(tmp_path)) == Weights()
    assert set(read_document(SHIPPED).root.plain()) == set(WEIGHT_NAMES)


def test_each_weight_has_its_reason_beside_it():
    for line in SHIPPED.read_text(encoding="utf-8").splitlines():
        if re.match(r"\w+:", line):
            assert "# " in line, line


def test_what_is_left_out_stays_as_shipped(tmp_path):
    (tmp_path / "fingering.yaml").write_text("jump: 7\n", encoding="utf-8")
    weights = load_weights(Home.of(tmp_path))
    assert weights.jump == 7
    assert weights.roll == Weights().roll


@pytest.mark.parametrize("text", ["jump: -1", "jump: 1000", "jump: much", "leap: 1", "free_hand: 1.5"])
def test_a_faulty_weight_is_told(text):
    found, problems = check_weights(parse_document(text.encode(), "fingering.yaml"))
    assert found is None
    assert problems[0].line == 1
    assert problems[0].allowed


def test_a_faulty_file_of_a_person_is_refused(tmp_path):
    (tmp_path / "fingering.yaml").write_text("jump: [1]\n", encoding="utf-8")
    with pytest.raises(BadInput, match="fingering"):
        load_weights(Home.of(tmp_path))
