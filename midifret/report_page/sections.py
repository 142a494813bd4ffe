"""The report put into words: which sections it has and what each says, from the figures."""

from collections import Counter

from midifret.report_page.change import change_section
from midifret.report_page.charts import days_chart, row_chart
from midifret.report_page.neck_picture import neck_picture, neck_table
from midifret.report_page.parts import Group, Numbers, Part, Picture, Section, Sheet, Steps, Text
from midifret.report_page.values import Progress, ReadingShown, RowTrend, weakest
from midifret.show.rows import clean
from midifret.show.run_figures import CAVEAT_WORDS
from midifret.show.words import CAUTION, counted, per_cent, verdict_name
from midifret.terms import Place, Verdict
from midifret.terms.calibration import Caveat, Missing
from midifret.timing import Trend
from midifret.timing.states import State

MOST_DAYS = 60  # rows of the table of days [ours]
_HELP = {
    Verdict.ELSEWHERE: ("G asked on string 4, played on string 3", "Look which string is asked."),
    Verdict.OCTAVE: ("a low E where the high one was asked", "The name is right; mind the octave."),
    Verdict.FRET_OFF: ("fret 4 where fret 5 was asked", "Find the nearest place you know, then count."),
    Verdict.STRING_OFF: ("string 3 where string 4 was asked", "Count the strings again."),
    Verdict.WRONG: ("a note that is neither near nor named alike", "Say the name before you play."),
    Verdict.MISSED: ("nothing was played", "Slow down, or take a shorter drill."),
}


def title_of(progress: Progress) -> str:
    """What stands over the whole."""
    return f"Practice report: {clean(progress.report.player)}"


def head(progress: Progress) -> tuple[Text, ...]:
    """What stands under the title: when, of which time, of whom, how much."""
    report = progress.report
    time = f"since {progress.since.isoformat()}" if progress.since else "of all time"
    lines = [Text(f"Made on {progress.made.isoformat()}, {time}.")]
    if report.simulated:
        lines.append(Text("Simulated player: nobody played this.", strong=True))
    if report.answers:
        share = per_cent(report.right / report.answers)
        lines.append(Text(f"{counted(report.answers, 'answer')}, {share} right at the first try."))
    else:
        lines.append(Text("There is nothing in the practice book for this time."))
    return tuple(lines)


def sections(progress: Progress) -> tuple[Section, ...]:
    """Everything else, what a student needs first, the teacher's numbers last."""
    if not progress.report.answers:
        return ()
    found = (
        _next(progress),
        _ahead(progress),
        _accuracy(progress),
        _recall(progress),
        change_section(progress),
        _rows(progress),
        _errors(progress),
        _readings(progress),
        _days(progress),
        _teacher(progress),
    )
    return tuple(section for section in found if section is not None)


def _next(progress: Progress) -> Section:
    """What today's plan has, what the stages at hand lack, and the places that are known least."""
    parts: list[Part] = []
    if progress.steps:
        parts.append(Section("Today, in this order", (Steps(progress.steps),)))
    if progress.lacks:
        parts.append(Section("Until the next stage", tuple(map(Text, progress.lacks))))
    weak = weakest(progress)
    if len(weak) > 1:
        parts.append(Section("Places, the least known first", (Steps(weak),)))
    else:
        parts += map(Text, weak)
    return Section("Next steps", (*parts, Text(CAUTION)))


def _ahead(progress: Progress) -> Section | None:
    outlooks = progress.outlooks
    if outlooks is None or not outlooks.rows:
        return None
    title = "When it may be automatic"
    named: dict[str, list[str]] = {}  # what can be said, of which stages it can be said
    for stage, words in outlooks.rows:
        named.setdefault(words, []).append(stage)
    rows = tuple(("; ".join(stages), words) for words, stages in named.items())
    return Section(title, (Text(outlooks.about), Numbers(("Of what", "When"), rows, title)))


def _neck(progress: Progress, title: str, about: str, cells: dict[Place, tuple[str, int]]) -> Section:
    drawn = neck_picture(cells, left_handed=progress.left_handed)
    return Section(title, (Text(about), Picture(drawn, title), neck_table(cells, title)))


def _accuracy(progress: Progress) -> Section | None:
    cells = {
        figure.place: (per_cent(figure.accuracy).rstrip("%"), min(3, int(4 * figure.accuracy)))
        for figure in progress.report.places
    }
    if not cells:
        return None
    about = "String 1 on top, frets across. Darker is surer. A place without a number was not asked."
    return _neck(progress, "Right at the first try, in per cent", about, cells)


