"""The report on a player: neck maps, time, days, runs and verdicts, for people and as a JSON document."""

import datetime as dt
from collections import Counter
from typing import Any

from rich.console import Console

from midifret.show.neck_map import RAW_MARK, is_narrow, legend_rows, share_map, time_map
from midifret.show.rows import (
    BLANK,
    Block,
    Row,
    Span,
    as_ascii,
    can_print_signs,
    clean,
    fit,
    pad,
    row,
    to_text,
)
from midifret.show.run_figures import (
    figure_document,
    flags,
    per_100_notes,
    too_many_glitches,
    voided_document,
    voided_rows,
)
from midifret.show.time_document import time_document
from midifret.show.time_rows import calibration_rows, headed, place_caveat_rows, recall_times, time_rows
from midifret.show.time_values import PlaceTime, TimeFigures
from midifret.show.words import per_cent, seconds_words, verdict_name
from midifret.terms import Glitch, Verdict
from midifret.terms.figures import DayFigure, Report, RunFigure

MOST_DAYS, MOST_RUNS = 14, 8
_BAR = 10
_LONGEST_ENDING = len("gate not yet")
_DIGITS = 4
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_LOOK_FOR = {
    Verdict.ELSEWHERE: "note known; look which string is asked",
    Verdict.OCTAVE: "name right; mind the octave",
    Verdict.FRET_OFF: "string right; find the nearest landmark",
    Verdict.STRING_OFF: "fret right; count the strings again",
    Verdict.WRONG: "say the name before you play",
    Verdict.MISSED: "slow down, or take a shorter drill",
}


def report_rows(
    report: Report, width: int, *, days: int | None = None, times: TimeFigures | None = None
) -> Block:
    """The whole report as rows of at most `width` cells.

    days: how many days back it looks, None for all. times: what there is to say of time.
    """
    head = _head(report, days)
    if not report.answers:
        return tuple(fit(line, width) for line in (*head, BLANK, *_empty(days)))
    parts = [
        (*head, *(calibration_rows(times.calibration, width) if times is not None else ())),
        _maps(report, width, times.places if times is not None else ()),
        *(time_rows(times, width) if times is not None else ()),
        _days(report.days),
        _runs(report.runs, width),
        _verdicts(report),
        _heard(report),
    ]
    lines: list[Row] = []
    for part in parts:
        if part:
            lines += [BLANK, *part] if lines else part
    return tuple(fit(line, width) for line in lines)


def _head(report: Report, days: int | None) -> Block:
    spans: list[Span | str] = [Span(clean(report.player), "strong")]
    if report.simulated:
        spans.append(" (simulated player)")
    time = "" if days is None else " in the last day" if days == 1 else f" in the last {days} days"
    if report.answers:
        share = per_cent(report.right / report.answers)
        spans.append(f": {_counted(report.answers, 'answer')}{time}, {share} right at the first try")
    return (row(*spans),)


def _empty(days: int | None) -> Block:
    first = "There is nothing in this practice book yet."
    if days is not None:
        first = f"There is nothing in this practice book from the last {_counted(days, 'day')}."
    return (
        row(first),
        row("  midifret drills        lists the drills"),
        row("  midifret drill NAME    plays one with your guitar"),
        row("  midifret demo          shows how it works, without a guitar"),
    )


