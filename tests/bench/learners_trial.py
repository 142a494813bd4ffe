"""Learners under a policy, day by day, and the figures of many; who did not finish is counted as censored."""

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tests.bench.learners import DAY_S, ENOUGH, PLACES, Learner
from tests.bench.learners_memory import new_learner
from tests.bench.learners_rounds import Policy

NEXT_CUE_S = 0.7  # from the end of an answer to the next cue: what the program's runs take
CORRECTION_S = 1.5  # [ours]: to see what was asked and play it, after a wrong answer
MEASURED_S = 0.03  # [ours]: standard deviation by which recall is measured off, as bench_recall.py has it


@dataclass(frozen=True, slots=True)
class Course:
    """How one learner did. minutes: practised until enough places were known as a session began, else None.

    practised_minutes: in all. known: places known at the beginning of each session, and at the end.
    """

    minutes: float | None
    practised_minutes: float
    known: tuple[int, ...]
    answers: int


def run_course(
    learner: Learner,
    policy: Policy,
    days: int = 60,
    minutes: float = 15.0,
    missed: float = 0.0,
    seed: int = 0,
) -> Course:
    """Let a learner practise by a policy, one session a day, until enough is known or the days are over.

    missed: chance that a day goes by without practice. Sessions begin at 18:00, an hour more or less. The
    morning after the last day counts too.
    """
    chance = random.Random(seed)
    practised_s, answers, known = 0.0, 0, []
    for day in range(days + 1):
        now_s = day * DAY_S + 18 * 3600 + max(-2.0, min(2.0, chance.gauss(0.0, 1.0))) * 3600
        if day and day < days and chance.random() < missed:
            continue
        learner.begin(now_s)
        known.append(learner.known(now_s))
        if known[-1] >= ENOUGH:
            return Course(practised_s / 60, practised_s / 60, tuple(known), answers)
        if day == days:
            break
        began_s, end_s = now_s, now_s + minutes * 60
        policy.begin_day(day)
        while now_s < end_s:
            place = policy.next(now_s)
            attempt = learner.answer(place, now_s)
            now_s += learner.traits.hands_s + attempt.recall_s
            measured_s = max(0.0, attempt.recall_s + chance.gauss(0.0, MEASURED_S))
            policy.answered(place, attempt.right, measured_s, now_s)
            now_s += NEXT_CUE_S + (0.0 if attempt.right else CORRECTION_S)
            answers += 1
        practised_s += now_s - began_s
    return Course(None, practised_s / 60, tuple(known), answers)


def run_rounds(learner: Learner, rounds: int, days: int = 60, minutes: float = 15.0, seed: int = 0) -> Course:
    """Let a learner go through all places so many times within each session, evenly, whatever it takes.

    No session holds more than some 4 rounds: with more it bounds what any choice of places could bring that
    asks all of them alike, for nights and rests take their time whatever is asked.
    """
    chance = random.Random(seed)
    order = list(PLACES)
    chance.shuffle(order)
    known = []
    for day in range(days + 1):
        now_s = day * DAY_S + 18 * 3600
        learner.begin(now_s)
        known.append(learner.known(now_s))
        if known[-1] >= ENOUGH:
            return Course(day * minutes, day * minutes, tuple(known), day * rounds * len(order))
        apart_s = minutes * 60 / (rounds * len(order))
        for number, place in enumerate(order * rounds):
            learner.answer(place, now_s + number * apart_s)
    return Course(None, days * minutes, tuple(known), days * rounds * len(order))


def run_many(
    model: str,
    policy: Callable[[int], Policy],
    learners: int,
    seed: int,
    days: int = 60,
    minutes: float = 15.0,
    missed: float = 0.0,
) -> list[Course]:
    """Return the courses of so many learners. The same seed has the same learners under every policy."""
    courses = []
    for number in range(learners):
        own = seed * 100_000 + number
        courses.append(
            run_course(new_learner(model, own), policy(own), days, minutes=minutes, missed=missed, seed=own)
        )
    return courses


def censored_median(courses: Sequence[Course]) -> float:
    """Return the median minutes of Kaplan and Meier (1958); infinite where fewer than half finish.

    Who did not finish is censored at the minutes practised, which are not alike when days are missed.
    """
    at_risk = len(courses)
    left = 1.0
    times = sorted(
        (course.practised_minutes if course.minutes is None else course.minutes, course.minutes is None)
        for course in courses
    )
    for minutes, censored in times:
        if not censored:
            left *= 1 - 1 / at_risk
            if left <= 0.5 + 1e-12:
                return minutes
        at_risk -= 1
    return math.inf


def median_interval(
    courses: Sequence[Course], seed: int = 1, draws: int = 1000, share: float = 0.95
) -> tuple[float, float]:
    """Return the bootstrap interval of the censored median (percentiles; Efron 1981, from memory)."""
    chance = random.Random(seed)
    medians = sorted(censored_median(chance.choices(courses, k=len(courses))) for _ in range(draws))
    return _ends(medians, share)


def ratio_of_medians(
    new: Sequence[Course], old: Sequence[Course], seed: int = 1, draws: int = 1000, share: float = 0.95
) -> tuple[float, float, float]:
    """Return the ratio of two censored medians and its interval; learners are drawn in pairs.

    Infinite medians: a ratio of nought or infinite; draws in which both are infinite count as 1.
    """
    chance = random.Random(seed)
    pairs = list(zip(new, old, strict=True))

    def ratio(drawn: Sequence[tuple[Course, Course]]) -> float:
        above = censored_median([pair[0] for pair in drawn])
        below = censored_median([pair[1] for pair in drawn])
        return 1.0 if math.isinf(above) and math.isinf(below) else above / below

    low, high = _ends(sorted(ratio(chance.choices(pairs, k=len(pairs))) for _ in range(draws)), share)
    return ratio(pairs), low, high


def slower_share(new: Sequence[Course], old: Sequence[Course]) -> float:
    """Return the share of learners who need more minutes under the new policy than under the old, 0 to 1.

    Who finishes under the old one alone is slower; who finishes under neither is not.
    """
    slower = 0
    for one, other in zip(new, old, strict=True):
        slower += (math.inf if one.minutes is None else one.minutes) > (
            math.inf if other.minutes is None else other.minutes
        )
    return slower / len(new)


def unfinished_share(courses: Sequence[Course]) -> float:
    """Return the share of learners who did not finish, 0 to 1."""
    return sum(course.minutes is None for course in courses) / len(courses)


def _ends(ordered: Sequence[float], share: float) -> tuple[float, float]:
    last = len(ordered) - 1
    tail = (1 - share) / 2
    return ordered[round(tail * last)], ordered[round((1 - tail) * last)]
