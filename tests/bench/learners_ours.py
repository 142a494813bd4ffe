"""Our own plan as a way to practise, for the simulated learners: choice alone, or whole days as `practice` has them.

Their clock begins at 0; ours counts seconds since 1970, so that their first day is set to one of ours.
"""

import datetime as dt
from functools import cache
from pathlib import Path

from midifret.files import Home
from midifret.gear.path import load_path
from midifret.practice import ChoiceRules, Chooser, Memory, MemoryRules, MethodPath, Remembered
from midifret.terms import Place

EPOCH_S = dt.datetime(2026, 1, 1, tzinfo=dt.UTC).timestamp()


@cache
def shipped_path() -> MethodPath:
    """Return the path that is shipped."""
    return load_path(Home(Path("nobody-lives-here")))


class ByChoice:
    """The chooser over all places of the path, from the first minute of a day to the last."""

    def __init__(
        self, seed: int = 0, rules: ChoiceRules | None = None, memory_rules: MemoryRules | None = None
    ) -> None:
        """The seed plays no part: the same answers give the same choice."""
        self.memory = Memory(rules=memory_rules)
        self._kinds = {asked.place: asked for asked in shipped_path().asked()}
        self._chooser = Chooser(self.memory, tuple(self._kinds.values()), rules)

    def begin_day(self, day: int) -> None:
        """As in Policy."""

    def next(self, now_s: float) -> Place:
        """As in Policy."""
        return self._chooser.next(EPOCH_S + now_s).asked.place

    def answered(self, place: Place, right: bool, recall_s: float, now_s: float) -> None:
        """As in Policy."""
        given = Remembered(self._kinds[place], EPOCH_S + now_s, right, recall_s if right else None)
        self.memory.answer(given)
        self._chooser.answered(given)
