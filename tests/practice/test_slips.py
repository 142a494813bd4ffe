"""Who knows a place and slips now and then, on another string say, is not taken to have forgotten it."""

import math
import random

import pytest

from midifret.practice import Asked, Memory, RecallKind, Remembered
from midifret.terms import Place

PLACES = [Asked(Place(string, fret), RecallKind.NAME) for fret in (0, 5, 7) for string in range(1, 7)]
DAY_S = 86_400.0


def practised(right: float, *, days: int = 40, seed: int = 1) -> tuple[Memory, float]:
    """Each place once a day, the right answers faster and faster; slips have nothing to do with memory."""
    lots, memory = random.Random(seed), Memory()
    for day in range(days):
        middle_s = 0.9 + 1.8 * math.exp(-day / 10)
        for number, asked in enumerate(PLACES):
            is_right = lots.random() < right
            time_s = middle_s * lots.lognormvariate(0, 0.25) if is_right else None
            memory.answer(Remembered(asked, day * DAY_S + 8 * number, is_right, time_s, found=True))
    return memory, days * DAY_S


@pytest.mark.parametrize("right", [0.99, 0.93, 0.85])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_chance_is_that_of_being_right(right: float, seed: int) -> None:
    memory, now_s = practised(right, seed=seed)
    found = [memory.forecast(asked, now_s) for asked in PLACES]
    chance = sum(one.chance for one in found) / len(found)
    # 40 days of 18 places: 0.013 standard deviation at 0.85 [calc], and the newest answers count most.
    assert chance == pytest.approx(right, abs=0.06)
    assert min(one.recalled for one in found) > 0.6
    assert max(one.recall_s for one in found) < 1.5


def test_slips_are_told_from_forgetting() -> None:
    """A place that comes wrong most days while the others come right is not known."""
    lots, memory = random.Random(4), Memory()
    weak = PLACES[0]
    for day in range(30):
        for number, asked in enumerate(PLACES):
            is_right = lots.random() < (0.25 if asked == weak else 0.98)
            time_s = 0.9 * lots.lognormvariate(0, 0.25) if is_right else None
            memory.answer(Remembered(asked, day * DAY_S + 8 * number, is_right, time_s, found=True))
    now_s = 30 * DAY_S
    others = [memory.forecast(asked, now_s).recalled for asked in PLACES[1:]]
    assert memory.forecast(weak, now_s).recalled < min(others)
    assert memory.forecast(weak, now_s).recall_s > memory.forecast(PLACES[1], now_s).recall_s
