"""A memory stored as JSON and taken up again goes on as if it had never been stored."""

import json
import random

import pytest

from midifret.practice import Asked, Memory, RecallKind, Remembered, memory_document, memory_of
from midifret.terms import BadInput, Place

NOW_S = 1.8e9


def practised(count=400):
    chance = random.Random(3)
    memory = Memory()
    for n in range(count):
        asked = Asked(Place(chance.randint(1, 6), chance.randint(0, 12)), chance.choice(list(RecallKind)))
        right = chance.random() < 0.8
        memory.answer(Remembered(asked, NOW_S + n * 500, right, chance.uniform(0.3, 4) if right else None))
    return memory


def test_it_comes_back_as_it_was_and_goes_on_alike():
    memory = practised()
    found = memory_of(json.loads(json.dumps(memory_document(memory.kept))))
    assert found == memory.kept
    again = Memory(found)
    given = Remembered(Asked(Place(3, 3), RecallKind.NAME), NOW_S + 1e6, right=True, recall_s=1.0)
    memory.answer(given)
    again.answer(given)
    assert again.kept == memory.kept


def test_nobody_who_never_played_is_kept_too():
    kept = Memory().kept
    assert memory_of(json.loads(json.dumps(memory_document(kept)))) == kept


def test_what_was_kept_under_other_rules_is_worked_out_again():
    document = memory_document(practised(5).kept)
    assert memory_of({**document, "rules_number": 0}) is None
    assert memory_of({}) is None
    document["items"][0]["likelihood"].pop()
    assert memory_of(document) is None


@pytest.mark.parametrize("key", ["items", "known", "traits", "newest_s", "counted_s", "set_back"])
@pytest.mark.parametrize("value", ["much", [1], {"a": None}, float("nan")])
def test_a_damaged_one_is_refused_in_words(key, value):
    document = memory_document(practised(5).kept)
    with pytest.raises(BadInput, match="cannot be read"):
        memory_of({**document, key: value})


def test_all_places_and_kinds_take_little_room():
    size = len(json.dumps(memory_document(practised(3000).kept)))
    assert size < 1_500_000  # 312 places and kinds of 102 cells and 14 traces each [calc: 20 bytes a number]
