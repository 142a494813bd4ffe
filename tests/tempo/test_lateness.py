"""Mean, spread and drift against scipy; their intervals against simulated players of known ones."""

import math
import random
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from midifret.tempo import Figure, LateNote, lateness
from midifret.terms import BadInput


def played(
    draw: random.Random, count: int, *, mean_ms: float, spread_ms: float, drift: float, dependence: float
) -> list[LateNote]:
    """Notes every 0.5 s whose rest is a first-order process; drift in ms a minute, mean at the middle."""
    notes = []
    rest_ms = draw.gauss(0, spread_ms)
    for number in range(count):
        minutes = (number - (count - 1) / 2) * 0.5 / 60
        notes.append(LateNote(10 + number * 0.5, mean_ms + drift * minutes + rest_ms))
        rest_ms = dependence * rest_ms + draw.gauss(0, spread_ms * math.sqrt(1 - dependence**2))
    return notes


def test_independent_notes_give_the_figures_of_scipy() -> None:
    draw = random.Random(3)
    for count in (3, 5, 24, 200):
        notes = played(draw, count, mean_ms=-30, spread_ms=12, drift=20, dependence=0.0)
        found = lateness(notes, independent=True)
        late_ms = [note.late_ms for note in notes]
        line = stats.linregress([note.time_s / 60 for note in notes], late_ms)
        assert found.mean_ms.value == pytest.approx(statistics.fmean(late_ms))
        assert found.drift_ms_per_minute is not None
        assert found.drift_ms_per_minute.value == pytest.approx(line.slope)
        half = stats.t.ppf(0.975, count - 2) * line.stderr
        assert found.drift_ms_per_minute.low == pytest.approx(line.slope - half)
        assert found.drift_ms_per_minute.high == pytest.approx(line.slope + half)
        # Around the line, not the mean: the residual standard error.
        rest = [y - line.intercept - line.slope * n.time_s / 60 for y, n in zip(late_ms, notes, strict=True)]
        squares = sum(value**2 for value in rest)
        assert found.spread_ms is not None
        assert found.spread_ms.value == pytest.approx(math.sqrt(squares / (count - 2)))
        assert found.spread_ms.low == pytest.approx(math.sqrt(squares / stats.chi2.ppf(0.975, count - 2)))
        assert found.spread_ms.high == pytest.approx(math.sqrt(squares / stats.chi2.ppf(0.025, count - 2)))
        mean_half = stats.t.ppf(0.975, count - 2) * found.spread_ms.value / math.sqrt(count)
        assert found.mean_ms.high == pytest.approx(found.mean_ms.value + mean_half)


@pytest.mark.parametrize("dependence", [0.0, 0.3, 0.6])
@pytest.mark.parametrize("count", [40, 120])
def test_intervals_cover_the_truth(dependence: float, count: int) -> None:
    # Known truth, fixed seed. 95% intervals are to cover 90 to 99%; where 40 notes go together by 0.6, that
    # cannot be told well from them, and 86% are let pass [ours].
    draw = random.Random(11)
    covered = dict.fromkeys(("mean", "spread", "drift"), 0)
    players = 500
    for _ in range(players):
        truth = {
            "mean": draw.uniform(-60, 20),
            "spread": draw.uniform(5, 40),
            "drift": draw.uniform(-30, 30),
        }
        found = lateness(
            played(
                draw,
                count,
                mean_ms=truth["mean"],
                spread_ms=truth["spread"],
                drift=truth["drift"],
                dependence=dependence,
            )
        )
        for name, figure in (
            ("mean", found.mean_ms),
            ("spread", found.spread_ms),
            ("drift", found.drift_ms_per_minute),
        ):
            assert figure is not None
            assert figure.low is not None
            assert figure.high is not None
            covered[name] += figure.low <= truth[name] <= figure.high
    least = 0.86 if (dependence, count) == (0.6, 40) else 0.90
    assert all(least <= value / players <= 0.99 for value in covered.values()), covered


def test_textbook_intervals_are_too_narrow_for_people() -> None:
    # The reason why dependence is estimated: with 0.5 the plain interval of the mean covers far under 95%.
    draw = random.Random(5)
    covered = 0
    for _ in range(400):
        notes = played(draw, 60, mean_ms=0, spread_ms=12, drift=0, dependence=0.5)
        figure = lateness(notes, independent=True).mean_ms
        assert figure.low is not None
        assert figure.high is not None
        covered += figure.low <= 0 <= figure.high
    assert covered / 400 < 0.85


def test_an_early_player_who_slows_down() -> None:
    # Exactly 30 ms early in the middle and 60 ms a minute later; 120 bpm for a minute.
    notes = played(random.Random(1), 121, mean_ms=-30, spread_ms=0, drift=60, dependence=0)
    found = lateness(notes)
    assert found.mean_ms.value == pytest.approx(-30)
    assert found.drift_ms_per_minute is not None
    assert found.drift_ms_per_minute.value == pytest.approx(60)
    assert found.spread_ms is not None
    assert found.spread_ms.value == pytest.approx(0, abs=1e-9)
    assert found.centred_ms[0] == pytest.approx(-30)
    assert found.centred_ms[-1] == pytest.approx(30)


def test_few_notes_get_no_interval() -> None:
    one = lateness([LateNote(1, -20)])
    assert (one.mean_ms, one.spread_ms, one.drift_ms_per_minute) == (Figure(-20, None, None), None, None)
    two = lateness([LateNote(0, 0), LateNote(60, 10)])
    assert two.drift_ms_per_minute == Figure(10, None, None)
    assert two.spread_ms is None
    chord = lateness([LateNote(5, 1), LateNote(5, 2), LateNote(5, 3)])
    assert chord.drift_ms_per_minute is None


@given(st.lists(st.floats(-500, 500), min_size=3, max_size=80), st.floats(-400, 400))
def test_who_is_later_by_a_constant_differs_in_the_mean_alone(late_ms: list[float], more_ms: float) -> None:
    notes = [LateNote(n * 0.5, late) for n, late in enumerate(late_ms)]
    shifted = [LateNote(note.time_s, note.late_ms + more_ms) for note in notes]
    before, after = lateness(notes), lateness(shifted)
    assert after.mean_ms.value == pytest.approx(before.mean_ms.value + more_ms, abs=1e-6)
    assert after.centred_ms == pytest.approx(before.centred_ms, abs=1e-6)
    assert sum(after.centred_ms) == pytest.approx(0, abs=1e-6)
    assert before.drift_ms_per_minute is not None
    assert after.drift_ms_per_minute is not None
    assert after.drift_ms_per_minute.value == pytest.approx(before.drift_ms_per_minute.value, abs=1e-4)


def test_bad_values_are_named() -> None:
    with pytest.raises(BadInput, match="1 note or more"):
        lateness([])
    with pytest.raises(BadInput, match=r"a note cannot be at 1 s \(2 s to"):
        lateness([LateNote(2, 0), LateNote(1, 0)])
    for bad in (math.nan, math.inf, 6001.0):
        with pytest.raises(BadInput, match="-6000 to 6000"):
            lateness([LateNote(1, bad)])
