"""A run's figures for people and programs: the contract's keys, JSON that can be written, honest words."""

import dataclasses
import json

from midifret.session.screen import Screen
from midifret.show.rows import plain
from midifret.show.run_figures import answer_document, figure_rows, run_document, summary_document
from midifret.terms import Answer, Attack, CueKind, Glitch, Judged, Note, Place, Prompt, SpelledPitch, Verdict
from midifret.terms.figures import GateResult, Summary

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
        "skipped": False,
        "held_sounding": None,
    }


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
    fields = {field.name for field in dataclasses.fields(Summary)} - {"gate"} | {
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
