"""The choice of the next place: rests, spacing, bounds on new places, and minutes against other ways."""

import itertools
import random
import statistics

import pytest

from midifret.practice import Asked, ChoiceRules, Chooser, Memory, RecallKind, Remembered, Why
from midifret.terms import Place
from tests.practice.own_learners import (
    DAY_S,
    ORDER,
    AtRandom,
    ByMemory,
    Halving,
    Pools,
    TaughtRound,
    ask,
    minutes_until,
)

NOW_S = 1.8e9


def session(minutes, *, rules=None, seed=1, learner=None):
    """Places asked in a session of a beginner, with why, the memory and when it ended."""
    chance = random.Random(seed)
    learner = learner or Pools(random.Random(seed))
    memory = Memory()
    chooser = Chooser(memory, ORDER, rules)
    at_s, found = NOW_S, []
    while at_s < NOW_S + minutes * 60:
        choice = chooser.next(at_s)
        given, took_s = ask(learner, choice.asked, at_s, chance)
        memory.answer(given)
        chooser.answered(given)
        at_s += took_s
        found.append(choice)
    return found, memory, at_s


def test_other_places_come_between_two_askings_of_one():
    found, _, _ = session(10)
    apart = ChoiceRules().apart
    for n, choice in enumerate(found):
        assert choice.asked not in [before.asked for before in found[max(0, n - apart) : n]]


def test_new_places_come_in_the_order_of_the_path_and_not_too_many_at_once():
    rules = ChoiceRules(unsettled=5)
    found, _, _ = session(8, rules=rules)
    new = [choice.asked for choice in found if choice.why is Why.NEW]
    assert tuple(new) == ORDER[: len(new)]
    memory, chooser = Memory(), Chooser(Memory(), ORDER, rules)
    chooser = Chooser(memory, ORDER, rules)
    for n in range(60):  # who only fails never gets more than twice as many
        choice = chooser.next(NOW_S + 8 * n)
        given = Remembered(choice.asked, NOW_S + 8 * n + 5, right=False)
        memory.answer(given)
        chooser.answered(given)
    assert len(memory.items) <= 2 * rules.unsettled


def test_a_new_place_comes_again_at_growing_gaps():
    found, _, _ = session(15, learner=Pools(random.Random(3)))
    first = [n for n, choice in enumerate(found) if choice.asked == ORDER[0]]
    gaps = [after - before for before, after in itertools.pairwise(first)]
    assert len(gaps) >= 3
    assert statistics.mean(gaps[:2]) < statistics.mean(gaps[-2:])


def test_what_is_automatic_rests_until_it_has_to_be_looked_at():
    memory = Memory()
    places = ORDER[:4]
    chooser = Chooser(memory, ORDER[:10])
    for day in range(4):
        for n in range(5):
            for m, asked in enumerate(places):
                memory.answer(Remembered(asked, NOW_S + day * DAY_S + n * 200 + m * 10, True, 0.5))
    soon_s = NOW_S + 3 * DAY_S + 1100
    asked = []
    for n in range(6):
        choice = chooser.next(soon_s + n)
        chooser.answered(Remembered(choice.asked, soon_s + n, right=True))
        asked.append(choice)
    assert all(choice.asked not in places for choice in asked)
    later = Chooser(memory, places).next(NOW_S + 60 * DAY_S)
    assert later.why is Why.FADING


def test_the_same_memory_and_time_give_the_same_place():
    _, memory, at_s = session(3)
    again = Memory(memory.kept)
    assert Chooser(memory, ORDER).next(at_s) == Chooser(again, ORDER).next(at_s)


def test_there_is_something_to_choose_from():
    with pytest.raises(ValueError, match="no place"):
        Chooser(Memory(), ())
    only = Asked(Place(1, 1), RecallKind.NAME)
    chooser = Chooser(Memory(), (only,))
    assert chooser.next(NOW_S).asked == only
    chooser.answered(Remembered(only, NOW_S, right=True))
    assert chooser.next(NOW_S).asked == only


@pytest.mark.parametrize("model", [Halving, Pools])
def test_it_takes_fewer_minutes_than_the_taught_round(model):
    # Four learners of each of two laws that are not the planner's; the full comparison is a benchmark.
    def minutes(way):
        found = []
        for seed in range(4):
            learner = model(random.Random(seed + 1000), talent=random.Random(seed).lognormvariate(0, 0.3))
            took = minutes_until(learner, way(random.Random(seed)), seed=seed)
            assert took is not None
            found.append(took)
        return statistics.mean(found)

    by_memory = minutes(lambda chance: ByMemory())
    assert by_memory < 0.8 * minutes(TaughtRound)
    assert by_memory < 1.05 * minutes(AtRandom)
