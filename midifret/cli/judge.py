"""`midifret judge`: a drill judged from a recording."""

from pathlib import Path

import click
from rich.console import Console

from midifret.cli.app import app_of, guitar_option, json_option, player_option, print_document, warn
from midifret.cli.recorded import exercise_of, guitar_of, judge_read, judge_recording, times_of
from midifret.play import summarise
from midifret.reading.alignment import Aligned
from midifret.show.reading_rows import reading_document, reading_rows
from midifret.show.replay import answer_rows
from midifret.show.report import print_rows
from midifret.show.rows import BLANK, Block
from midifret.show.run_figures import figure_rows, run_document, share_tables, voided_rows
from midifret.wire.take import read_take


@click.command("judge")
@click.argument("drill")
@click.argument("take", type=click.Path(path_type=Path))
@click.option("--seed", type=int, default=None, help="Seed of a shuffled drill; else the take's own, or 0.")
@guitar_option
@player_option
@json_option
@click.pass_context
def command(
    context: click.Context,
    drill: str,
    take: Path,
    seed: int | None,
    guitar: str | None,
    player: str | None,
    as_json: bool,
) -> int:
    """Judge TAKE, a recording, against DRILL.

    Without cue points in it the recording is free: each right answer cues the next prompt, and there is no
    time limit. With --player times are put right by that player's newest calibration of the guitar,
    on the view on which it was played where the take says that.
    """
    app = app_of(context)
    recording = read_take(take)
    heard_as = guitar_of(app, guitar, recording)
    if recording.drill and recording.drill != drill:
        warn(f"{take} says that it is a take of {recording.drill!r}; judged as {drill!r} all the same")
    asked_seed = seed if seed is not None else recording.seed or 0
    exercise = exercise_of(app, drill, heard_as.neck, recording, seed=asked_seed)
    times = times_of(app, player, heard_as, recording.view)
    beside: tuple[Aligned, ...] = ()
    if exercise.score is not None:
        answers, decoded, beside = judge_read(exercise, heard_as, recording, times)
    else:
        answers, decoded = judge_recording(exercise, heard_as, recording, times)
    summary = summarise(exercise, answers, latency_known=times.knows_latency)
    if as_json and exercise.score is not None:
        print_document(reading_document(exercise, answers, summary, decoded.glitches, beside))
    elif as_json:
        print_document(run_document(exercise, answers, summary, decoded.glitches))
    else:
        language = app.settings.language
        if exercise.score is not None:
            rows: Block = (*reading_rows(exercise, answers, beside, language), BLANK)
        else:
            rows = answer_rows(answers, language)
        left_out = voided_rows(decoded.glitches, len(decoded.notes))
        print_rows(Console(), (*rows, *figure_rows(summary), *left_out, *share_tables(summary)))
    for warning in decoded.warnings:
        warn(f"{take}: at {warning.time_s:.3f} s: {warning.message}")
    if not decoded.notes and not recording.typed:
        warn(f"{take}: there is no note in this recording")
        return 1
    return 0 if summary.gate is None or summary.gate.met else 1
