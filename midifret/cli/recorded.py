"""What the commands on recordings share: on which guitar a take is heard, and its judgement."""

from dataclasses import replace

from midifret.cli.app import App, warn
from midifret.drills.timed import put_in_tempo, section
from midifret.gear import load_guitar
from midifret.gear.guitar import Guitar
from midifret.hear import Decoded
from midifret.neck import Neck
from midifret.play.calibration import calibration_exercise, named_part
from midifret.session.recorded import judge_take
from midifret.terms import Answer, BadInput, Exercise, Tempo
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


def judge_recording(
    exercise: Exercise, guitar: Guitar, recording: Take
) -> tuple[tuple[Answer, ...], Decoded]:
    """Judge a take; return one answer for each prompt, and what was heard."""
    return judge_take(
        exercise,
        guitar,
        recording.messages,
        cues=recording.cues,
        marks=recording.marks,
        typed=recording.typed,
        dues=recording.dues,
        end_s=recording.end_s,
    )
