"""Verdicts: the first that fits, in the order of the table."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.neck import Neck, Tuning
from midifret.play import judge_name, judge_note
from midifret.terms import CueKind, Judged, Note, Place, Prompt, SpelledPitch, Verdict

NECK = Neck(Tuning("standard", "Standard", (64, 59, 55, 50, 45, 40)))


def prompt_for(*places: str, each_once: int | None = None) -> Prompt:
    asked = tuple(Place.parse(text) for text in places)
    midis = tuple(NECK.midi(place) for place in asked)
    pitch = SpelledPitch("C", 0, 4)
    return Prompt(1, (CueKind.NAME,), Judged.PLACE, asked, midis, pitch, each_once=each_once)


def note_at(text: str) -> Note:
    place = Place.parse(text)
    return Note(1, 0.0, place.string, place.fret, NECK.midi(place), 80, place.string - 1)


# Worked out on the 6x13 table of facts.md (strings 64 59 55 50 45 40): asked, played, verdict.
TABLE = [
    ("5:5", "5:5", Verdict.RIGHT),  # D3
    ("5:5", "4:0", Verdict.ELSEWHERE),  # D3 on the open fourth
    ("5:5", "6:10", Verdict.ELSEWHERE),  # D3 on the sixth
    ("5:5", "2:3", Verdict.OCTAVE),  # D4
    ("5:5", "1:10", Verdict.OCTAVE),  # D5, two octaves off
    ("5:5", "5:4", Verdict.FRET_OFF),
    ("5:5", "5:6", Verdict.FRET_OFF),
    ("5:5", "4:5", Verdict.STRING_OFF),
    ("5:5", "6:5", Verdict.STRING_OFF),
    ("5:5", "3:5", Verdict.WRONG),  # two strings off
    ("5:5", "5:7", Verdict.WRONG),  # two frets off
    ("6:5", "1:5", Verdict.OCTAVE),  # A2 and A4, before string-off can be asked
    ("6:0", "1:0", Verdict.OCTAVE),
    ("3:4", "2:0", Verdict.ELSEWHERE),  # B3
    ("2:5", "2:4", Verdict.FRET_OFF),
    ("6:12", "5:12", Verdict.STRING_OFF),
]


@pytest.mark.parametrize(("asked", "played", "verdict"), TABLE)
def test_table(asked: str, played: str, verdict: Verdict) -> None:
    assert judge_note(prompt_for(asked), note_at(played)) is verdict


def test_any_of_several_places_is_right() -> None:
    prompt = prompt_for("1:0", "2:5", "3:9")
    assert all(judge_note(prompt, note_at(text)) is Verdict.RIGHT for text in ("1:0", "2:5", "3:9"))
    assert judge_note(prompt, note_at("4:14")) is Verdict.ELSEWHERE


def test_a_place_used_before_is_wrong_and_the_others_still_hold() -> None:
    prompt = prompt_for("1:0", "2:5", each_once=1)
    used = frozenset({Place(1, 0)})
    assert judge_note(prompt, note_at("1:0"), used) is Verdict.WRONG
    assert judge_note(prompt, note_at("2:5"), used) is Verdict.RIGHT


def test_a_note_whose_place_is_not_known_is_wrong() -> None:
    unknown = Note(1, 0.0, None, None, 50, 80, 15)
    assert judge_note(prompt_for("5:5"), unknown) is Verdict.WRONG


def test_every_spelling_of_a_name_is_right() -> None:
    prompt = prompt_for("6:2")  # F#2
    assert judge_name(prompt, 6) is Verdict.RIGHT
    assert judge_name(prompt, 5) is Verdict.WRONG


_places = st.builds(Place, st.integers(1, 6), st.integers(0, 19))


@given(_places, _places)
def test_verdicts_keep_their_meaning(asked: Place, played: Place) -> None:
    verdict = judge_note(prompt_for(str(asked)), note_at(str(played)))
    distance = abs(NECK.midi(asked) - NECK.midi(played))
    assert (verdict is Verdict.RIGHT) == (asked == played)
    if verdict is Verdict.ELSEWHERE:
        assert distance == 0
    if verdict is Verdict.OCTAVE:
        assert distance % 12 == 0
        assert distance > 0
    if verdict is Verdict.FRET_OFF:
        assert distance == 1
    if verdict in (Verdict.STRING_OFF, Verdict.WRONG):
        assert distance % 12 != 0
