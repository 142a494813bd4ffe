"""The page itself: headings, pictures and tables from the figures, with nothing fetched from anywhere."""

from collections.abc import Iterable, Sequence
from html import escape

from midifret.report_page.neck_picture import neck_picture
from midifret.report_page.style import STYLE
from midifret.report_page.values import Progress, next_steps
from midifret.show.rows import clean
from midifret.show.run_figures import CAVEAT_WORDS
from midifret.show.words import CAUTION, counted, per_cent, verdict_name
from midifret.terms import Place, Verdict
from midifret.terms.calibration import Caveat, Missing
from midifret.timing import Trend

MOST_DAYS = 60  # rows of the table of days [ours]
_HELP = {
    Verdict.ELSEWHERE: ("G asked on string 4, played on string 3", "Look which string is asked."),
    Verdict.OCTAVE: ("a low E where the high one was asked", "The name is right; mind the octave."),
    Verdict.FRET_OFF: ("fret 4 where fret 5 was asked", "Find the nearest place you know, then count."),
    Verdict.STRING_OFF: ("string 3 where string 4 was asked", "Count the strings again."),
    Verdict.WRONG: ("a note that is neither near nor named alike", "Say the name before you play."),
    Verdict.MISSED: ("nothing was played", "Slow down, or take a shorter drill."),
}


def page_html(progress: Progress) -> str:
    """Return the whole page as one HTML text."""
    report = progress.report
    title = f"Practice report: {clean(report.player)}"
    parts = [_head(progress)]
    if report.answers:
        parts += [_steps(progress), _accuracy(progress), _recall(progress), _change(progress)]
        parts += [_days(progress), _errors(progress), _teacher(progress)]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{STYLE}</style></head>"
        f"<body><main><h1>{escape(title)}</h1>{''.join(parts)}</main></body></html>\n"
    )


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], label: str) -> str:
    """A table; the first cell of each row heads it."""
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in heads)
    body = "".join(
        f'<tr><th scope="row">{escape(row[0])}</th>{"".join(f"<td>{escape(c)}</td>" for c in row[1:])}</tr>'
        for row in rows
    )
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{escape(label)}">'
        f"<table><tr>{head}</tr>{body}</table></div>"
    )


def _head(progress: Progress) -> str:
    report = progress.report
    time = f"since {progress.since.isoformat()}" if progress.since else "of all time"
    lines = [f"<p>Made on {progress.made.isoformat()}, {time}.</p>"]
    if report.simulated:
        lines.append("<p><strong>Simulated player: nobody played this.</strong></p>")
    if report.answers:
        share = per_cent(report.right / report.answers)
        lines.append(f"<p>{counted(report.answers, 'answer')}, {share} right at the first try.</p>")
    else:
        lines.append("<p>There is nothing in the practice book for this time.</p>")
    return "".join(lines)


def _steps(progress: Progress) -> str:
    steps = "".join(f"<li>{escape(step)}</li>" for step in next_steps(progress))
    return f"<section><h2>Next steps</h2><ol>{steps}</ol><p>{escape(CAUTION)}</p></section>"


def _accuracy(progress: Progress) -> str:
    cells = {
        figure.place: (str(int(100 * figure.accuracy)), min(3, int(4 * figure.accuracy)))
        for figure in progress.report.places
    }
    if not cells:
        return ""
    title = "Right at the first try, in per cent"
    picture = neck_picture(cells, title=title, heading_id="right", left_handed=progress.left_handed)
    return (
        f'<section><h2 id="right">{title}</h2><p>String 1 on top, frets across. Darker is surer. '
        f"A place without a number was not asked.</p>{picture}</section>"
    )


def _recall(progress: Progress) -> str:
    places = progress.times.places if progress.times else ()
    thresholds = progress.thresholds
    cells: dict[Place, tuple[str, int]] = {}
    for known in places:
        time_s = known.figure.time_s
        limits_s = (thresholds.slow_s, thresholds.known_s, thresholds.automatic_s)
        cells[known.place] = (f"{time_s:.1f}", sum(time_s <= limit_s for limit_s in limits_s))
    if not cells:
        return ""
    caveats: frozenset[Caveat] = frozenset().union(*(known.figure.caveats for known in places))
    title, meaning = "Recall time, in seconds", "How long the right place took to come to mind."
    if Caveat.RAW in caveats:
        title = "Time to the right answer, in seconds"
        meaning = "As heard: the hand and the guitar are in it, not only what came to mind."
    flags = _flags(caveats)
    picture = neck_picture(cells, title=title, heading_id="recall", left_handed=progress.left_handed)
    return (
        f'<section><h2 id="recall">{title}</h2><p>{meaning} Darker is faster.{flags}</p>{picture}</section>'
    )


