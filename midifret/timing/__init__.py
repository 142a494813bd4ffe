"""Timing: latency, reaction and recall time, each with its uncertainty, and how well a place is known."""

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
from midifret.timing.states import (
    CuedAnswer,
    PlaceState,
    State,
    StateThresholds,
    place_states,
    state_of,
)

__all__ = [
    "GOOD_FOR",
    "CuedAnswer",
    "LatencyRules",
    "PlaceState",
    "Pluck",
    "Reacted",
    "ReactionRules",
    "RecallFigure",
    "State",
    "StateThresholds",
    "caveats_of",
    "fit_latency",
    "fit_reaction",
    "note_interval",
    "place_states",
    "recall",
    "recall_figure",
    "state_of",
    "travel_to",
]
