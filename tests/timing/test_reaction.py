"""Reactions to shown open strings: what is left out, how sure the rest is, and that a does not matter.

Simple visual reactions: mean 231 ms, n = 1469 (Woods et al. 2015, doi 10.3389/fnhum.2015.00131). They are
drawn as a normal part and an exponential tail, the usual description (from memory): 0.19 s with a spread of
20 ms, tail of 40 ms.
"""

import math
import random
import statistics

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from midifret.estimates import trimmed_mean
from midifret.terms.calibration import Estimate, Lack, Latency, Missing, Reaction, period_s
from midifret.timing import Reacted, ReactionRules, fit_reaction

OPEN = (64, 59, 55, 50, 45, 40)  # standard tuning (music21, mingus)
PLAYERS = 400


def known(a_s: float = -0.02, b: float = 2.0, b_error: float = 0.0) -> Latency:
    def sure(value: float, error: float = 0.0) -> Estimate:
        return Estimate(value, error, value - 1.96 * error, value + 1.96 * error)

    return Latency(sure(a_s), sure(b, b_error), 0.012, 96)


def drawn(lots: random.Random) -> float:
    return lots.gauss(0.19, 0.02) + lots.expovariate(1 / 0.04)


def reactions_of(
    seed: int, *, a_s: float = 0.0, b: float = 2.0, n: int = 24, lapses: float = 0.0
) -> list[Reacted]:
    """a_s: what guitar and screen need besides. lapses: share 0.3 to 0.7 s later [ours]."""
    lots = random.Random(seed)
    found = []
    for i in range(n):
        midi = OPEN[i % 6]
        late_s = lots.uniform(0.3, 0.7) if lots.random() < lapses else 0.0
        found.append(Reacted(midi, drawn(lots) + a_s + b * period_s(midi) + late_s))
    return found


def fitted(reactions: list[Reacted], latency: Latency | None = None) -> Reaction:
    found = fit_reaction(reactions, latency)
    assert isinstance(found, Reaction), found
    return found


def truth_s() -> float:
    lots = random.Random(99)
    return float(stats.trim_mean([drawn(lots) for _ in range(100_000)], 0.2))


@pytest.mark.parametrize("lapses", [0.0, 0.05])
@pytest.mark.parametrize("n", [12, 24])
def test_intervals_hold_the_truth(lapses: float, n: int) -> None:
    """The truth is the trimmed mean of all reactions that the player could have, without lapses."""
    truth, inside, values = truth_s(), 0, []
    counted = 0
    for seed in range(PLAYERS):
        found = fit_reaction(reactions_of(seed, n=n + 2, lapses=lapses), known(a_s=0.0))
        if not isinstance(found, Reaction):
            continue
        assert found.time_s is not None
        counted += 1
        off_s = found.response_s.value - found.time_s
        inside += found.response_s.low - off_s <= truth <= found.response_s.high - off_s
        values.append(found.time_s)
    print(
        f"n = {n + 2}, lapses {lapses:.0%}: {counted} of {PLAYERS} players, intervals that hold "
        f"{inside / counted:.1%}, mean error {1000 * (statistics.fmean(values) - truth):+.1f} ms, "
        f"spread {1000 * statistics.stdev(values):.1f} ms"
    )
    assert counted > 0.9 * PLAYERS
    assert 0.90 <= inside / counted <= 0.99


def test_surer_than_the_median() -> None:
    """What the docstring of `fit_reaction` says: 20 reactions, standard errors over many players."""
    trimmed, medians = [], []
    for seed in range(2000):
        lots = random.Random(seed)
        values = [drawn(lots) for _ in range(20)]
        trimmed.append(trimmed_mean(values).value)
        medians.append(float(np.median(values)))
    print(f"{1000 * statistics.stdev(trimmed):.1f} against {1000 * statistics.stdev(medians):.1f} ms")
    assert statistics.stdev(trimmed) < 0.97 * statistics.stdev(medians)


def test_the_slope_hardly_matters_at_the_period_that_is_told() -> None:
    reactions = reactions_of(1)
    two, three = fitted(reactions, known(b=2.0)), fitted(reactions, known(b=3.0))
    # A whole period more, 8 ms on the mean string: its effect is what sorting differently leaves.
    assert three.response_s.value == pytest.approx(two.response_s.value, abs=0.002)
    assert two.time_s is not None
    assert three.time_s == pytest.approx(two.time_s - two.period_s, abs=0.003)


