"""Runs and verdicts: a pure state machine over an exercise, and the figures of its answers."""

from midifret.play.asked_run import Ask, AskedRun
from midifret.play.figures import judge_gate, summarise
from midifret.play.outputs import Closed, Cued, Ended, Judgement, Output, Stray, StrayReason, Withdrawn
from midifret.play.recording import judge_recording
from midifret.play.run import Phase, Run
from midifret.play.tempo_run import TempoRun
from midifret.play.verdicts import judge_name, judge_note

__all__ = [
    "Ask",
    "AskedRun",
    "Closed",
    "Cued",
    "Ended",
    "Judgement",
    "Output",
    "Phase",
    "Run",
    "Stray",
    "StrayReason",
    "TempoRun",
    "Withdrawn",
    "judge_gate",
    "judge_name",
    "judge_note",
    "judge_recording",
    "summarise",
]
