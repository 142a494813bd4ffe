"""`midifret today`: what to practise today, in blocks with their reasons."""

import datetime as dt

import click
import tzlocal
from rich.console import Console

from midifret.book.book import Book
from midifret.cli.app import App, app_of, guitar_option, json_option, player_option, print_document, warn
from midifret.cli.planning import Planning, planning_of
from midifret.drills.library import find
from midifret.neck import Neck
from midifret.practice import Block, BlockKind, Strand
from midifret.practice.plan import LEAST_MINUTES, MOST_MINUTES, USUAL_MINUTES
from midifret.show.report import print_rows
from midifret.show.today_rows import (
    Names,
    SetWork,
    TodayView,
    command_words,
    today_document,
    today_rows,
)
from midifret.terms import BadInput


@click.command("today")
@click.option(
    "--minutes",
    type=float,
    default=USUAL_MINUTES,
    metavar="N",
    help=f"How long to play, {LEAST_MINUTES:g} to {MOST_MINUTES:g}; else {USUAL_MINUTES:g}.",
)
@guitar_option
@player_option
@json_option
@click.pass_context
def command(
    context: click.Context, minutes: float, guitar: str | None, player: str | None, as_json: bool
) -> int:
    """Show what to practise today, and why: what is due, what is new, and something to end on.

    `midifret practice` plays it. What a teacher sets comes first; `midifret path --assign FILE` takes it in.
    """
    app = app_of(context)
    planning = read_planning(app, player, app.guitar(guitar).neck, minutes=minutes)
    view = view_of(app, planning)
    for error in planning.left_out:
        warn(f"left out: {error}")
    if as_json:
        print_document(today_document(view))
        return 0
    console = Console()
    print_rows(console, today_rows(view, console.width))
    return 0


def read_planning(app: App, player: str | None, neck: Neck, *, minutes: float = USUAL_MINUTES) -> Planning:
    """Plan for a player of the book; where there is no book, or not yet the settings' player, for a new one.

    Raises BadInput for a player that was named and is not in the book, and for what `planning_of` refuses.
    """
    now_utc, zone = dt.datetime.now(dt.UTC), tzlocal.get_localzone_name()
    name = player or app.settings.player

    def planned(book: Book | None) -> Planning:
        return planning_of(app, book, name, neck, now_utc=now_utc, zone=zone, minutes=minutes)

    if not app.settings.database_url and not app.home.book.exists():
        if player is not None:
            raise BadInput(
                f"there is no player {player!r}: the practice book in {app.home.root} is still empty",
                allowed="add the player with: midifret players --add NAME",
            )
        return planned(None)
    with app.open_book() as book:
        if player is None and name not in {known.name for known in book.players()}:
            return planned(None)
        return planned(book)


def view_of(app: App, planning: Planning) -> TodayView:
    """What is shown of a plan."""
    settings = app.settings
    known: dict[str, str] = {}

    def title(drill: str) -> str:
        if drill not in known:
            try:
                known[drill] = find(drill, app.home).content.title
            except BadInput:
                known[drill] = drill  # whoever plays it is told what is wrong with it
        return known[drill]

    return TodayView(
        planning.player,
        planning.plan,
        planning.standing,
        {strand: planning.path.strand(strand) for strand in Strand},
        set_by(planning),
        tuple(SetWork(one.file.name, one.content, one.today) for one in planning.assignments),
        planning.remarks,
        Names(planning.neck, settings.language, settings.accidentals),
        title,
        lambda block: block_command(app, block),
        planning.unfinished,
    )


def set_by(planning: Planning) -> dict[Strand, str]:
    """Who set the stage of each strand: teacher, player or placement; strands of the gates are left out."""
    found = {
        strand: one.by for strand, one in planning.stages_set.items() if strand in planning.standing.chosen
    }
    return found | dict.fromkeys(planning.standing.set_by_teacher, "teacher")


def block_command(app: App, block: Block) -> str:
    """The command that plays a block alone; empty where it is part of a session only."""
    if block.drill is not None:
        tempo = [] if block.tempo_bpm is None else ["--tempo", f"{block.tempo_bpm:g}"]
        return command_words(["drill", block.drill, *tempo])
    if block.score is not None:
        words = ["read", str(app.home.scores / block.score)]
        words += [] if block.position is None else ["--position", str(block.position)]
        words += [] if block.tempo_bpm is None else ["--tempo", f"{block.tempo_bpm:g}"]
        return command_words(words)
    if block.kind is BlockKind.READING:
        words = ["melody"]
        words += [] if block.level is None else ["--level", str(block.level)]
        words += [] if block.position is None else ["--position", str(block.position)]
        return command_words(words)
    rows = {each.place.fret for each in block.asked}
    if block.kind in (BlockKind.ROW, BlockKind.NEW) and len(rows) == 1:
        drill = f"row-{rows.pop()}-shuffled"
        try:
            find(drill, app.home)
        except BadInput:
            return ""
        return command_words(["drill", drill])
    return ""
