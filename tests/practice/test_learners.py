"""Simulated learners behave as their models are published, and as they say; a small trial of policies."""

import copy
import math
import random
import statistics

import pytest
from scipy import stats
from statsmodels.duration.survfunc import SurvfuncRight

from midifret.practice import BlockKind
from midifret.terms import Place, Verdict
from tests.bench.learners import DAY_S, ENOUGH, OPEN_POSITION, PLACES, Learner, Traits, index
from tests.bench.learners_memory import MODELS, HalfLives, Instances, Pools, new_learner
from tests.bench.learners_ours import ByChoice, ByPlan
from tests.bench.learners_rounds import LANDMARKS, POLICIES, STEPS, Fsrs, Seer, Shuffled, TaughtRound
from tests.bench.learners_trial import (
    Course,
    censored_median,
    median_interval,
    ratio_of_medians,
    run_course,
    run_many,
    run_rounds,
    slower_share,
    unfinished_share,
)

WEEK_S = 7 * DAY_S
OPEN_STRINGS = (64, 59, 55, 50, 45, 40)  # music21, mingus: see the values to test against
QUIET = Traits(slip=0.0, lapse=0.0, warm_up=0.0)


def pitch(place: Place) -> int:
    return OPEN_STRINGS[place.string - 1] + place.fret


def practised(model: str, times_s: list[float], number: int, seed: int):
    memory = MODELS[model](random.Random(seed))
    chance = random.Random(seed + 1)
    for now_s in times_s:
        memory.practised(number, now_s, chance, brought=memory.draw(number, now_s, chance) < math.inf)
    return memory


def test_places_are_those_of_frets_0_to_12():
    # 78 places, 37 pitches 40 to 76 (arithmetic of standard tuning).
    assert len(set(PLACES)) == 78
    assert {pitch(place) for place in PLACES} == set(range(40, 77))
    assert [index(place) for place in PLACES] == list(range(78))
    assert ENOUGH == 75  # the least whole number that is 95% of 78
    assert sorted((*LANDMARKS, *STEPS)) == list(range(13))


def test_open_position_is_the_naturals():
    # C major from MIDI 40 to 67: 17 notes, each once; B3 is the open string 2, not fret 4 of string 3.
    naturals = {midi for midi in range(40, 68) if midi % 12 in {0, 2, 4, 5, 7, 9, 11}}
    assert sorted(pitch(place) for place in OPEN_POSITION) == sorted(naturals)


@pytest.mark.parametrize("model", MODELS)
def test_practice_spaced_out_lasts_longer_than_the_same_at_once(model):
    # The spacing effect: Cepeda, Pashler, Vul, Wixted & Rohrer 2006, a review of experiments (from memory).
    end_s = 10 * DAY_S
    at_once = [end_s + 10.0 * repetition for repetition in range(10)]
    spaced = [end_s - day * DAY_S for day in reversed(range(10))]
    later = {}
    for name, times_s in (("at once", at_once), ("spaced", spaced)):
        learners = [practised(model, times_s, 30, seed) for seed in range(200)]
        later[name] = statistics.fmean(
            learner.brought_by(30, 3.0, times_s[-1] + WEEK_S) for learner in learners
        )
    assert later["spaced"] > 1.2 * later["at once"]


@pytest.mark.parametrize("model", MODELS)
def test_memory_fades_and_practice_makes_it_quicker(model):
    times_s = [day * DAY_S + minute * 60.0 for day in range(8) for minute in range(0, 15, 5)]
    few, many = (
        [practised(model, times_s[:count], 5, seed) for seed in range(100)] for count in (3, len(times_s))
    )

    def within(learners, count, after_s):
        return statistics.fmean(one.brought_by(5, 1.0, times_s[count - 1] + after_s) for one in learners)

    assert within(many, len(times_s), 60.0) > within(few, 3, 60.0) + 0.1
    fading = [within(copy.deepcopy(many), len(times_s), after_s) for after_s in (60.0, DAY_S, 10 * DAY_S)]
    assert fading[0] > fading[1] > fading[2]


