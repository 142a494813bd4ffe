"""How often something may happen: a bucket that fills with time, a wait that grows with wrong guesses."""

from collections import OrderedDict
from dataclasses import dataclass


class TokenBucket:
    """So many at once, so many a second over time. Time is injected, in seconds on any steady clock."""

    def __init__(self, a_second: float, at_once: float) -> None:
        """Begin full."""
        self._a_second, self._at_once = a_second, at_once
        self._left = at_once
        self._at_s: float | None = None

    def take(self, now_s: float, number: float = 1) -> bool:
        """Take that many, if there are so many; otherwise take none."""
        if self._at_s is not None:
            gained = max(0.0, now_s - self._at_s) * self._a_second
            self._left = min(self._at_once, self._left + gained)
        self._at_s = now_s
        if number > self._left:
            return False
        self._left -= number
        return True


@dataclass(slots=True)
class _Count:
    wrong: int = 0
    until_s: float = float("-inf")
    last_s: float = float("-inf")


class Guesses:
    """Wrong guesses, for each address and in total. After the free ones each costs a wait twice as long.

    While a wait lasts nothing is tried, not even what would be right, so that guessing on gains nothing.
    After half an hour without a wrong one the count begins anew. With 20 free ones in total, that is at most
    1,000 guesses a day at the best pace, and fewer at any other [calc]. More addresses than 256 are not told
    apart: the one longest quiet is forgotten, but the total still counts.
    """

    FREE, FREE_IN_TOTAL = 5, 20
    WAIT_S, MOST_WAIT_S = 10.0, 900.0
    FORGOTTEN_S = 1800.0
    ADDRESSES = 256

    def __init__(self) -> None:
        """Nobody has guessed."""
        self._total = _Count()
        self._by_address: OrderedDict[str, _Count] = OrderedDict()

    def wait_s(self, address: str, now_s: float) -> float:
        """How long this address has to wait before it may try; 0 for not at all."""
        counts = (self._total, self._by_address.get(address, _Count()))
        return max(0.0, *(count.until_s - now_s for count in counts))

    def wrong(self, address: str, now_s: float) -> None:
        """Count a wrong guess."""
        count = self._by_address.setdefault(address, _Count())
        self._by_address.move_to_end(address)
        if len(self._by_address) > self.ADDRESSES:
            self._by_address.popitem(last=False)
        for each, free in ((count, self.FREE), (self._total, self.FREE_IN_TOTAL)):
            if now_s - each.last_s > self.FORGOTTEN_S:
                each.wrong = 0
            each.wrong += 1
            each.last_s = now_s
            if each.wrong >= free:
                wait_s = self.WAIT_S * 2.0 ** min(20, each.wrong - free)
                each.until_s = now_s + min(self.MOST_WAIT_S, wait_s)
