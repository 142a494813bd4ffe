"""Time: the clock of a run, a simulated one, and the dating of messages."""

from midifret.clock.clock import Clock, RealClock, SimulatedClock
from midifret.clock.dating import MessageDater

__all__ = ["Clock", "MessageDater", "RealClock", "SimulatedClock"]