def _recall(progress: Progress) -> Section | None:
    places = progress.times.places if progress.times else ()
    thresholds = progress.thresholds
    cells: dict[Place, tuple[str, int]] = {}
    for known in places:
        time_s = known.figure.time_s
        limits_s = (thresholds.slow_s, thresholds.known_s, thresholds.automatic_s)
        cells[known.place] = (f"{time_s:.1f}", sum(time_s <= limit_s for limit_s in limits_s))
    if not cells:
        return None
    caveats: frozenset[Caveat] = frozenset().union(*(known.figure.caveats for known in places))
    title, meaning = "Recall time, in seconds", "How long the right place took to come to mind."
    if Caveat.RAW in caveats:
        title = "Time to the right answer, in seconds"
        meaning = "As heard: the hand and the guitar are in it, not only what came to mind."
    return _neck(progress, title, f"{meaning} Darker is faster.{_flags(caveats)}", cells)


def _flags(caveats: frozenset[Caveat]) -> str:
    told = "; ".join(CAVEAT_WORDS[caveat] for caveat in Caveat if caveat in caveats)
    return f" To be taken with care: {told}." if told else ""


def _rows(progress: Progress) -> Section | None:
    """The trend of each row: picture, what the fit says, and the days in a table."""
    if not progress.rows:
        return None
    automatic = f"{progress.thresholds.automatic_s:g}\N{NO-BREAK SPACE}s"
    about = (
        "Each dot is a day: the middle one of its right answers to cues. The broken line is what counts as "
        f"automatic, {automatic}. A curve is drawn where the days tell one; 95% of days like these lie in "
        "the band around it."
    )
    rows = tuple(_row(progress, row) for row in progress.rows)
    return Section("Row by row", (Text(about), *rows), Group.ROWS)


def _row(progress: Progress, row: RowTrend) -> Section:
    title = f"Row {row.fret}" if row.fret else "Open strings"
    trend: Trend | Missing = row.trend
    if isinstance(trend, Missing):
        words = f"{trend.words[:1].upper()}{trend.words[1:]}."
    else:
        words = f"From {trend.at(trend.first):.2f} s to {trend.at(trend.last):.2f} s; {_leads(trend)}."
    shown = row.days[-MOST_DAYS:]
    days = tuple((d.day.isoformat(), _seconds(d.time_s), f"{d.answers:,}") for d in shown)
    newest = "" if len(shown) == len(row.days) else f", the newest {len(shown)} of {len(row.days)} days"
    label = f"{title}, day by day{newest}"
    return Section(
        title,
        (
            Picture(row_chart(row, progress.thresholds.automatic_s), f"{title}: seconds by day"),
            Text(words + _flags(row.caveats)),
            Numbers(("Day", "Middle time", "Right answers"), days, label, folded=True, repeats=True),
        ),
    )


def _days(progress: Progress) -> Section | None:
    days = progress.report.days[-MOST_DAYS:]
    if not days:
        return None
    rows = tuple(
        (figure.day.isoformat(), f"{figure.minutes:.1f}", f"{figure.answers:,}", per_cent(figure.accuracy))
        for figure in days
    )
    minutes = sum(figure.minutes for figure in days)
    practised = f"Practice: {_minutes(minutes)} on {counted(len(days), 'day')}"
    words = f"{practised}, {_minutes(minutes / len(days))} on a day."
    heads = ("Day", "Minutes", "Answers", "Right")
    table = Numbers(heads, rows, "Practice by day, in numbers", folded=True)
    return Section("Practice by day", (Text(words), Picture(days_chart(days), "Minutes by day"), table))


def _minutes(minutes: float) -> str:
    return counted(round(minutes), "minute") if minutes >= 0.5 else "under a minute"


def _errors(progress: Progress) -> Section | None:
    wrong = [(v, n) for v, n in progress.report.by_verdict if n and v is not Verdict.RIGHT]
    if not wrong:
        return None
    rows = []
    for verdict, number in sorted(wrong, key=lambda pair: -pair[1]):
        example, helps = _HELP.get(verdict, ("", ""))
        rows.append((verdict_name(verdict), f"{number:,}", progress.examples.get(verdict, example), helps))
    heads = ("What", "How often", "For example", "What helps")
    title = "What was not right"
    return Section(title, (Numbers(heads, tuple(rows), title),))


def _readings(progress: Progress) -> Section | None:
    """The newest readings, their notes marked as they were played."""
    if not progress.readings:
        return None
    about = "Each note has the mark of how it was played; notes that were not reached have none."
    marked = any(reading.lines for reading in progress.readings)
    parts = (_reading(reading) for reading in progress.readings)
    return Section("Readings", (Text(about), *parts) if marked else tuple(parts))


