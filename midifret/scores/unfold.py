"""In which order the bars of a score are played: repeats, endings, da capo, dal segno, coda and fine."""

from collections.abc import Iterator
from dataclasses import dataclass

from midifret.scores.limits import MOST_PLAYED_BARS
from midifret.terms.score import Directions


class TooManyBars(ValueError):
    """Repeats that make a score longer than anything is read."""


@dataclass(frozen=True, slots=True)
class _Passage:
    """Bars from first to last, played so many times in all."""

    first: int
    last: int
    turns: int


def playing_order(bars: tuple[Directions, ...]) -> tuple[int, ...]:
    """Return the index of each bar in the order of playing.

    A passage with a repeat sign is played twice or as often as the sign or its endings say; after a jump
    (da capo, dal segno) repeats are not taken again and the last ending is played, up to the fine or, where
    there are two coda signs, from the first to the second [common practice, no source; checked against
    music21 in tests]. Raises TooManyBars.
    """
    order: list[int] = []
    for bar in _played(bars):
        order.append(bar)
        if len(order) > MOST_PLAYED_BARS:
            raise TooManyBars(f"repeats make more than {MOST_PLAYED_BARS:,} bars of it")
    return tuple(order)


def _played(bars: tuple[Directions, ...]) -> Iterator[int]:
    passages = _passages(bars)
    jumps = _jumps(bars, passages)
    for index, turn, passage in _through(bars, passages, 0):
        yield index
        if index in jumps and turn == _last_turn(bars[index], passage):
            break
    else:
        return
    to = 0
    if jumps[index] == "ds":
        to = next((i for i, bar in enumerate(bars) if bar.segno), 0)
    codas = [i for i, bar in enumerate(bars) if bar.coda]
    for index, turn, passage in _through(bars, passages, to):
        if turn != passage.turns:
            continue
        yield index
        if bars[index].fine:
            return
        if len(codas) > 1 and index == codas[0]:
            break
    else:
        return
    for index, _, _ in _through(bars, passages, codas[-1]):
        yield index


def _jumps(bars: tuple[Directions, ...], passages: list[_Passage]) -> dict[int, str]:
    """Return after which bar to jump: the words may stand a bar before the repeat sign that they follow."""
    jumps = {}
    for passage in passages:
        for index in range(passage.first, passage.last + 1):
            if bars[index].jump:
                at_end = bars[passage.last].repeat_end and not bars[passage.last].endings
                jumps[passage.last if at_end else index] = bars[index].jump
    return jumps


def _last_turn(bar: Directions, passage: _Passage) -> int:
    return max((n for n in bar.endings if n <= passage.turns), default=passage.turns)


def _through(
    bars: tuple[Directions, ...], passages: list[_Passage], start: int
) -> Iterator[tuple[int, int, _Passage]]:
    """Every bar from here on as it comes: (its index, the how-manieth time, its passage)."""
    for passage in passages:
        if passage.last < start:
            continue
        for turn in range(1, passage.turns + 1):
            for index in range(max(start, passage.first), passage.last + 1):
                bar = bars[index]
                if bar.endings and turn not in bar.endings:
                    continue
                yield index, turn, passage
                if bar.repeat_end and turn < passage.turns:
                    break


def _passages(bars: tuple[Directions, ...]) -> list[_Passage]:
    """Cut the bars where a repeat sign begins or ends; brackets belong to what they end."""
    passages: list[_Passage] = []
    first = index = 0
    while index < len(bars):
        bar = bars[index]
        if bar.repeat_start and index > first:
            passages.append(_Passage(first, index - 1, 1))
            first = index
        last, turns = index, bar.repeat_end
        if bar.endings:
            last, turns = _brackets(bars, index)
        if turns:
            passages.append(_Passage(first, last, turns))
            first = last + 1
        index = last + 1
    if first < len(bars):
        passages.append(_Passage(first, len(bars) - 1, 1))
    return passages


def _brackets(bars: tuple[Directions, ...], index: int) -> tuple[int, int]:
    """Return the last bar of the brackets that begin here, and how often what they end is played."""
    numbers: set[int] = set()
    turns, repeats = 1, 0
    while index < len(bars) and bars[index].endings:
        here = bars[index].endings
        if index and here != bars[index - 1].endings and numbers & set(here):
            break  # the same number again: the next passage, without a sign of its own
        if bars[index].repeat_start and numbers:
            break
        numbers |= set(here)
        repeats = max(repeats, bars[index].repeat_end)
        index += 1
    turns = max(*numbers, repeats, 1)
    return index - 1, turns
