"""Tempo: the one a player owns, a ladder of tempos, beats and how notes lie on them, MIDI clock."""

from midifret.tempo.beats import BeatHit, Beats, Click, ClickKind, Window, subdivisions_for
from midifret.tempo.ladder import Ladder, LadderEnd, LadderRules, start_ladder
from midifret.tempo.lateness import Figure, Lateness, LateNote, lateness
from midifret.tempo.limits import LEAST_BETWEEN_S, LEAST_BPM, MOST_BPM, STEADY_SHARE, check_tempo
from midifret.tempo.midi_clock import ClockFollower, ClockReading, ClockState, Stretch, clock_messages
from midifret.tempo.owned import Curve, Doubt, OwnedTempo, PassResult, Search, Staircase, owned_tempo

__all__ = [
    "LEAST_BETWEEN_S",
    "LEAST_BPM",
    "MOST_BPM",
    "STEADY_SHARE",
    "BeatHit",
    "Beats",
    "Click",
    "ClickKind",
    "ClockFollower",
    "ClockReading",
    "ClockState",
    "Curve",
    "Doubt",
    "Figure",
    "Ladder",
    "LadderEnd",
    "LadderRules",
    "LateNote",
    "Lateness",
    "OwnedTempo",
    "PassResult",
    "Search",
    "Staircase",
    "Stretch",
    "Window",
    "check_tempo",
    "clock_messages",
    "lateness",
    "owned_tempo",
    "start_ladder",
    "subdivisions_for",
]