def _flags(caveats: frozenset[Caveat]) -> str:
    told = "; ".join(CAVEAT_WORDS[caveat] for caveat in Caveat if caveat in caveats)
    return f" To be taken with care: {escape(told)}." if told else ""


def _change(progress: Progress) -> str:
    if progress.since is None:
        return ""
    now = {figure.place: figure for figure in progress.report.places}
    rows = []
    for old in progress.earlier:
        new = now.get(old.place)
        if new is not None:
            rows.append(
                (
                    progress.place_words(old.place),
                    f"{per_cent(old.accuracy)} of {old.answers:,}",
                    f"{per_cent(new.accuracy)} of {new.answers:,}",
                )
            )
    day = progress.since.isoformat()
    if not rows:
        text = "<p>No place was asked both before and since, so nothing can be compared.</p>"
    else:
        text = _table(("Place", "Right before", "Right since"), rows, "Places before and since")
    return f"<section><h2>What changed since {day}</h2>{text}</section>"


def _days(progress: Progress) -> str:
    days = progress.report.days[-MOST_DAYS:]
    rows = [
        (figure.day.isoformat(), f"{figure.minutes:.1f}", f"{figure.answers:,}", per_cent(figure.accuracy))
        for figure in days
    ]
    heads = ("Day", "Minutes", "Answers", "Right")
    return f"<section><h2>Practice by day</h2>{_table(heads, rows, 'Practice by day')}</section>"


def _errors(progress: Progress) -> str:
    wrong = [(v, n) for v, n in progress.report.by_verdict if n and v is not Verdict.RIGHT]
    if not wrong:
        return ""
    rows = [
        (verdict_name(v), f"{n:,}", *_HELP.get(v, ("", "")))
        for v, n in sorted(wrong, key=lambda pair: -pair[1])
    ]
    heads = ("What", "How often", "For example", "What helps")
    return f"<section><h2>What was not right</h2>{_table(heads, rows, 'What was not right')}</section>"


def _teacher(progress: Progress) -> str:
    report, times = progress.report, progress.times
    rows = [
        (progress.place_words(f.place), f"{f.right:,} of {f.answers:,}", _seconds(f.median_response_s))
        for f in report.places
    ]
    parts = [_table(("Place", "Right", "Median response, as heard"), rows, "Places in numbers")]
    if times is not None:
        states = [
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
        ]
        heads = ("Place", "Cue", "State", "Right of the newest", "Recall time (95% interval)")
        parts += [
            "<h3>States</h3>",
            _thresholds(progress),
            _table(heads, states, "States of places"),
            _trend(progress),
        ]
        if times.calibration is None:
            parts.append("<p>Nothing was calibrated: times are as heard.</p>")
        elif times.calibration.stale:
            parts.append("<p>The calibration is stale, or dated after now.</p>")
    return f'<section class="teacher"><h2>For the teacher: the numbers</h2>{"".join(parts)}</section>'


def _thresholds(progress: Progress) -> str:
    known = progress.thresholds
    return (
        f"<p>Of each place and cue the newest {known.newest} answers count, at a confidence of "
        f"{per_cent(known.confidence)}, one-sided. Found: {per_cent(known.found_right)} right; "
        f"slow: {per_cent(known.slow_right)} within {known.slow_s:g} s; "
        f"known: {per_cent(known.known_right)} within {known.known_s:g} s; "
        f"automatic: {per_cent(known.automatic_right)} within {known.automatic_s:g} s.</p>"
    )


def _seconds(time_s: float | None) -> str:
    return "–" if time_s is None else f"{time_s:.2f} s"


def _trend(progress: Progress) -> str:
    figure = progress.times.trend if progress.times else None
    if figure is None:
        return ""
    trend: Trend | Missing = figure.trend
    if isinstance(trend, Missing):
        text = escape(f"{trend.words[:1].upper()}{trend.words[1:]}.")
    else:
        leads = trend.asymptote_s
        text = (
            f"Fitted to {counted(trend.points, 'run')}: {trend.at(trend.first):.2f} s at first, "
            f"{trend.at(trend.last):.2f} s now; practice like this leads to {leads.value:.2f} s "
            f"(95% interval {leads.low:.2f} to {leads.high:.2f} s)."
        )
    return f"<h3>Trend of the recall time</h3><p>{text}{_flags(figure.caveats)}</p>"
