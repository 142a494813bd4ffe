"""Recall times: what is taken off, what is said beside them, and simulated players from calibration to place.

Reactions as in test_reaction.py. The goal: the recall time of a place to +-30 ms, its intervals
holding the truth.
"""

import datetime as dt
import math
import random
import statistics
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from midifret.estimates import trimmed_mean
from midifret.terms.calibration import (
    Calibration,
    Caveat,
    Estimate,
    Latency,
    Missing,
    Reaction,
    Recall,
    Travel,
    period_s,
)
from midifret.timing import (
    Pluck,
    Reacted,
    caveats_of,
    fit_latency,
    fit_reaction,
    note_interval,
    recall,
    recall_figure,
    travel_to,
)
from tests.timing.simulated import Traits, measure

OPEN = (64, 59, 55, 50, 45, 40)  # standard tuning (music21, mingus)
NOW = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)


def sure(value: float, error: float = 0.0) -> Estimate:
    half = statistics.NormalDist().inv_cdf(0.975) * error
    return Estimate(value, error, value - half, value + half)


# A guitar that waits two periods, a player 30 ms ahead of the click who needs 0.25 s until E4 is heard.
LATENCY = Latency(sure(-0.03, 0.004), sure(2.0, 0.2), 0.012, 96)
REACTION = Reaction(sure(0.25, 0.008), period_s(64), 0.25 + 0.03 - 2 * period_s(64), 0.04, 24)
CALIBRATION = Calibration("mine", "port", NOW, LATENCY, REACTION)


def test_what_is_taken_off() -> None:
    """E4 lasts 3.03 ms and E2 12.13 ms (ISO 16): two periods more are 18.2 ms."""
    high = recall(1.0, 64, CALIBRATION)
    assert high.time_s == pytest.approx(0.75)
    assert high.shared_s == pytest.approx(0.008)
    low = recall(1.0, 40, CALIBRATION)
    assert low.time_s == pytest.approx(0.75 - 0.0182, abs=5e-5)
    assert low.shared_s == pytest.approx(math.hypot(0.008, 0.2 * 0.0091), abs=1e-6)
    assert low.own_s == 0.04
    assert low.standard_error_s == pytest.approx(math.hypot(0.008, 0.2 * 0.0091, 0.04), abs=1e-6)
    assert low.caveats == {Caveat.WITH_TRAVEL}


def test_it_is_response_less_latency_less_reaction() -> None:
    """As the two are told: latency at the pitch, and the reaction freed of latency."""
    for midi in (40, 52, 64, 83):
        expected = 1.3 - LATENCY.at(midi) - (REACTION.time_s or math.nan)
        assert recall(1.3, midi, CALIBRATION).time_s == pytest.approx(expected, abs=1e-12)


@given(st.floats(-0.1, 0.1), st.integers(28, 90))
def test_a_cancels_and_so_does_its_uncertainty(shift_s: float, midi: int) -> None:
    other = replace(CALIBRATION, latency=replace(LATENCY, a_s=sure(LATENCY.a_s.value + shift_s, 0.1)))
    assert recall(0.9, midi, other) == recall(0.9, midi, CALIBRATION)


def test_never_clipped() -> None:
    assert recall(0.1, 64, CALIBRATION).time_s == pytest.approx(-0.15)


def test_raw_without_a_reaction() -> None:
    for calibration in (None, replace(CALIBRATION, reaction=None)):
        found = recall(0.9, 40, calibration, caveats=frozenset({Caveat.STALE}))
        assert found == Recall(0.9, None, None, frozenset({Caveat.RAW}))
        assert found.standard_error_s is None


def test_without_a_latency_it_says_so() -> None:
    found = recall(0.9, 40, replace(CALIBRATION, latency=None))
    assert found.time_s == pytest.approx(0.65)
    assert found.caveats == {Caveat.WITH_LATENCY, Caveat.WITH_TRAVEL}


