"""Notes whose string is not known: judged by pitch, at the likeliest place, and marked so.

Places and pitches: 6x13 table of MIDI numbers (Fig. 1, Lombardo & Radicioni): 64 lies at 1:0, 2:5, 3:9, 4:14.
"""

import pytest

from midifret.neck import Neck
from midifret.play import Run
from midifret.play.assuming import assume_place
from midifret.terms import Exercise, Judged, Note, Place, Prompt, SpelledPitch

from .test_run import exercise


def unknown(midi: int, onset_s: float = 1.0, note_id: int = 1) -> Note:
    return Note(note_id, onset_s, None, None, midi, 90, 0)


@pytest.mark.parametrize(
    ("asked", "midi", "likeliest"),
    [
        ("2:5", 64, "2:5"),  # the asked pitch: where it was asked
        ("4:14", 64, "4:14"),
        ("2:5", 65, "2:6"),  # a fret too high rather than 1:1 or 3:10
        ("2:5", 69, "1:5"),  # the same row, not 2:10
        ("2:5", 40, "6:0"),  # only there
        ("1:12", 45, "5:0"),  # out of reach: the open string
        ("2:5", 83, "1:19"),
    ],
)
def test_the_likeliest_place(asked: str, midi: int, likeliest: str, neck: Neck) -> None:
    prompt = exercise(asked).prompts[0]
    note = assume_place(unknown(midi), prompt, neck, frozenset())
    assert (str(note.place), note.place_assumed) == (likeliest, True)


def test_off_the_neck_nothing_is_assumed(neck: Neck) -> None:
    assert assume_place(unknown(20), exercise("2:5").prompts[0], neck, frozenset()) == unknown(20)


def test_a_known_place_stays(neck: Neck) -> None:
    known = unknown(64)._replace(string=1, fret=0)
    assert assume_place(known, exercise("2:5").prompts[0], neck, frozenset()) == known


def test_a_run_by_pitch_alone(neck: Neck) -> None:
    """Right, a fret too high, then an octave too low."""
    run = Run(exercise("2:5", "2:5", "2:5"), assume_on=neck)
    run.start(0.0)
    for n, midi in enumerate((64, 65, 64, 52, 64), start=1):
        run.hear(unknown(midi, float(n), n))
    assert [str(answer.verdict) for answer in run.answers] == ["right", "fret-off", "octave"]
    assert all(answer.played is not None and answer.played.place_assumed for answer in run.answers)


def test_without_a_neck_an_unknown_place_is_wrong() -> None:
    run = Run(exercise("2:5"))
    run.start(0.0)
    run.hear(unknown(64))
    run.end(2.0)
    assert [str(answer.verdict) for answer in run.answers] == ["wrong"]


def test_each_place_once_by_pitch(neck: Neck) -> None:
    """The same pitch twice is taken for its two places."""
    places = (Place(2, 5), Place(1, 0))
    prompts = tuple(
        Prompt(n, (), Judged.PLACE, places, (64, 64), SpelledPitch("E", 0, 4), each_once=1) for n in (1, 2)
    )
    run = Run(Exercise("x", "X", "s", "t", (3, 5), Judged.PLACE, prompts), assume_on=neck)
    run.start(0.0)
    run.hear(unknown(64, 1.0, 1))
    run.hear(unknown(64, 2.0, 2))
    assert [str(answer.verdict) for answer in run.answers] == ["right", "right"]
