"""How much to play today: never suddenly more than lately, and with breaks."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

# Against sudden increases: no more than so much of the longest day of the last two weeks, and some minutes
# that a short day may always grow by [ours]; that load must not rise suddenly: NASM-PAMA student sheet.
_GROWS_BY, _GROWS_MINUTES = 1.3, 5.0
LOOKS_BACK_DAYS = 14
# Who has not played for two weeks, or never, begins with so much [ours].
_FIRST_MINUTES = 20.0
# 5 to 10 minutes an hour away from the instrument (NASM-PAMA student sheet; Barton): 5 after each half hour.
BREAK_EVERY_MINUTES, BREAK_MINUTES = 30.0, 5.0


@dataclass(frozen=True, slots=True)
class DayMinutes:
    """Minutes played on a practice day."""

    day: dt.date
    minutes: float


@dataclass(frozen=True, slots=True)
class Load:
    """How much to play today.

    minutes: at most as asked for. played: already today. remarks: plain sentences.
    """

    minutes: float
    played: float
    break_every: float
    break_minutes: float
    remarks: tuple[str, ...] = ()


def load_today(history: Sequence[DayMinutes], today: dt.date, wanted: float) -> Load:
    """Say how much of the wanted minutes to play today.

    history: days may come in any order, several times (two machines merged: their minutes add up), and dated
    in the future, which counts for nothing. What was played today already counts against the limit, but
    5 minutes are always left: the plan is asked for because somebody wants to play.
    """
    by_day: dict[dt.date, float] = {}
    for each in history:
        if each.day <= today and each.minutes > 0:
            by_day[each.day] = by_day.get(each.day, 0.0) + each.minutes
    played = by_day.pop(today, 0.0)
    since = today - dt.timedelta(days=LOOKS_BACK_DAYS)
    lately = [minutes for day, minutes in by_day.items() if day >= since]
    remarks = []
    if lately:
        limit = max(max(lately) * _GROWS_BY, max(lately) + _GROWS_MINUTES, _FIRST_MINUTES)
        reason = f"your longest day of the last two weeks had {max(lately):.0f} minutes"
    else:
        limit = _FIRST_MINUTES
        reason = "you have not played in the last two weeks" if by_day else "these are your first minutes"
    left = limit - played
    minutes = min(wanted, max(left, 5.0))
    if minutes < wanted - 0.5:
        minutes = round(minutes)
        remarks.append(f"{minutes:.0f} minutes instead of {wanted:g}: {reason}, and more comes step by step.")
    if played and left < 5:
        remarks.append(f"You have played {played:.0f} minutes today; stop when hand or ear is tired.")
    return Load(float(minutes), played, BREAK_EVERY_MINUTES, BREAK_MINUTES, tuple(remarks))
