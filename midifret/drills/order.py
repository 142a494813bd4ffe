"""The order of questions: rounds, shuffling and draws without immediate repeats."""

import random
from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from typing import TypeVar

Unit = TypeVar("Unit")


def shuffled(
    units: Sequence[Unit],
    rng: random.Random,
    key: Callable[[Unit], Hashable],
    after: Hashable = None,
    most: int | None = None,
) -> list[Unit]:
    """Return the units in random order, no two of the same key in a row where that is possible.

    after: the key of what comes before the first. most: how many are wanted of them; None for all.
    """
    left = list(units)
    keys = [key(unit) for unit in left]
    counts = Counter(keys)
    result: list[Unit] = []
    last = after
    while left and (most is None or len(result) < most):
        fair_keys = _keys_that_leave_a_way(counts, last)
        fair = [i for i, its_key in enumerate(keys) if its_key in fair_keys]
        other = fair or [i for i, its_key in enumerate(keys) if its_key != last]
        chosen = rng.choice(other or range(len(left)))
        result.append(left.pop(chosen))
        last = keys.pop(chosen)
        counts[last] -= 1
    return result


def _keys_that_leave_a_way(counts: Counter[Hashable], last: Hashable) -> set[Hashable]:
    """Return the keys that may come next so that the rest can still be laid without a repeat."""
    rest = counts.total() - 1
    (commonest, most), (_, second) = [*counts.most_common(2), (None, 0)][:2]
    return {
        key
        for key, count in counts.items()
        if key != last
        and count - 1 <= rest // 2
        and (second if key == commonest else most) <= (rest + 1) // 2
    }


def drawn(
    units: Sequence[Unit],
    count: int,
    rng: random.Random,
    key: Callable[[Unit], Hashable],
    after: Hashable = None,
) -> list[Unit]:
    """Draw units at random, never two of the same key in a row. Needs two different keys if count > 1.

    after: the key of what comes before the first, drawn all the same where there is no other.
    """
    result: list[Unit] = []
    last = after
    for _ in range(count):
        result.append(rng.choice([u for u in units if key(u) != last] or units))
        last = key(result[-1])
    return result


def rounds(
    units: Sequence[Unit],
    *,
    count: int | None,
    repeat: int | None,
    rng: random.Random | None,
    key: Callable[[Unit], Hashable],
    again: Callable[[Hashable], Sequence[Unit]] | None = None,
) -> list[Unit]:
    """Return the units for `repeat` rounds, or `count` of them; each round is shuffled by `rng`, if any.

    again: makes the units of a further round anew, given the key of what comes before; else they stay.
    """
    if not units:
        return []
    wanted = count if count is not None else len(units) * (repeat or 1)
    result: list[Unit] = []
    while len(result) < wanted and units:
        if rng is None:
            result += units
            units = again(key(result[-1])) if again is not None and len(result) < wanted else units
        else:
            after = key(result[-1]) if result else None
            result += shuffled(units, rng, key, after, most=wanted - len(result))
    return result[:wanted]
