"""Free readings of whole passages gone wrong: in another octave or position, left out, out of order."""

from collections.abc import Callable, Sequence

import pytest

from midifret.reading.free_run import FreeReading
from midifret.terms import Answer, Exercise, Note, Place, Verdict
from tests.reading.simulated import NECK, reading, score_of

# Ten bars whose pitches come again and again, so that much could stand for something else.
BARS = (
    "60 62 64 65", "67 64 60 62", "64 65 67 69", "71 69 67 65", "64 67 65 62",
    "60 64 62 59", "60 62 64 67", "69 67 65 64", "62 65 64 62", "60",
)  # fmt: skip
TUNE = reading(score_of(*BARS))
TWO_VOICES = reading(
    score_of(
        "48+55 52+55 53+60 52+60", "50+62 53+62 52+64 55+60", "57+65 55+64 53+62 52+60",
        "50+59 53+62 52+60", "48+55 52+55 53+60 52+60", "50+59 55+59 48+60",
    )
)  # fmt: skip
ALL = list(range(1, len(TUNE.prompts) + 1))


def played(
    ns: Sequence[int],
    change: Callable[[int, Place], Place | None] = lambda n, place: place,
    *,
    exercise: Exercise = TUNE,
    breath_at: int | None = None,
) -> tuple[Answer, ...]:
    """Play prompts in this order, chords together; `change` puts another place for one, or None for none.

    breath_at: before which of them, counted from 0, a second passes.
    """
    run = FreeReading(exercise)
    run.start(0.0)
    time_s, onset_before = 1.0, None
    for number, n in enumerate(ns, start=1):
        onset = exercise.score.notes[n - 1].onset_quarter
        time_s += 0.012 if onset == onset_before else 0.5
        time_s += 1.0 if number - 1 == breath_at else 0.0
        onset_before = onset
        place = change(n, exercise.prompts[n - 1].places[0])
        if place is not None:
            midi = NECK.midi(place)
            run.hear(Note(number, time_s, place.string, place.fret, midi, 80, place.string - 1))
    run.end(time_s + 1)
    return run.answers


def verdicts(answers: Sequence[Answer], *, but: Verdict = Verdict.RIGHT) -> dict[int, Verdict]:
    """The verdicts of the prompts that were not as most."""
    return {answer.n: answer.verdict for answer in answers if answer.verdict is not but}


def moved(semitones: int, first: int, last: int) -> Callable[[int, Place], Place]:
    """From one prompt to another by so many semitones off, wherever that lies."""

    def change(n: int, place: Place) -> Place:
        return NECK.places(NECK.midi(place) + semitones)[0] if first <= n <= last else place

    return change


@pytest.mark.parametrize("first", [1, 5, 9, 21])
def test_a_passage_an_octave_low_is_followed_note_by_note(first: int) -> None:
    answers = played(ALL, moved(-12, first, first + 15))
    assert len(answers) == len(ALL)
    assert verdicts(answers) == dict.fromkeys(range(first, first + 16), Verdict.OCTAVE)


def test_a_hand_one_fret_too_high_is_followed_note_by_note() -> None:
    answers = played(ALL, lambda n, place: Place(place.string, place.fret + 1) if 9 <= n <= 20 else place)
    assert verdicts(answers) == dict.fromkeys(range(9, 21), Verdict.FRET_OFF)


def test_the_upper_voice_an_octave_low_leaves_the_lower_one_right() -> None:
    upper = range(10, 21, 2)

    def change(n: int, place: Place) -> Place:
        return NECK.places(NECK.midi(place) - 12)[0] if n in upper else place

    answers = played(range(1, 45), change, exercise=TWO_VOICES)
    assert verdicts(answers) == dict.fromkeys(upper, Verdict.OCTAVE)


def test_one_voice_alone_has_the_other_missed() -> None:
    answers = played(range(1, 44, 2), exercise=TWO_VOICES)
    assert verdicts(answers) == dict.fromkeys(range(2, 45, 2), Verdict.MISSED)


def test_a_bar_left_out_is_missed_as_a_whole_though_its_notes_come_elsewhere() -> None:
    # Bar 4 has the note on which bar 3 ends once more.
    answers = played([n for n in ALL if not 13 <= n <= 16])
    assert verdicts(answers) == dict.fromkeys(range(13, 17), Verdict.MISSED)


@pytest.mark.parametrize("n", [3, 10, 18, 30])
def test_two_notes_that_changed_places_are_one_mistake(n: int) -> None:
    order = [*ALL]
    order[n - 1], order[n] = order[n], order[n - 1]
    assert verdicts(played(order)) == {n: Verdict.MISSED}


@pytest.mark.parametrize(("until", "again"), [(18, 9), (14, 1), (30, 25), (19, 17)])
def test_a_restart_from_an_earlier_bar_changes_no_verdict(until: int, again: int) -> None:
    assert verdicts(played([*range(1, until + 1), *range(again, len(ALL) + 1)])) == {}


@pytest.mark.parametrize(("until", "again"), [(7, 6), (11, 9), (22, 19)])
def test_after_a_breath_a_restart_within_a_bar_is_followed(until: int, again: int) -> None:
    order = [*range(1, until + 1), *range(again, len(ALL) + 1)]
    assert verdicts(played(order, breath_at=until)) == {}
