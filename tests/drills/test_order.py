"""The order of questions: rounds, draws and shuffles without immediate repeats."""

import random
from collections import Counter
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from midifret.drills.order import drawn, rounds, shuffled

UNITS = st.lists(st.integers(0, 5), min_size=1, max_size=25)
SEEDS = st.integers(0, 10_000)


def same(unit: int) -> int:
    return unit


def can_be_laid(units: list[int]) -> bool:
    """Without two alike in a row: no kind may be more than half, rounded up (pigeonhole)."""
    return max(Counter(units).values()) <= (len(units) + 1) // 2


@given(UNITS, SEEDS)
def test_shuffling_keeps_every_unit_and_repeats_none_where_it_can(units: list[int], seed: int) -> None:
    result = shuffled(units, random.Random(seed), same)
    assert Counter(result) == Counter(units)
    if can_be_laid(units):
        assert all(a != b for a, b in pairwise(result))


@given(st.lists(st.integers(0, 9), unique=True, min_size=3, max_size=10), SEEDS, st.integers(1, 40))
def test_rounds_hold_every_unit_once_each_and_repeat_none(units: list[int], seed: int, count: int) -> None:
    result = rounds(units, count=count, repeat=None, rng=random.Random(seed), key=same)
    assert len(result) == count
    assert all(a != b for a, b in pairwise(result))
    size = len(units)
    for start in range(0, count - size + 1, size):
        assert set(result[start : start + size]) == set(units)


@given(st.sets(st.integers(0, 9), min_size=2), st.integers(1, 60), SEEDS)
def test_draws_never_come_twice_in_a_row(units: set[int], count: int, seed: int) -> None:
    pool = sorted(units)
    result = drawn(pool, count, random.Random(seed), same, after=pool[0])
    assert len(result) == count
    assert set(result) <= units
    assert all(a != b for a, b in pairwise([pool[0], *result]))


def test_the_same_seed_gives_the_same_order_and_another_seed_another() -> None:
    orders = {tuple(shuffled(range(20), random.Random(seed), same)) for seed in range(10)}
    assert len(orders) == 10
    assert shuffled(range(20), random.Random(3), same) == shuffled(range(20), random.Random(3), same)


def test_as_written_repeats_the_round_or_cuts_it() -> None:
    assert rounds([1, 2, 3], count=None, repeat=2, rng=None, key=same) == [1, 2, 3, 1, 2, 3]
    assert rounds([1, 2, 3], count=4, repeat=None, rng=None, key=same) == [1, 2, 3, 1]
    assert rounds([], count=4, repeat=None, rng=None, key=same) == []


def test_a_dozen_of_many_thousands_is_soon_drawn() -> None:
    """Found by fuzzing: a drill whose frets reach far has thousands of pairs, of which it asks twelve."""
    calls = 0

    def key(unit: int) -> int:
        nonlocal calls
        calls += 1
        return unit % 97

    chosen = rounds(range(20_000), count=12, repeat=None, rng=random.Random(1), key=key)
    assert len(chosen) == len(set(chosen)) == 12
    assert calls <= 20_000 + 12


def test_the_first_of_all_are_those_of_some() -> None:
    units = [*range(30)] * 2
    some = shuffled(units, random.Random(3), lambda unit: unit % 7, most=9)
    assert some == shuffled(units, random.Random(3), lambda unit: unit % 7)[:9]
