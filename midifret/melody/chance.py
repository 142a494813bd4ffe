"""Chance that gives the same again for the same seed, on every machine and version of Python."""

import hashlib
import random
from collections.abc import Mapping, Sequence
from typing import TypeVar

Item = TypeVar("Item")
MOST_SEED = 2**31 - 1  # short enough to be typed again [ours]


class Chance:
    """A stream of draws. Only `Random.random` is used, whose sequence Python keeps for good."""

    def __init__(self, seed: int) -> None:
        """Begin the stream of a seed."""
        self._random = random.Random(seed_of("chance", seed))  # neighbouring seeds have nothing in common

    def share(self) -> float:
        """Draw a number from 0 up to 1."""
        return self._random.random()

    def yes(self, share: float) -> bool:
        """Draw yes with a probability."""
        return self._random.random() < share

    def one_of(self, items: Sequence[Item]) -> Item:
        """Draw one, all alike."""
        return items[min(int(self._random.random() * len(items)), len(items) - 1)]

    def weighted(self, weights: Mapping[Item, float]) -> Item:
        """Draw one by its weight, which need not add up to 1. Raises ValueError where all are 0."""
        total = sum(weights.values())
        if not weights or total <= 0:
            raise ValueError("there is nothing to draw from")
        at = self._random.random() * total
        last: Item | None = None
        for item, weight in weights.items():
            if weight <= 0:
                continue
            last = item
            at -= weight
            if at < 0:
                return item
        assert last is not None
        return last


def seed_of(*parts: object) -> int:
    """Make a seed of some values, the same on every machine: 0 to MOST_SEED."""
    text = "\x1f".join(str(part) for part in parts)
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8]) % (MOST_SEED + 1)
