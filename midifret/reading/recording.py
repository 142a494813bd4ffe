"""A reading judged from its recording, by the same runs as live."""

from collections.abc import Callable, Iterable, Sequence

from midifret.neck import Neck
from midifret.play import Run, TempoRun
from midifret.reading.alignment import Aligned
from midifret.reading.events import around
from midifret.reading.free_run import FreeReading, Intervals
from midifret.reading.tempo_run import TempoReading
from midifret.terms import Exercise, HeardEvent, Verdict
from midifret.terms.marks import CuePoint, DuePoint, Mark, MarkKind


def reading_run(
    exercise: Exercise,
    *,
    assume_on: Neck | None = None,
    heard_late_s: Callable[[int], float] | None = None,
    interval: Intervals | None = None,
) -> FreeReading | TempoReading:
    """Return the run of a reading: in its tempo, or free where it has none. Arguments as those runs take."""
    if exercise.tempo is not None:
        return TempoReading(exercise, assume_on=assume_on, heard_late_s=heard_late_s)
    return FreeReading(exercise, assume_on=assume_on, interval=interval)


def judge_reading(
    exercise: Exercise,
    heard: Iterable[tuple[float, HeardEvent]],
    *,
    cues: Sequence[CuePoint] = (),
    marks: Sequence[Mark] = (),
    dues: Sequence[DuePoint] = (),
    end_s: float,
    assume_on: Neck | None = None,
    heard_late_s: Callable[[int], float] | None = None,
    interval: Intervals | None = None,
) -> FreeReading | TempoReading:
    """Judge a recording against a reading; return the run at its end, with an answer for each prompt reached.

    heard: (seconds from the start, event), rising. It begins with the first cue point, or with the recording
    where there is none. What it does not reach has no answer: `events.reached` has the rule. dues: when notes
    were due; a reading in tempo needs them. Raises ValueError where they lack.
    """
    if exercise.tempo is not None and not dues:
        raise ValueError(f"nobody knows when the notes of {exercise.name} were due")
    run = reading_run(exercise, assume_on=assume_on, heard_late_s=heard_late_s, interval=interval)
    began_s = next((cue.time_s for cue in cues if cue.n == 1), 0.0)
    run.start(began_s)
    if isinstance(run, TempoReading):
        for n, due in enumerate(sorted(dues, key=lambda due: due.n), start=1):
            if due.n != n:
                break
            run.schedule(due)
    early_s = next((mark.time_s for mark in marks if mark.kind is MarkKind.ENDED_EARLY), None)
    stop_s = end_s if early_s is None else early_s
    paused_s: float | None = None
    for mark in marks:
        if mark.kind is MarkKind.PAUSE and paused_s is None:
            paused_s = mark.time_s
        elif mark.kind is MarkKind.RESUME and paused_s is not None:
            run.paused(paused_s, mark.time_s)
            paused_s = None
        elif mark.kind is MarkKind.SKIP:
            run.skip(mark.time_s)
    if paused_s is not None:
        run.paused(paused_s, stop_s)
    for time_s, event in heard:
        if began_s <= time_s and (early_s is None or time_s <= early_s):
            run.hear(event)
    run.end(stop_s, all_asked=early_s is None)
    return run


def verdicts_around(
    run: Run | TempoRun | FreeReading, *, whole: bool = False
) -> tuple[tuple[int, Verdict], ...]:
    """The verdicts so far in the bar under the cursor of a reading, the one before and the one after.

    Each with the number of its prompt; nothing for a run that is no reading. whole: of all the music.
    """
    if not isinstance(run, FreeReading | TempoReading):
        return ()
    asked = run.prompt.n if run.prompt is not None else run.answered
    looked_at = range(1, len(run.exercise.prompts) + 1) if whole else around(run.exercise, asked)
    found = ((n, run.verdict(n)) for n in looked_at)
    return tuple((n, verdict) for n, verdict in found if verdict is not None)


def beside_score(run: Run | TempoRun | FreeReading) -> tuple[Aligned, ...]:
    """Every note of a reading beside the score, in the order of onsets; nothing for any other run."""
    return run.alignment() if isinstance(run, FreeReading | TempoReading) else ()
