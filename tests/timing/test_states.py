"""States of places: the cautious share right against statsmodels, thresholds, and few answers.

Retrieval: about 1 s where it is automatic, worked out beyond 2 to 3 s (review by Crawford, citing Ashcraft
1982 and Logan 1988). Shares right are [ours].
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from midifret.terms import CueKind, Place
from midifret.terms.calibration import Caveat, Recall
from midifret.timing import CuedAnswer, RecallFigure, State, StateThresholds, newest, place_states, state_of
from midifret.timing.states import right_at_least

ORDER = list(State)
NAME, STAFF = (CueKind.NAME,), (CueKind.STAFF,)
HERE, THERE = Place(6, 5), Place(1, 12)


def figure(time_s: float, standard_error_s: float = 0.0, answers: int = 20) -> RecallFigure:
    return RecallFigure(time_s, standard_error_s, answers - 1, answers, frozenset())


def answers(right: int, wrong: int, time_s: float, place: Place = HERE) -> list[CuedAnswer]:
    recalled = Recall(time_s, 0.01, 0.04, frozenset({Caveat.WITH_TRAVEL}))
    return [CuedAnswer(place, NAME, right=True, recall=recalled)] * right + [
        CuedAnswer(place, NAME, right=False)
    ] * wrong


@given(st.integers(1, 200), st.data())
def test_share_right_is_the_lower_end_of_wilsons_interval(count: int, data: st.DataObject) -> None:
    right = data.draw(st.integers(0, count))
    low, _ = proportion_confint(right, count, alpha=0.4, method="wilson")  # 80% on one side
    assert right_at_least(right, count, 0.8) == pytest.approx(max(low, 0.0), abs=1e-9)


@pytest.mark.parametrize(
    ("right", "count", "time_s", "state"),
    [
        (0, 0, None, State.DARK),
        (0, 5, None, State.DARK),
        (10, 20, 0.5, State.DARK),  # one half: not oftener than not
        (14, 20, 0.5, State.FOUND),
        (17, 20, 0.5, State.SLOW),
        (19, 20, 0.5, State.KNOWN),
        (40, 40, 0.5, State.AUTOMATIC),
        (40, 40, 1.0, State.AUTOMATIC),
        (40, 40, 1.01, State.KNOWN),
        (40, 40, 2.01, State.SLOW),
        (40, 40, 3.01, State.FOUND),
        (40, 40, None, State.FOUND),
        (40, 40, -0.05, State.AUTOMATIC),  # never clipped: faster than the reaction measured
    ],
)
def test_thresholds(right: int, count: int, time_s: float | None, state: State) -> None:
    assert state_of(count, right, None if time_s is None else figure(time_s)) is state


@pytest.mark.parametrize(
    ("right", "state"),
    [(1, State.FOUND), (2, State.SLOW), (3, State.KNOWN), (6, State.KNOWN), (7, State.AUTOMATIC)],
)
def test_few_answers_give_a_low_state(right: int, state: State) -> None:
    """All right and quick; what the docstring of StateThresholds says."""
    (found,) = place_states(answers(right, 0, 0.5))
    assert (found.state, found.answers, found.right) == (state, right, right)


def test_unsure_times_give_a_low_state() -> None:
    assert state_of(40, 40, figure(0.9, 0.01)) is State.AUTOMATIC
    assert state_of(40, 40, figure(0.9, 0.2)) is State.KNOWN
    assert state_of(40, 40, figure(0.9, 3.0)) is State.FOUND


@given(
    st.integers(0, 60),
    st.integers(0, 60),
    st.floats(-0.5, 5),
    st.floats(0, 1),
    st.floats(0, 5),
    st.floats(0, 1),
)
def test_better_answers_never_lower_a_state(
    right: int, wrong: int, time_s: float, error_s: float, slower_s: float, less_sure_s: float
) -> None:
    plain = ORDER.index(state_of(right + wrong, right, figure(time_s, error_s)))
    assert ORDER.index(state_of(right + wrong + 1, right + 1, figure(time_s, error_s))) >= plain
    assert ORDER.index(state_of(right + wrong + 1, right, figure(time_s, error_s))) <= plain
    assert ORDER.index(state_of(right + wrong, right, figure(time_s + slower_s, error_s))) <= plain
    assert ORDER.index(state_of(right + wrong, right, figure(time_s, error_s + less_sure_s))) <= plain
    assert ORDER.index(state_of(right + wrong, right, None)) <= plain


def test_each_place_and_kind_of_cue_by_itself() -> None:
    by_staff = [
        CuedAnswer(HERE, STAFF, right=False),
        CuedAnswer(HERE, (CueKind.STRING, CueKind.NAME), right=False),
        CuedAnswer(HERE, (CueKind.NAME, CueKind.STRING), right=False),
    ]
    found = place_states([*answers(8, 0, 0.5), *by_staff, *answers(3, 0, 1.5, THERE)])
    assert [(each.place, each.cue, each.answers, each.state) for each in found] == [
        (THERE, NAME, 3, State.KNOWN),
        (HERE, NAME, 8, State.AUTOMATIC),
        (HERE, (CueKind.NAME, CueKind.STRING), 2, State.DARK),
        (HERE, STAFF, 1, State.DARK),
    ]
    assert found[1].figure is not None
    assert found[1].figure.caveats == {Caveat.WITH_TRAVEL}


def test_wrong_answers_have_no_time() -> None:
    quick = [CuedAnswer(HERE, NAME, right=False, recall=Recall(0.1, 0.0, 0.0))] * 5
    (found,) = place_states([*quick, *answers(20, 0, 2.5)])
    assert found.figure is not None
    assert found.figure.time_s == pytest.approx(2.5)
    assert found.figure.answers == 20


def test_the_newest_answers_of_each_place_and_kind_of_cue_count() -> None:
    """By their order alone; another kind of cue, or place, has answers of its own."""
    old, new = answers(0, 30, 0.5), answers(20, 0, 0.5)
    elsewhere = answers(3, 0, 1.5, THERE)
    by_staff = [CuedAnswer(HERE, STAFF, right=False)] * 2
    kept = newest([*old, *elsewhere, *by_staff, *new])
    assert kept == (*elsewhere, *by_staff, *new)
    assert newest([*new, *old]) == tuple(old[:20])
    assert newest([*old, *new], StateThresholds(newest=25)) == (*old[:5], *new)
    mixed = [CuedAnswer(HERE, (CueKind.STRING, CueKind.NAME), right=i % 2 == 0) for i in range(15)]
    turned = [CuedAnswer(HERE, (CueKind.NAME, CueKind.STRING), right=False)] * 15
    assert newest([*mixed, *turned]) == (*mixed[10:], *turned)
    assert newest([]) == ()


@given(st.lists(st.tuples(st.sampled_from([HERE, THERE]), st.booleans())), st.integers(1, 5))
def test_newest_as_a_slow_search_has_it(given_answers: list[tuple[Place, bool]], count: int) -> None:
    listed = [CuedAnswer(place, NAME, right=right) for place, right in given_answers]
    slow = [a for i, a in enumerate(listed) if sum(b.place == a.place for b in listed[i + 1 :]) < count]
    assert newest(listed, StateThresholds(newest=count)) == tuple(slow)


def test_places_never_asked_are_not_told() -> None:
    assert place_states([]) == ()


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"newest": 0}, "1 answer"),
        ({"confidence": 0.4}, "confidence"),
        ({"confidence": 1.0}, "confidence"),
        ({"known_right": 0.95}, "shares"),
        ({"found_right": 0.0}, "shares"),
        ({"known_s": 0.5}, "times"),
        ({"automatic_s": -1.0}, "times"),
    ],
)
def test_thresholds_out_of_order(fields: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        StateThresholds(**fields)


def test_more_right_than_asked() -> None:
    with pytest.raises(ValueError, match="3 of 2"):
        right_at_least(3, 2, 0.8)
