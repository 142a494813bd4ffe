"""The table of kinds of question, and the faults that a kind tells."""

import pytest

from midifret.drills.kinds import KINDS_BY_KEY
from midifret.drills.models import KINDS
from midifret.terms import BadInput


def test_every_key_that_asks_something_itself_has_its_maker():
    assert list(KINDS_BY_KEY) == [kind for kind in KINDS if kind != "drill"]


def test_both_faults_of_a_pair_are_told(make):
    with pytest.raises(BadInput) as caught:
        make("ask: {taken_string: {pairs: [[7:1, 7:3], [2:1, 2:30]]}}\n")
    assert [problem.message for problem in caught.value.problems] == [
        "the guitar has no place 7:1",
        "the guitar has no place 7:3",
        "the guitar has no place 2:30",
    ]


@pytest.mark.parametrize(
    ("judge", "hint"), [("place", "fret 5"), ("position V", "position V"), ("pitch", "")]
)
def test_a_row_names_its_fret_only_where_that_is_judged(make, judge, hint):
    exercise = make(f"ask: {{row: {{fret: 5}}}}\njudge: {judge}\n")
    assert {prompt.hint for prompt in exercise.prompts} == {hint}
