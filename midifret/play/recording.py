"""The same run from a recording: its notes, cue points and marks put in order and judged."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from midifret.neck import Neck, parse_name
from midifret.play.outputs import Output
from midifret.play.run import Run, Timed
from midifret.play.tempo_run import TempoRun
from midifret.terms import Answer, Exercise, HeardEvent, Note, SpelledPitch
from midifret.terms.marks import CuePoint, DuePoint, Mark, MarkKind, TypedName

_Item = CuePoint | Mark | TypedName | HeardEvent
# At one instant: what a note answers was cued before it; what it opens is cued after it.
_ORDER = {Mark: 1, TypedName: 2, CuePoint: 3}


def judge_recording(
    exercise: Exercise,
    heard: Iterable[tuple[float, HeardEvent]],
    *,
    cues: Sequence[CuePoint] = (),
    marks: Sequence[Mark] = (),
    typed: Sequence[TypedName] = (),
    dues: Sequence[DuePoint] = (),
    end_s: float,
    assume_on: Neck | None = None,
    timed: Timed | None = None,
    heard_late_s: Callable[[int], float] | None = None,
) -> tuple[Answer, ...]:
    """Judge a recording against an exercise and return one answer for each prompt.

    heard: (seconds from the start, event), rising. Without cue points the first prompt is cued at the
    start, each other one by the right answer to the one before, and there is no time limit. Prompts that
    the recording never answers are missed, unless a mark says that the run was ended early. dues: the beats
    of a run in tempo; without them it is judged in free tempo. assume_on, timed: as in Run. heard_late_s: as
    in TempoRun.
    """
    if exercise.tempo is not None and (dues or cues):
        run_in_tempo = TempoRun(exercise, assume_on=assume_on, heard_late_s=heard_late_s)
        return _judge_in_tempo(run_in_tempo, list(heard), cues, marks, dues, end_s)
    if not cues:
        exercise = replace(exercise, time_limit_s=None)
    run = Run(exercise, cued_by_take=bool(cues), assume_on=assume_on, timed=timed)
    items: list[tuple[float, int, _Item]] = [(time_s, 0, event) for time_s, event in heard]
    told: list[CuePoint | Mark | TypedName] = [*cues, *marks, *typed]
    items += [(item.time_s, _ORDER[type(item)], item) for item in told]
    items.sort(key=lambda item: item[:2])
    run.start(0.0)
    early = any(mark.kind is MarkKind.ENDED_EARLY for mark in marks)
    _play(run, items)
    run.end(end_s, all_asked=not early)
    return run.answers


def _judge_in_tempo(
    run: TempoRun,
    heard: Sequence[tuple[float, HeardEvent]],
    cues: Sequence[CuePoint],
    marks: Sequence[Mark],
    dues: Sequence[DuePoint],
    end_s: float,
) -> tuple[Answer, ...]:
    run.start(0.0)
    for n, due in enumerate(sorted(dues, key=lambda due: due.n), start=1):
        if due.n != n:
            break  # the recording has lost some; those after them cannot be told apart from extra notes
        run.schedule(due)
    paused_s: float | None = None
    for mark in marks:
        if mark.kind is MarkKind.PAUSE and paused_s is None:
            paused_s = mark.time_s
        elif mark.kind is MarkKind.RESUME and paused_s is not None:
            run.paused(paused_s, mark.time_s)
            paused_s = None
        elif mark.kind is MarkKind.ENDED_EARLY:
            end_s = mark.time_s
    if paused_s is not None:
        run.paused(paused_s, end_s)
    early = any(mark.kind is MarkKind.ENDED_EARLY for mark in marks)
    for cue in cues:
        run.cue(cue.n, cue.time_s)
    for time_s, event in heard:
        if not early or time_s <= end_s:
            run.hear(event)
    run.end(end_s, all_asked=not early)
    return run.answers


def _play(run: Run, items: Sequence[tuple[float, int, _Item]]) -> None:
    played_ahead: set[int] = set()
    for at, (time_s, _, item) in enumerate(items):
        if at in played_ahead:
            continue
        if type(item) is Note and run.prompt is None:
            # Nothing is open: a cue of this very instant is this note's own.
            for later in range(at + 1, len(items)):
                if items[later][0] > time_s:
                    break
                if type(items[later][2]) is CuePoint:
                    played_ahead.add(later)
                    _feed(run, time_s, items[later][2])
        _feed(run, time_s, item)


def _feed(run: Run, time_s: float, item: _Item) -> list[Output]:
    match item:
        case CuePoint(n, _, sure):
            return run.cue(n, time_s, sure=sure)
        case TypedName(name):
            step, alter, _ = parse_name(name)
            return run.type_name(name, SpelledPitch(step, alter, 4).pitch_class, time_s)
        case Mark(MarkKind.PAUSE):
            return run.pause(time_s)
        case Mark(MarkKind.RESUME):
            return run.resume(time_s)
        case Mark(MarkKind.VOID):
            return run.void(time_s)
        case Mark(MarkKind.SKIP):
            return run.skip(time_s)
        case Mark(MarkKind.ENDED_EARLY):  # whatever comes after belongs to no run
            return run.end(time_s)
        case Mark():
            return []
    return run.hear(item)
