"""Simulated people: what a player of given skill would pluck or type, and when."""

from midifret.players.player import Action, Player, Pluck, TypedName
from midifret.players.skill import NAMED_SKILLS, Skill, named_skill

__all__ = ["NAMED_SKILLS", "Action", "Player", "Pluck", "Skill", "TypedName", "named_skill"]