def _reading(reading: ReadingShown) -> Section:
    title = f"{reading.title}, {reading.day.isoformat()}"
    share = per_cent(reading.right / reading.notes) if reading.notes else "none"
    words = f"{reading.right} of {counted(reading.notes, 'note')} right ({share})."
    parts: list[Part] = [Text(words)]
    if reading.missing:
        parts.append(Text(f"No page of it: {reading.missing}."))
    elif reading.lines:
        parts.append(Sheet(reading.lines, f"{title}: the marked page", reading.legend))
    return Section(title, tuple(parts))


def _teacher(progress: Progress) -> Section:
    report, times = progress.report, progress.times
    rows = tuple(
        (progress.place_words(f.place), f"{f.right:,} of {f.answers:,}", _seconds(f.median_response_s))
        for f in report.places
    )
    heads: tuple[str, ...] = ("Place", "Right", "Median response, as heard")
    parts: list[Part] = [*_by_string(progress), Numbers(heads, rows, "Every place in numbers", folded=True)]
    if times is not None:
        states = tuple(
            (
                progress.place_words(s.place),
                ", ".join(kind.value for kind in s.cue),
                s.state.value,
                f"{s.right} of {s.answers}",
                "–"
                if s.figure is None
                else f"{s.figure.time_s:.2f} s ({s.figure.interval.low:.2f} to {s.figure.interval.high:.2f})",
            )
            for s in times.states
        )
        heads = ("Place", "Cue", "State", "Right of the newest", "Recall time (95% interval)")
        counts = Counter(known.state for known in times.states)
        told = ", ".join(f"{state.value} {counts[state]}" for state in State if counts[state])
        known = [Text(_thresholds(progress))]
        if told:
            known.append(Text(f"{told[:1].upper()}{told[1:]}."))
        parts.append(Section("States", (*known, Numbers(heads, states, "Every state", folded=True))))
        parts += _trend(progress)
        if times.calibration is None:
            parts.append(Text("Nothing was calibrated: times are as heard."))
        elif times.calibration.stale:
            parts.append(Text("The calibration is stale, or dated after now."))
    return Section("For the teacher: the numbers", tuple(parts), Group.TEACHER)


def _by_string(progress: Progress) -> list[Numbers]:
    """Strings and rows in numbers: what a teacher looks for first."""
    tables = []
    for label, key in (("String", "string"), ("Row", "fret")):
        sums: dict[int, list[int]] = {}
        for figure in progress.report.places:
            entry = sums.setdefault(getattr(figure.place, key), [0, 0, 0])
            entry[0] += 1
            entry[1] += figure.answers
            entry[2] += figure.right
        rows = tuple(
            (f"{label} {number}", f"{places}", f"{answers:,}", per_cent(right / answers))
            for number, (places, answers, right) in sorted(sums.items())
            if answers
        )
        tables.append(Numbers((label, "Places asked", "Answers", "Right"), rows, f"{label}s in numbers"))
    return tables


def _thresholds(progress: Progress) -> str:
    known = progress.thresholds
    return (
        f"Of each place and cue the newest {known.newest} answers count, at a confidence of "
        f"{per_cent(known.confidence)}, one-sided. Found: {per_cent(known.found_right)} right; "
        f"slow: {per_cent(known.slow_right)} within {known.slow_s:g} s; "
        f"known: {per_cent(known.known_right)} within {known.known_s:g} s; "
        f"automatic: {per_cent(known.automatic_right)} within {known.automatic_s:g} s."
    )


def _seconds(time_s: float | None) -> str:
    return "–" if time_s is None else f"{time_s:.2f} s"


def _leads(trend: Trend) -> str:
    """Where a fit says that practice leads. No time is below nothing, whatever a fit may say."""
    end, low, high = (
        max(each, 0.0) for each in (trend.asymptote_s.value, trend.asymptote_s.low, trend.asymptote_s.high)
    )
    return f"practice like this leads to {end:.2f} s (95% interval {low:.2f} to {high:.2f} s)"


def _trend(progress: Progress) -> list[Section]:
    figure = progress.times.trend if progress.times else None
    if figure is None:
        return []
    trend: Trend | Missing = figure.trend
    if isinstance(trend, Missing):
        words = f"{trend.words[:1].upper()}{trend.words[1:]}."
    else:
        words = (
            f"Fitted to {counted(trend.points, 'run')}: {trend.at(trend.first):.2f} s at first, "
            f"{trend.at(trend.last):.2f} s now; {_leads(trend)}."
        )
    return [Section("Trend of the recall time", (Text(words + _flags(figure.caveats)),))]