@pytest.mark.parametrize("model", MODELS)
def test_what_memory_draws_is_what_it_says(model):
    times_s = [day * DAY_S + minute * 60.0 for day in range(6) for minute in range(0, 15, 5)]
    now_s = times_s[-1] + DAY_S
    memory, chance = practised(model, times_s, 40, seed=3), random.Random(9)
    drawn = [memory.draw(40, now_s, chance) for _ in range(4000)]
    for within_s in (0.7, 1.0, 1.5, 3.0):
        share = sum(recall_s <= within_s for recall_s in drawn) / len(drawn)
        # Four standard errors of a share of 4000, at most 0.032.
        assert share == pytest.approx(memory.brought_by(40, within_s, now_s), abs=0.032)


def test_half_of_a_memory_is_left_after_its_half_life():
    memory = HalfLives(random.Random(1))
    memory.practised(0, 0.0, random.Random(2), brought=False)
    half_life_s = memory._held[0].half_life_s
    ever = [memory.brought_by(0, 1e9, lives * half_life_s) for lives in range(4)]
    assert ever == pytest.approx([1, 1 / 2, 1 / 4, 1 / 8])


def test_quick_pools_hold_practice_at_once_and_slow_ones_what_is_spaced():
    at_once, spaced = Pools(random.Random(1)), Pools(random.Random(1))
    for repetition in range(10):
        at_once.practised(0, 10.0 * repetition, random.Random(2), brought=True)
        spaced.practised(0, DAY_S * repetition, random.Random(2), brought=True)
    assert at_once._held[0][0] > spaced._held[0][0]
    assert at_once._held[0][-1] < spaced._held[0][-1]


def test_first_of_n_instances_is_as_the_weibull_says():
    # The least of n Weibull times is Weibull, its scale by n to the power of -1/shape (Logan 1988, from
    # memory); held to the least of n drawn by scipy.
    memory = Instances(random.Random(4))
    for traces in (1, 4, 16):
        memory._ends_s[0] = [math.inf] * traces
        drawn = stats.weibull_min.rvs(
            memory._shape, scale=memory._scale_s, size=(4000, traces), random_state=5
        )
        first_s = memory._floor_s + drawn.min(axis=1)
        for within_s in (0.8, 1.2, 2.0):
            assert memory.brought_by(0, within_s, 0.0) == pytest.approx(
                (first_s <= within_s).mean(), abs=0.032
            )


def test_places_are_worked_out_from_what_is_known():
    learner = Learner(Instances(random.Random(1)), QUIET, seed=1)
    learner.begin(0.0)
    steps = {place: learner._steps(index(place)) for place in PLACES}
    assert steps[Place(6, 1)] == 1
    assert steps[Place(6, 5)] == 5  # counted up from the open string
    assert steps[Place(6, 12)] == 1  # the name of the open string again
    assert steps[Place(6, 9)] == 4  # and down from there
    learner._usable[index(Place(6, 5))] = True
    assert [learner._steps(index(Place(6, fret))) for fret in (4, 6, 7, 8)] == [1, 1, 2, 3]
    assert learner._steps(index(Place(4, 7))) == 2  # the octave
    assert learner._steps(index(Place(5, 5))) == 5


def test_octaves_that_are_stepped_to_are_octaves():
    for place in PLACES:
        learner = Learner(Instances(random.Random(1)), QUIET, seed=1)
        learner.begin(0.0)
        before = learner._steps(index(place))
        for other in PLACES:
            learner._usable = [False] * len(PLACES)
            learner._usable[index(other)] = True
            if other.string != place.string and learner._steps(index(place)) < before:
                assert pitch(place) - pitch(other) == 12


def test_slower_and_wrong_more_often_where_it_is_worked_out():
    learner = Learner(Instances(random.Random(1)), QUIET, seed=1)
    learner.begin(0.0)
    learner._usable[index(Place(6, 5))] = True
    near, far = learner._worked_out(index(Place(6, 6))), learner._worked_out(index(Place(6, 8)))
    # About 1 s is automatic, beyond 2 to 3 s it is worked out (Crawford, citing Ashcraft 1982, Logan 1988).
    assert 1.0 < near[0] < far[0] < 4.0
    assert 1 / 6 < far[1] < near[1] < 1  # more often right than by guessing among six strings


