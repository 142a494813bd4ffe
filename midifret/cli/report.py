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
from midifret.pages.document import Paper
from midifret.practice.ahead import Ahead
from midifret.show.ahead_rows import ahead_document, ahead_rows
from midifret.show.report import print_rows, report_rows
from midifret.show.report import report_document as figures_document
from midifret.show.time_values import TimeFigures
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
@click.option(
    "--pdf",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    metavar="FILE",
    help="Write it as a PDF.",
)
@click.option(
    "--paper",
    type=click.Choice([paper.value for paper in Paper]),
    default=None,
    help="Of the PDF; A4 where nothing is said.",
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
    pdf: Path | None,
    paper: str | None,
    overwrite: bool,
    left_handed: bool,
    as_json: bool,
) -> int:
    """Show where a player stands: how sure, how fast and how well known each place is, and how that goes on.

    Right means right at the first try, and a time is of right answers. Recall times are freed of what was
    measured with `midifret calibrate`; what is still in them is said beside them. States, recall times and
    their spread are of the newest 10,000 answers to a cue, and of these the newest 20 of each place count.
    """
    if page is None and pdf is None and (left_handed or overwrite):
        option = "--left-handed" if left_handed else "--overwrite"
        raise click.UsageError(f"{option} is for the page: it needs --html FILE or --pdf FILE")
    if paper is not None and pdf is None:
        raise click.UsageError("--paper is for the PDF: it needs --pdf FILE")
    if as_json and (page is not None or pdf is not None):
        raise click.UsageError("--html or --pdf, and --json: one or the other")
    if since is not None:
        if days is not None:
            raise click.UsageError("--days and --since: one or the other")
        days = _days_since(since.date())
    app = app_of(context)
    report, times = _read(app, player, days)
    if page is not None or pdf is not None:
        chosen = Paper(paper or Paper.A4)
        _write(app, page, pdf, report, times, days, chosen, left_handed=left_handed, overwrite=overwrite)
        return 0
    ahead = _ahead(app, report)
    if as_json:
        forecast = None if ahead is None else ahead_document(ahead)
        print_document({**figures_document(report, times), "forecast": forecast})
        return 0
    console = Console()
    print_rows(console, report_rows(report, console.width, days=days, times=times))
    if ahead is not None:
        print_rows(console, ahead_rows(ahead, console.width))
    return 0


def _ahead(app: App, report: Report) -> Ahead | None:
    """The forecast; None for who has not played, and for who is no person."""
    if report.simulated or not report.answers:
        return None
    from midifret.cli.forecast import ahead_of  # much of the program, that the other cases do without

    return ahead_of(app, report.player)


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


def _write(
    app: App,
    page: Path | None,
    pdf: Path | None,
    report: Report,
    times: TimeFigures | None,
    days: int | None,
    paper: Paper,
    *,
    left_handed: bool,
    overwrite: bool,
) -> None:
    """Write the report as a page, as a PDF, or both.

    Raises Unavailable where that cannot be, BadInput over a file unasked.
    """
    from midifret.cli.progress import progress_of
    from midifret.pages.output import write_pages
    from midifret.pages.printer import Format, load_library, printed
    from midifret.report_page import page_html, report_document

    if pdf is not None:
        load_library()  # what is missing is told before anything is worked out
    progress = progress_of(app, report, times, _since(days), left_handed=left_handed, paper=paper)
    written: list[tuple[Path, bytes]] = []
    if page is not None:
        written.append((page, page_html(progress).encode()))
    if pdf is not None:
        written.append((pdf, printed(report_document(progress, paper), Format.PDF)[0]))
    for path, content in written:
        write_pages(path, [content], overwrite=overwrite)
        click.echo(f"Written: {path}")


def report_html(
    app: App,
    report: Report,
    times: TimeFigures | None,
    days: int | None = None,
    *,
    left_handed: bool,
    marked_pages: bool = True,
) -> str:
    """Return the report as one page. days: as it was read, None for all. marked_pages: as in progress_of."""
    from midifret.cli.progress import progress_of
    from midifret.report_page import page_html

    since = _since(days)
    return page_html(
        progress_of(app, report, times, since, left_handed=left_handed, marked_pages=marked_pages)
    )


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
