"""The ladder: in which positions music lies, with which open strings and stretches, and in which order."""

from fractions import Fraction
from statistics import median

import pytest

from midifret.fingering.ladder import MOST_EFFORT, MOST_OUTSIDE, NotYet, climb
from midifret.neck import Neck, Tuning, in_reach
from midifret.terms import BadInput, SpelledPitch
from midifret.terms.score import Score, ScoreNote

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))
_STEPS = {0: "C", 2: "D", 4: "E", 5: "F", 7: "G", 9: "A", 11: "B"}


def tune(*midis: int) -> Score:
    notes = tuple(
        ScoreNote(
            n,
            Fraction(n - 1),
            Fraction(1),
            midi,
            SpelledPitch(_STEPS[midi % 12], 0, midi // 12 - 1),
        )
        for n, midi in enumerate(midis, start=1)
    )
    return Score("Tune", "", "tune", notes)


# C major from the C below middle C of the piano's writing up two octaves' part, as sounded: C3 to C5.
SCALE = tune(48, 50, 52, 53, 55, 57, 59, 60, 62, 64, 65, 67, 69, 71, 72)


def test_each_rung_counts_what_the_reach_of_a_position_says() -> None:
    for rung in climb(SCALE, NECK):
        reached = [in_reach(NECK, rung.position, note.midi) for note in SCALE.notes]
        held = sum(any(not way.open_only for way in ways) for ways in reached)
        by_open = sum(bool(ways) and all(way.open_only for way in ways) for ways in reached)
        nowhere = sum(not ways for ways in reached)
        assert rung.notes == len(SCALE.notes)
        assert rung.outside == nowhere
        assert rung.in_reach == held + by_open
        if rung.position:
            assert rung.open_strings >= by_open


def test_from_position_one_on_open_strings_are_the_last_resort() -> None:
    rungs = {rung.position: rung for rung in climb(SCALE, NECK, positions=range(13))}
    for position in range(1, 13):
        for note, found in zip(SCALE.notes, rungs[position].fingering.notes, strict=True):
            if found.place is not None and found.place.fret == 0:
                ways = in_reach(NECK, position, note.midi)
                assert not ways or all(way.open_only for way in ways)
    assert rungs[0].open_strings > 0


def test_the_order_goes_upwards_from_the_open_position() -> None:
    """As methods do [common practice, no source]; what is too far or too hard has no place in it."""
    rungs = climb(SCALE, NECK)
    ordered = [rung for rung in rungs if rung.order is not None]
    assert [rung.order for rung in ordered] == list(range(1, len(ordered) + 1))
    assert ordered[0].position == 0
    middle = median(rung.effort for rung in rungs if rung.outside <= MOST_OUTSIDE * rung.notes)
    for rung in rungs:
        too_far = rung.outside > MOST_OUTSIDE * rung.notes
        too_hard = rung.effort > MOST_EFFORT * middle
        assert (rung.order is None) == (too_far or too_hard)
        assert rung.not_yet is (NotYet.OUTSIDE if too_far else NotYet.EFFORT if too_hard else None)
    # C major lies whole in position V on the strings from the fifth up: common practice, no source
    assert next(rung for rung in rungs if rung.position == 5).whole


def test_a_piece_far_up_is_not_worth_the_open_position() -> None:
    high = tune(76, 77, 79, 81, 83, 81, 79, 77)  # E5 to B5: frets 12 to 19 of the first string
    rungs = {rung.position: rung for rung in climb(high, NECK)}
    assert (rungs[0].order, rungs[0].not_yet) == (None, NotYet.OUTSIDE)
    assert rungs[0].outside == 8
    assert rungs[14].order is not None


def test_an_easy_tune_climbs_through_every_position_of_the_neck_up_to_twelve() -> None:
    """The open position, beside which all others take effort, leaves none of them out: so the method goes on.

    D3 to E4 in G [common practice, no source].
    """
    rungs = climb(tune(50, 55, 57, 59, 57, 60, 62, 64, 60, 62, 59, 55), NECK, positions=range(13))
    assert [rung.order for rung in rungs] == list(range(1, 14))


def test_a_position_much_harder_than_others_comes_last() -> None:
    """D3 to E4 in G beyond the body: a tune for the open position, with stretches above fret 15."""
    rungs = climb(tune(50, 55, 57, 59, 55, 57, 59, 60, 62, 62, 64, 60, 62, 59, 60, 59, 57, 55), NECK)
    hard = [rung for rung in rungs if rung.not_yet is NotYet.EFFORT]
    assert hard
    assert all(rung.outside == 0 for rung in hard)
    assert min(rung.effort for rung in hard) > max(rung.effort for rung in rungs if rung.order)


def test_a_stretch_makes_a_position_harder() -> None:
    # Frets 2, 3 and 5 of the fourth string: under the fingers in position II, the last by a stretch in I.
    rungs = {rung.position: rung for rung in climb(tune(52, 53, 55, 53, 52), NECK, positions=(1, 2))}
    assert (rungs[1].stretches, rungs[2].stretches) == (1, 0)
    assert rungs[1].effort > rungs[2].effort


def test_positions_are_those_asked_for_and_faults_are_told() -> None:
    assert [rung.position for rung in climb(SCALE, NECK, positions=(7, 5))] == [5, 7]
    with pytest.raises(BadInput, match="position 40"):
        climb(SCALE, NECK, positions=(40,))
    with pytest.raises(BadInput):
        climb(tune(), NECK)