def _counted(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"


def _maps(report: Report, width: int, times: tuple[PlaceTime, ...]) -> Block:
    if not report.places:
        return _named_map(report, width)
    recall_s = recall_times(times)
    known = sum(figure.place in recall_s for figure in report.places)
    unit = "in tenths of a second" if is_narrow(report.places, width) else "in seconds"
    if not known:
        heading, beside = f"Median time of the right answers, {unit}", "raw: as heard"
    else:
        heading = f"Recall time, {unit}"
        beside = f"{RAW_MARK} raw: as heard" if known < len(report.places) else ""
    timed = known or any(figure.median_response_s is not None for figure in report.places)
    time_part = (BLANK, *headed(heading, beside, width), *time_map(report.places, width, recall_s))
    return (
        *headed("Right at the first try, in per cent", "string 1 on top, frets across", width),
        *share_map(report.places, width),
        *(time_part if timed else ()),  # on a beat nobody is timed
        *legend_rows(narrow=is_narrow(report.places, width)),
        *place_caveat_rows(times, width),
        *((BLANK,) if report.named_places else ()),
        *_named_map(report, width),
    )


def _named_map(report: Report, width: int) -> Block:
    if not report.named_places:
        return ()
    heading = row(Span("Named right at the first try, in per cent", "strong"))
    return (heading, *share_map(report.named_places, width))


def bar(share: float, cells: int = _BAR) -> str:
    """A share from 0 to 1 as a bar of so many cells; empty and full mean exactly none and all."""
    filled = round(share * cells)
    if 0 < share < 1:
        filled = min(max(filled, 1), cells - 1)
    return "█" * filled + "░" * (cells - filled)


def _days(days: tuple[DayFigure, ...]) -> Block:
    if not days:
        return ()
    shown = days[-MOST_DAYS:]
    heading = "Day by day" if len(shown) == len(days) else f"Day by day, the last {len(shown)} with practice"
    lines: list[Row] = [row(Span(heading, "strong"), Span("  (share right, median time)", "quiet"))]
    for figure in shown:
        minutes = "under 1 min" if figure.minutes < 1 else f"{figure.minutes:.0f} min"
        lines.append(
            row(
                f"  {day_words(figure.day):<11}",
                Span(bar(figure.accuracy), "right"),
                f" {per_cent(figure.accuracy):>4}  {seconds_words(figure.median_response_s):>8}"
                f"  {minutes:>11}  {_counted(figure.answers, 'answer'):>14}",
            )
        )
    return tuple(lines)


def day_words(day: dt.date) -> str:
    """A day as `Tue 24 Nov`."""
    return f"{_WEEKDAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]}"


def _runs(runs: tuple[RunFigure, ...], width: int) -> Block:
    if not runs:
        return ()
    lines: list[Row] = [row(Span("Last runs", "strong"), Span("  (newest first)", "quiet"))]
    for run in runs[:MOST_RUNS]:
        day = run.started
        when = f"  {day.day:>2} {_MONTHS[day.month - 1]} {day:%H:%M}  "
        gate = {True: "gate met", False: "gate not yet", None: ""}[run.gate_met]
        in_tempo = run.tempo_bpm is not None
        time = f"{run.tempo_bpm:.0f} bpm" if in_tempo else seconds_words(run.median_response_s)
        figures = f"  {per_cent(run.accuracy):>4}  {f'{run.right}/{run.answers}':>7}  {time:>7}  "
        room = max(8, width - len(when) - len(figures) - _LONGEST_ENDING)
        title = pad(fit(row(clean(run.title or run.drill)), room), room)
        lines.append(row(when, *title, figures, "ended early" if run.ended_early else gate))
    return tuple(lines)


def _verdicts(report: Report) -> Block:
    missteps = [(v, n) for v, n in report.by_verdict if n and v is not Verdict.RIGHT]
    if not missteps:
        return ()
    lines: list[Row] = [row(Span("What was not right", "strong"))]
    for verdict, count in sorted(missteps, key=lambda pair: -pair[1]):
        share = per_cent(count / report.answers)
        lines.append(
            row(
                f"  {verdict_name(verdict):<24}{count:>6,} {share:>4}  ",
                Span(_LOOK_FOR.get(verdict, ""), "quiet"),
            )
        )
    return tuple(lines)


def _heard(report: Report) -> Block:
    """How well the guitar was heard, where there is anything to say."""
    lines = list(voided_rows(dict(report.voided), report.notes, advise=False))
    lately, notes = _lately(report.runs)
    if too_many_glitches(lately, notes):
        share = per_100_notes(sum(lately.values()), notes)
        lines.append(row(f"  They are many in the last runs ({share} for every 100 notes played):"))
        lines.append(row("  `midifret setup` measures the guitar anew."))
    if report.answers_by_pitch:
        judged = _counted(report.answers_by_pitch, "answer")
        lines.append(row(f"{judged} judged by pitch alone: the guitar tells no strings."))
    return tuple(lines)


def _lately(runs: tuple[RunFigure, ...]) -> tuple[Counter[Glitch], int]:
    """The glitches of the last runs and the notes heard in them: setting up anew must make them go down."""
    voided: Counter[Glitch] = Counter()
    notes = 0
    for run in runs:
        if run.notes is not None:
            notes += run.notes
            voided.update(dict(run.voided))
    del voided[Glitch.PASSED]  # slides that were played
    return voided, notes


def print_rows(console: Console, lines: Block) -> None:
    """Print rows on a console that scrolls, in what its encoding and colours allow."""
    if not can_print_signs(console.encoding):
        lines = as_ascii(lines)
    console.print(to_text(lines), soft_wrap=True, highlight=False)


def report_document(report: Report, times: TimeFigures | None = None) -> dict[str, Any]:
    """The report as `report --json` prints it.

    player; simulated; answers, right: counts; accuracy: 0 to 1;
    places: list of {string, fret, answers, right, accuracy, median_response_s}, each place ever asked;
    named_places: the same for the places whose names were typed;
    days: oldest first, {day (ISO date, from 04:00 local), answers, right, accuracy, median_response_s,
    minutes}; runs: newest first, {run_id, started (ISO, local time with offset), drill, title, answers,
    right, accuracy, median_response_s, gate_met (null without a gate), ended_early, notes, voided,
    tempo_bpm (null in free tempo), median_recall_s, recall_flags (see time_document)};
    by_verdict: count for each verdict; voided: count of notes left out as made up by the converter, for each
    kind; notes: count of those heard (null in a run where nobody counted); voided_per_100_notes: null without
    notes; answers_by_pitch: answers judged at the place assumed for their pitch, the guitar telling no
    strings.
    Medians are of right answers, null where there are none; median_response_s is raw, as heard.
    What it says of time has its keys in time_document.
    """
    voided = sum(number for _, number in report.voided)
    return {
        "player": report.player,
        "simulated": report.simulated,
        "answers": report.answers,
        "right": report.right,
        "accuracy": round(report.right / report.answers, _DIGITS) if report.answers else 0.0,
        "places": [figure_document(figure) for figure in report.places],
        "named_places": [figure_document(figure) for figure in report.named_places],
        "days": [_day_document(figure) for figure in report.days],
        "runs": [_run_document(run) for run in report.runs],
        "by_verdict": {verdict.value: count for verdict, count in report.by_verdict},
        "voided": voided_document(dict(report.voided)),
        "notes": report.notes,
        "voided_per_100_notes": _rounded(100 * voided / report.notes) if report.notes else None,
        "answers_by_pitch": report.answers_by_pitch,
        **time_document(times),
    }


def _day_document(figure: DayFigure) -> dict[str, Any]:
    return {
        "day": figure.day.isoformat(),
        "answers": figure.answers,
        "right": figure.right,
        "accuracy": round(figure.accuracy, _DIGITS),
        "median_response_s": _rounded(figure.median_response_s),
        "minutes": round(figure.minutes, 2),
    }


def _run_document(run: RunFigure) -> dict[str, Any]:
    return {
        "run_id": run.run_id,
        "started": run.started.isoformat(),
        "drill": run.drill,
        "title": run.title,
        "answers": run.answers,
        "right": run.right,
        "accuracy": round(run.accuracy, _DIGITS),
        "median_response_s": _rounded(run.median_response_s),
        "gate_met": run.gate_met,
        "ended_early": run.ended_early,
        "notes": run.notes,
        "voided": voided_document(dict(run.voided)),
        "tempo_bpm": run.tempo_bpm,
        "median_recall_s": _rounded(run.median_recall_s),
        "recall_flags": flags(run.recall_caveats),
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, _DIGITS)
