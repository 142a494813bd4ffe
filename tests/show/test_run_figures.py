"""A run's figures for people and programs: the contract's keys, JSON that can be written, honest words."""

import dataclasses
import json

from midifret.session.screen import Screen
from midifret.show.frame import summary_rows
from midifret.show.line_view import changes
from midifret.show.rows import plain, width_of
from midifret.show.run_figures import (
    answer_document,
    figure_rows,
    per_100_notes,
    run_document,
    summary_document,
    tempo_document,
    tempo_rows,
    too_many_glitches,
    voided_rows,
)
from midifret.terms import Answer, Attack, CueKind, Glitch, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.calibration import Caveat, NoteInterval, Recall
from midifret.terms.figures import GateResult, Summary
from midifret.terms.in_tempo import LateFigure, TempoFigures

PROMPT = Prompt(
    1, (CueKind.NAME,), Judged.PLACE, (Place(4, 4), Place(5, 9)), (54, 54), SpelledPitch("G", -1, 3)
)
PLAYED = Note(7, 2.51234567, 4, 5, 55, 90, 3, Attack.PLUCKED, 3.25)
OFF_THE_NECK = Note(8, 3.0, None, None, 99, 90, 11)
ANSWER = Answer(
    PROMPT, Verdict.FRET_OFF, 1.5, 2.51234567, 1.01234567, played=PLAYED, corrections=(OFF_THE_NECK,)
)


def test_an_answer_as_the_contract_has_it() -> None:
    assert answer_document(ANSWER) == {
        "n": 1,
        "cue_s": 1.5,
        "answer_s": 2.5123,
        "verdict": "fret-off",
        "asked": {
            "places": [{"string": 4, "fret": 4}, {"string": 5, "fret": 9}],
            "midi": 54,
            "name": "Gb3",
        },
        "played": {
            "string": 4,
            "fret": 5,
            "place_assumed": False,
            "midi": 55,
            "name": "G3",
            "onset_s": 2.5123,
            "velocity": 90,
            "channel": 4,
            "attack": "plucked",
            "cents": 3.2,
        },
        "typed": "",
        "corrections": [
            {
                "string": None,
                "fret": None,
                "place_assumed": False,
                "midi": 99,
                "name": "D#7",
                "onset_s": 3.0,
                "velocity": 90,
                "channel": 12,
                "attack": "plucked",
                "cents": 0.0,
            }
        ],
        "response_s": 1.0123,
        "recall_s": None,
        "recall_error_s": None,
        "recall_flags": [],
        "interval_s": None,
        "interval_error_s": None,
        "interval_flags": [],
        "due_s": None,
        "late_ms": None,
        "skipped": False,
        "held_sounding": None,
    }


def test_the_times_of_an_answer_and_what_they_leave_out() -> None:
    recall = Recall(0.71234, 0.03, 0.04, frozenset({Caveat.STALE, Caveat.WITH_TRAVEL}))
    document = answer_document(dataclasses.replace(ANSWER, recall=recall))
    assert document["recall_s"] == 0.7123
    assert document["recall_error_s"] == 0.05  # of 3 and 4
    assert document["recall_flags"] == ["includes travel", "stale"]
    interval = NoteInterval(0.5, None, frozenset({Caveat.WITH_LATENCY}))
    document = answer_document(dataclasses.replace(ANSWER, interval=interval, due_s=2.5, late_ms=-12.34567))
    assert document["interval_flags"] == ["with latency"]
    assert (document["interval_s"], document["due_s"], document["late_ms"]) == (0.5, 2.5, -12.3457)


def test_a_run_in_tempo_in_words_and_as_a_document() -> None:
    figures = TempoFigures(
        96.0,
        11,
        LateFigure(-14.2, -20.0, -8.4),
        LateFigure(9.6, 7.0, 16.0),
        LateFigure(30.0, 5.0, 55.0),
        early=0,
        late=1,
        latency_known=False,
    )
    lines = [plain(line) for line in tempo_rows(figures)]
    assert lines == [
        "At 96 bpm, 11 notes right and in time.",
        "Outside the window: 0 too early, 1 too late.",
        "On average 14 ms early, 95% from -20 to -8 ms (with what guitar and click need).",
        "Spread around that 10 ms, 95% from 7 to 16 ms.",
        "Drifts behind by 30 ms a minute, 95% from 5 to 55 ms.",
    ]
    ahead = dataclasses.replace(figures, drift_ms_per_minute=LateFigure(-269.0, -461.0, -76.0))
    assert plain(tempo_rows(ahead)[-1]) == "Drifts ahead by 269 ms a minute, 95% from 76 to 461 ms."
    document = tempo_document(figures)
    assert document["mean_ms"] == {"value": -14.2, "low": -20.0, "high": -8.4}
    assert document["flags"] == ["with latency"]


def test_a_missed_prompt_has_nulls() -> None:
    document = answer_document(Answer(PROMPT, Verdict.MISSED, 1.5, skipped=True))
    assert document["played"] is None
    assert document["answer_s"] is None
    assert document["response_s"] is None
    assert document["skipped"] is True


