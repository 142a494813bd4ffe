"""Travel of the hands over the distance in frets, from plucks of shown places of simulated players."""

import datetime as dt
import random
import statistics

import pytest

from midifret.terms import Place
from midifret.terms.calibration import (
    Calibration,
    Estimate,
    Lack,
    Latency,
    Missing,
    Reaction,
    Reading,
    period_s,
)
from midifret.timing import Travels, fit_travels

OPEN_MIDIS = (64, 59, 55, 50, 45, 40)  # standard tuning, strings 1 to 6
REACTION_S, PERIODS = 0.24, 2.0
FIXED_S, A_FRET_S = 0.12, 0.02
CALIBRATION = Calibration(
    "default",
    "port",
    dt.datetime(2026, 3, 1, 18, 0, tzinfo=dt.UTC),
    Latency(Estimate(0.0, 0.0, 0.0, 0.0), Estimate(PERIODS, 0.0, PERIODS, PERIODS), 0.012, 96),
    Reaction(Estimate(REACTION_S, 0.0, REACTION_S, REACTION_S), period_s(52), REACTION_S, 0.03, 24),
)


def midi_of(place: Place) -> int:
    return OPEN_MIDIS[place.string - 1] + place.fret


def readings(
    seed: int, count: int, *, spread_s: float = 0.03, frets: tuple[int, int] = (1, 12)
) -> list[Reading]:
    """Plucks of somebody whose hands need FIXED_S and A_FRET_S for each fret of the way."""
    draw = random.Random(seed)
    found, before = [], 5
    for _ in range(count):
        place = Place(draw.randint(1, 6), draw.randint(*frets))
        latency_s = PERIODS * (period_s(midi_of(place)) - CALIBRATION.reaction.period_s)  # type: ignore[union-attr]
        way_s = FIXED_S + A_FRET_S * abs(place.fret - before)
        time_s = REACTION_S + latency_s + way_s + draw.gauss(0.0, 0.03)
        found.append(Reading(time_s, midi_of(place), place))
        before = place.fret
    return found


def test_the_line_over_the_distance_is_found() -> None:
    errors = []
    for seed in range(200):
        travels = fit_travels(readings(seed, 30), CALIBRATION)
        assert isinstance(travels, Travels)
        travel = travels.to(Place(3, 9), Place(3, 4))
        assert travel is not None
        errors.append((travel.time_s - FIXED_S - 5 * A_FRET_S) / travel.standard_error_s)
    assert abs(statistics.fmean(errors)) < 0.25
    # With 30 plucks a normal interval of 95% holds a little less: a sandwich on few points is known for it.
    assert 0.88 <= sum(abs(error) <= 1.96 for error in errors) / len(errors) <= 0.99


def test_wild_plucks_do_not_carry_it_away() -> None:
    played = readings(1, 40)
    for i in (5, 17, 29):
        played[i] = Reading(played[i].time_s + 2.0, played[i].midi, played[i].place)
    travels = fit_travels(played, CALIBRATION)
    assert isinstance(travels, Travels)
    assert travels.intercept_s == pytest.approx(FIXED_S, abs=0.03)
    assert travels.slope_s == pytest.approx(A_FRET_S, abs=0.005)


def test_an_open_string_needs_no_travel_and_an_unknown_way_is_an_average_one() -> None:
    travels = fit_travels(readings(2, 30), CALIBRATION)
    assert isinstance(travels, Travels)
    assert travels.to(Place(1, 0), Place(1, 9)) is None
    for before in (None, Place(2, 0)):
        travel = travels.to(Place(1, 9), before)
        assert travel is not None
        assert travel.time_s == pytest.approx(travels.intercept_s + travels.frets * travels.slope_s)


def test_ways_that_hardly_differ_give_one_mean() -> None:
    travels = fit_travels(readings(3, 30, frets=(5, 8)), CALIBRATION)
    assert isinstance(travels, Travels)
    assert travels.slope_s == 0.0
    near, far = travels.to(Place(1, 5), Place(1, 5)), travels.to(Place(1, 12), Place(1, 1))
    assert near == far


def test_a_place_with_plucks_of_its_own_has_its_own_travel() -> None:
    place = Place(1, 12)
    played = readings(4, 20)
    latency_s = PERIODS * (period_s(midi_of(place)) - period_s(52))
    for i in range(6):
        played += [
            Reading(REACTION_S + latency_s + 0.5 + 0.001 * i, midi_of(place), place),
            *readings(50 + i, 2),
        ]
    travels = fit_travels(played, CALIBRATION)
    assert isinstance(travels, Travels)
    travel = travels.to(place, Place(1, 12))
    assert travel is not None
    assert travel.time_s == pytest.approx(0.5, abs=0.01)
    assert travel is not travels.to(place, None) or travels.own[place] is travel


def test_too_few_and_too_many_wrong_ones_say_how_many_more() -> None:
    few = fit_travels(readings(5, 8), CALIBRATION)
    assert isinstance(few, Missing)
    # The first has no way to it: 7 of 8 count, of 12.
    assert (few.lack, few.more) == (Lack.FEW, 5)
    played = [
        Reading(each.time_s, each.midi, each.place, right=i % 2 == 0)
        for i, each in enumerate(readings(6, 40))
    ]
    wrong = fit_travels(played, CALIBRATION)
    assert isinstance(wrong, Missing)
    assert wrong.lack is Lack.CONTRADICTORY
    assert wrong.more >= 1


def test_without_a_reaction_there_is_none() -> None:
    bare = Calibration("g", "p", CALIBRATION.made_at, CALIBRATION.latency)
    with pytest.raises(ValueError, match="reaction"):
        fit_travels(readings(7, 30), bare)