def test_what_comes_first_is_played():
    class AfterSeconds(Instances):
        recall_s = 5.0

        def draw(self, number: int, now_s: float, chance: random.Random) -> float:
            return self.recall_s

    memory = AfterSeconds(random.Random(1))
    learner = Learner(memory, QUIET, seed=1)
    learner.begin(0.0)
    assert learner.answer(Place(6, 1), 0.0).recall_s < 4.0  # one step from the open string
    memory.recall_s = 0.4
    assert learner.answer(Place(6, 1), 5.0).recall_s == 0.4


@pytest.mark.parametrize("model", MODELS)
def test_known_places_are_answered_right_in_time_and_others_are_not(model):
    drawn = new_learner(model, 5)
    learner = Learner(drawn.memory, QUIET, seed=8)
    rounds, chance = Shuffled(1), random.Random(1)
    for day in range(12):
        now_s = day * DAY_S
        learner.begin(now_s)
        for _ in range(250):
            learner.answer(rounds.next(now_s), now_s)
            now_s += 3.0
    now_s = 12 * DAY_S
    learner.begin(now_s)
    wrong_side = 0
    for place in chance.sample(PLACES, 30):
        answers = []
        for repetition in range(60):
            one = copy.deepcopy(learner)
            one._chance.seed(repetition)
            answers.append(one.answer(place, now_s))
        right = sum(answer.right for answer in answers) / len(answers)
        median_s = statistics.median(answer.recall_s for answer in answers)
        assert right == pytest.approx(learner.chance_right(place, now_s), abs=0.16)  # 60 answers
        wrong_side += learner.knows(place, now_s) != (right >= 0.95 and median_s <= 1.0)
    assert 0 < learner.known(now_s) < len(PLACES)
    assert wrong_side <= 9  # places near the limits may be measured on the other side of it


@pytest.mark.parametrize("model", MODELS)
def test_who_begins_knows_the_open_position_and_hardly_more(model):
    learners = [new_learner(model, seed) for seed in range(40)]
    in_position, beside = [], []
    for learner in learners:
        learner.begin(0.5 * DAY_S)
        knows = {place for place in PLACES if learner.knows(place, 0.5 * DAY_S)}
        in_position.append(len(knows & set(OPEN_POSITION)))
        beside.append(len(knows - set(OPEN_POSITION)))
    assert statistics.median(in_position) >= 12
    assert statistics.median(beside) == 0


def test_slips_are_by_string_or_fret_and_what_takes_too_long_is_missed():
    def first(place: Place, step_s: float, seed: int) -> Verdict:
        learner = Learner(Instances(random.Random(1)), Traits(step_slip=1.0, step_s=step_s), seed=seed)
        learner.begin(0.0)
        return learner.answer(place, 0.0).verdict

    assert first(Place(6, 6), 3.0, 1) is Verdict.MISSED
    assert {first(Place(6, 6), 0.5, seed) for seed in range(60)} == {Verdict.FRET_OFF, Verdict.WRONG}
    memory = Instances(random.Random(1))
    memory._ends_s = [[math.inf] * 200 for _ in PLACES]
    learner = Learner(memory, Traits(slip=0.5), seed=1)
    learner.begin(0.0)
    by_memory = [learner.answer(Place(6, 6), float(answer)).verdict for answer in range(200)]
    assert set(by_memory) == {Verdict.RIGHT, Verdict.STRING_OFF, Verdict.FRET_OFF}
    assert 70 <= by_memory.count(Verdict.RIGHT) <= 130  # half of 200, four standard errors either way


def course(minutes: float | None, practised_minutes: float = 900.0) -> Course:
    return Course(minutes, practised_minutes if minutes is None else minutes, (0,), 0)


