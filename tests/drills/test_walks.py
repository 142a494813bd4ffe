"""Orders over strings and notes."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.drills.walks import broken, row_walk, there_and_back


def test_there_and_back_has_its_turning_point_once() -> None:
    assert there_and_back([1, 2, 3]) == [1, 2, 3, 2, 1]
    assert there_and_back([1]) == [1]


def test_broken_intervals_go_up_an_interval_and_back_a_step_less() -> None:
    assert broken("EFGA", 3) == ["E", "G", "F", "A"]
    assert broken("EFGAB", 4) == ["E", "A", "F", "B"]
    assert broken("EF", 3) == []


@given(st.lists(st.integers(), unique=True, min_size=3, max_size=30), st.integers(3, 8))
def test_broken_intervals_pair_every_step_that_has_its_interval(steps: list[int], interval: int) -> None:
    walked = broken(steps, interval)
    pairs = list(zip(walked[::2], walked[1::2], strict=True))
    assert [low for low, _ in pairs] == steps[: max(0, len(steps) - interval + 1)]
    assert all(steps.index(high) - steps.index(low) == interval - 1 for low, high in pairs)


@given(st.data())
def test_a_row_walk_keeps_to_its_rule(data: st.DataObject) -> None:
    """Forward n strings, back n - 1; a turn at either end; home mirrored [common practice, no source]."""
    strings = data.draw(st.integers(3, 12))
    leap = data.draw(st.integers(1, strings - 1))
    walk = row_walk(strings, leap)
    assert set(walk) <= set(range(1, strings + 1))
    assert walk[0] == walk[-1] == strings
    assert {abs(a - b) for a, b in pairwise(walk)} <= {leap, leap - 1}
    assert 1 in walk
    if leap == 1:
        assert walk == [*range(strings, 0, -1), *range(2, strings + 1)]
    else:
        turn = walk.index(1)
        assert walk[turn : turn + 3] == [1, leap, 1]
        out, home = walk[: turn + 1], walk[turn + 2 : -2]
        assert home == [strings + 1 - string for string in out]
        assert walk[-3:] == [strings, strings + 1 - leap, strings]


@pytest.mark.parametrize("leap", [0, 6, 7, -1])
def test_a_leap_beyond_the_strings_is_refused(leap: int) -> None:
    with pytest.raises(ValueError, match="1 to 5"):
        row_walk(6, leap)
