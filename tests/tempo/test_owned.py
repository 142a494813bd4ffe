"""The owned tempo: its grid against scipy, its answers against simulated players of known tempo."""

import math
import random
import statistics

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats

from midifret.tempo import (
    LEAST_BPM,
    MOST_BPM,
    Curve,
    Doubt,
    OwnedTempo,
    PassResult,
    Search,
    Staircase,
    owned_tempo,
)
from midifret.terms import BadInput

PASS_NOTES = 8
PASSES = st.builds(
    lambda tempo, notes, share: PassResult(tempo, notes, round(share * notes)),
    st.floats(LEAST_BPM, MOST_BPM),
    st.integers(1, 24),
    st.floats(0, 1),
)


def search_for(
    owned_bpm: float, draw: random.Random, *, half_at: float = 1.25, correlation: float = 0.0
) -> OwnedTempo:
    """Let a player of known tempo play until the search is over. correlation: beta-binomial."""
    curve = Curve()
    staircase = Staircase(min(max(owned_bpm * math.exp(draw.gauss(0, 0.5)), LEAST_BPM), MOST_BPM))
    while not staircase.done(PASS_NOTES):
        tempo_bpm = staircase.next_bpm()
        share = curve.share(tempo_bpm, owned_bpm, half_at)
        if correlation:
            size = 1 / correlation - 1
            share = draw.betavariate(max(share * size, 1e-9), (1 - share) * size)
        staircase.take(
            PassResult(tempo_bpm, PASS_NOTES, sum(draw.random() < share for _ in range(PASS_NOTES)))
        )
    return staircase.owned()


@pytest.mark.parametrize(
    ("half_at", "correlation", "players"),
    [(1.25, 0.0, 100), (1.25, 0.1, 60), (1.12, 0.0, 40), (1.5, 0.0, 60)],
)
def test_the_owned_tempo_of_simulated_players_is_found(
    half_at: float, correlation: float, players: int
) -> None:
    # Goal: off by 5% in the median, in at most 120 notes, intervals that cover 90 to 99%. So few players tell
    # only whether they cover less than 95% beyond what chance makes once in 200 times (binomial, scipy).
    draw = random.Random(21)
    off, covered = [], 0
    for _ in range(players):
        truth_bpm = math.exp(draw.uniform(math.log(40), math.log(240)))
        found = search_for(truth_bpm, draw, half_at=half_at, correlation=correlation)
        off.append(abs(found.tempo_bpm / truth_bpm - 1))
        covered += found.low_bpm <= truth_bpm <= found.high_bpm
        assert 0 < found.notes <= 120
        assert found.notes == found.passes * PASS_NOTES
    assert statistics.median(off) <= 0.05
    assert stats.binom.cdf(covered, players, 0.95) > 0.005, covered


def test_the_curve_is_the_logistic_of_scipy_and_passes_where_it_says() -> None:
    curve = Curve(lapse=0.03, guess=0.1)
    for half_at in (1.1, 1.25, 1.7):
        assert curve.share(100, 100, half_at) == pytest.approx(0.9)
        assert curve.share(100 * half_at, 100, half_at) == pytest.approx(0.5)
        assert curve.share(1e-6, 100, half_at) == pytest.approx(0.97)
        assert curve.share(1e9, 100, half_at) == pytest.approx(0.1)
        inner = special.logit((0.9 - 0.1) / 0.87) - curve.slope(half_at) * math.log(1.3)
        assert curve.share(130, 100, half_at) == pytest.approx(0.1 + 0.87 * special.expit(inner))


def test_what_is_likely_is_what_the_rule_of_bayes_gives() -> None:
    # The same by numpy and scipy on a grid ten times finer: independent notes, one slope.
    curve = Curve(half_at=(1.25,), correlation=0.0)
    passes = [PassResult(100, 10, 10), PassResult(125, 10, 8), PassResult(140, 12, 5), PassResult(110, 10, 9)]
    found = owned_tempo(passes, start_bpm=90, curve=curve, search=Search(prior_ratio=1.65))
    owned = np.linspace(math.log(LEAST_BPM), math.log(MOST_BPM), 36_890)
    weight = stats.norm.logpdf(owned, math.log(90), math.log(1.65))
    for result in passes:
        share = 0.98 * special.expit(
            special.logit(0.9 / 0.98) - curve.slope(1.25) * (math.log(result.tempo_bpm) - owned)
        )
        weight = weight + stats.binom.logpmf(result.right, result.notes, share)
    below = np.cumsum(np.exp(weight - weight.max()))
    low, middle, high = np.exp(np.interp([0.025, 0.5, 0.975], below / below[-1], owned))
    assert found.low_bpm == pytest.approx(low, rel=0.001)
    assert found.tempo_bpm == pytest.approx(middle, rel=0.001)
    assert found.high_bpm == pytest.approx(high, rel=0.001)
    assert (found.notes, found.passes, found.doubt) == (42, 4, None)


def test_a_pass_of_correlated_notes_says_less() -> None:
    passes = [PassResult(100, 10, 9), PassResult(120, 10, 7), PassResult(90, 10, 10)]
    alone = owned_tempo(passes, curve=Curve(correlation=0.0))
    together = owned_tempo(passes, curve=Curve(correlation=0.3))
    assert together.high_bpm / together.low_bpm > alone.high_bpm / alone.low_bpm