def test_median_is_that_of_kaplan_and_meier():
    chance = random.Random(3)
    for _ in range(50):
        courses = []
        for _ in range(30):
            until = float(chance.randrange(1, 60) * 15)
            stopped = float(chance.randrange(20, 70) * 15)  # who misses days has practised less
            courses.append(course(until) if until <= stopped else course(None, stopped))
        survival = SurvfuncRight(
            [one.practised_minutes for one in courses], [one.minutes is not None for one in courses]
        )
        below = zip(survival.surv_times, survival.surv_prob, strict=True)
        theirs = min((minutes for minutes, left in below if left <= 0.5 + 1e-9), default=math.inf)
        assert censored_median(courses) == theirs


def test_who_does_not_finish_counts():
    assert censored_median([course(100.0)] * 4 + [course(None)] * 6) == math.inf
    assert unfinished_share([course(100.0)] * 4 + [course(None)] * 6) == 0.6
    assert slower_share(
        [course(100.0), course(None), course(None)], [course(99.0), course(8.0), course(None)]
    ) == (pytest.approx(2 / 3))


def test_intervals_hold_the_median():
    # The true median of these is 400; 95% of the intervals hold it, of 200 at least 180 (binomial: 0.998).
    held = 0
    for seed in range(200):
        chance = random.Random(seed)
        courses = [course(chance.gauss(400.0, 100.0)) for _ in range(100)]
        low, high = median_interval(courses, draws=200)
        held += low <= 400.0 <= high
    assert held >= 180
    halved = [course(one.minutes / 2) for one in courses]
    ratio, low, high = ratio_of_medians(halved, courses, draws=200)
    assert ratio == pytest.approx(0.5)
    assert low <= 0.5 <= high < 0.7


def test_a_course_is_the_same_from_the_same_seed():
    def done() -> Course:
        return run_course(new_learner("pools", 1), TaughtRound(1), days=6, missed=0.3, seed=2)

    assert done() == done()


def test_missed_days_have_no_practice():
    whole = run_course(new_learner("half-lives", 1), Shuffled(1), days=20)
    some = run_course(new_learner("half-lives", 1), Shuffled(1), days=20, missed=0.5, seed=4)
    assert some.practised_minutes < 0.8 * whole.practised_minutes
    assert len(whole.known) == 21 or whole.minutes is not None


class OnlyOnePlace:
    """Who practises a single place learns no other."""

    def begin_day(self, day: int) -> None: ...

    def next(self, now_s: float) -> Place:
        return Place(3, 6)

    def answered(self, place: Place, right: bool, recall_s: float, now_s: float) -> None: ...


@pytest.mark.parametrize("model", MODELS)
def test_who_practises_one_place_knows_no_neck(model):
    one = run_course(new_learner(model, 2), OnlyOnePlace(), days=30)
    assert one.minutes is None
    assert one.known[-1] < 40


@pytest.mark.parametrize("model", MODELS)
def test_taught_in_turns_of_minutes_the_neck_takes_one_to_two_months(model):
    # Some minutes a day for each row, a month or two until automatic (common practice, no source): in
    # sessions of 15 minutes 27 to 65 days. The learners were set by this, so it holds them where they are.
    courses = run_many(model, TaughtRound.by_minutes, learners=12, seed=8, days=65)
    assert 27 * 15 <= censored_median(courses) <= 65 * 15


@pytest.mark.parametrize("policy", POLICIES)
def test_each_policy_teaches_all_learners_something(policy):
    for model in MODELS:
        courses = run_many(model, POLICIES[policy], learners=2, seed=3)
        assert all(one.known[-1] > one.known[0] + 20 for one in courses)


def test_fsrs_takes_what_is_due_then_what_is_new_then_what_is_due_next():
    policy = Fsrs(1)
    policy.begin_day(0)
    first = policy.next(0.0)
    policy.answered(first, right=False, recall_s=3.0, now_s=2.0)  # due again after a minute
    second = policy.next(3.0)
    assert second != first
    policy.answered(second, right=True, recall_s=0.7, now_s=5.0)
    assert policy.next(70.0) == first
    policy.answered(first, right=True, recall_s=0.7, now_s=71.0)
    seen = {first, second}
    for answer in range(76):
        place = policy.next(72.0 + answer / 10)
        assert place not in seen
        seen.add(place)
        policy.answered(place, right=True, recall_s=0.7, now_s=72.0 + answer / 10)
    assert policy.next(90.0) == min(seen - {place}, key=lambda one: policy._due_s[one])


