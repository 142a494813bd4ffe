"""A plan for today: blocks with minutes and a reason each, from memory, path, history and assignments."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from midifret.practice.choose import ChoiceRules, Chooser
from midifret.practice.kinds import Asked, row_name
from midifret.practice.load import DayMinutes, Load, load_today
from midifret.practice.lost import TOLD_AFTER_S, Lost, lost_since
from midifret.practice.memory import Memory
from midifret.practice.path import Assignment, MethodPath, Stage, Standing

USUAL_MINUTES = 15.0
LEAST_MINUTES, MOST_MINUTES = 3.0, 120.0


class BlockKind(StrEnum):
    """What a block is for."""

    TASK = "task"  # set by a teacher
    WARM_UP = "warm-up"
    ROW = "row"
    WEAK = "weak"  # weak places between strong ones
    NEW = "new"
    READING = "reading"
    CLOSE = "close"
    BREAK = "break"


@dataclass(frozen=True, slots=True)
class Block:
    """A part of a session.

    drill, score: what is played, one of them or neither: then places are asked one by one out of `asked`,
    chosen as answers come, or in a reading an unseen melody of `level` in `position` is read.
    why: the reason, one sentence.
    """

    kind: BlockKind
    minutes: float
    why: str
    drill: str | None = None
    score: str | None = None
    asked: tuple[Asked, ...] = ()
    position: int | None = None
    level: int | None = None
    tempo_bpm: float | None = None


@dataclass(frozen=True, slots=True)
class DayPlan:
    """What to practise today. minutes: of playing, without breaks. remarks: what else to know."""

    day: dt.date
    minutes: float
    blocks: tuple[Block, ...]
    remarks: tuple[str, ...]
    lost: Lost
    load: Load


@dataclass(frozen=True, slots=True)
class PlanInput:
    """All that a plan is made from.

    day: the practice day. now_s: seconds since 1970. minutes: as asked for. history: minutes of each practice
    day. drills_done: names of drills whose own gate was met. strings, last_fret: of the neck as practised.
    """

    memory: Memory
    path: MethodPath
    standing: Standing
    day: dt.date
    now_s: float
    minutes: float = USUAL_MINUTES
    history: tuple[DayMinutes, ...] = ()
    assignments: tuple[Assignment, ...] = ()
    drills_done: frozenset[str] = frozenset()
    strings: int = 6
    last_fret: int = 12


@dataclass(frozen=True, slots=True)
class _Known:
    """What is expected of a place: chance and time by memory now, or nothing where it was never asked."""

    asked: Asked
    answers: int
    chance: float
    recall_s: float
    last_right: bool
    settled: bool
    newest_s: float = -math.inf

    @property
    def strong(self) -> bool:
        return self.settled and self.chance >= _STRONG_CHANCE and self.recall_s <= _STRONG_S


# A place is strong that comes by heart nearly always and in less than it takes to work it out; beyond 2 s it
# is no longer known by heart (review by Crawford), 0.8 [ours].
_STRONG_CHANCE, _STRONG_S = 0.8, 2.0
# New matter waits while of more than so large a share of what was begun the last answer was not right [ours].
# To wait until all comes quickly takes longer: places learn from nights, and so had better be met early.
_OPEN_SHARE = 0.25
# Fewer than so many open places never stop new matter: who begins has hardly anything right yet [ours].
_OPEN_FEW = 6
# So many rows may be new at once: one for each minute of the block, as far as they come right [ours].
_ROWS_A_MINUTE = 1.0
# A row takes 3 to 5 minutes (common practice, no source).
_ROW_MINUTES = (3.0, 5.0)
_LONG = 20.0  # minutes left for it and all else, with which a row has the more of them [ours]
# Share of a session for the warm-up and the close, and their bounds in minutes [ours].
_ENDS_SHARE, _ENDS = 0.07, (1.0, 3.0)
_CLOSE_LEAST = 6  # places; with fewer it would be the same ones over and over [ours]
_READING_SHARE, _READING = 0.25, (3.0, 6.0)
_NEW_SHARE, _NEW = 0.25, (2.0, 5.0)
# Minutes that nothing is due in; fewer go to what there is [ours].
_LEFT_OVER = 2.0
_LEAST_PART = 3.0  # minutes; a block is not cut for less before a break [ours]
_TASKS_SHARE = 0.7  # what a teacher set may take so much of a session [ours]
_LEAST_TOLD = 0.5  # minutes; that less was left out is not told [ours]


def plan_day(given: PlanInput, rules: ChoiceRules | None = None) -> DayPlan:
    """Make a plan. Raises ValueError for minutes that are no number or out of range."""
    minutes = given.minutes
    if not (math.isfinite(minutes) and LEAST_MINUTES <= minutes <= MOST_MINUTES):
        raise ValueError(f"a session has {LEAST_MINUTES:g} to {MOST_MINUTES:g} minutes, not {minutes}")
    load = load_today(given.history, given.day, minutes)
    asked = given.path.asked(given.strings, given.last_fret)
    known = tuple(_known(given, each) for each in asked)
    lost = lost_since(given.memory, given.now_s)
    blocks = _blocks(given, known, lost, load.minutes)
    remarks = [*load.remarks, *lost.sentences]
    if given.memory.newest_s is not None and given.memory.newest_s > given.now_s + 60:
        remarks.append("The clock is behind the last answers; times since then are not counted.")
    remarks += _no_room(given, blocks)
    blocks = with_breaks(blocks, load)
    played = sum(block.minutes for block in blocks if block.kind is not BlockKind.BREAK)
    return DayPlan(given.day, round(played, 1), blocks, tuple(remarks), lost, load)


def chooser_for(block: Block, memory: Memory, rules: ChoiceRules | None = None) -> Chooser:
    """Return what chooses the places of a block as answers come. Raises ValueError for one that asks none."""
    return Chooser(memory, block.asked, rules)


def _known(given: PlanInput, asked: Asked) -> _Known:
    item = given.memory.items.get(asked)
    if item is None:
        return _Known(asked, 0, 0.0, math.inf, last_right=False, settled=False)
    chance, recall_s = given.memory.quickly(item, given.memory.counted_at(given.now_s))
    return _Known(asked, item.answers, chance, recall_s, item.in_a_row > 0, item.in_a_row >= 2, item.newest_s)


def _blocks(given: PlanInput, known: tuple[_Known, ...], lost: Lost, minutes: float) -> tuple[Block, ...]:
    begun = [each for each in known if each.answers]
    # Those that were asked longest ago come first: so each is looked at once in a while.
    strong = sorted((each for each in begun if each.strong), key=lambda each: each.newest_s)
    weak = [each for each in begun if not each.strong]
    ends = _share(minutes, _ENDS_SHARE, _ENDS)
    before: list[Block] = []
    tasks = _tasks(given, minutes * _TASKS_SHARE)
    left = minutes - sum(task.minutes for task in tasks)
    if strong and left >= 2 * ends + 2:
        before.append(_warm_up(strong, ends, before_tasks=bool(tasks)))
        left -= ends
    before += tasks
    close = _close(known, ends) if left > ends + 1 else None
    left -= close.minutes if close else 0.0
    middle: list[Block] = []
    reading = _reading(given, left) if left >= 2 * _READING[0] else None
    left -= reading.minutes if reading else 0.0
    new = _new(given, known, (*weak, *strong), left)
    if new is not None:
        left -= new.minutes
    for row in _rows_due(given, known, lost, left):
        middle.append(row)
        left -= row.minutes
    if new is not None:  # early, so that it comes again between the others
        middle.append(new)
    if weak and left >= 1:
        middle.append(_weak(given, weak, strong, left))
        left = 0.0
    elif begun and left >= _LEFT_OVER and not any(block.asked for block in middle):
        middle.append(_all(begun, left))
    parts = [*before, *middle, *([reading] if reading else []), *([close] if close else [])]
    if not parts:
        parts = [_all(list(known), minutes)]
    return _filled(tuple(parts), minutes)


def _share(minutes: float, share: float, bounds: tuple[float, float]) -> float:
    return round(min(max(minutes * share, bounds[0]), bounds[1]) * 2) / 2


def _tasks(given: PlanInput, most: float) -> list[Block]:
    """What a teacher set, in the order set, as long as there is room; the last one is cut to what is left."""
    blocks: list[Block] = []
    left = most
    for assignment in given.assignments:
        if not assignment.holds_on(given.day):
            continue
        until = f"{assignment.until:%d %B}".lstrip("0")
        for task in assignment.tasks:
            if left < 1:
                break
            minutes = min(task.minutes, left)
            why = f"Your teacher set this until {until}."
            blocks.append(
                Block(
                    BlockKind.TASK,
                    minutes,
                    why,
                    task.drill,
                    task.score,
                    position=task.position,
                    tempo_bpm=task.tempo_bpm,
                )
            )
            left -= minutes
    return blocks


def _no_room(given: PlanInput, blocks: Sequence[Block]) -> list[str]:
    """What to say where not all that a teacher set fits into a session."""
    held = [each for each in given.assignments if each.holds_on(given.day)]
    minutes = sum(task.minutes for assignment in held for task in assignment.tasks)
    room = sum(block.minutes for block in blocks if block.kind is BlockKind.TASK)
    if minutes - room < _LEAST_TOLD:
        return []
    return [
        f"Your teacher set {minutes:g} minutes for a day, and {room:.3g} of them fit into this session; "
        "another session today has the rest."
    ]


def _warm_up(strong: list[_Known], minutes: float, *, before_tasks: bool) -> Block:
    """Places that come by heart, to get hand and eye going; so they are looked at once a day, too."""
    what_for = "to be ready for what your teacher set" if before_tasks else "to get hand and eye going"
    why = f"{_places(len(strong))} that you know by heart, {what_for}."
    return Block(BlockKind.WARM_UP, minutes, why, asked=tuple(each.asked for each in strong))


def _rows_due(given: PlanInput, known: tuple[_Known, ...], lost: Lost, left: float) -> list[Block]:
    """The drills of the stage at hand, and rows that have faded most, 3 to 5 minutes each."""
    blocks: list[Block] = []
    stage = given.standing.rows
    fallen = [given.path.stage(name) for name in given.standing.fallen]
    # One bad day says little: only where memory too has most of its places as not by heart.
    going_back = [
        each
        for each in fallen
        if each is not None
        and each.drills
        and 2 * _strong_of(given, known, each) < len(_own(given, known, each))
    ]
    for back in going_back[:1]:
        if left >= _ROW_MINUTES[0] + 1:
            why = f"{back.title} held before and did not on the last day: back to it for a while."
            blocks.append(Block(BlockKind.ROW, _ROW_MINUTES[0], why, _drill(given, back)))
            left -= _ROW_MINUTES[0]
    if stage.drills and left >= _ROW_MINUTES[0] and _is_walked(given, known, stage):
        minutes = min(_ROW_MINUTES[1] if left >= _LONG else _ROW_MINUTES[0], left)
        why = f"{stage.title} is your stage on the path. {_gate_words(stage)}"
        drill = _drill(given, stage)
        # Its gate asks for a tempo too, once all its drills go well without one.
        tempo_bpm = stage.gate.tempo_bpm if drill in given.drills_done else None
        blocks.append(Block(BlockKind.ROW, minutes, why, drill, tempo_bpm=tempo_bpm))
        left -= minutes
    for fret, row, count in _faded(known, lost)[:2]:
        if left < _ROW_MINUTES[0] + 2 or any(fret in range(low, high + 1) for low, high in stage.frets):
            continue
        why = f"Of {row_name(fret)} {count} of {len(row)} places will have faded since you last played."
        asked = tuple(each.asked for each in row)
        blocks.append(Block(BlockKind.ROW, _ROW_MINUTES[0], why, asked=asked))
        left -= _ROW_MINUTES[0]
    return blocks


def _own(given: PlanInput, known: tuple[_Known, ...], stage: Stage) -> list[_Known]:
    places = set(stage.places(given.strings, given.last_fret))
    return [each for each in known if each.asked.place in places]


def _strong_of(given: PlanInput, known: tuple[_Known, ...], stage: Stage) -> int:
    return sum(each.strong for each in _own(given, known, stage))


def _faded(known: tuple[_Known, ...], lost: Lost) -> list[tuple[int, list[_Known], int]]:
    """Rows of which half was in time and is so no more, after days without practice; what lost most first.

    From day to day places are better asked among others than row by row: they rest longer in between.
    """
    if lost.away_s is None or lost.away_s <= TOLD_AFTER_S:
        return []
    gone = {*lost.slow, *lost.gone}
    found = []
    for fret in _frets(known):
        row = [each for each in known if each.asked.place.fret == fret]
        count = sum(each.asked in gone for each in row)
        if 2 * count >= len(row):
            found.append((fret, row, count))
    return sorted(found, key=lambda entry: (-entry[2], entry[0]))


def _is_walked(given: PlanInput, known: tuple[_Known, ...], stage: Stage) -> bool:
    """Whether the drills of a stage are due: to meet its places, and to make them even once they come well.

    In between its places are asked among others, which teaches more in the same time.
    """
    own = _own(given, known, stage)
    return any(not each.answers for each in own) or all(each.strong for each in own)


def _frets(known: tuple[_Known, ...]) -> tuple[int, ...]:
    return tuple(dict.fromkeys(each.asked.place.fret for each in known))


def _drill(given: PlanInput, stage: Stage) -> str:
    """The first drill of a stage whose own gate is not met; the last where all are."""
    return next((name for name in stage.drills if name not in given.drills_done), stage.drills[-1])


def _gate_words(stage: Stage) -> str:
    gate = stage.gate
    needed = f"{gate.right:.0%} come right"
    if gate.recall_s is not None:
        needed += f", half of them within {gate.recall_s:g} s"
    if gate.tempo_bpm is not None:
        needed += f", and you own {gate.tempo_bpm:g} beats a minute"
    days = "on one day" if gate.days == 1 else f"on {gate.days} days"
    return f"It holds when {needed}, {days}."


def _weak(given: PlanInput, weak: list[_Known], strong: list[_Known], minutes: float) -> Block:
    """Weak places with strong ones between: all that was begun, so that what was asked has time to rest."""
    asked = [each.asked for each in (*weak, *strong)]
    what = f"{_places(len(weak))} {'is' if len(weak) == 1 else 'are'} not yet by heart"
    between = "; strong ones stand between." if strong else "."
    return Block(BlockKind.WEAK, minutes, what + between, asked=tuple(asked))


def _new(given: PlanInput, known: tuple[_Known, ...], begun: tuple[_Known, ...], left: float) -> Block | None:
    """The next places of the path, where what was begun comes right, as many as come right in their turn."""
    unknown = [each.asked for each in known if not each.answers]
    if not unknown:
        return None
    # Who was placed further on begins there; what lies before it and was never asked comes last.
    before = {place for stage in _held(given) for place in stage.places(given.strings, given.last_fret)}
    unknown = [each for each in unknown if each.place not in before] or unknown
    if sum(not each.last_right for each in begun) > max(_OPEN_FEW, _OPEN_SHARE * len(begun)):
        return None
    if begun:
        minutes = _share(left, _NEW_SHARE, _NEW)
    else:  # all is new: with time enough, a walk of the stage beside it
        minutes = left if left < _NEW[1] + _ROW_MINUTES[0] else left - _ROW_MINUTES[0]
    if left < minutes:
        return None
    rows = list(dict.fromkeys(each.place.fret for each in unknown))
    rows = rows[: max(round(minutes * _ROWS_A_MINUTE), 1)]
    new = tuple(each for each in unknown if each.place.fret in rows)
    # What was begun stands between, so that what is new can rest.
    asked = (*new, *(each.asked for each in begun))
    further = ", and further rows as long as they come right" if len(rows) > 1 else ""
    why = (
        f"What you began comes right, so {row_name(rows[0])} comes next{further}."
        if begun
        else f"Nothing was asked so far: the path begins with {row_name(rows[0])}{further}."
        if not before
        else f"Nothing was asked so far; your stage begins with {row_name(rows[0])}{further}."
    )
    return Block(BlockKind.NEW, minutes, why, asked=asked)


def _held(given: PlanInput) -> tuple[Stage, ...]:
    """The stages of rows that hold."""
    return tuple(stage for stage in given.path.rows if stage.name in given.standing.held)


def _reading(given: PlanInput, left: float) -> Block | None:
    stage = given.standing.reading
    if stage is None:
        return None
    minutes = _share(left, _READING_SHARE, _READING)
    why = f"{stage.title} is next in reading: one melody that you have not seen."
    return Block(BlockKind.READING, minutes, why, position=stage.position, level=stage.level)


def _close(known: tuple[_Known, ...], minutes: float) -> Block | None:
    """What comes right as a rule, be it slowly, to end on; the best there is where nothing does."""
    well = [each for each in known if each.settled and each.chance >= _STRONG_CHANCE]
    if len(well) >= _CLOSE_LEAST:
        asked = tuple(each.asked for each in well)
        return Block(BlockKind.CLOSE, minutes, "Places that come right, to end on.", asked=asked)
    best = sorted((each for each in known if each.last_right), key=lambda each: (-each.chance, each.recall_s))
    if not best:
        return None
    asked = tuple(each.asked for each in best[:_CLOSE_LEAST])
    return Block(BlockKind.CLOSE, minutes, "The places that come best so far, to end on.", asked=asked)


def _all(known: list[_Known], minutes: float) -> Block:
    why = "Nothing is due: all places in turn, so that they stay."
    return Block(BlockKind.WEAK, minutes, why, asked=tuple(each.asked for each in known))


def _filled(blocks: tuple[Block, ...], minutes: float) -> tuple[Block, ...]:
    """The same, the longest block that asks places, or else the longest, taking what is left."""
    over = minutes - sum(block.minutes for block in blocks)
    if abs(over) < 0.05:
        return blocks
    free = [n for n, block in enumerate(blocks) if block.kind is not BlockKind.TASK] or list(
        range(len(blocks))
    )
    longest = max(free, key=lambda n: (bool(blocks[n].asked), blocks[n].minutes))
    block = blocks[longest]
    changed = max(round(block.minutes + over, 2), 0.5)
    return (*blocks[:longest], lasting(block, changed), *blocks[longest + 1 :])


def lasting(block: Block, minutes: float) -> Block:
    """Return the same block with other minutes."""
    return Block(
        block.kind,
        minutes,
        block.why,
        block.drill,
        block.score,
        block.asked,
        block.position,
        block.level,
        block.tempo_bpm,
    )


def with_breaks(blocks: tuple[Block, ...], load: Load, played: float = 0.0) -> tuple[Block, ...]:
    """Return the same with breaks after every `load.break_every` minutes of playing.

    played: minutes since the last break, or since the begin.
    """
    found: list[Block] = []
    why = f"{load.break_minutes:g} minutes away from the guitar: hands and ears rest."
    rest = Block(BlockKind.BREAK, load.break_minutes, why)
    for block in blocks:
        left = block.minutes
        while left > 0:
            room = load.break_every - played
            if left > room and (room < _LEAST_PART or left <= load.break_every):
                found.append(rest)  # before a block rather than within it, where that is possible
                played, room = 0.0, load.break_every
            part = left if left <= room else room
            found.append(lasting(block, round(part, 2)))
            played += part
            left = round(left - part, 6)
    return tuple(found)


def _places(count: int) -> str:
    return "One place" if count == 1 else f"{count} places"


def asked_minutes(blocks: Sequence[Block]) -> float:
    """Return the minutes in which places are asked one by one."""
    return sum(block.minutes for block in blocks if block.asked)
