"""The ladder goes up after clean passes and down after bad ones, and ends in time."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.tempo import Curve, Ladder, LadderEnd, LadderRules, PassResult, start_ladder
from midifret.terms import BadInput

CLEAN, MIDDLING, BAD = 20, 18, 15  # of 20 notes: 100%, 90% and 75%; clean from 95%, bad under 80%


def climb(ladder: Ladder, rights: list[int], *, each_s: float = 10.0) -> list[Ladder]:
    """Play passes of 20 notes, as many right as said."""
    stands = [ladder]
    for right in rights:
        now = stands[-1]
        stands.append(now.after(PassResult(now.tempo_bpm, 20, right), now.now_s + each_s))
    return stands


def test_two_clean_passes_lead_up_and_one_bad_pass_down() -> None:
    rules = LadderRules(minutes=30, start_bpm=100, pass_beats=8, up=1.1, down=0.9)
    tempos = [
        stand.tempo_bpm for stand in climb(start_ladder(rules, 5), [CLEAN, CLEAN, CLEAN, BAD, CLEAN, CLEAN])
    ]
    assert tempos == pytest.approx([100, 100, 110, 110, 99, 99, 108.9])


def test_a_middling_pass_keeps_the_tempo_and_the_count_starts_anew() -> None:
    rules = LadderRules(minutes=30, start_bpm=100, pass_beats=8, bad_passes=2)
    for rights in ([CLEAN, MIDDLING, CLEAN], [BAD, MIDDLING, BAD], [CLEAN, BAD, CLEAN, BAD]):
        assert climb(start_ladder(rules, 0), rights)[-1].tempo_bpm == 100
    assert climb(start_ladder(rules, 0), [BAD, BAD])[-1].tempo_bpm == pytest.approx(93)


def test_the_shares_themselves_count_as_clean_and_as_not_bad() -> None:
    rules = LadderRules(minutes=30, start_bpm=100, pass_beats=8, clean_passes=1)
    assert climb(start_ladder(rules, 0), [19])[-1].tempo_bpm == pytest.approx(105)  # 95%
    assert climb(start_ladder(rules, 0), [16])[-1].tempo_bpm == 100  # 80%


def test_no_pass_begins_that_would_not_end_in_time() -> None:
    # 16 beats at 96 bpm are 10 s; one minute holds six of them [calc].
    rules = LadderRules(minutes=1, start_bpm=96, pass_beats=16)
    stands = climb(start_ladder(rules, 100), [MIDDLING] * 6)
    assert [stand.end for stand in stands] == [None] * 6 + [LadderEnd.TIME]
    assert stands[-1].left_s == 0
    late = climb(start_ladder(rules, 100), [MIDDLING] * 5, each_s=10.5)  # 7.5 s left
    assert [stand.end for stand in late] == [None] * 5 + [LadderEnd.TIME]
    assert (late[-1].passes, late[-1].left_s) == (5, 7.5)


def test_a_pass_that_ends_late_still_counts() -> None:
    rules = LadderRules(minutes=1, start_bpm=96, pass_beats=16)
    end = climb(start_ladder(rules, 0), [CLEAN], each_s=70)[-1]
    assert (end.end, end.passes, end.best_bpm, end.left_s) == (LadderEnd.TIME, 1, 96, 0)


def test_the_ends_of_the_ladder_end_it() -> None:
    rules = LadderRules(minutes=30, start_bpm=100, pass_beats=8, least_bpm=95, most_bpm=104)
    up = climb(start_ladder(rules, 0), [CLEAN] * 4)
    assert [stand.tempo_bpm for stand in up] == [100, 100, 104, 104, 104]
    assert up[-1].end is LadderEnd.TOP
    down = climb(start_ladder(rules, 0), [BAD, BAD])
    assert [stand.tempo_bpm for stand in down] == [100, 95, 95]
    assert down[-1].end is LadderEnd.BOTTOM
    assert down[-1].best_bpm is None
    assert up[-1].best_bpm == 104


@given(st.lists(st.integers(0, 20), max_size=60), st.integers(1, 4), st.integers(1, 3))
def test_whatever_is_played_the_rules_hold(rights: list[int], clean_passes: int, bad_passes: int) -> None:
    rules = LadderRules(
        minutes=5,
        start_bpm=80,
        pass_beats=12,
        clean_passes=clean_passes,
        bad_passes=bad_passes,
        least_bpm=60,
        most_bpm=120,
    )
    stand = start_ladder(rules, 3)
    for right in rights:
        if stand.end is not None:
            break
        assert 60 <= stand.tempo_bpm <= 120
        pass_s = rules.pass_s(stand.tempo_bpm)
        assert stand.now_s + pass_s <= 3 + 5 * 60 + 1e-9  # no pass is begun that does not fit
        after = stand.after(PassResult(stand.tempo_bpm, 20, right), stand.now_s + pass_s)
        if after.tempo_bpm > stand.tempo_bpm:
            assert right >= 19
            assert after.tempo_bpm <= stand.tempo_bpm * rules.up + 1e-9
        if after.tempo_bpm < stand.tempo_bpm:
            assert right < 16
        assert after.passes == stand.passes + 1
        stand = after


def test_a_player_ends_up_near_the_tempo_where_clean_and_bad_balance() -> None:
    # A player who owns 120 bpm (90% right) and falls to half at 1.25 times that is clean half the time at
    # about 105 bpm and bad half the time at about 130 [calc]: the ladder has to settle between.
    draw, curve, tempos = random.Random(8), Curve(), []
    for _ in range(20):
        stand = start_ladder(LadderRules(minutes=20, start_bpm=70, pass_beats=20), 0)
        while stand.end is None:
            share = curve.share(stand.tempo_bpm, 120, 1.25)
            right = sum(draw.random() < share for _ in range(20))
            result = PassResult(stand.tempo_bpm, 20, right)
            stand = stand.after(result, stand.now_s + stand.rules.pass_s(stand.tempo_bpm))
        tempos.append(stand.tempo_bpm)
    assert 95 <= sum(tempos) / len(tempos) <= 135


def test_bad_values_are_named() -> None:
    def rules(**other: float) -> LadderRules:
        return LadderRules(**{"minutes": 10, "start_bpm": 100, "pass_beats": 8} | other)  # type: ignore[arg-type]

    for bad, words in (
        ({"start_bpm": 9}, "10 to 400 bpm"),
        ({"start_bpm": math.nan}, "10 to 400 bpm"),
        ({"least_bpm": 110}, "110 to 400 bpm, its own ends"),
        ({"minutes": 0}, "0.1 to 480"),
        ({"minutes": math.nan}, "0.1 to 480"),
        ({"pass_beats": 0}, "1 to 10000"),
        ({"clean_passes": 0}, "1 to 100"),
        ({"up": 1}, "above 1"),
        ({"down": 1.1}, "under 1"),
        ({"bad_share": 0.99}, "contradict"),
        ({"minutes": 0.5, "pass_beats": 100}, r"1 minutes or more"),  # 100 beats at 100 bpm
    ):
        with pytest.raises(BadInput, match=words):
            rules(**bad)
    ladder = start_ladder(rules(), 50)
    with pytest.raises(BadInput, match=r"cannot be at 49 s \(50 s to"):
        ladder.after(PassResult(100, 8, 8), 49)
    with pytest.raises(BadInput, match="100 bpm"):
        ladder.after(PassResult(101, 8, 8), 60)
    with pytest.raises(BadInput, match="has ended"):
        ladder.after(PassResult(100, 8, 8), 1000).after(PassResult(100, 8, 8), 1001)
    with pytest.raises(BadInput, match="the start of a ladder"):
        start_ladder(rules(), -1)
