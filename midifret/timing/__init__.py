"""Timing: latency, reaction and recall time, each with its uncertainty, and how well a place is known."""

from midifret.timing.answers import AnswerTimes
from midifret.timing.calibrating import Calibrated, calibrate
from midifret.timing.latency import LatencyRules, Pluck, fit_latency
from midifret.timing.reaction import Reacted, ReactionRules, fit_reaction
from midifret.timing.recall import (
    GOOD_FOR,
    RecallFigure,
    caveats_of,
    note_interval,
    recall,
    recall_figure,
    travel_to,
)
from midifret.timing.rules import TimingRules
from midifret.timing.spread import Bin, Quantile, QuickShare, Spread, spread_of
from midifret.timing.states import (
    CuedAnswer,
    PlaceState,
    State,
    StateThresholds,
    newest,
    place_states,
    state_of,
)
from midifret.timing.travel import Travels, fit_travels
from midifret.timing.trend import Trend, TrendPoint, TrendRules, fit_trend

__all__ = [
    "GOOD_FOR",
    "AnswerTimes",
    "Bin",
    "Calibrated",
    "CuedAnswer",
    "LatencyRules",
    "PlaceState",
    "Pluck",
    "Quantile",
    "QuickShare",
    "Reacted",
    "ReactionRules",
    "RecallFigure",
    "Spread",
    "State",
    "StateThresholds",
    "TimingRules",
    "Travels",
    "Trend",
    "TrendPoint",
    "TrendRules",
    "calibrate",
    "caveats_of",
    "fit_latency",
    "fit_reaction",
    "fit_travels",
    "fit_trend",
    "newest",
    "note_interval",
    "place_states",
    "recall",
    "recall_figure",
    "spread_of",
    "state_of",
    "travel_to",
]
