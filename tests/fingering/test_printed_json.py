"""Scores in JSON: what is read, and every fault by the path of its keys."""

import json
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from midifret.fingering import MOST_NOTES
from midifret.fingering.printed_json import score_from_json
from midifret.terms import BadInput
from midifret.terms.score import Barre, PositionMark, Printed

NOTE = {"onset": 0.0, "duration": 1.0, "pitch": 64}


def read(**raw: object):
    return score_from_json(json.dumps(raw), "s.json")


def faults(**raw: object) -> list[tuple[str, str]]:
    with pytest.raises(BadInput) as caught:
        read(**raw)
    return [(problem.key, problem.allowed) for problem in caught.value.problems]


def test_notes_are_read_in_the_order_of_the_score() -> None:
    found = read(
        piece="Air",
        composer="Anon.",
        tuning=[64, 59, 55, 50, 45, 38],
        notes=[
            {"onset": 14.666666666666666, "duration": 0.3333333333333333, "pitch": 60, "voice": "low"},
            {"onset": 0.0, "duration": 2.0, "pitch": 67, "voice": "high", "finger": 4, "string": 2},
            {"onset": 0.0, "duration": 1.0, "pitch": 38, "voice": "low", "finger": 0, "harmonic": True},
        ],
    )
    assert [note.n for note in found.notes] == [1, 2, 3]
    assert [note.midi for note in found.notes] == [38, 67, 60]
    assert found.notes[2].onset_quarter == Fraction(44, 3)
    assert found.notes[2].duration_quarter == Fraction(1, 3)
    assert found.notes[1].printed == Printed(finger=4, string=2)
    assert found.notes[0].harmonic
    assert found.notes[0].voice == found.notes[2].voice != found.notes[1].voice
    assert (found.title, found.composer, found.source) == ("Air", "Anon.", "s.json")
    assert found.tuning_midis == (64, 59, 55, 50, 45, 38)


def test_marks_are_read_and_other_kinds_passed_over() -> None:
    found = read(
        notes=[NOTE],
        marks=[
            {"onset": 4.0, "end": 5.5, "position": 2, "kind": "barre", "text": "CII"},
            {"onset": 0.0, "position": 5, "kind": "position"},
            {"onset": 1.0, "kind": "string", "text": "(2)"},
        ],
    )
    assert found.positions == (
        PositionMark(Fraction(0), 5),
        PositionMark(Fraction(4), 2, Barre.FULL, Fraction(11, 2)),
    )


@pytest.mark.parametrize(
    ("note", "key"),
    [
        ({"onset": -1}, "notes[1].onset"),
        ({"onset": "0"}, "notes[1].onset"),
        ({"onset": True}, "notes[1].onset"),
        ({"onset": 1e300}, "notes[1].onset"),
        ({"duration": None}, "notes[1].duration"),
        ({"duration": -0.5}, "notes[1].duration"),
        ({"pitch": 128}, "notes[1].pitch"),
        ({"pitch": 60.5}, "notes[1].pitch"),
        ({"pitch": -1}, "notes[1].pitch"),
        ({"finger": 5}, "notes[1].finger"),
        ({"string": 0}, "notes[1].string"),
        ({"string": 7}, "notes[1].string"),
    ],
)
def test_a_faulty_note_is_told_by_its_keys(note: dict[str, object], key: str) -> None:
    found = faults(tuning=[64, 59, 55, 50, 45, 40], notes=[NOTE | note])
    assert [where for where, _ in found] == [key]
    assert found[0][1]


@pytest.mark.parametrize(
    ("raw", "key"),
    [
        ({"tuning": [64, 59]}, "tuning"),
        ({"tuning": "EADGBE"}, "tuning"),
        ({"tuning": [64, 59, 200]}, "tuning[3]"),
        ({"capo": 40}, "capo"),
        ({"marks": 3}, "marks"),
        ({"marks": [1]}, "marks[1]"),
        ({"marks": [{"onset": 0, "position": 0}]}, "marks[1].position"),
        ({"marks": [{"onset": None, "position": 1}]}, "marks[1].onset"),
    ],
)
def test_other_faults_are_told_by_their_keys(raw: dict[str, object], key: str) -> None:
    assert [where for where, _ in faults(notes=[NOTE], **raw)] == [key]


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "3", '{"notes": 1}', '{"notes": [NaN]}', "[" * 100_000, "\ud800", "1" * 5000]
)
def test_what_is_no_score_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match=r"s\.json"):
        score_from_json(text.encode("utf-8", "surrogatepass"), "s.json")


def test_broken_json_is_told_with_line_and_column() -> None:
    with pytest.raises(BadInput) as caught:
        score_from_json('{"notes": [\n {"onset": }]}', "s.json")
    assert (caught.value.problems[0].line, caught.value.problems[0].column) == (2, 12)


def test_too_many_notes_are_refused_before_they_are_read() -> None:
    with pytest.raises(BadInput, match="100000 notes are too many"):
        read(notes=[NOTE] * 100_000)
    assert MOST_NOTES < 100_000


def test_many_faults_are_told_in_part() -> None:
    with pytest.raises(BadInput, match="30 more"):
        read(notes=[NOTE | {"pitch": 999}] * 50)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-200, 200) | st.floats() | st.text(max_size=4),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(
                ("onset", "duration", "pitch", "finger", "string", "notes", "marks", "tuning", "x")
            ),
            inner,
            max_size=6,
        )
    ),
    max_leaves=20,
)


@given(JSON)
@settings(max_examples=300, deadline=None)
def test_anything_is_read_or_refused_and_nothing_else(raw: object) -> None:
    for text in (json.dumps(raw), json.dumps({"notes": [raw], "marks": [raw], "tuning": raw})):
        try:
            found = score_from_json(text, "s.json")
        except BadInput:
            pass
        else:
            assert all(0 <= note.midi <= 127 for note in found.notes)
