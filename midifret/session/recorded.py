"""A recording judged as the live run would have judged it."""

from collections.abc import Sequence

from midifret.gear.guitar import Guitar
from midifret.hear import Decoded, Decoder, decode
from midifret.play import judge_recording
from midifret.session.controls import without_signals
from midifret.terms import Answer, Exercise, HeardEvent, NoteEnded, TimedMessage
from midifret.terms.marks import CuePoint, Mark, TypedName


def judge_take(
    exercise: Exercise,
    guitar: Guitar,
    messages: Sequence[TimedMessage],
    *,
    cues: Sequence[CuePoint] = (),
    marks: Sequence[Mark] = (),
    typed: Sequence[TypedName] = (),
    end_s: float,
) -> tuple[tuple[Answer, ...], Decoded]:
    """Hear and judge a recording; return one answer for each prompt, and what was heard.

    Notes that made up a plucked signal of the guitar count for nothing, as they do live.
    """
    decoded = decode(messages, Decoder(guitar.neck, guitar.channels, guitar.bend_range_semitones))
    notes = without_signals((item.note for item in decoded.notes), guitar.signals, guitar.signal_within_s)
    ended = {item.note.id: item.note.onset_s + item.duration_s for item in decoded.notes}
    heard: list[tuple[float, HeardEvent]] = [(note.onset_s, note) for note in notes]
    heard += [(ended[note.id], NoteEnded(note.id, ended[note.id])) for note in notes]
    heard.sort(key=lambda item: item[0])
    answers = judge_recording(exercise, heard, cues=cues, marks=marks, typed=typed, end_s=end_s)
    return answers, decoded
