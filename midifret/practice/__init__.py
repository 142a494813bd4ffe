"""Practice: memory of each place, which place to ask next, the path and its gates, and a plan for today."""

from midifret.practice.choose import Choice, ChoiceRules, Chooser, Why
from midifret.practice.kept import memory_document, memory_of
from midifret.practice.kept_plan import plan_document, plan_of
from midifret.practice.kinds import Asked, RecallKind, Remembered, kind_of, remembered
from midifret.practice.load import DayMinutes, Load, load_today
from midifret.practice.lost import Lost, lost_since
from midifret.practice.memory import Forecast, KeptMemory, Memory, remember
from midifret.practice.path import (
    Assignment,
    MethodPath,
    PlacementAnswer,
    Stage,
    StageDay,
    StageGate,
    Standing,
    Strand,
    Task,
    gate_met,
    placement_stage,
    standing,
    still_chosen,
)
from midifret.practice.plan import Block, BlockKind, DayPlan, PlanInput, chooser_for, plan_day
from midifret.practice.rules import MemoryRules
from midifret.practice.shown import DayAnswer, DayReading, DayTempo, shown_of
from midifret.practice.taken_in import RunAnswers, in_order, on_top, run_answers, take_in

__all__ = [
    "Asked",
    "Assignment",
    "Block",
    "BlockKind",
    "Choice",
    "ChoiceRules",
    "Chooser",
    "DayAnswer",
    "DayMinutes",
    "DayPlan",
    "DayReading",
    "DayTempo",
    "Forecast",
    "KeptMemory",
    "Load",
    "Lost",
    "Memory",
    "MemoryRules",
    "MethodPath",
    "PlacementAnswer",
    "PlanInput",
    "RecallKind",
    "Remembered",
    "RunAnswers",
    "Stage",
    "StageDay",
    "StageGate",
    "Standing",
    "Strand",
    "Task",
    "Why",
    "chooser_for",
    "gate_met",
    "in_order",
    "kind_of",
    "load_today",
    "lost_since",
    "memory_document",
    "memory_of",
    "on_top",
    "placement_stage",
    "plan_day",
    "plan_document",
    "plan_of",
    "remember",
    "remembered",
    "run_answers",
    "shown_of",
    "standing",
    "still_chosen",
    "take_in",
]
