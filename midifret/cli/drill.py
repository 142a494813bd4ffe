"""`midifret drill`: play a drill on the guitar."""

from dataclasses import replace

import click
from rich.console import Console

from midifret.cli.app import app_of, guitar_option, json_option, player_option, print_document
from midifret.cli.running import (
    Table,
    after_run,
    exit_code,
    known_player,
    now_utc,
    play_once,
    recover_takes,
    setting_for,
)
from midifret.clock import RealClock
from midifret.session.around import Leave
from midifret.show.drill_screen import DrillScreen, open_view
from midifret.show.report import print_rows
from midifret.show.run_figures import figure_rows, run_document, share_tables, voided_rows
from midifret.wire.ports import open_source


@click.command("drill")
@click.argument("drill")
@click.option("--seed", type=int, default=None, help="Seed of a shuffled drill; else another for every run.")
@click.option("--port", metavar="PART", default=None, help="Part of the name of the guitar's MIDI input.")
@click.option("--virtual", is_flag=True, help="Open a port of that name instead, for others to connect to.")
@click.option("--countdown", type=click.IntRange(0, 10), default=None, help="Seconds before the first cue.")
@click.option("--no-check", is_flag=True, help="Leave out the day's check of the open strings.")
@guitar_option
@player_option
@json_option
@click.pass_context
def command(
    context: click.Context,
    drill: str,
    seed: int | None,
    port: str | None,
    virtual: bool,
    countdown: int | None,
    no_check: bool,
    guitar: str | None,
    player: str | None,
    as_json: bool,
) -> int:
    """Play DRILL, a name from `midifret drills` or a file, on the MIDI guitar."""
    app = app_of(context)
    chosen = app.guitar(guitar)
    app.exercise(drill, chosen.neck, seed=0)  # a faulty drill is told before anything is opened
    recover_takes(app)
    clock = RealClock()
    console = Console(stderr=as_json)
    with app.open_book() as book:
        book.end_abandoned(started_before_utc=now_utc())
        name = known_player(book, app, player)
        source = open_source(port if port is not None else chosen.port, clock, virtual=virtual)
        try:
            with open_view(console, json=False) as view:
                run_seed = seed if seed is not None else book.runs_of(name, drill)
                exercise = app.exercise(drill, chosen.neck, seed=run_seed)
                setting = setting_for(app, book, exercise, chosen, name)
                on_screen = isinstance(view, DrillScreen)
                setting = replace(
                    setting,
                    check_strings=setting.check_strings and console.is_terminal and not no_check,
                    countdown_s=setting.countdown_s if countdown is None else countdown,
                    wait_for_start=setting.wait_for_start and on_screen and countdown is None,
                    stay=on_screen,
                )
                table = Table(source, clock, view)
                finished = play_once(app, book, setting, table)
                while finished.leave is Leave.AGAIN:
                    run_seed += seed is None
                    exercise = app.exercise(drill, chosen.neck, seed=run_seed)
                    setting = after_run(setting, finished, exercise)
                    finished = play_once(app, book, setting, table)
        finally:
            source.close()
    if as_json:
        print_document(run_document(setting.exercise, finished.answers, finished.summary, finished.glitches))
    elif on_screen:
        left_out = voided_rows(finished.glitches, finished.notes)
        print_rows(console, (*figure_rows(finished.summary), *left_out, *share_tables(finished.summary)))
    return exit_code(finished)