def test_travel_is_taken_off_and_reaction_cancels() -> None:
    travel = Travel(0.3, 0.015, period_s(45), 0.06)
    found = recall(1.0, 40, CALIBRATION, travel=travel)
    assert found.time_s == pytest.approx(recall(1.0, 40, CALIBRATION).time_s - 0.3)
    assert found.shared_s == pytest.approx(math.hypot(0.015, 0.2 * (period_s(40) - period_s(45))))
    assert found.own_s == 0.06
    assert found.caveats == frozenset()
    slower = replace(CALIBRATION, reaction=replace(REACTION, response_s=sure(0.25, 0.1)))
    assert recall(1.0, 40, slower, travel=travel).shared_s == found.shared_s


def test_travel_from_shown_places() -> None:
    shown = [recall(0.25 + 0.3 + off_s, 64, CALIBRATION) for off_s in (-0.02, 0.0, 0.02, 0.01, -0.01)]
    travel = travel_to(shown, 64)
    assert isinstance(travel, Travel)
    assert travel.time_s == pytest.approx(0.3)
    assert travel.spread_s == pytest.approx(statistics.stdev([-0.02, 0.0, 0.02, 0.01, -0.01]))
    few = travel_to(shown[:3], 64)
    assert isinstance(few, Missing)
    assert few.more == 2
    with pytest.raises(ValueError, match="reaction"):
        travel_to([recall(0.5, 64, None)], 64)


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({}, set()),
        ({"now": NOW + dt.timedelta(days=90)}, set()),
        ({"now": NOW + dt.timedelta(days=91)}, {Caveat.STALE}),
        ({"now": NOW - dt.timedelta(seconds=1)}, {Caveat.STALE}),
        ({"now": NOW.astimezone(dt.timezone(dt.timedelta(hours=9)))}, set()),
        ({"guitar": "other"}, {Caveat.OTHER_GUITAR}),
        ({"port": "other"}, {Caveat.OTHER_PORT}),
        (
            {"guitar": "a", "port": "b", "now": NOW - dt.timedelta(9)},
            {Caveat.STALE, Caveat.OTHER_GUITAR, Caveat.OTHER_PORT},
        ),
    ],
)
def test_caveats(changed: dict[str, object], expected: set[Caveat]) -> None:
    asked = {"guitar": "mine", "port": "port", "now": NOW} | changed
    caveats = caveats_of(CALIBRATION, **asked)  # type: ignore[arg-type]
    assert caveats == expected
    assert recall(1.0, 64, CALIBRATION, caveats=caveats).caveats == {*expected, Caveat.WITH_TRAVEL}


def test_interval_between_notes() -> None:
    """From E4 to E2 two periods of difference, 18.2 ms, are the converter's; back likewise."""
    down, up = note_interval(0.5, 64, 40, CALIBRATION), note_interval(0.5, 40, 64, CALIBRATION)
    assert (down.time_s, up.time_s) == pytest.approx((0.4818, 0.5182), abs=5e-5)
    assert down.standard_error_s == pytest.approx(0.2 * 0.0091, abs=1e-6)
    assert note_interval(0.5, 64, 64, CALIBRATION).time_s == 0.5
    assert note_interval(0.5, 64, 40, None).caveats == {Caveat.WITH_LATENCY}
    stale = note_interval(0.5, 64, 40, CALIBRATION, caveats=frozenset({Caveat.STALE}))
    assert stale.caveats == {Caveat.STALE}


@pytest.mark.parametrize("time_s", [math.nan, math.inf])
def test_no_numbers(time_s: float) -> None:
    with pytest.raises(ValueError, match="not a response"):
        recall(time_s, 40, CALIBRATION)
    with pytest.raises(ValueError, match="not an interval"):
        note_interval(time_s, 40, 41, None)


def test_raw_times_are_never_mixed_with_others() -> None:
    raw = [recall(3.0, 40, None)] * 5
    calibrated = [recall(1.0, 64, CALIBRATION), recall(1.1, 64, CALIBRATION)]
    mixed = recall_figure(raw + calibrated)
    assert mixed == recall_figure(calibrated)
    assert mixed is not None
    assert (mixed.time_s, mixed.answers) == (pytest.approx(0.8), 2)
    alone = recall_figure(raw)
    assert alone is not None
    assert (alone.time_s, alone.caveats) == (3.0, {Caveat.RAW})
    assert recall_figure(raw[:1]) is None
    assert recall_figure(raw + calibrated[:1]) is None
    assert recall_figure([]) is None


