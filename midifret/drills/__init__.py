"""Drills: the file that a teacher writes, and the exercise that it becomes on a neck."""

from midifret.drills.build import build
from midifret.drills.drill import Drill

__all__ = ["Drill", "build"]