def test_taught_round_begins_with_the_landmark_rows_and_goes_on_when_they_hold():
    policy = TaughtRound(1)
    now_s, rows = 0.0, []
    for day in range(12):
        policy.begin_day(day)
        rows.append(set())
        for _ in range(300):
            place = policy.next(now_s)
            rows[-1].add(place.fret)
            policy.answered(place, right=True, recall_s=0.7, now_s=now_s + 1.2)
            now_s += 3.0
        now_s = (day + 1) * DAY_S
    assert rows[0] == set(LANDMARKS)
    assert rows[1] > set(LANDMARKS)
    assert set().union(*rows) == set(range(13))

    failing = TaughtRound(1)
    for day in range(5):
        failing.begin_day(day)
        for answer in range(300):
            place = failing.next(day * DAY_S + 3.0 * answer)
            failing.answered(place, right=False, recall_s=3.0, now_s=day * DAY_S + 3.0 * answer + 2)
            assert place.fret in LANDMARKS


def test_our_plan_takes_fewer_minutes_than_the_taught_round():
    # A small version of bench_learning.py; its figures are of 200 learners of each model.
    minutes: dict[str, list[float]] = {"plan": [], "choice": [], "taught": []}
    for model in ("pools", "instances"):
        for name, policy in (("plan", ByPlan), ("choice", ByChoice), ("taught", TaughtRound)):
            courses = run_many(model, policy, learners=4, seed=6)
            assert all(one.minutes is not None for one in courses)
            minutes[name] += [one.minutes for one in courses]
    taught = statistics.fmean(minutes["taught"])
    assert statistics.fmean(minutes["choice"]) < 0.8 * taught
    assert statistics.fmean(minutes["plan"]) < 0.85 * taught


def test_our_plan_is_played_as_planned():
    policy, seen = ByPlan(), []
    learner = new_learner("pools", 3)
    for day in range(4):
        now_s = day * DAY_S + 18 * 3600
        learner.begin(now_s)
        policy.begin_day(day)
        end_s = now_s + 15 * 60
        asked = set()
        while now_s < end_s:
            place = policy.next(now_s)
            attempt = learner.answer(place, now_s)
            now_s += 1.2 + attempt.recall_s
            policy.answered(place, attempt.right, attempt.recall_s, now_s)
            asked.add(place)
        kinds = [block.kind for block in policy._course.plan.blocks]
        seen.append((kinds, len(asked)))
        assert len(asked) >= 0.95 * len(policy.memory.items)  # what was begun is looked at once a day
    assert BlockKind.NEW in seen[0][0]
    assert {BlockKind.WARM_UP, BlockKind.WEAK, BlockKind.CLOSE} <= set(seen[3][0])
    assert [count for _, count in seen] == sorted(count for _, count in seen)  # new places come in day by day
    assert seen[3][1] > 60


def test_nights_bound_what_any_rounds_can_bring():
    # Each place asked 12 times a day at no cost of time, which is 3 times what a session holds: nights are
    # needed all the same, in half-lives most.
    days = {
        model: statistics.median(
            len(run_rounds(new_learner(model, 60_000 + n), 12).known) - 1 for n in range(3)
        )
        for model in MODELS
    }
    assert all(count >= 5 for count in days.values())
    assert max(days, key=days.__getitem__) == "half-lives"


def test_who_sees_the_true_memory_is_quicker_than_chance():
    minutes = {"seer": 0.0, "chance": 0.0}
    for own in range(70_000, 70_004):
        seen, shuffled = new_learner("instances", own), new_learner("instances", own)
        minutes["seer"] += run_course(seen, Seer(seen, own), 60, seed=own).minutes or math.inf
        minutes["chance"] += run_course(shuffled, Shuffled(own), 60, seed=own).minutes or math.inf
    assert minutes["seer"] < 0.9 * minutes["chance"]
