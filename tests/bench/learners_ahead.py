"""Forecasts made for simulated learners day by day, beside the days on which things truly came."""

import datetime as dt
import math
import random
from dataclasses import dataclass

from midifret.practice import Asked, DayMinutes, PlanInput, standing
from midifret.practice.ahead import NECK, AheadRules, Outlook, StageAhead, enough, look_ahead, slowest
from midifret.terms import Place
from tests.bench.learners import DAY_S, ENOUGH
from tests.bench.learners_memory import new_learner
from tests.bench.learners_ours import EPOCH_S, FIRST_DAY, ByChoice, shipped_path
from tests.bench.learners_trial import CORRECTION_S, MEASURED_S, NEXT_CUE_S

STRINGS, LAST_FRET = 6, 12


@dataclass(frozen=True, slots=True)
class Told:
    """A forecast as it was made. day: since the first. practised: days with practice before it.

    slowest_s: of the places that have to hold, as memory had it. true_day: on which it truly came, since the
    first; None where that was not seen. ended: day on which the course ended.
    """

    model: str
    own: int
    day: int
    practised: int
    said: StageAhead
    slowest_s: float
    true_day: int | None
    ended: int

    @property
    def is_neck(self) -> bool:
        """Whether it is of the whole neck."""
        return self.said.name == NECK

    @property
    def days(self) -> int | None:
        """How many days later it truly came."""
        return None if self.true_day is None else self.true_day - self.day

    @property
    def was_within(self) -> bool | None:
        """Whether the true day lies in the interval; None where nobody can tell or no day was said."""
        if self.said.outlook is not Outlook.DATED or self.said.first is None:
            return None
        first = (self.said.first - FIRST_DAY).days
        last = math.inf if self.said.last is None else (self.said.last - FIRST_DAY).days
        if self.true_day is None:
            return False if last <= self.ended else None
        return first <= self.true_day <= last

    @property
    def came_sooner(self) -> bool:
        """Whether it truly came before the first day of the interval."""
        first = self.said.first
        return None not in (self.true_day, first) and self.true_day < (first - FIRST_DAY).days


def groups() -> dict[str, tuple[Asked, ...]]:
    """Return the places of each stage of rows and of the whole neck, by name."""
    path = shipped_path()
    asked = path.asked(STRINGS, LAST_FRET)
    of_place = {each.place: each for each in asked}
    found = {
        stage.name: tuple(of_place[place] for place in stage.places(STRINGS, LAST_FRET))
        for stage in path.rows
    }
    return {**found, NECK: asked}


def forecasts(
    model: str,
    own: int,
    *,
    days: int = 90,
    minutes: float = 15.0,
    missed: float = 0.15,
    rules: AheadRules | None = None,
) -> tuple[list[Told], float | None]:
    """Let a learner practise by our choice, and forecast before each session.

    Beside the forecasts the minutes practised until the whole neck was truly known, None where it was not.
    """
    policy, learner, chance = ByChoice(), new_learner(model, own), random.Random(own)
    path, of_name = shipped_path(), groups()
    history: list[DayMinutes] = []
    made: list[tuple[int, int, StageAhead, float]] = []
    true_day: dict[str, int] = {}
    day = 0
    for day in range(days):
        now_s = day * DAY_S + 18 * 3600 + max(-2.0, min(2.0, chance.gauss(0.0, 1.0))) * 3600
        if day and chance.random() < missed:
            continue
        learner.begin(now_s)
        knows = {place: learner.knows(place, now_s) for place in _places()}
        for name, members in of_name.items():
            if sum(knows[asked.place] for asked in members) >= enough(len(members)):
                true_day.setdefault(name, day)
        if sum(knows.values()) >= ENOUGH:
            break
        today = FIRST_DAY + dt.timedelta(days=day)
        given = PlanInput(
            policy.memory, path, standing(path, {}), today, EPOCH_S + now_s, minutes, tuple(history)
        )
        ahead = look_ahead(given, rules)
        for said in (*ahead.stages, ahead.neck):
            if said.name not in true_day:
                slow_s = slowest(policy.memory, of_name[said.name], EPOCH_S + now_s)
                made.append((day, len(history), said, slow_s))
        policy.begin_day(day)
        end_s = now_s + minutes * 60
        while now_s < end_s:
            place = policy.next(now_s)
            attempt = learner.answer(place, now_s)
            now_s += learner.traits.hands_s + attempt.recall_s
            measured_s = max(0.0, attempt.recall_s + chance.gauss(0.0, MEASURED_S))
            policy.answered(place, attempt.right, measured_s, now_s)
            now_s += NEXT_CUE_S + (0.0 if attempt.right else CORRECTION_S)
        history.append(DayMinutes(today, minutes))
    told = [
        Told(model, own, when, practised, said, slow_s, true_day.get(said.name), day)
        for when, practised, said, slow_s in made
    ]
    return told, len(history) * minutes if NECK in true_day else None


def _places() -> tuple[Place, ...]:
    return tuple(asked.place for asked in groups()[NECK])
