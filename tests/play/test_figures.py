"""Figures of a run, against numpy where there is arithmetic in them."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.play import judge_gate, summarise
from midifret.terms import (
    Answer,
    CueKind,
    Exercise,
    Gate,
    Judged,
    Place,
    Prompt,
    SpelledPitch,
    Verdict,
)


def answer(
    n: int, place: str, verdict: Verdict, response_s: float | None, semitones: int | None = None
) -> Answer:
    where = Place.parse(place)
    pitch = SpelledPitch("F", 1, 3) if where.fret == 4 else SpelledPitch("A", 0, 3)
    prompt = Prompt(
        n, (CueKind.NAME,), Judged.PLACE, (where,), (pitch.midi,), pitch, interval_semitones=semitones
    )
    return Answer(prompt, verdict, 0.0, response_s, response_s)


def exercise(prompts: int, gate: Gate | None = None) -> Exercise:
    prompt = answer(1, "4:4", Verdict.RIGHT, 1.0).prompt
    return Exercise(
        "x",
        "X",
        "s",
        "t",
        (3, 5),
        Judged.PLACE,
        tuple(replace(prompt, n=n + 1) for n in range(prompts)),
        gate=gate,
    )


ANSWERS = [
    answer(1, "4:4", Verdict.RIGHT, 1.0),
    answer(2, "5:5", Verdict.FRET_OFF, 2.0, 3),
    answer(3, "4:4", Verdict.RIGHT, 3.0, -3),
    answer(4, "5:5", Verdict.RIGHT, 0.5, 3),
    answer(5, "3:5", Verdict.MISSED, None, 12),
]


def test_shares_by_everything() -> None:
    summary = summarise(exercise(5), ANSWERS)
    assert (summary.prompts, summary.right, summary.accuracy) == (5, 3, 0.6)
    assert summary.median_response_s == 1.0  # of 0.5, 1.0, 3.0
    assert [(s.label, s.answers, s.right) for s in summary.by_string] == [
        ("3", 1, 0),
        ("4", 2, 2),
        ("5", 2, 1),
    ]
    assert [(s.label, s.answers, s.right) for s in summary.by_fret] == [("4", 2, 2), ("5", 3, 1)]
    assert [s.spread_response_s for s in summary.by_string] == [None, 1.0, None]  # of 1 and 3 s
    assert [(s.label, s.answers) for s in summary.by_name] == [("F#", 2), ("A", 3)]
    assert [(s.label, s.answers) for s in summary.by_interval] == [
        ("down a minor third", 1),
        ("up a minor third", 2),
        ("up an octave", 1),
    ]
    assert summary.by_verdict == ((Verdict.RIGHT, 3), (Verdict.FRET_OFF, 1), (Verdict.MISSED, 1))
    assert str(summary.slowest[0].place) == "4:4"
    assert [str(figure.place) for figure in summary.least_sure] == ["3:5", "5:5"]


@given(st.lists(st.floats(0.01, 60), min_size=2, max_size=40))
def test_median_and_spread_agree_with_numpy(times_s: list[float]) -> None:
    answers = [answer(n, "4:4", Verdict.RIGHT, t) for n, t in enumerate(times_s, start=1)]
    summary = summarise(exercise(len(answers)), answers)
    assert summary.median_response_s == pytest.approx(np.median(times_s))
    q1, q3 = np.percentile(times_s, [25, 75])
    assert summary.spread_response_s == pytest.approx(q3 - q1, abs=1e-9)


def test_no_answers_give_no_figures() -> None:
    summary = summarise(exercise(5, Gate(right=0.9)), [])
    assert (summary.prompts, summary.median_response_s, summary.spread_response_s) == (0, None, None)
    assert summary.gate is not None
    assert not summary.gate.met


@pytest.mark.parametrize(
    ("gate", "before", "met"),
    [
        (Gate(right=0.6), 0, True),
        (Gate(right=0.61), 0, False),
        (Gate(right=0.6, median_response_s=1.0), 0, True),
        (Gate(right=0.6, median_response_s=0.99), 0, False),
        (Gate(right=0.6, runs_in_a_row=2), 0, False),
        (Gate(right=0.6, runs_in_a_row=2), 1, True),
    ],
)
def test_gate(gate: Gate, before: int, met: bool) -> None:
    result = judge_gate(exercise(5, gate), ANSWERS, passed_before=before)
    assert result.met is met
    assert any("not yet" in reason for reason in result.reasons) is not met


def test_a_run_ended_early_never_meets_its_gate() -> None:
    result = judge_gate(exercise(6, Gate(right=0.1)), ANSWERS)
    assert not result.met
    assert "5 of 6 prompts" in result.reasons[0]
