"""`midifret report`: where a player stands, from the practice book."""

import datetime as dt

import click
from rich.console import Console

from midifret.cli.app import App, app_of, json_option, player_option, print_document
from midifret.show.report import print_rows, report_document, report_rows
from midifret.terms import BadInput
from midifret.terms.figures import Report

MOST_DAYS = 36_500


@click.command("report")
@player_option
@click.option(
    "--days",
    type=click.IntRange(1, MOST_DAYS),
    default=None,
    metavar="N",
    help="Only the last N practice days, today among them.",
)
@json_option
@click.pass_context
def command(context: click.Context, player: str | None, days: int | None, as_json: bool) -> int:
    """Show where a player stands: how sure and how fast at each place, day by day, the last runs.

    A time is the median of right answers; right means right at the first try.
    """
    report = _read(app_of(context), player, days)
    if as_json:
        print_document(report_document(report))
        return 0
    console = Console()
    print_rows(console, report_rows(report, console.width, days=days))
    return 0


def _read(app: App, player: str | None, days: int | None) -> Report:
    """Read the report; a book or a player of the settings that is not there yet has an empty one.

    Raises BadInput for a player that was named and is not in the book.
    """
    settings = app.settings
    if not settings.database_url and not app.home.book.exists():
        if player is not None:
            raise BadInput(
                f"there is no player {player!r}: the practice book in {app.home.root} is still empty",
                allowed="add the player with: midifret players --add NAME",
            )
        return _nothing_yet(settings.player)
    with app.open_book() as book:
        name = player or settings.player
        if player is None and name not in {known.name for known in book.players()}:
            return _nothing_yet(name)
        return book.report(name, _since(days))


def _nothing_yet(player: str) -> Report:
    return Report(player, False, 0, 0, (), (), (), ())


def _since(days: int | None) -> dt.date | None:
    """Return the first of the last so many practice days, in the zone of this machine."""
    if days is None:
        return None
    import tzlocal

    from midifret.book.day import practice_day

    today = practice_day(dt.datetime.now(dt.UTC), tzlocal.get_localzone_name())
    return today - dt.timedelta(days=days - 1)
