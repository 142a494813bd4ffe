"""A recording judged as the live run would have judged it."""

from collections.abc import Sequence

from midifret.gear.guitar import Guitar
from midifret.hear import Decoded, Decoder, decode
from midifret.play import judge_recording
from midifret.play.run import SAME_MOMENT_S
from midifret.reading.alignment import Aligned
from midifret.reading.recording import beside_score, judge_reading
from midifret.session.around import NO_TIMES
from midifret.session.controls import without_signals
from midifret.terms import Answer, Exercise, HeardEvent, NoteEnded, TimedMessage
from midifret.terms.marks import CuePoint, DuePoint, Mark, MarkKind, TypedName
from midifret.timing import AnswerTimes


def judge_take(
    exercise: Exercise,
    guitar: Guitar,
    messages: Sequence[TimedMessage],
    *,
    cues: Sequence[CuePoint] = (),
    marks: Sequence[Mark] = (),
    typed: Sequence[TypedName] = (),
    dues: Sequence[DuePoint] = (),
    end_s: float,
    times: AnswerTimes = NO_TIMES,
) -> tuple[tuple[Answer, ...], Decoded]:
    """Hear and judge a recording; return one answer for each prompt, and what was heard.

    Notes that made up a plucked signal count for nothing, as they do live: those that a take of ours marks,
    or, in a recording without cue points, those that a live run would have taken for one. times: what a
    calibration says; without one recall times are raw.
    """
    if exercise.score is not None:
        answers, decoded, _ = judge_reading_take(
            exercise, guitar, messages, cues=cues, marks=marks, dues=dues, end_s=end_s, times=times
        )
        return answers, decoded
    decoded, heard = _hear(guitar, messages, cues, marks, end_s)
    answers = judge_recording(
        exercise,
        heard,
        cues=cues,
        marks=marks,
        typed=typed,
        dues=dues,
        end_s=end_s,
        assume_on=guitar.assumed_neck,
        timed=times.timed,
        heard_late_s=times.heard_late_s,
    )
    return answers, decoded


def judge_reading_take(
    exercise: Exercise,
    guitar: Guitar,
    messages: Sequence[TimedMessage],
    *,
    cues: Sequence[CuePoint] = (),
    marks: Sequence[Mark] = (),
    dues: Sequence[DuePoint] = (),
    end_s: float,
    times: AnswerTimes = NO_TIMES,
) -> tuple[tuple[Answer, ...], Decoded, tuple[Aligned, ...]]:
    """Do the same with a reading; return its answers, what was heard, and every note beside the score."""
    decoded, heard = _hear(guitar, messages, cues, marks, end_s)
    run = judge_reading(
        exercise,
        heard,
        cues=cues,
        marks=marks,
        dues=dues,
        end_s=end_s,
        assume_on=guitar.assumed_neck,
        heard_late_s=times.heard_late_s,
        interval=times.interval,
    )
    return run.answers, decoded, beside_score(run)


def _hear(
    guitar: Guitar,
    messages: Sequence[TimedMessage],
    cues: Sequence[CuePoint],
    marks: Sequence[Mark],
    end_s: float,
) -> tuple[Decoded, list[tuple[float, HeardEvent]]]:
    """Decode a recording; return it all, and its notes and their ends without signals, in order."""
    decoder = Decoder(guitar.neck, guitar.wiring)
    gone_s = [mark.time_s for mark in marks if mark.kind is MarkKind.GONE]
    decoded = decode(messages, decoder, end_s=end_s, gone_s=gone_s)
    notes = [item.note for item in decoded.notes]
    if cues:
        marked_s = [mark.time_s for mark in marks if mark.kind is MarkKind.SIGNAL]
        notes = [note for note in notes if all(abs(note.onset_s - m) > SAME_MOMENT_S for m in marked_s)]
    else:
        notes = without_signals(notes, guitar.signals, guitar.signal_within_s)
    ended = {item.note.id: item.note.onset_s + item.duration_s for item in decoded.notes}
    heard: list[tuple[float, HeardEvent]] = [(note.onset_s, note) for note in notes]
    heard += [(ended[note.id], NoteEnded(note.id, ended[note.id])) for note in notes]
    heard.sort(key=lambda item: item[0])
    return decoded, heard