def test_the_run_document_has_the_contract_keys(screens: dict[str, Screen]) -> None:
    screen = screens["ended"]
    assert screen.summary is not None
    document = json.loads(
        json.dumps(
            run_document(screen.exercise, [ANSWER], screen.summary, {Glitch.LIFT_OFF: 2}), allow_nan=False
        )
    )
    assert list(document) == ["drill", "answers", "summary", "voided"]
    assert document["voided"] == {"lift-off": 2}
    assert document["drill"] == "open/naturals"
    summary = document["summary"]
    assert {"prompts", "right", "accuracy", "median_response_s", "median_recall_s", "gate_met"} <= set(
        summary
    )
    assert (summary["prompts"], summary["right"], summary["accuracy"]) == (17, 14, 0.8235)  # 14 / 17
    assert summary["gate_met"] is False
    assert summary["by_verdict"] == {"right": 14, "fret-off": 2, "wrong": 1}
    assert summary["slowest"][0] == {
        "string": 4,
        "fret": 2,
        "answers": 3,
        "right": 3,
        "accuracy": 1.0,
        "median_response_s": 2.1,
    }


def test_every_field_of_a_summary_is_in_its_document(screens: dict[str, Screen]) -> None:
    summary = screens["ended"].summary
    assert summary is not None
    fields = {field.name for field in dataclasses.fields(Summary)} - {
        "gate",
        "recall_caveats",
        "in_tempo",
    } | {
        "recall_flags",
        "tempo",
        "accuracy",
        "gate_met",
        "gate_reasons",
    }
    assert set(summary_document(summary)) == fields


def test_without_gate_it_is_null(screens: dict[str, Screen]) -> None:
    summary = screens["ended"].summary
    assert summary is not None
    document = summary_document(dataclasses.replace(summary, gate=None))
    assert document["gate_met"] is None
    assert document["gate_reasons"] == []


def test_figures_in_words(screens: dict[str, Screen]) -> None:
    summary = screens["ended"].summary
    assert summary is not None
    lines = [plain(line) for line in figure_rows(summary)]
    assert lines[0] == "14 of 17 right at the first try (82%)."
    assert "✗ Gate not met yet." in lines
    met = dataclasses.replace(summary, gate=GateResult(True, True, ("right 100% of 90% asked: met",)))
    assert "✓ Gate met." in [plain(line) for line in figure_rows(met)]


def test_an_empty_run_says_so(screens: dict[str, Screen]) -> None:
    summary = screens["ended"].summary
    assert summary is not None
    empty = dataclasses.replace(summary, prompts=0, right=0)
    assert [plain(line) for line in figure_rows(empty)] == ["No prompt was answered."]


def test_an_assumed_place_says_so() -> None:
    likely = dataclasses.replace(ANSWER, played=PLAYED._replace(place_assumed=True))
    assert answer_document(likely)["played"]["place_assumed"] is True


def test_glitches_of_a_run_in_words() -> None:
    assert voided_rows({}, 20) == ()
    assert voided_rows({Glitch.LIFT_OFF: 0}, 20) == ()
    told = [plain(line) for line in voided_rows({Glitch.LIFT_OFF: 1}, 20)]
    assert told == [
        "Left out, taken for the converter's doing: 1 note, 5.0 for every 100 played",
        "  (lift-off 1).",
    ]
    unknown = " ".join(plain(line) for line in voided_rows({Glitch.LIFT_OFF: 40}, 0))
    assert unknown == "Left out, taken for the converter's doing: 40 notes (lift-off 40)."
    every = voided_rows(dict.fromkeys(Glitch, 1234), 20)
    assert max(width_of(line) for line in every) <= 76
    assert "midifret setup" in plain(every[-1])
    for glitch in Glitch:  # no name is broken over two rows
        assert any(f"{glitch.value} 1,234" in plain(line) for line in every)


def test_many_glitches_are_a_quarter_of_the_notes_and_ten() -> None:
    # The two limits are ours; see run_figures.py.
    assert not too_many_glitches({Glitch.CROSSTALK: 9}, 10)
    assert too_many_glitches({Glitch.CROSSTALK: 10}, 10)
    assert not too_many_glitches({Glitch.CROSSTALK: 10, Glitch.LIFT_OFF: 15}, 100)
    assert too_many_glitches({Glitch.CROSSTALK: 10, Glitch.LIFT_OFF: 16}, 100)
    assert not too_many_glitches({Glitch.PASSED: 100}, 100)
    assert not too_many_glitches({Glitch.CROSSTALK: 100}, 0)


def test_shares_in_figures() -> None:
    assert [per_100_notes(n, 1000) for n in (1, 5, 42, 123, 2000)] == ["0.1", "0.5", "4.2", "12", "200"]
    assert per_100_notes(1, 10_000) == "under 0.1"


def test_the_end_screen_and_the_plain_lines_tell_them(screens: dict[str, Screen]) -> None:
    ended = screens["ended"]
    clean = [plain(line) for line in summary_rows(ended)]
    assert not any("Left out" in line for line in clean)
    told = dataclasses.replace(ended, notes=20, voided=((Glitch.DOUBLE_TRIGGER, 2),))
    shown = [plain(line) for line in summary_rows(told)]
    assert shown[: len(clean)] == clean
    assert "double trigger 2" in " ".join(shown)
    assert "double trigger 2" in " ".join(changes(None, told))
