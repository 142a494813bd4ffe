"""All that the report page shows, gathered: figures, trends of rows, mistakes, readings, what comes next."""

import datetime as dt
import statistics
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import tzlocal

from midifret.cli.app import App
from midifret.cli.forecast import planning_beside
from midifret.cli.page_take import reading_page
from midifret.cli.today import view_of
from midifret.gear.thresholds import load_thresholds
from midifret.neck import pitch_name, spell
from midifret.pages.document import Drawing, Legend, Paper
from midifret.practice.ahead import look_ahead
from midifret.reading.build import DRILL_PREFIX
from midifret.report_page import Progress
from midifret.report_page.values import Outlooks, ReadingShown, RowDay, RowTrend, places_before
from midifret.session.screen import last_answer
from midifret.show.ahead_rows import about_words, outlook_rows
from midifret.show.path_rows import lacks_words
from midifret.show.practice_words import block_title
from midifret.show.time_values import TimeFigures
from midifret.show.today_rows import counted_minutes
from midifret.show.words import verdict_words
from midifret.terms import BadInput, CueKind, Place, Unavailable
from midifret.terms.calibration import Caveat
from midifret.terms.figures import CuedRow, Mistake, PlaceFigure, ReadingPlayed, Report
from midifret.timing import TrendPoint, TrendRules, fit_trend

_LEAST_DAYS = 2  # of a row before it is drawn [ours]
MOST_READINGS = 3
# What makes a time longer by tenths of a second.
_MATTERS = frozenset((Caveat.RAW, Caveat.WITH_LATENCY, Caveat.WITH_TRAVEL))
# More lines of music than this make a page that nobody scrolls through [ours].
_MOST_LINES = 12


@dataclass(slots=True)
class _Found:
    """What the book adds to the figures."""

    earlier: tuple[PlaceFigure, ...] = ()
    cued: tuple[CuedRow, ...] = ()
    mistakes: tuple[Mistake, ...] = ()
    readings: tuple[ReadingPlayed, ...] = ()
    steps: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    outlooks: Outlooks | None = None


def progress_of(
    app: App,
    report: Report,
    times: TimeFigures | None,
    since: dt.date | None,
    *,
    left_handed: bool,
    paper: Paper = Paper.A4,
    marked_pages: bool = True,
) -> Progress:
    """Gather what the page shows. since: first practice day of the figures, None for all time.

    marked_pages: readings are judged again from their takes and engraved, which takes a second each.
    """
    settings, neck = app.settings, app.guitar(None).neck
    rules = load_thresholds(app.home)
    found = _found(app, report, since) if report.answers else _Found()
    names = {
        place: " / ".join(
            pitch_name(pitch, settings.language) for pitch in spell(neck.midi(place), settings.accidentals)
        )
        for place in neck.all_places()
    }
    before = [row for row in found.cued if since is not None and row.day < since]
    lately = [row for row in found.cued if since is None or row.day >= since]
    before_s, since_s = _times(before, lately, rules.states.newest)

    def example(mistake: Mistake) -> str:
        answer = mistake.answer
        last = last_answer(
            answer.prompt,
            answer.verdict,
            answer.played,
            answer.typed or "",
            answer.response_s,
            first=True,
            language=settings.language,
            accidentals=settings.accidentals,
        )
        place = answer.prompt.given or (answer.prompt.places[0] if answer.prompt.places else None)
        asked = "" if place is None else f"{names.get(place, '')} asked on string {place.string}: "
        day = f"{mistake.day.day} {mistake.day:%B}"
        return f"{day}: {asked}{verdict_words(last, neck, settings.language)}"

    return Progress(
        report,
        times,
        dt.datetime.now(tzlocal.get_localzone()).date(),
        since=since,
        earlier=found.earlier,
        names=names,
        steps=found.steps,
        lacks=found.lacks,
        outlooks=found.outlooks,
        left_handed=left_handed,
        thresholds=rules.states,
        times_before_s=before_s,
        times_since_s=since_s,
        examples={mistake.answer.verdict: example(mistake) for mistake in found.mistakes},
        rows=row_trends(found.cued, rules.trend),
        readings=tuple(_reading(app, one, paper, marked=marked_pages) for one in found.readings),
    )


def _found(app: App, report: Report, since: dt.date | None) -> _Found:
    player = report.player
    with app.open_book() as book:
        earlier: tuple[PlaceFigure, ...] = ()
        if since is not None:
            earlier = places_before(book.report(player, None).places, report.places)
        return _Found(
            earlier,
            book.newest_cued(player),
            book.newest_mistakes(player, since),
            book.newest_readings(player, DRILL_PREFIX, since, most=MOST_READINGS),
            *(((), (), None) if report.simulated else _planned(app, player)),
        )


