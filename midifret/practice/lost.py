"""What was lost since the last practice, and where to take up."""

from dataclasses import dataclass

from midifret.practice.kinds import Asked, row_name
from midifret.practice.memory import Memory

_DAY_S = 86_400.0
# A day off is what practice from day to day has anyway; beyond a day and a half something is told [ours].
TOLD_AFTER_S = 1.5 * _DAY_S
_SLOW = 1.2  # times what counts as in time [ours]
_GONE_CHANCE = 0.6  # less likely than that, a place is taken as gone [ours]


@dataclass(frozen=True, slots=True)
class Lost:
    """What was in time at the last practice, and what is expected of that now.

    away_s: since the last answer, None before the first. had: places whose last answer was right and in time.
    slow: of these, expected right but late now. gone: expected not to come by heart. sentences: the same.
    """

    away_s: float | None
    had: int
    slow: tuple[Asked, ...]
    gone: tuple[Asked, ...]
    sentences: tuple[str, ...]


def lost_since(memory: Memory, now_s: float) -> Lost:
    """Say what was lost. now_s: seconds since 1970."""
    if memory.newest_s is None:
        return Lost(None, 0, (), (), ())
    away_s = max(now_s - memory.newest_s, 0.0)
    counted_s = memory.counted_at(now_s)
    in_time_s = memory.rules.in_time_s
    had, slow, gone = 0, [], []
    for item in memory.items.values():
        if not item.in_time:
            continue
        had += 1
        chance, recall_s = memory.quickly(item, counted_s)
        if chance < _GONE_CHANCE:
            gone.append(item.asked)
        elif recall_s > _SLOW * in_time_s:
            slow.append(item.asked)
    sentences: tuple[str, ...] = ()
    if away_s > TOLD_AFTER_S and had:
        days = round(away_s / _DAY_S)
        what = f"You last played {days} days ago. Of {had} places that came in time then, "
        if gone or slow:
            rows = sorted({asked.place.fret for asked in (*gone, *slow)})
            told = [f"about {len(slow)} will be slow"] if slow else []
            told += [f"{len(gone)} may not come at once"] if gone else []
            what += f"{' and '.join(told)}; take up at {row_name(rows[0])}."
        else:
            what += "all should still come, by this estimate."
        sentences = (what,)
    return Lost(away_s, had, tuple(slow), tuple(gone), sentences)
