"""Time: the clock of a run, a simulated one, gaps in time, and the dating of messages."""

from midifret.clock.clock import Clock, RealClock, SimulatedClock
from midifret.clock.dating import DatingFigures, MessageDater, Steps
from midifret.clock.jumps import Jump, JumpKind, JumpWatch, Readings

__all__ = [
    "Clock",
    "DatingFigures",
    "Jump",
    "JumpKind",
    "JumpWatch",
    "MessageDater",
    "Readings",
    "RealClock",
    "SimulatedClock",
    "Steps",
]
