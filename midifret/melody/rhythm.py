"""The rhythm of a bar: groups of notes laid on its beats, and long notes where a phrase ends."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from midifret.melody.chance import Chance
from midifret.melody.form import BarPlan, Close
from midifret.melody.level import Cell, Level, bar_quarters, beat_quarters, is_compound

_FULL_BAR = 0.5  # how often a last note fills its bar [ours]


@dataclass(frozen=True, slots=True)
class Struck:
    """One note of a rhythm: when it begins in its bar and how long it is, in quarter notes."""

    at: Fraction
    length: Fraction


def plan_rhythm(
    plans: tuple[BarPlan, ...], level: Level, meter: tuple[int, int], chance: Chance
) -> tuple[tuple[Struck, ...], ...]:
    """Give each bar its rhythm."""
    bars: list[tuple[Struck, ...]] = []
    for plan in plans:
        earlier = plan.same_as if plan.same_as is not None else plan.rhythm_of
        if earlier is not None:
            bars.append(bars[earlier])
        elif plan.closes is not None:
            usual = _mean_length(bars)
            bars.append(_last_bar(plan.closes, level, meter, usual, chance))
        else:
            bars.append(_bar(level, meter, bar_quarters(meter), chance))
    return tuple(bars)


def _bar(level: Level, meter: tuple[int, int], until: Fraction, chance: Chance) -> tuple[Struck, ...]:
    struck: list[Struck] = []
    at = Fraction(0)
    while at < until:
        fitting = {
            cell.lengths: cell.weight
            for cell in level.cells_in(meter)
            if cell.total <= until - at and _may_begin(cell, at, meter)
        }
        lengths = chance.weighted(fitting)
        for length in lengths:
            if length > 0:
                struck.append(Struck(at, length))
            at += abs(length)
    return tuple(struck) or _bar(level, meter, until, chance)


def _may_begin(cell: Cell, at: Fraction, meter: tuple[int, int]) -> bool:
    """Groups of several beats do not hide the middle of a bar of four."""
    beats = cell.total / beat_quarters(meter)
    beat = at / beat_quarters(meter)
    if beats <= 1 or meter[0] == 3:
        return True
    if beats == 2:
        return beat % 2 == 0
    return beat == 0


def _mean_length(bars: Sequence[tuple[Struck, ...]]) -> Fraction:
    lengths = [struck.length for bar in bars for struck in bar]
    return sum(lengths, Fraction(0)) / max(1, len(lengths))


def _last_bar(
    closes: Close, level: Level, meter: tuple[int, int], usual: Fraction, chance: Chance
) -> tuple[Struck, ...]:
    """A last bar: one long note, or a few notes and then one; a question may take a breath after it.

    usual: mean length of the notes so far; the last one is no shorter.
    """
    bar, beat = bar_quarters(meter), beat_quarters(meter)
    if bar == 2 * beat:
        half = beat
    elif is_compound(meter) or meter[0] % 2 == 0:
        half = bar / 2
    else:
        half = beat
    if closes is Close.FULL and (chance.yes(_FULL_BAR) or bar - half < usual):
        return (Struck(Fraction(0), bar),)
    breath = closes is Close.OPEN and bar - half > beat and chance.yes(0.5)
    before = _bar(level, meter, half, chance) if not breath or half == beat else ()
    if not before:
        return (Struck(Fraction(0), bar - beat),)
    return (*before, Struck(half, bar - half - (beat if breath and bar - half > beat else 0)))