@given(st.integers(0, 50), st.floats(-0.03, 0.1))
@settings(max_examples=30)
def test_a_later_guitar_shifts_the_response_alone(seed: int, shift_s: float) -> None:
    reactions = reactions_of(seed)
    # No anticipations, so that the rule for them, which takes times as they are, plays no part.
    reactions = [Reacted(r.midi, r.response_s + 0.1) for r in reactions]
    before = fitted(reactions, known(a_s=0.0))
    after = fitted([Reacted(r.midi, r.response_s + shift_s) for r in reactions], known(a_s=shift_s))
    assert after.response_s.value == pytest.approx(before.response_s.value + shift_s, abs=1e-9)
    assert after.response_s.standard_error == pytest.approx(before.response_s.standard_error, rel=1e-6)
    assert before.time_s is not None
    assert after.time_s == pytest.approx(before.time_s, abs=1e-9)


def test_anticipations_and_lapses() -> None:
    plain = reactions_of(3)
    latency = known(a_s=0.01)
    strays = [
        Reacted(64, -0.05),  # before the cue
        Reacted(64, 0.105),  # two periods of E4, 6.1 ms, taken off: under 100 ms
        Reacted(40, 0.124),  # two periods of E2, 24.3 ms
        Reacted(59, 1.3),
        Reacted(59, 0.8),  # far above the others, under 1 s
    ]
    found = fitted(plain + strays, latency)
    assert (found.anticipations, found.lapses, found.used) == (3, 2, 24)
    expected = fitted(plain, latency).response_s
    assert found.response_s.value == pytest.approx(expected.value, rel=1e-9)
    assert found.response_s.standard_error == pytest.approx(expected.standard_error, rel=1e-9)
    kept = fitted([*plain, Reacted(64, 0.107)], latency)
    assert (kept.anticipations, kept.used) == (0, 25)


def test_at_least_one_period_counts_as_latency() -> None:
    """No converter knows a pitch before one period, whatever the plucks on the click seemed to say."""
    latency = known(b=0.2)
    found = fitted([*reactions_of(3), Reacted(40, 0.111), Reacted(40, 0.114)], latency)  # E2: 12.1 ms
    assert (found.anticipations, found.used) == (1, 25)


def test_a_player_far_behind_the_click_anticipates_nothing_by_that() -> None:
    dragging = fitted(reactions_of(3), known(a_s=0.25))
    assert dragging.anticipations == 0
    assert dragging.response_s == fitted(reactions_of(3), known()).response_s


def test_without_latency_the_response_alone() -> None:
    found = fitted(reactions_of(5))
    assert found.time_s is None
    trimmed = stats.trim_mean([r.response_s for r in reactions_of(5)], 0.2)
    assert found.response_s.value == pytest.approx(trimmed, rel=1e-9)


def test_what_is_missing() -> None:
    few = fit_reaction([Reacted(64, 0.2 + 0.01 * i) for i in range(9)], None)
    assert isinstance(few, Missing)
    assert (few.lack, few.more) == (Lack.FEW, 3)
    early = fit_reaction([*reactions_of(1, n=15), *[Reacted(64, 0.02)] * 10], known())
    assert isinstance(early, Missing)
    assert (early.lack, early.more) == (Lack.CONTRADICTORY, 15)  # 10 of 40 are a quarter
    assert "10 of 25 plucks came before" in early.words
    again = fit_reaction([*reactions_of(1, n=30), *[Reacted(64, 0.02)] * 10], known())
    assert isinstance(again, Reaction)
    assert fit_reaction([], None) == Missing(
        Lack.FEW, 12, "0 reactions can be used, at least 12 are needed: play 12 more"
    )


def test_the_rule_for_lapses_spares_ordinary_tails() -> None:
    """How many of ordinary reactions the rules leave out."""
    lots = random.Random(7)
    rules = ReactionRules(least_used=12)
    out = total = 0
    for _ in range(200):
        found = fit_reaction([Reacted(55, drawn(lots)) for _ in range(24)], None, rules)
        assert isinstance(found, Reaction)
        out, total = out + found.lapses + found.anticipations, total + 24
    print(f"ordinary reactions left out: {out / total:.1%}")
    assert out / total < 0.03


@pytest.mark.parametrize("response_s", [math.nan, -math.inf])
def test_no_numbers(response_s: float) -> None:
    with pytest.raises(ValueError, match="not a reaction"):
        fit_reaction([Reacted(40, response_s)], None)


def test_what_was_not_waited_for_is_left_out_however_late_the_guitar() -> None:
    # 30 ms more for every note, which no plucks on a click would tell: an anticipation that came at 80 ms
    # less latency is then heard late enough to pass for a reaction.
    anticipated = [Reacted(64, 0.075), Reacted(50, 0.08), Reacted(45, 0.07)]
    near = fit_reaction([*reactions_of(5, n=30), *anticipated], known())
    later = fit_reaction(
        [Reacted(r.midi, r.response_s + 0.03) for r in [*reactions_of(5, n=30), *anticipated]], known()
    )
    assert isinstance(near, Reaction)
    assert isinstance(later, Reaction)
    assert later.anticipations == near.anticipations == 3
    assert later.response_s.value - near.response_s.value == pytest.approx(0.03, abs=1e-9)
