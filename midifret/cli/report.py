"""`midifret report`: where a player stands, from the practice book."""

import datetime as dt
from pathlib import Path

import click
import tzlocal
from rich.console import Console

from midifret.book.book import Book
from midifret.cli.app import App, app_of, json_option, player_option, print_document
from midifret.cli.time_figures import KeptTimes, time_figures
from midifret.gear.thresholds import load_thresholds
from midifret.neck import pitch_name, spell
from midifret.show.report import print_rows, report_document, report_rows
from midifret.show.time_values import TimeFigures
from midifret.terms import BadInput
from midifret.terms.figures import PlaceFigure, Report

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
@click.option(
    "--since",
    type=click.DateTime(["%Y-%m-%d"]),
    default=None,
    metavar="DATE",
    help="Only from this day on, as 2026-11-19: the last lesson, say.",
)
@click.option(
    "--html",
    "page",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    metavar="FILE",
    help="Write it as one page for a browser or a printer.",
)
@click.option("--overwrite", is_flag=True, help="Write over a file that is there already.")
@click.option("--left-handed", is_flag=True, help="The necks of the page with the nut at the right.")
@json_option
@click.pass_context
def command(
    context: click.Context,
    player: str | None,
    days: int | None,
    since: dt.datetime | None,
    page: Path | None,
    overwrite: bool,
    left_handed: bool,
    as_json: bool,
) -> int:
    """Show where a player stands: how sure, how fast and how well known each place is, and how that goes on.

    Right means right at the first try, and a time is of right answers. Recall times are freed of what was
    measured with `midifret calibrate`; what is still in them is said beside them. States, recall times and
    their spread are of the newest 10,000 answers to a cue, and of these the newest 20 of each place count.
    """
    if (left_handed or overwrite) and page is None:
        option = "--left-handed" if left_handed else "--overwrite"
        raise click.UsageError(f"{option} is for the page: it needs --html FILE")
    if page is not None and as_json:
        raise click.UsageError("--html and --json: one or the other")
    if since is not None:
        if days is not None:
            raise click.UsageError("--days and --since: one or the other")
        days = _days_since(since.date())
    app = app_of(context)
    report, times = _read(app, player, days)
    if page is not None:
        _write_page(app, page, report, times, days, left_handed=left_handed, overwrite=overwrite)
        click.echo(f"Written: {page}")
        return 0
    if as_json:
        print_document(report_document(report, times))
        return 0
    console = Console()
    print_rows(console, report_rows(report, console.width, days=days, times=times))
    return 0


def _read(app: App, player: str | None, days: int | None) -> tuple[Report, TimeFigures | None]:
    """Read the report; a book or a player of the settings that is not there yet has an empty one.

    Raises BadInput for a player that was named and is not in the book, and for faulty thresholds.
    """
    settings = app.settings
    if not settings.database_url and not app.home.book.exists():
        if player is not None:
            raise BadInput(
                f"there is no player {player!r}: the practice book in {app.home.root} is still empty",
                allowed="add the player with: midifret players --add NAME",
            )
        return _nothing_yet(settings.player), None
    with app.open_book() as book:
        name = player or settings.player
        if player is None and name not in {known.name for known in book.players()}:
            return _nothing_yet(name), None
        return figures_of(app, book, name, _since(days))


def figures_of(app: App, book: Book, player: str, since: dt.date | None = None) -> tuple[Report, TimeFigures]:
    """Return all figures of a player. Raises BadInput for an unknown one, and for faulty thresholds."""
    kept = KeptTimes(
        newest_cued=book.newest_cued(player, since),
        recall_by_run=book.recall_by_run(player, since),
        measurements=book.measurements(player),
        owned_tempos=book.owned_tempos(player, since),
        tempo_runs=book.tempo_runs(player, since),
    )
    times = time_figures(kept, load_thresholds(app.home), now=dt.datetime.now(tzlocal.get_localzone()))
    return book.report(player, since), times


def _nothing_yet(player: str) -> Report:
    return Report(player, False, 0, 0, (), (), (), ())


def _write_page(
    app: App,
    path: Path,
    report: Report,
    times: TimeFigures | None,
    days: int | None,
    *,
    left_handed: bool,
    overwrite: bool,
) -> None:
    """Write the report as a page. Raises Unavailable where that cannot be, BadInput over a file unasked."""
    from midifret.pages.output import write_pages

    html = report_html(app, report, times, days, left_handed=left_handed)
    write_pages(path, [html.encode()], overwrite=overwrite)


def report_html(
    app: App, report: Report, times: TimeFigures | None, days: int | None = None, *, left_handed: bool
) -> str:
    """Return the report as one page. days: as it was read, None for all."""
    from midifret.report_page import Progress, page_html
    from midifret.report_page.values import places_before

    settings, neck, since = app.settings, app.guitar(None).neck, _since(days)
    earlier: tuple[PlaceFigure, ...] = ()
    if since is not None and report.answers:
        with app.open_book() as book:
            earlier = places_before(book.report(report.player, None).places, report.places)
    names = {
        place: " / ".join(
            pitch_name(pitch, settings.language) for pitch in spell(neck.midi(place), settings.accidentals)
        )
        for place in neck.all_places()
    }
    progress = Progress(
        report,
        times,
        dt.datetime.now(tzlocal.get_localzone()).date(),
        since=since,
        earlier=earlier,
        names=names,
        left_handed=left_handed,
        thresholds=load_thresholds(app.home).states,
    )
    return page_html(progress)


def _days_since(day: dt.date) -> int:
    """Return how many practice days there are from this one on. Raises BadInput for one that is to come."""
    today = _since(1)
    if today is None or not 1 <= (today - day).days + 1 <= MOST_DAYS:
        raise BadInput(f"--since: {day.isoformat()} cannot be", allowed=f"a day up to today, {today}")
    return (today - day).days + 1


def _since(days: int | None) -> dt.date | None:
    """Return the first of the last so many practice days, in the zone of this machine."""
    if days is None:
        return None
    from midifret.book.day import practice_day

    today = practice_day(dt.datetime.now(dt.UTC), tzlocal.get_localzone_name())
    return today - dt.timedelta(days=days - 1)
