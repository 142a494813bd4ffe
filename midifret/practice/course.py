"""The course of a practice session: what is at hand, what is done, and the rest planned again as it goes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from midifret.practice.choose import ChoiceRules, Chooser
from midifret.practice.kinds import Asked
from midifret.practice.memory import Memory
from midifret.practice.plan import (
    LEAST_MINUTES,
    MOST_MINUTES,
    Block,
    BlockKind,
    DayPlan,
    PlanInput,
    lasting,
    plan_day,
    with_breaks,
)

# A rest shorter than this is not worth a block of its own [ours].
_LEAST_BLOCK = 1.0
# What succeeds is played to end on even where the time has run out, for so long [ours].
_CLOSE = 1.0
# Time that is left over and that nothing else takes becomes a block of its own from here on [ours].
_LEAST_OVER = 2.0
# Blocks that stand before an end that succeeds, in the order in which they are given up for lack of time.
_GIVEN_UP = (BlockKind.NEW, BlockKind.READING, BlockKind.ROW, BlockKind.WEAK)
_CUT = 0.7  # drills and readings can be cut to so much of what was planned [ours]
_NOTHING = "Nothing is due"  # as `plan_day` says it too
_NOTHING_DUE = f"{_NOTHING}: places that you know in turn, so that they stay."
_SHOWN_CLOSE = "Places that are shown, so that the end goes well: they come again tomorrow."


class Outcome(StrEnum):
    """What became of a block."""

    DONE = "done"
    SKIPPED = "skipped"
    STOPPED = "stopped"  # to be taken up


@dataclass(frozen=True, slots=True)
class BlockDone:
    """A block that was played, or a part of it.

    minutes: of playing. answers: where the place was not shown; right: at the first try.
    """

    minutes: float = 0.0
    answers: int = 0
    right: int = 0
    skipped: bool = False

    def and_then(self, more: "BlockDone") -> "BlockDone":
        """Both together, as parts of one block."""
        return BlockDone(
            self.minutes + more.minutes,
            self.answers + more.answers,
            self.right + more.right,
            self.skipped or more.skipped,
        )


@dataclass(frozen=True, slots=True)
class Course:
    """A session as it stands: a value; each step gives another one.

    plan: all blocks, those played first. done: of these, the first ones; the last may be a part of the block
    at hand. at: the index of the block at hand, the number of blocks at the end. minutes: of playing in all.
    in_time_before: places that came in time twice in a row before the session.
    """

    plan: DayPlan
    minutes: float
    done: tuple[BlockDone, ...] = ()
    at: int = 0
    in_time_before: tuple[Asked, ...] = ()

    @property
    def block(self) -> Block | None:
        """The block at hand, None at the end."""
        return self.plan.blocks[self.at] if self.at < len(self.plan.blocks) else None

    @property
    def coming(self) -> tuple[Block, ...]:
        """What comes after the block at hand."""
        return self.plan.blocks[self.at + 1 :]

    @property
    def played(self) -> float:
        """Minutes played so far."""
        return sum(each.minutes for each in self.done)

    @property
    def of_block(self) -> BlockDone:
        """What was played of the block at hand."""
        return self.done[self.at] if self.at < len(self.done) else BlockDone()

    @property
    def block_left(self) -> float:
        """Minutes left of the block at hand."""
        block = self.block
        return 0.0 if block is None else max(block.minutes - self.of_block.minutes, 0.0)

    @property
    def left(self) -> float:
        """Minutes of playing left in the session."""
        return max(self.minutes - self.played, 0.0)

    def played_on(self, part: BlockDone) -> "Course":
        """Add what was just played of the block at hand."""
        if self.block is None:
            return self
        return replace(self, done=(*self.done[: self.at], self.of_block.and_then(part)))

    def next(self, given: PlanInput, rules: ChoiceRules | None = None, *, skipped: bool = False) -> "Course":
        """Leave the block at hand, and plan the rest again by what is known now.

        given: as of now; its minutes count for nothing. skipped: the player does not want the block.
        """
        if self.block is None:
            return self
        course = self.played_on(BlockDone(skipped=skipped))
        course = replace(course, at=course.at + 1)
        rest = _planned_again(course, given, rules)
        blocks = (*course.plan.blocks[: course.at], *rest)
        return replace(course, plan=replace(course.plan, blocks=blocks))


def begin(plan: DayPlan, memory: Memory) -> Course:
    """Return the course of a session that begins."""
    return Course(plan, plan.minutes, in_time_before=in_time(memory))


def in_time(memory: Memory) -> tuple[Asked, ...]:
    """Return the places that came right and in time twice in a row."""
    return tuple(sorted((each.asked for each in memory.items.values() if each.in_time >= 2), key=_order))


def newly_in_time(course: Course, memory: Memory) -> tuple[Asked, ...]:
    """Return those of them that did not before the session."""
    before = frozenset(course.in_time_before)
    return tuple(asked for asked in in_time(memory) if asked not in before)


def is_nothing_due(block: Block) -> bool:
    """Whether a block keeps what is known, because nothing is due."""
    return block.kind is BlockKind.WEAK and block.why.startswith(_NOTHING)


def is_shown(block: Block, memory: Memory) -> bool:
    """Whether the places of a block are shown: the end of a session in which nothing came right."""
    items = (memory.items.get(asked) for asked in block.asked)
    return block.kind is BlockKind.CLOSE and not any(item is not None and item.in_a_row for item in items)


def may_be_enough(block: Block, memory: Memory, now_s: float, rules: ChoiceRules | None = None) -> bool:
    """Whether a block ends as soon as more of it would bring little: not if that is so before it begins."""
    if block.kind not in (BlockKind.NEW, BlockKind.ROW, BlockKind.WEAK) or not block.asked:
        return False
    return not Chooser(memory, block.asked, rules).next(now_s).is_enough


def _planned_again(course: Course, given: PlanInput, rules: ChoiceRules | None) -> tuple[Block, ...]:
    """What comes now, in about the order that was planned, with what memory and path say by now.

    What a teacher set stays as it is. What was weak and holds by now is left out; new matter comes as soon as
    the old holds, and not before. The end is something that succeeds.
    """
    coming = [each for each in course.plan.blocks[course.at :] if each.kind is not BlockKind.BREAK]
    left = course.left
    if left < _LEAST_BLOCK:
        ends = [lasting(each, _CLOSE) for each in coming if each.kind is BlockKind.CLOSE][:1]
        return tuple(_close_now(each, given, rules) for each in ends) if given.memory.items else ()
    fresh = _fresh(given, left, rules)
    skipped = {
        block.kind for block, done in zip(course.plan.blocks, course.done, strict=False) if done.skipped
    }
    kept: list[Block] = []
    for block in coming:
        now = _as_it_is_now(block, fresh, given)
        if now is not None:
            kept.append(now)
    there = {block.kind for block in kept}
    played = {block.kind for block in course.plan.blocks[: course.at]}
    for kind in (BlockKind.WEAK, BlockKind.NEW):
        if kind not in fresh or kind in there or kind in skipped:
            continue
        if kind not in played or left - sum(block.minutes for block in kept) >= _LEAST_OVER:
            kept.insert(_place_for(kind, kept), fresh[kind])
    if not any(block.kind is BlockKind.CLOSE for block in kept) and not _has_closed(course):
        kept.append(fresh.get(BlockKind.CLOSE) or _shown_close(given))
    fitted = _fitted(kept, left, given, may_fill=BlockKind.WEAK not in skipped)
    return with_breaks(fitted, course.plan.load, _since_break(course))


def _fresh(given: PlanInput, left: float, rules: ChoiceRules | None) -> dict[BlockKind, Block]:
    """What would be planned now, by the kind of its blocks; of drills and readings the first."""
    minutes = min(max(left, LEAST_MINUTES), MOST_MINUTES)
    # No load: what may be played today was said when the session was planned.
    plan = plan_day(replace(given, minutes=minutes, assignments=(), history=()), rules)
    found: dict[BlockKind, Block] = {}
    for block in plan.blocks:
        found.setdefault(block.kind, block)
    return found


def _as_it_is_now(block: Block, fresh: dict[BlockKind, Block], given: PlanInput) -> Block | None:
    now = fresh.get(block.kind)
    match block.kind:
        case BlockKind.TASK | BlockKind.READING:
            return block
        case BlockKind.ROW if block.drill is not None:
            passed = block.drill in given.drills_done and block.tempo_bpm is None
            return _lasts(now, block) if passed and now is not None and now.drill is not None else block
        case BlockKind.ROW:
            return block if _still_weak(block, fresh) else None
        case BlockKind.WEAK | BlockKind.NEW:
            return _lasts(now, block) if now is not None else None
    if now is None or not now.asked:
        return _shown_close(given) if block.kind is BlockKind.CLOSE else None
    return _lasts(now, block)


def _lasts(now: Block, planned: Block) -> Block:
    return lasting(now, planned.minutes)


def _still_weak(block: Block, fresh: dict[BlockKind, Block]) -> bool:
    weak = {
        asked
        for each in fresh.values()
        if each.kind in (BlockKind.WEAK, BlockKind.ROW)
        for asked in each.asked
    }
    return bool(weak & set(block.asked))


def _close_now(block: Block, given: PlanInput, rules: ChoiceRules | None) -> Block:
    now = _fresh(given, LEAST_MINUTES, rules).get(BlockKind.CLOSE)
    return _lasts(now or _shown_close(given), block)


def _shown_close(given: PlanInput) -> Block:
    """An end for somebody of whom nothing came right: the newest places once more, shown."""
    items = sorted(given.memory.items.values(), key=lambda item: -item.newest_s)
    asked = [item.asked for item in items][:6] or list(given.path.asked(given.strings, given.last_fret))[:6]
    return Block(BlockKind.CLOSE, _CLOSE, _SHOWN_CLOSE, asked=tuple(asked))


def _has_closed(course: Course) -> bool:
    played = course.plan.blocks[: course.at]
    return bool(played) and played[-1].kind is BlockKind.CLOSE


def _place_for(kind: BlockKind, blocks: Sequence[Block]) -> int:
    """Where a block goes that was not planned before: new matter before weak places, both before the end."""
    later = {BlockKind.READING, BlockKind.CLOSE} | ({BlockKind.WEAK} if kind is BlockKind.NEW else set())
    return next((n for n, block in enumerate(blocks) if block.kind in later), len(blocks))


def _fitted(blocks: list[Block], left: float, given: PlanInput, *, may_fill: bool) -> tuple[Block, ...]:
    """The same in the time that is left: one grows, or shrinks, or is given up.

    may_fill: time that nothing takes goes to what is known; not for who has left such a block out.
    """
    found = list(blocks)
    while len(found) > 1 and _least(found) > left + _LEAST_BLOCK / 2:
        given_up = next((kind for kind in _GIVEN_UP if any(each.kind is kind for each in found)), None)
        if given_up is None:
            break
        last = max(n for n, each in enumerate(found) if each.kind is given_up)
        del found[last]
    over = left - sum(block.minutes for block in found)
    if may_fill and over > _LEAST_OVER and not any(_grows(each) for each in found):
        known = tuple(
            asked for asked in given.path.asked(given.strings, given.last_fret) if asked in given.memory.items
        )
        if known:
            found.insert(
                _place_for(BlockKind.WEAK, found),
                Block(BlockKind.WEAK, _LEAST_BLOCK, _NOTHING_DUE, asked=known),
            )
            over -= _LEAST_BLOCK
    while abs(over) > 0.01:
        free = [
            n for n, each in enumerate(found) if _grows(each) or (over < 0 and each.minutes > _LEAST_BLOCK)
        ]
        if not free:
            break
        longest = max(free, key=lambda n: (_grows(found[n]), found[n].minutes))
        changed = max(round(found[longest].minutes + over, 2), _LEAST_BLOCK)
        if changed == found[longest].minutes:
            break
        over -= changed - found[longest].minutes
        found[longest] = lasting(found[longest], changed)
    return tuple(found)


def _grows(block: Block) -> bool:
    """Whether a block may take what time is left over."""
    return bool(block.asked) and block.kind in (BlockKind.WEAK, BlockKind.NEW, BlockKind.ROW)


def _shrinks(block: Block) -> bool:
    """Whether it may be cut: what a teacher set may not."""
    return block.kind is not BlockKind.TASK and block.minutes > _LEAST_BLOCK


def _least(blocks: Sequence[Block]) -> float:
    """How few minutes they can take: what a teacher set stays, drills and readings can be cut a little."""
    return sum(
        _LEAST_BLOCK
        if block.asked
        else block.minutes
        if block.kind is BlockKind.TASK
        else block.minutes * _CUT
        for block in blocks
    )


def _since_break(course: Course) -> float:
    """Minutes played since the last break."""
    since = 0.0
    for block, done in zip(course.plan.blocks, course.done, strict=False):
        since = 0.0 if block.kind is BlockKind.BREAK and not done.skipped else since + done.minutes
    return since


def _order(asked: Asked) -> tuple[int, int, str]:
    return asked.place.fret, -asked.place.string, asked.kind.value
