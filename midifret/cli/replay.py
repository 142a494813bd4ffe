"""`midifret replay`: a recording stepped through on the neck, mistake by mistake, for the lesson."""

import sys
from pathlib import Path

import click
from rich.console import Console

from midifret.cli.app import App, app_of, guitar_option, json_option, print_document, warn
from midifret.cli.decode import decode_document
from midifret.cli.recorded import exercise_of, guitar_of, judge_recording
from midifret.clock import RealClock
from midifret.hear import Decoder, decode
from midifret.neck import Neck
from midifret.play import summarise
from midifret.show.keys import KeyReader
from midifret.show.replay import Step, mistake_steps, note_steps, step_rows
from midifret.show.report import print_rows
from midifret.show.run_figures import run_document
from midifret.terms import BadInput, Exercise
from midifret.wire.take import Take, read_take

_KEY_POLL_S = 0.03  # a key is answered within a blink
_NEXT, _PREVIOUS, _QUIT = ("n", "right", "down", " ", "enter"), ("p", "left", "up"), ("q", "escape", "ctrl-c")


@click.command("replay")
@click.argument("take", type=click.Path(path_type=Path))
@click.option("--drill", default=None, help="Judge against this drill; else the one that the take names.")
@click.option("--all", "every_note", is_flag=True, help="Step through every note instead of the mistakes.")
@guitar_option
@json_option
@click.pass_context
def command(
    context: click.Context, take: Path, drill: str | None, every_note: bool, guitar: str | None, as_json: bool
) -> int:
    """Step through TAKE on the neck: mistake by mistake if it is of a drill, else note by note.

    With --json: what `judge` prints of a drill's take, else what `decode` prints.
    """
    app = app_of(context)
    settings = app.settings
    recording = read_take(take)
    heard_as = guitar_of(app, guitar, recording)
    asked_for, drill = drill is not None, drill or recording.drill
    decoded = decode(
        recording.messages,
        Decoder(heard_as.neck, heard_as.wiring),
        end_s=recording.end_s,
        gone_s=recording.gone_s,
    )
    if not decoded.notes and not recording.typed:
        if as_json:
            print_document(decode_document(decoded))
        warn(f"{take}: there is no note in this recording")
        return 1
    steps: tuple[Step, ...]
    if drill and (as_json or not every_note):
        exercise = _exercise(app, drill, asked_for, heard_as.neck, recording)
        answers, _ = judge_recording(exercise, heard_as, recording)
        if as_json:
            summary = summarise(exercise, answers)
            print_document(run_document(exercise, answers, summary, decoded.glitches))
            return 0
        steps = mistake_steps(answers, heard_as.neck, settings.language, settings.accidentals)
        if not steps:
            click.echo(
                f"All {len(answers)} answers were right at the first try. --all steps through the notes."
            )
            return 0
    elif as_json:
        print_document(decode_document(decoded))
        return 0
    else:
        steps = note_steps(
            decoded,
            settings.language,
            settings.accidentals,
            knows_strings=heard_as.wiring.knows_strings,
        )
    _walk_through(steps, heard_as.neck)
    return 0


def _exercise(app: App, drill: str, asked_for: bool, neck: Neck, recording: Take) -> Exercise:
    """Build the drill; where only the take names it, say what can be done without it."""
    try:
        return exercise_of(app, drill, neck, recording, seed=recording.seed or 0)
    except BadInput as error:
        if asked_for:
            raise
        raise BadInput(
            f"the take is of the drill {drill!r}: {error.message}",
            allowed="--all to step through its notes, or --drill NAME to judge it against another drill",
        ) from error


def _walk_through(steps: tuple[Step, ...], neck: Neck) -> None:
    """On a terminal one step at a time by key; elsewhere all of them, one below the other."""
    console = Console()
    with KeyReader() as keys:
        if not (console.is_terminal and sys.stdin.isatty()):
            for number, step in enumerate(steps, start=1):
                print_rows(console, step_rows(step, number, len(steps), neck, console.width, keys=False))
                click.echo()
            return
        clock = RealClock()
        at = 0
        with console.screen():
            while True:
                console.clear()
                rows = step_rows(steps[at], at + 1, len(steps), neck, console.width, keys=True)
                print_rows(console, rows)
                pressed: list[str] = []
                while not pressed:
                    clock.wait_s(_KEY_POLL_S)
                    pressed = keys.keys()
                for key in pressed:
                    if key in _QUIT:
                        return
                    at += (key in _NEXT) - (key in _PREVIOUS)
                    at = min(max(at, 0), len(steps) - 1)
