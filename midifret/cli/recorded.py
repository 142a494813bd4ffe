"""What the commands on recordings share: on which guitar a take is heard, and its judgement."""

from midifret.cli.app import App, warn
from midifret.gear import load_guitar
from midifret.gear.guitar import Guitar
from midifret.hear import Decoded
from midifret.session.recorded import judge_take
from midifret.terms import Answer, BadInput, Exercise
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