def test_what_answers_share_does_not_become_smaller() -> None:
    many = recall_figure([recall(1.0 + 0.001 * (i % 3), 64, CALIBRATION) for i in range(300)])
    assert many is not None
    # The reaction's 8 ms, and 0.7 of the hands' 40 ms by the root of 300 answers.
    error_s = math.hypot(0.008, 0.7 * 0.04 / math.sqrt(300))
    assert many.standard_error_s == pytest.approx(error_s, rel=1e-6)
    assert many.at_most_s(0.8) > many.time_s
    assert many.interval.high - many.interval.low == pytest.approx(2 * 1.96 * error_s, rel=1e-3)


def test_few_answers_that_agree_are_hardly_surer_than_the_hands() -> None:
    two = recall_figure([recall(1.0, 64, CALIBRATION), recall(1.0001, 64, CALIBRATION)])
    assert two is not None
    assert two.standard_error_s == pytest.approx(math.hypot(0.008, 0.7 * 0.04 / math.sqrt(2)), rel=1e-4)


def test_degrees_of_freedom_are_those_of_welch() -> None:
    """Against scipy: Yuen's test of answers and of a second sample, which here is what is shared.

    The answers have few degrees of freedom, what is shared has so many that it counts as normal.
    """
    lots = random.Random(3)
    answers_s = [lots.gauss(1.2, 0.3) for _ in range(9)]
    many_s = [lots.gauss(0, 6.0) for _ in range(6000)]
    shared = trimmed_mean(many_s)
    figure = recall_figure([Recall(time_s, shared.standard_error, 0.0) for time_s in answers_s])
    assert figure is not None
    theirs = stats.ttest_ind(answers_s, many_s, trim=0.2, equal_var=False)
    assert figure.freedom == pytest.approx(theirs.df, rel=0.01)
    low, high = theirs.confidence_interval(0.95)
    assert figure.interval.high - figure.interval.low == pytest.approx(high - low, rel=0.001)


def test_what_is_shared_has_the_intervals_it_came_with() -> None:
    """Of few reactions the interval is wider than 1.96 standard errors: so is what answers share."""
    wide = replace(REACTION, response_s=Estimate(0.25, 0.008, 0.25 - 0.02, 0.25 + 0.02))
    found = recall(1.0, 64, replace(CALIBRATION, reaction=wide))
    assert found.shared_s == pytest.approx(0.02 / 1.95996, rel=1e-5)
    shown = [Recall(0.3 + off_s, 0.01, 0.04) for off_s in (-0.02, 0.0, 0.02, 0.01, -0.01)]
    travel = travel_to(shown, 64)
    assert isinstance(travel, Travel)
    theirs = stats.ttest_ind([r.time_s for r in shown], [0.0] * 20, trim=0.2, equal_var=False)
    low, high = theirs.confidence_interval(0.95)
    assert travel.standard_error_s == pytest.approx((high - low) / 2 / 1.95996, rel=1e-5)


def test_a_lapse_does_not_spread_the_travel() -> None:
    shown = [Recall(0.3 + 0.01 * (i % 4), 0.01, 0.04) for i in range(12)]
    plain, lapsed = travel_to(shown, 64), travel_to([*shown[:-1], Recall(0.9, 0.01, 0.04)], 64)
    assert isinstance(plain, Travel)
    assert isinstance(lapsed, Travel)
    assert plain.spread_s == pytest.approx(statistics.stdev(r.time_s for r in shown))
    assert lapsed.spread_s == pytest.approx(plain.spread_s, rel=0.1)


