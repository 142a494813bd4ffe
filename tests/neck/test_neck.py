"""The neck: ranges, capo, places, and the reach of a position."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.neck import Neck, Tuning, in_reach, position_compass
from midifret.terms import Place

STANDARD = Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40))


def test_counts_of_places() -> None:
    """facts.md [calc]: 120 places, 44 pitches 40..83, and how many pitches have how many places."""
    neck = Neck(STANDARD)
    places = list(neck.all_places())
    assert len(places) == 120
    assert neck.compass == (40, 83)
    by_count = Counter(len(neck.places(midi)) for midi in range(40, 84))
    assert by_count == {1: 10, 2: 9, 3: 10, 4: 13, 5: 2}
    assert [midi for midi in range(40, 84) if len(neck.places(midi)) == 5] == [59, 64]


def test_counts_of_places_to_fret_12() -> None:
    """facts.md [calc]: 78 places, 37 pitches 40..76."""
    neck = Neck(STANDARD, frets=12)
    assert len(list(neck.all_places())) == 78
    by_count = Counter(len(neck.places(midi)) for midi in range(40, 77))
    assert by_count == {1: 10, 2: 13, 3: 14}


def test_published_places_of_e4() -> None:
    """Fig. 1 of Lombardo & Radicioni, on guitar fingering: E4 = 64 at (1,0) (2,5) (3,9) (4,14)."""
    found = {str(place) for place in Neck(STANDARD).places(64)}
    assert {"1:0", "2:5", "3:9", "4:14"} <= found


@pytest.mark.parametrize(("frets", "capo"), [(11, 0), (25, 0), (19, -1), (19, 19)])
def test_ranges(frets: int, capo: int) -> None:
    with pytest.raises(ValueError, match=r"\d"):
        Neck(STANDARD, frets=frets, capo=capo)


def test_a_capo_moves_all_strings_and_takes_frets() -> None:
    neck = Neck(STANDARD, frets=19, capo=3)
    assert neck.midi(Place(6, 0)) == 43
    assert neck.last_fret == 16
    assert not neck.has(Place(6, 17))


@given(st.integers(12, 24), st.integers(0, 11))
def test_places_and_pitches_are_each_others_inverse(frets: int, capo: int) -> None:
    neck = Neck(STANDARD, frets=frets, capo=capo)
    for place in neck.all_places():
        assert place in neck.places(neck.midi(place))
    assert sum(len(neck.places(midi)) for midi in range(128)) == len(list(neck.all_places()))


def reach(neck: Neck, position: int, midi: int) -> list[tuple[str, bool, bool]]:
    return [(str(r.place), r.stretch, r.open_only) for r in in_reach(neck, position, midi)]


def test_reach_of_a_position() -> None:
    """Position N holds N to N+3, the fourth finger stretches to N+4, an open string only where needed."""
    neck = Neck(STANDARD)
    assert reach(neck, 5, 64) == [("2:5", False, False), ("3:9", True, False)]
    assert reach(neck, 5, 40) == [("6:0", False, True)]  # E2 is nowhere else
    assert reach(neck, 5, 83) == []  # B5 at 1:19 is out of reach: a shift
    assert reach(neck, 0, 59) == [("2:0", False, False), ("3:4", True, False)]
    assert reach(neck, 1, 59) == [("3:4", False, False)]  # in position I the open B is not needed
    assert reach(neck, 1, 64) == [("2:5", True, False)]


def test_every_position_lacks_four_pitches_of_its_compass_without_the_stretch() -> None:
    """The sentence of the design, counted: standard tuning, positions I to XII."""
    neck = Neck(STANDARD)
    for position in range(1, 13):
        reached = position_compass(neck, position)
        unstretched = {
            midi
            for midi in reached
            if any(not r.stretch and not r.open_only for r in in_reach(neck, position, midi))
        }
        lowest, highest = min(unstretched), max(unstretched)
        assert len([midi for midi in range(lowest, highest + 1) if midi not in unstretched]) == 4
        assert set(range(lowest, highest + 2)) == set(reached)


def test_a_position_that_the_neck_has_not() -> None:
    with pytest.raises(ValueError, match="positions go from 0"):
        in_reach(Neck(STANDARD), 20, 64)
