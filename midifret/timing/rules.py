"""All numbers that measured times are judged by, in one value."""

import datetime as dt
from dataclasses import dataclass, field

from midifret.timing.latency import LatencyRules
from midifret.timing.reaction import ReactionRules
from midifret.timing.recall import GOOD_FOR, LEAST_TRAVELS
from midifret.timing.states import StateThresholds
from midifret.timing.trend import TrendRules


@dataclass(frozen=True, slots=True)
class TimingRules:
    """What plucks, reactions, recall times and states have to fulfil.

    good_for: how old a calibration may be. least_travels: plucks at one shown place before its travel is
    taken off.
    """

    latency: LatencyRules = field(default_factory=LatencyRules)
    reaction: ReactionRules = field(default_factory=ReactionRules)
    states: StateThresholds = field(default_factory=StateThresholds)
    trend: TrendRules = field(default_factory=TrendRules)
    good_for: dt.timedelta = GOOD_FOR
    least_travels: int = LEAST_TRAVELS
