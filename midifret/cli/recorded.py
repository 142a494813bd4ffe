"""What the commands on recordings share: on which guitar a take is heard, and its judgement."""

from dataclasses import replace

from midifret.cli.app import App, warn
from midifret.drills.timed import put_in_tempo, section
from midifret.fingering import neck_for
from midifret.gear import load_guitar
from midifret.gear.guitar import Guitar
from midifret.hear import Decoded
from midifret.neck import Neck
from midifret.play.asked_text import exercise_of_lines, is_asked
from midifret.play.calibration import calibration_exercise, named_part
from midifret.reading.alignment import Aligned
from midifret.reading.events import sounds_in
from midifret.reading.kept import exercise_of_text, is_reading
from midifret.session.around import NO_TIMES
from midifret.session.recorded import judge_reading_take, judge_take
from midifret.terms import Answer, BadInput, Exercise, Tempo
from midifret.terms.calibration import CalibrationPart, ViewKind
from midifret.timing import AnswerTimes
from midifret.wire.take import Take


def guitar_of(app: App, asked: str | None, recording: Take) -> Guitar:
    """Return the guitar asked for, else the one the take names, else the settings' own, with a warning."""
    if asked or not recording.guitar:
        return app.guitar(asked)
    try:
        return load_guitar(recording.guitar, app.home)
    except BadInput:
        guitar = app.guitar(None)
        warn(f"the take was played on {recording.guitar!r}, not set up here; heard as {guitar.name!r}")
        return guitar


def exercise_of(app: App, drill: str, neck: Neck, recording: Take, *, seed: int) -> Exercise:
    """Return a drill, or a part of calibration, as it was asked in a take: its section, in its tempo.

    A take without beats is judged in free tempo. Raises BadInput for a drill that is not known or faulty.
    """
    if is_reading(drill):
        return _reading_of(drill, neck, recording)
    if is_asked(drill):
        return _asked_of(drill, neck, recording)
    part = named_part(drill)
    if part is not None:
        count = None if recording.section is None else recording.section[1]
        return calibration_exercise(part, neck, seed=seed, count=count)
    exercise = app.exercise(drill, neck, seed=seed)
    if recording.section is not None and recording.drill == drill:
        exercise = section(exercise, *recording.section)
    if not recording.dues:
        return put_in_tempo(exercise, None)
    if recording.tempo_bpm is not None:
        own = exercise.tempo or Tempo(recording.tempo_bpm)
        exercise = put_in_tempo(exercise, replace(own, tempo_bpm=recording.tempo_bpm))
    return exercise


def _reading_of(drill: str, neck: Neck, recording: Take) -> Exercise:
    """Return the reading that a take holds. Raises BadInput where it holds none, or another one."""
    if not recording.reading:
        raise BadInput(
            f"this recording does not hold the music of {drill}",
            allowed="a take of `midifret read`; another recording: midifret read SCORE --take TAKE",
        )
    tempo = None
    if recording.dues and recording.tempo_bpm is not None:
        tempo = Tempo(recording.tempo_bpm)
    exercise = exercise_of_text(recording.reading, lambda score: neck_for(score, neck), tempo=tempo)
    if drill != exercise.name:
        raise BadInput(f"the music in this recording is not that of {drill}", allowed=exercise.name)
    return exercise


def _asked_of(drill: str, neck: Neck, recording: Take) -> Exercise:
    """Return what a take says was asked. Raises BadInput where it says nothing, or of another run."""
    if not recording.asked:
        raise BadInput(
            f"this recording does not say what was asked in {drill}",
            allowed="a take of `midifret practice`; what was asked there stands in no file",
        )
    exercise = exercise_of_lines(recording.asked, neck)
    if drill != exercise.name:
        raise BadInput(f"what was asked in this recording is not {drill}", allowed=exercise.name)
    return exercise


def tuned_for(exercise: Exercise, guitar: Guitar) -> Guitar:
    """Return a guitar as a reading needs it; for a drill as it is.

    It is tuned, and has its capo, as the score asks, and knows no plucked signal that the music itself plays.
    """
    if exercise.score is None:
        return guitar
    signals = tuple(signal for signal in guitar.signals if not sounds_in(exercise, *signal.places))
    return replace(guitar, neck=neck_for(exercise.score, guitar.neck), signals=signals)


def times_of(app: App, player: str | None, guitar: Guitar, view: ViewKind | None) -> AnswerTimes:
    """Return what the newest calibration of a player says of a guitar; nothing where no player is named.

    view: on which the take was played; None where it does not tell, as old ones do not. That, and its port,
    which no take tells, are then taken to be those of the calibration. Raises BadInput for a player who is
    not known.
    """
    if player is None:
        return NO_TIMES
    from midifret.cli.running import calibrated, known_player

    with app.open_book() as book:
        name = known_player(book, app, player)
        measured = [each for each in book.measurements(name) if each.guitar == guitar.name]
        by_cues = [each for each in measured if each.part is not CalibrationPart.CLICK]
        if view is None:
            view = by_cues[0].view if by_cues else ViewKind.TERMINAL
        there = [each for each in by_cues if each.view is view]
        port = next((each.port for each in (*there, *measured)), "")
        return calibrated(app, book, name, guitar.name, port, view).times


def judge_read(
    exercise: Exercise, guitar: Guitar, recording: Take, times: AnswerTimes = NO_TIMES
) -> tuple[tuple[Answer, ...], Decoded, tuple[Aligned, ...]]:
    """Judge a take of a reading; return its answers, what was heard, and every note beside the score."""
    return judge_reading_take(
        exercise,
        tuned_for(exercise, guitar),
        recording.messages,
        cues=recording.cues,
        marks=recording.marks,
        dues=recording.dues,
        end_s=recording.end_s,
        times=times,
    )


def judge_recording(
    exercise: Exercise, guitar: Guitar, recording: Take, times: AnswerTimes = NO_TIMES
) -> tuple[tuple[Answer, ...], Decoded]:
    """Judge a take; return one answer for each prompt, and what was heard."""
    return judge_take(
        exercise,
        tuned_for(exercise, guitar),
        recording.messages,
        cues=recording.cues,
        marks=recording.marks,
        typed=recording.typed,
        dues=recording.dues,
        end_s=recording.end_s,
        times=times,
    )
