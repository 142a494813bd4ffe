"""Which run an exercise is played by."""

import math

from midifret.play import AskedRun, Run, TempoRun
from midifret.reading.free_run import FreeReading
from midifret.reading.recording import reading_run
from midifret.session.around import Setting

# Nothing heard and no key for this long: the player has put the guitar down. More than the slowest place
# worked out fret by fret takes; what follows would count as practice and spoil the times [ours].
IDLE_S = 60.0
# Where prompts have a limit and go on being asked, each adds a miss: two at most, then it waits [ours].
ASKED_IDLE_S = 30.0


def run_of(setting: Setting, *, shown_later: bool = False) -> Run | TempoRun | FreeReading:
    """Return the run of a setting: a reading's for music, one in tempo or one that waits for a drill.

    Where the setting chooses as the run goes, that run asks it.

    shown_later: as in Run.
    """
    assume_on, times, exercise = setting.guitar.assumed_neck, setting.times, setting.exercise
    if setting.ask is not None:
        return AskedRun(
            exercise, setting.ask, shown_later=shown_later, assume_on=assume_on, timed=times.timed
        )
    if exercise.score is not None:
        return reading_run(
            exercise, assume_on=assume_on, heard_late_s=times.heard_late_s, interval=times.interval
        )
    if exercise.tempo is not None:
        return TempoRun(exercise, assume_on=assume_on, heard_late_s=times.heard_late_s)
    return Run(exercise, shown_later=shown_later, assume_on=assume_on, timed=times.timed)


def idle_after_s(run: Run | TempoRun | FreeReading) -> float:
    """After how long without a note or a key a run waits; infinite where prompts end of themselves."""
    if isinstance(run, AskedRun):
        return ASKED_IDLE_S
    return IDLE_S if run.exercise.tempo is None and run.exercise.time_limit_s is None else math.inf
