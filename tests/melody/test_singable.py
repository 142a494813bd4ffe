"""Melodies are made like those that people sing: compared with folk songs, by intervals, range and turns."""

from itertools import pairwise
from statistics import mean

import pytest

from midifret.melody.tones import key_of
from tests.melody.folk_songs import Figures, figures, folk_songs, line_of
from tests.melody.making import levels, melodies

COUNT = 30
NUMBERS = range(1, 9)


@pytest.fixture(scope="module")
def songs() -> Figures:
    return figures(folk_songs())


@pytest.fixture(scope="module")
def made() -> dict[int, Figures]:
    return {level: figures(line_of(m.score) for m in melodies(level, COUNT)) for level in NUMBERS}


def test_the_folk_songs_are_what_the_literature_says(songs: Figures) -> None:
    # Steps are about half of all intervals, and small intervals dominate (Vos & Troost 1989; Huron 2001,
    # from memory). On 787 songs of the same collection: same note 20%, step 50%, third 17.5%, fourth 7%.
    assert songs.intervals > 2_000
    assert 0.43 < songs.shares[2] < 0.57
    assert songs.shares[1] + songs.shares[2] + songs.shares[3] > 0.8


@pytest.mark.parametrize("level", NUMBERS)
def test_small_intervals_dominate(level: int, made: dict[int, Figures]) -> None:
    shares = made[level].shares
    assert shares[2] == max(shares.values())
    assert shares.get(1, 0) + shares[2] + shares.get(3, 0) > 0.8


@pytest.mark.parametrize("level", range(3, 9))
def test_intervals_are_near_those_of_folk_songs(level: int, made: dict[int, Figures], songs: Figures) -> None:
    # A bound of our own: two halves of the folk songs themselves lie some 3% apart, even weights on all
    # intervals 40%. The first two levels have no leaps and are left out.
    assert made[level].distance(songs) < 0.16
    assert abs(made[level].shares[2] - songs.shares[2]) < 0.15


def test_the_bound_would_catch_a_random_walk(songs: Figures) -> None:
    even = Figures(1, dict.fromkeys(range(1, 7), 1 / 6), 12, 0.5, 0.2)
    assert even.distance(songs) > 0.3


@pytest.mark.parametrize("level", range(3, 9))
def test_leaps_turn_back_more_often_than_in_folk_songs_at_least(
    level: int, made: dict[int, Figures], songs: Figures
) -> None:
    assert made[level].turned >= songs.turned
    assert made[level].turned_by_step >= songs.turned_by_step


def test_ranges_rise_and_the_middle_levels_have_the_range_of_folk_songs(
    made: dict[int, Figures], songs: Figures
) -> None:
    ranges = [made[level].range_semitones for level in NUMBERS]
    assert all(a <= b + 1 for a, b in pairwise(ranges))
    assert ranges[0] <= 7 < ranges[-1]
    assert abs(made[4].range_semitones - songs.range_semitones) <= 2


@pytest.mark.parametrize("level", NUMBERS)
def test_the_last_note_is_the_tonic_and_long(level: int) -> None:
    for melody in melodies(level, COUNT):
        last = melody.score.notes[-1]
        assert (last.pitch.step, last.pitch.alter) == key_of(melody.key).scale.notes[0]
        assert last.duration_quarter >= 1
        others = [note.duration_quarter for note in melody.score.notes[:-1]]
        assert float(last.duration_quarter) >= mean(float(other) for other in others)


@pytest.mark.parametrize("level", range(2, 8))
def test_a_question_does_not_end_on_the_tonic(level: int) -> None:
    # Eight and twelve bars have phrases of four; the first asks and ends on a tone of the dominant.
    for melody in melodies(level, COUNT):
        assert levels()[level - 1].bars % 4 == 0
        last = [note for note in melody.score.notes if int(note.bar) <= 4][-1]
        degree = [step for step, _ in key_of(melody.key).scale.notes].index(last.pitch.step)
        assert degree in (1, 4, 6), melody.score.title


def test_ideas_come_again() -> None:
    """In most melodies of eight bars some bar comes again, as it was or steps away."""

    def bars(melody):
        found = {}
        for note in melody.score.notes:
            found.setdefault(note.bar, []).append(note)
        return [
            tuple((b.duration_quarter, 7 * b.pitch.octave + "CDEFGAB".index(b.pitch.step)) for b in bar)
            for bar in found.values()
        ]

    def shape(bar):
        return tuple((length, row - bar[0][1]) for length, row in bar)

    again = 0
    for melody in melodies(5, COUNT):
        shapes = [shape(bar) for bar in bars(melody) if len(bar) > 2]
        again += len(set(shapes)) < len(shapes)
    assert again > 0.7 * COUNT


def test_phrases_rise_and_fall() -> None:
    # The arch is the commonest shape of a phrase (Huron 1996, from memory): the middle lies above both ends.
    first, middle, last = [], [], []
    for level in (3, 4, 5):
        for melody in melodies(level, COUNT):
            line = [midi for midi, _ in line_of(melody.score)]
            third = len(line) // 3
            first.append(mean(line[:3]))
            middle.append(mean(line[third : 2 * third]))
            last.append(mean(line[-3:]))
    assert mean(middle) > mean(first)
    assert mean(middle) > mean(last)