def _planned(app: App, player: str) -> tuple[tuple[str, ...], tuple[str, ...], Outlooks | None]:
    """What today's plan has, what the gates at hand lack, and what is forecast; nothing without a plan."""
    planning = planning_beside(app, player)
    if planning is None:
        return (), (), None
    view = view_of(app, planning)
    steps = tuple(
        f"{block_title(block, view.titles)}, {counted_minutes(block.minutes)}: {block.why}"
        for block in planning.plan.blocks
    )
    lacks = tuple(
        f"{stage.title}: {' '.join(lacks_words(stage, planning.shown.get(stage.name, ())))}"
        for stage in (planning.standing.rows, planning.standing.reading)
        if stage is not None
    )
    ahead = look_ahead(planning.given)
    return steps, lacks, Outlooks(about_words(ahead), outlook_rows(ahead))


def row_trends(rows: Sequence[CuedRow], rules: TrendRules) -> tuple[RowTrend, ...]:
    """Return the trend of each row with two days and more. rows: the newest first, as the book gives them.

    A day's time is the median of its right answers; raw times count only where a row has no others.
    """
    by_fret: dict[int, list[CuedRow]] = defaultdict(list)
    for row in reversed(rows):
        if CueKind.PLACE not in row.cue:
            by_fret[row.place.fret].append(row)
    found = []
    for fret, given in sorted(by_fret.items()):
        trend = _row_trend(fret, given, rules)
        if trend is not None:
            found.append(trend)
    return tuple(found)


def _row_trend(fret: int, rows: Sequence[CuedRow], rules: TrendRules) -> RowTrend | None:
    recalls = [row.recall for row in rows if row.right and row.recall is not None]
    raw = all(Caveat.RAW in recall.caveats for recall in recalls)
    by_day: dict[dt.date, list[float]] = defaultdict(list)
    practice: dict[dt.date, float] = {}
    caveats: frozenset[Caveat] = frozenset()
    for number, row in enumerate(rows, 1):
        practice[row.day] = float(number)
        if row.right and row.recall is not None and (raw or Caveat.RAW not in row.recall.caveats):
            by_day[row.day].append(row.recall.time_s)
            caveats |= row.recall.caveats
    days = tuple(
        RowDay(day, statistics.median(times_s), len(times_s), practice[day])
        for day, times_s in sorted(by_day.items())
    )
    if len(days) < _LEAST_DAYS:
        return None
    points = [TrendPoint(day.practice, day.time_s, float(day.answers)) for day in days]
    return RowTrend(fret, days, fit_trend(points, rules), caveats)


_Times = Mapping[Place, Sequence[float]]


def _times(before: Sequence[CuedRow], since: Sequence[CuedRow], most: int) -> tuple[_Times, _Times]:
    """The recall times of the newest right answers of each place, before a day and since.

    Times are compared with their like alone: of each place those with the same things in them, of which there
    are the most on both sides.
    """
    old, new = _by_inside(before, most), _by_inside(since, most)
    before_s: dict[Place, Sequence[float]] = {}
    since_s: dict[Place, Sequence[float]] = {}
    for place in sorted(old.keys() & new.keys()):
        like = old[place].keys() & new[place].keys()
        if like:
            inside = max(
                like, key=lambda each: (min(len(old[place][each]), len(new[place][each])), -len(each))
            )
            before_s[place], since_s[place] = old[place][inside], new[place][inside]
    return before_s, since_s


def _by_inside(rows: Sequence[CuedRow], most: int) -> dict[Place, dict[frozenset[Caveat], list[float]]]:
    """The newest times of each place, by what is in them. rows: the newest first."""
    found: dict[Place, dict[frozenset[Caveat], list[float]]] = {}
    for row in rows:
        if row.right and row.recall is not None:
            inside = row.recall.caveats & _MATTERS
            times = found.setdefault(row.place, {}).setdefault(inside, [])
            if len(times) < most:
                times.append(row.recall.time_s)
    return found


def _reading(app: App, played: ReadingPlayed, paper: Paper, *, marked: bool) -> ReadingShown:
    def shown(
        lines: tuple[str, ...] = (), missing: str = "", legend: tuple[tuple[str, str], ...] = ()
    ) -> ReadingShown:
        return ReadingShown(played.title, played.day, played.right, played.answers, lines, missing, legend)

    if not marked:
        return shown()
    take = app.home.takes / played.take_file
    if not played.take_file or not take.is_file():
        return shown(missing="its take is not there any more")
    try:
        document, _ = reading_page(app, take, paper=paper)
    except (BadInput, Unavailable) as error:
        return shown(missing=str(error))
    lines = tuple(block.svg for block in document.blocks if isinstance(block, Drawing))
    if len(lines) > _MOST_LINES:
        return shown(missing=f"it has {len(lines)} lines; `midifret page {take.name} --verdicts` prints it")
    legend = next((block.items for block in document.blocks if isinstance(block, Legend)), ())
    return shown(lines, legend=legend)
