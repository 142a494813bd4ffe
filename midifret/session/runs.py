"""Which run an exercise is played by."""

from midifret.play import Run, TempoRun
from midifret.reading.free_run import FreeReading
from midifret.reading.recording import reading_run
from midifret.session.around import Setting


def run_of(setting: Setting, *, shown_later: bool = False) -> Run | TempoRun | FreeReading:
    """Return the run of a setting: a reading's for music, one in tempo or one that waits for a drill.

    shown_later: as in Run.
    """
    assume_on, times, exercise = setting.guitar.assumed_neck, setting.times, setting.exercise
    if exercise.score is not None:
        return reading_run(
            exercise, assume_on=assume_on, heard_late_s=times.heard_late_s, interval=times.interval
        )
    if exercise.tempo is not None:
        return TempoRun(exercise, assume_on=assume_on, heard_late_s=times.heard_late_s)
    return Run(exercise, shown_later=shown_later, assume_on=assume_on, timed=times.timed)
