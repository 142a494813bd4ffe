"""The optimum is the optimum: against every way there is, on small scores."""

import math
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from midifret.fingering import Aim, Choices, OpenStrings, Weights, finger, finger_ways
from midifret.fingering.weights import WEIGHT_NAMES
from midifret.neck import Neck
from midifret.terms.score import Score
from tests.fingering.brute import Brute, TooMany
from tests.fingering.scores import score, small_neck


def _weights(values: list[float]) -> Weights:
    weights = Weights(**dict(zip(WEIGHT_NAMES, values, strict=True)))
    return replace(weights, free_hand=min(1.0, weights.free_hand))


WEIGHTS = st.lists(
    st.floats(0, 3).map(lambda x: round(x, 3)), min_size=len(WEIGHT_NAMES), max_size=len(WEIGHT_NAMES)
).map(_weights)


@st.composite
def small_necks(draw: st.DrawFn) -> Neck:
    """Two or three strings near one another, so that most notes have several places; few frets."""
    apart = draw(st.lists(st.integers(1, 5), min_size=1, max_size=2))
    opens = [50]
    for step in apart:
        opens.append(opens[-1] - step)
    return small_neck(tuple(opens), draw(st.integers(3, 6)))


@st.composite
def small_scores(draw: st.DrawFn, neck: Neck, most_onsets: int, most_together: int) -> Score:
    """Some onsets with notes of the neck, held for shorter or longer, some of them slurred."""
    low, high = neck.compass
    notes = []
    for onset in range(draw(st.integers(1, most_onsets))):
        together = draw(st.lists(st.integers(low, high), min_size=1, max_size=most_together, unique=True))
        notes += [(onset / 2, draw(st.sampled_from((0.25, 0.5, 1.0, 2.0))), midi) for midi in together]
    slurred = draw(st.frozensets(st.integers(1, len(notes)), max_size=2))
    return score(*notes, slurred=slurred)


@given(st.data())
@settings(max_examples=700, deadline=None)
@pytest.mark.parametrize(("onsets", "together"), [(3, 1), (3, 2), (2, 3)])
def test_no_way_is_cheaper_than_the_one_found(onsets: int, together: int, data: st.DataObject) -> None:
    neck = data.draw(small_necks())
    small = data.draw(small_scores(neck, onsets, together))
    weights = data.draw(WEIGHTS)
    choices = Choices(open_strings=data.draw(st.sampled_from((OpenStrings.FREELY, OpenStrings.NEEDED))))
    try:
        least = Brute(small, neck, weights, choices).least()
    except TooMany:
        assume(False)
    found = finger(small, neck, choices, weights)
    assert math.isclose(found.cost, least, rel_tol=1e-9, abs_tol=1e-9)
    assert math.isclose(sum(value for _, value in found.parts), least, rel_tol=1e-9, abs_tol=1e-9)


@given(st.data())
@settings(max_examples=200, deadline=None)
@pytest.mark.parametrize(("onsets", "together"), [(3, 1), (3, 2)])
def test_no_way_has_an_easier_hardest_move(onsets: int, together: int, data: st.DataObject) -> None:
    neck = data.draw(small_necks())
    small = data.draw(small_scores(neck, onsets, together))
    weights = data.draw(WEIGHTS)
    try:
        hardest, least = Brute(small, neck, weights, Choices()).hardest_least()
    except TooMany:
        assume(False)
    found = finger(small, neck, Choices(aim=Aim.HARDEST), weights)
    assert math.isclose(found.hardest, hardest, rel_tol=1e-6, abs_tol=1e-6)
    assert math.isclose(found.cost, least, rel_tol=1e-6, abs_tol=1e-6)


@given(st.data())
@settings(max_examples=100, deadline=None)
def test_hardest_and_sum_bound_each_other(data: st.DataObject) -> None:
    # Hori & Sagayama 2016: the hardest move of minimax is at most that of the sum, and the other way round.
    neck = data.draw(small_necks())
    small = data.draw(small_scores(neck, 4, 2))
    weights = data.draw(WEIGHTS)
    by_sum = finger(small, neck, Choices(), weights)
    by_hardest = finger(small, neck, Choices(aim=Aim.HARDEST), weights)
    assert by_hardest.hardest <= by_sum.hardest + 1e-9
    assert by_sum.cost <= by_hardest.cost + 1e-9


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_the_k_best_are_the_k_cheapest_that_differ(data: st.DataObject) -> None:
    neck = data.draw(small_necks())
    small = data.draw(small_scores(neck, 3, 2))
    weights = data.draw(WEIGHTS)
    k = data.draw(st.integers(2, 6))
    brute = Brute(small, neck, weights, Choices())
    try:
        costs = brute.by_fingering()
    except TooMany:
        assume(False)
    found = finger_ways(small, neck, Choices(), weights, k=k)
    assert [round(way.cost, 6) for way in found] == [round(cost, 6) for cost in costs[:k]]
    played = {tuple((note.place, note.finger) for note in way.notes) for way in found}
    assert len(played) == len(found)
