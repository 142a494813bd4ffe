"""`midifret practice`: the session of the day, planned for the player and again as answers come."""

from contextlib import ExitStack

import click
from rich.console import Console

from midifret.cli.app import app_of, guitar_option, json_option, player_option, print_document, warn
from midifret.cli.block_runs import BlockRuns
from midifret.cli.in_tempo import open_beat
from midifret.cli.interludes import LineAsks, TerminalAsks
from midifret.cli.planning import check_minutes
from midifret.cli.practising import Placed, Practised, Practising
from midifret.cli.run_options import RunWishes, run_options
from midifret.cli.running import INTERRUPTED, Table, known_player, now_utc, recover_takes
from midifret.clock import RealClock
from midifret.gear.guitar import Guitar
from midifret.practice.plan import LEAST_MINUTES, MOST_MINUTES
from midifret.session.around import Leave
from midifret.show.drill_screen import DrillScreen, open_view
from midifret.show.practice_words import practice_document
from midifret.terms import BadInput, Exercise
from midifret.wire.port_names import bare_name
from midifret.wire.ports import open_source


@click.command("practice")
@click.option(
    "--minutes",
    type=float,
    default=None,
    metavar="N",
    help=f"How long to play, {LEAST_MINUTES:g} to {MOST_MINUTES:g}; plans anew. Else 15, or what is left.",
)
@click.option("--anew", is_flag=True, help="Plan anew, though a session of today is not finished.")
@click.option("--placement", is_flag=True, help="Only find out where you stand, in four minutes at most.")
@run_options()
@guitar_option
@player_option
@json_option
@click.pass_context
def command(
    context: click.Context,
    minutes: float | None,
    anew: bool,
    placement: bool,
    live: RunWishes,
    guitar: str | None,
    player: str | None,
    as_json: bool,
) -> int:
    """Play today's session on the MIDI guitar: what is due, what is new, and something to end on.

    Before each part a screen says what comes, how long and why. What comes later follows the answers.
    It can be stopped at any moment, and taken up the same day with the same command.
    """
    if placement and (minutes is not None or anew):
        given = "--minutes" if minutes is not None else "--anew"
        raise BadInput(f"{given} and --placement cannot go together", allowed="one of them")
    if minutes is not None:
        check_minutes(minutes)
    app = app_of(context)
    chosen = app.guitar(guitar)
    clicks = live.click.over(app.settings.click)
    recover_takes(app)
    clock = RealClock()
    console = Console(stderr=as_json)
    remarks: list[str] = []
    practised: Practised | None = None
    placed: Placed | None = None
    with app.open_book() as book, ExitStack() as opened:
        book.end_abandoned(started_before_utc=now_utc())
        name = known_player(book, app, player)
        source = open_source(live.port_of(chosen), clock, virtual=live.virtual)
        opened.callback(source.close)
        with open_view(console, json=False) as view:
            on_screen = isinstance(view, DrillScreen)

            def table(exercise: Exercise, guitar: Guitar, stack: ExitStack) -> Table:
                beat = open_beat(exercise, None, clicks, source, clock)
                stack.callback(beat.close)
                return Table(source, clock, view, conductor=beat.conductor, port=bare_name(source.name))

            asks = (
                TerminalAsks(view, source, clock, name)
                if isinstance(view, DrillScreen)
                else LineAsks(console.file, source, clock)
            )
            say = remarks.append if on_screen else warn
            runs = BlockRuns(app, book, name, chosen, live, table, clicks, is_terminal=console.is_terminal)
            practising = Practising(app, book, name, runs, asks, say)
            if placement:
                placed, leave = practising.place_only()
            else:
                practised = practising.practise(minutes, anew=anew)
                placed, leave = practised.placed, practised.leave
    for remark in remarks:
        warn(remark)
    if as_json:
        print_document(_document(practised, placed))
    else:
        lines = practised.lines if practised is not None else ()
        for line in (*(placed.lines if placed is not None else ()), *lines):
            console.print(line, soft_wrap=True, highlight=False, markup=False)
    if leave is Leave.INTERRUPTED:
        return INTERRUPTED
    return 0 if practising.heard or leave is Leave.QUIT else 1


def _document(practised: Practised | None, placed: Placed | None) -> dict[str, object]:
    """session: as `practice_document`, null where none was begun; placement: {stage, title, set}, or null."""
    session = None
    if practised is not None and practised.course is not None:
        session = practice_document(practised.course, practised.newly, practised.in_time, practised.tomorrow)
    found = None
    if placed is not None:
        found = {"stage": placed.stage, "title": placed.title, "set": placed.ended, "answers": placed.answers}
    return {"session": session, "placement": found}
