"""Simulated people: what a player of given skill would pluck or type, and when."""

from midifret.players.player import Action, Player, Pluck, TimedPluck, TypedName
from midifret.players.skill import NAMED_SKILLS, Skill, named_skill
from midifret.players.timing import OnClick, Parts, Timing

__all__ = [
    "NAMED_SKILLS",
    "Action",
    "OnClick",
    "Parts",
    "Player",
    "Pluck",
    "Skill",
    "TimedPluck",
    "Timing",
    "TypedName",
    "named_skill",
]