def simulated(
    seed: int, recall_s: float, midi: int, answers: int, *, own_s: float, a_s: float, travel_s: float
) -> tuple[Calibration, list[Recall], list[Recall]]:
    """A player with all parts of the calibration, then answers at one place, shown and cued.

    On the click the player is 30 ms early, whatever the guitar; 4% of all plucks are lapses [ours].
    """
    lots = random.Random(seed)

    def reaction() -> float:
        late_s = lots.uniform(0.3, 0.7) if lots.random() < 0.04 else 0.0
        return lots.gauss(0.19, 0.02) + lots.expovariate(1 / 0.04) + late_s

    def told(pitch: int) -> float:
        return a_s + 2.0 * period_s(pitch)

    ends = [40, 83] * 48
    lots.shuffle(ends)
    latency = fit_latency(
        [
            Pluck(m, -0.03 + lots.gauss(0, 0.012) + told(m) + (0.1 if lots.random() < 0.04 else 0.0))
            for m in ends
        ]
    )
    assert isinstance(latency, Latency)
    reacted = fit_reaction([Reacted(OPEN[i % 6], reaction() + told(OPEN[i % 6])) for i in range(30)], latency)
    assert isinstance(reacted, Reaction)
    calibration = Calibration("mine", "port", NOW, latency, reacted)
    shown = [recall(reaction() + travel_s + told(midi), midi, calibration) for _ in range(12)]
    travel = travel_to(shown, midi)
    assert isinstance(travel, Travel)
    responses = [reaction() + travel_s + lots.gauss(recall_s, own_s) + told(midi) for _ in range(answers)]
    return (
        calibration,
        [recall(response_s, midi, calibration) for response_s in responses],
        [recall(response_s, midi, calibration, travel=travel) for response_s in responses],
    )


@pytest.mark.parametrize(("midi", "a_s", "recall_s"), [(40, 0.0, 0.4), (83, 0.02, 1.5), (59, 0.12, 0.9)])
def test_goal_recall_time_of_a_place_within_30_ms(midi: int, a_s: float, recall_s: float) -> None:
    """20 answers that spread by 60 ms themselves, by players with any latency, hand and recall time.

    Without travel known, what is found is recall and travel together.
    """
    travel_s = 0.25
    errors: dict[bool, list[float]] = {False: [], True: []}
    inside = {False: 0, True: 0}
    players = 150
    for seed in range(1000 * midi, 1000 * midi + players):
        _, with_travel, without = simulated(seed, recall_s, midi, 20, own_s=0.06, a_s=a_s, travel_s=travel_s)
        for freed, recalls in ((False, with_travel), (True, without)):
            figure = recall_figure(recalls)
            assert figure is not None
            truth_s = recall_s if freed else recall_s + travel_s
            errors[freed].append(abs(figure.time_s - truth_s))
            inside[freed] += figure.interval.low <= truth_s <= figure.interval.high
            assert (Caveat.WITH_TRAVEL in figure.caveats) is not freed
    for freed in (False, True):
        median_s, worst_s = statistics.median(errors[freed]), np.percentile(errors[freed], 95)
        print(
            f"pitch {midi}, recall {recall_s} s, {'travel taken off' if freed else 'with travel'}: "
            f"median error {1000 * median_s:.1f} ms, 95th percentile {1000 * worst_s:.1f} ms, "
            f"intervals that hold {inside[freed] / players:.1%}"
        )
        assert median_s <= 0.030
        assert 0.90 <= inside[freed] / players <= 0.995


@pytest.mark.parametrize(
    ("kind", "median_s"),
    [
        (Traits(), 0.010),
        (Traits(answers=3), 0.020),
        (Traits(recall_steady_s=0.06), 0.020),
        # Single times spread by 220 ms: the mean of 12 by 64 ms, half of them within 43.
        (Traits(recall_steady_s=0.1, recall_tail_s=0.2), 0.050),
        (Traits(answers=200, recall_steady_s=0.1, recall_tail_s=0.2), 0.030),
        (Traits(shown=5, lapses=0.04), 0.030),
    ],
    ids=["same", "3 answers", "60 ms", "tail", "200 answers, tail", "5 shown, lapses"],
)
def test_places_of_simulated_players(kind: Traits, median_s: float) -> None:
    """A small version of bench_recall.py."""
    for figures in measure(kind, players=200, places=2, seed=12):
        print(figures)
        assert figures is not None
        assert figures.median_s <= median_s
        assert 0.90 <= figures.covered <= 0.99


@given(st.floats(0.1, 5), st.floats(-1, 1))
@settings(max_examples=30)
def test_a_slower_answer_is_slower_by_as_much(response_s: float, more_s: float) -> None:
    first, second = recall(response_s, 50, CALIBRATION), recall(response_s + more_s, 50, CALIBRATION)
    assert second.time_s - first.time_s == pytest.approx(more_s, abs=1e-9)