def test_before_the_first_pass_nothing_is_known_but_the_start() -> None:
    staircase = Staircase(80)
    known = staircase.owned()
    assert (known.notes, known.passes) == (0, 0)
    assert known.tempo_bpm == pytest.approx(80, rel=0.01)
    # 95% of a normal distribution lie within 1.96 standard deviations.
    assert known.high_bpm / known.tempo_bpm == pytest.approx(1.65**1.96, rel=0.02)
    assert not staircase.done(PASS_NOTES)


@pytest.mark.parametrize(
    ("right", "doubt"), [(8, Doubt.FASTER), (6, Doubt.NOT_TEMPO), (4, Doubt.NOT_TEMPO), (0, Doubt.NOT_TEMPO)]
)
def test_who_has_no_such_tempo_is_told_so(right: int, doubt: Doubt) -> None:
    # Always clean, or 75%, half or none right however slow: no tempo of those asked for is the one.
    staircase = Staircase(120)
    while not staircase.done(PASS_NOTES):
        staircase.take(PassResult(staircase.next_bpm(), PASS_NOTES, right))
    known = staircase.owned()
    assert known.doubt is doubt
    assert (known.notes, known.passes) == (120, 15)


def test_who_owns_about_the_slowest_tempo_may_own_a_slower_one() -> None:
    staircase, draw = Staircase(16), random.Random(3)
    while not staircase.done(PASS_NOTES):
        tempo_bpm = staircase.next_bpm()
        share = Curve().share(tempo_bpm, LEAST_BPM, 1.25)
        staircase.take(
            PassResult(tempo_bpm, PASS_NOTES, sum(draw.random() < share for _ in range(PASS_NOTES)))
        )
    assert staircase.owned().doubt is Doubt.SLOWER


def test_passes_for_fewer_right_notes_are_played_faster() -> None:
    tempos_bpm = []
    for aim_share in (0.95, 0.9, 0.7):
        staircase = Staircase(100, search=Search(aim_share=aim_share))
        staircase.take(PassResult(100, 20, 18))
        tempos_bpm.append(staircase.next_bpm())
    assert tempos_bpm == sorted(set(tempos_bpm))


def test_the_search_ends_early_when_the_tempo_is_known_well_enough() -> None:
    staircase = Staircase(100, search=Search(near_enough=0.2))
    draw = random.Random(2)
    while not staircase.done(PASS_NOTES):
        tempo_bpm = staircase.next_bpm()
        share = Curve().share(tempo_bpm, 100, 1.15)
        staircase.take(
            PassResult(tempo_bpm, PASS_NOTES, sum(draw.random() < share for _ in range(PASS_NOTES)))
        )
    assert staircase.owned().notes < 120
    assert staircase.owned().within <= 0.2


@settings(max_examples=25, deadline=None)
@given(st.lists(PASSES, min_size=1, max_size=6), st.randoms(use_true_random=False))
def test_the_order_of_passes_does_not_matter(passes: list[PassResult], draw: random.Random) -> None:
    other = list(passes)
    draw.shuffle(other)
    one, two = owned_tempo(passes, start_bpm=100), owned_tempo(other, start_bpm=100)
    assert one.tempo_bpm == pytest.approx(two.tempo_bpm)
    assert one.low_bpm <= one.tempo_bpm <= one.high_bpm
    assert one.low_bpm == pytest.approx(two.low_bpm)


@settings(max_examples=25, deadline=None)
@given(st.lists(PASSES, min_size=1, max_size=6), PASSES)
def test_one_more_right_note_never_lowers_the_owned_tempo(passes: list[PassResult], last: PassResult) -> None:
    # With one slope; over several, a right note at a high tempo may say that the curve is flat.
    curve = Curve(half_at=(1.25,))
    worse = PassResult(last.tempo_bpm, last.notes, max(last.right - 1, 0))
    better = owned_tempo([*passes, last], start_bpm=100, curve=curve)
    assert better.tempo_bpm >= owned_tempo([*passes, worse], start_bpm=100, curve=curve).tempo_bpm - 1e-9


@settings(max_examples=25, deadline=None)
@given(st.floats(LEAST_BPM, MOST_BPM), st.lists(PASSES, max_size=8))
def test_the_next_tempo_is_always_one_that_can_be_played(start_bpm: float, passes: list[PassResult]) -> None:
    staircase = Staircase(start_bpm)
    for result in passes:
        staircase.take(result)
        assert LEAST_BPM <= staircase.next_bpm() <= MOST_BPM


def test_bad_values_are_named() -> None:
    with pytest.raises(BadInput, match=r"a tempo of 5 bpm .*10 to 400 bpm"):
        Staircase(5)
    with pytest.raises(BadInput, match=r"a tempo of 401 bpm"):
        PassResult(401, 8, 8)
    with pytest.raises(BadInput, match=r"9 notes of 8 cannot be right \(0 to 8\)"):
        PassResult(100, 8, 9)
    with pytest.raises(BadInput, match=r"0 to 8"):
        PassResult(100, 8, -1)
    with pytest.raises(BadInput, match=r"a pass cannot have 0 notes"):
        PassResult(100, 0, 0)
    with pytest.raises(BadInput, match="1 pass or more"):
        owned_tempo([])
    for bad in ({"half_at": (1.0,)}, {"half_at": ()}, {"lapse": 0.1}, {"guess": 0.5}, {"correlation": 1.0}):
        with pytest.raises(ValueError):  # noqa: PT011 - the message says which
            Curve(**bad)  # type: ignore[arg-type]
    for bad in ({"most_notes": 0}, {"near_enough": 0}, {"aim_share": 0.99}, {"prior_ratio": 1.0}):
        with pytest.raises(ValueError):  # noqa: PT011 - the message says which
            Search(**bad)  # type: ignore[arg-type]
