"""A forecast for people, and as a document: when rows and the neck may be automatic, never as a promise."""

import datetime as dt
import textwrap
from typing import Any

from midifret.practice.ahead import LEAST_ANSWERS, LEAST_DAYS, Ahead, Outlook, Sooner, StageAhead
from midifret.show.rows import BLANK, Block, Row, Span, row
from midifret.show.today_rows import counted_minutes
from midifret.show.words import counted

_LEAST_WIDTH = 40
# So many stages at hand are told in the terminal [ours]; those further on hang on them.
_MOST_STAGES = 3
_TITLE = "When it may be automatic"


def about_words(ahead: Ahead) -> str:
    """What a forecast rests on, and that it is none to rely on."""
    if not _told(ahead):
        words = stage_words(ahead.neck, ahead)
        return f"{words[0].upper()}{words[1:]}."
    return (
        f"At {counted_minutes(ahead.minutes)} a day on {_days_a_week(ahead)}, as in the last weeks. Nobody "
        "can promise it: with simulated players some nine of ten came within the days said, fewer of what "
        "was far off; people may differ."
    )


def stage_words(stage: StageAhead, ahead: Ahead) -> str:
    """When a stage may be automatic, as the end of a sentence without its stop."""
    months = counted(ahead.months, "month")
    match stage.outlook:
        case Outlook.HOLDS:
            return "holds now, as far as is known"
        case Outlook.BEYOND:
            return f"not within {months} at this rate"
        case Outlook.EARLY:
            return (
                f"too early to say when places will be automatic: it takes {LEAST_DAYS} days of practice and "
                f"{LEAST_ANSWERS} answers to cues"
            )
        case Outlook.UNBEGUN:
            return "too little of it was begun to say"
        case Outlook.IDLE:
            return "nothing can be said of when places will be automatic: nobody played in the last two weeks"
    first = _day(stage.first, ahead)
    if stage.last is None:
        return f"not before {first}, and perhaps not within {months}"
    words = f"between {first} and {_day(stage.last, ahead)}"
    return (
        words if stage.middle is None else f"{words}, as likely before as after {_day(stage.middle, ahead)}"
    )


def sooner_words(ahead: Ahead) -> str:
    """What more minutes a day might change for the whole neck; empty where that cannot be said."""
    sooner = ahead.neck.sooner
    if sooner is None:
        return ""
    first, last = round(sooner.first_days), round(sooner.last_days)
    more = f"With {counted_minutes(ahead.more_minutes)} more a day"
    if last <= 0:
        return f"{more} it would hardly come sooner."
    if first <= 0:
        return f"{more} it may come up to {counted(last, 'day')} sooner, or no sooner at all."
    return f"{more} it may come {first} to {counted(last, 'day')} sooner."


def outlook_rows(ahead: Ahead) -> tuple[tuple[str, str], ...]:
    """Return title and words of each stage and of the whole neck; nothing where nothing can be said.

    A stage that has all places of the neck is left out beside it.
    """
    if not _told(ahead):
        return ()
    stages = [stage for stage in ahead.stages if stage.places < ahead.neck.places]
    found = [(stage.title, stage_words(stage, ahead)) for stage in stages]
    more = sooner_words(ahead)
    neck = stage_words(ahead.neck, ahead)
    return (*found, (ahead.neck.title, f"{neck}. {more}" if more else neck))


def ahead_rows(ahead: Ahead, width: int) -> Block:
    """A forecast as rows of at most `width` cells: the stages at hand and the whole neck."""
    width = max(width, _LEAST_WIDTH)
    lines: list[Row] = [BLANK, row(Span(_TITLE, "strong"))]
    lines += _wrapped(about_words(ahead), width)
    if not _told(ahead):
        return tuple(lines)
    open_ = [
        stage
        for stage in ahead.stages
        if stage.outlook in (Outlook.DATED, Outlook.BEYOND) and stage.places < ahead.neck.places
    ]
    for stage in (*open_[:_MOST_STAGES], ahead.neck):
        lines += _wrapped(f"{stage.title}: {stage_words(stage, ahead)}.", width)
    more = sooner_words(ahead)
    return (*lines, *(_wrapped(more, width) if more else ()))


def ahead_document(ahead: Ahead) -> dict[str, Any]:
    """A forecast as plain values: what `report --json` has under "forecast"."""
    return {
        "day": ahead.day.isoformat(),
        "minutes": round(ahead.minutes, 2),
        "days_a_week": round(ahead.days_a_week, 2),
        "more_minutes": ahead.more_minutes,
        "months": ahead.months,
        "interval": 0.9,
        "stages": [_stage_document(stage) for stage in ahead.stages],
        "neck": _stage_document(ahead.neck),
    }


def _stage_document(stage: StageAhead) -> dict[str, Any]:
    return {
        "stage": stage.name,
        "title": stage.title,
        "outlook": stage.outlook.value,
        "places": stage.places,
        "hold": stage.hold,
        "first_day": _iso(stage.first),
        "middle_day": _iso(stage.middle),
        "last_day": _iso(stage.last),
        "sooner": None if stage.sooner is None else _sooner_document(stage.sooner),
    }


def _sooner_document(sooner: Sooner) -> dict[str, Any]:
    return {
        "first_days": round(sooner.first_days, 1),
        "middle_days": round(sooner.middle_days, 1),
        "last_days": round(sooner.last_days, 1),
    }


def _told(ahead: Ahead) -> bool:
    return ahead.neck.outlook not in (Outlook.EARLY, Outlook.IDLE)


def _days_a_week(ahead: Ahead) -> str:
    days = max(round(ahead.days_a_week), 1)
    return f"{counted(days, 'day')} a week"


def _day(day: dt.date | None, ahead: Ahead) -> str:
    if day is None:
        return "a day that nobody knows"
    year = "" if day.year == ahead.day.year else f" {day.year}"
    return f"{day.day} {day:%B}{year}"


def _iso(day: dt.date | None) -> str | None:
    return None if day is None else day.isoformat()


def _wrapped(text: str, width: int) -> list[Row]:
    lines = textwrap.wrap(text, width - 2, break_on_hyphens=False)
    return [row(f"  {line}") for line in lines]
