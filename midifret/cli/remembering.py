"""The memory of a player, kept in the book and brought up to the runs that ended since."""

import datetime as dt
import json
from collections.abc import Callable, Iterator

from midifret.book.book import Book
from midifret.practice import (
    DayAnswer,
    KeptMemory,
    Memory,
    RunAnswers,
    memory_document,
    memory_of,
    on_top,
    remember,
    run_answers,
    take_in,
)
from midifret.practice.rules import RULES_NUMBER
from midifret.terms import BadInput
from midifret.terms.practised import FirstAnswer, WaitingRun

_ATTEMPTS = 4
# So many answers take about as many seconds as this has thousands, divided by five: from here on it is told.
_TOLD_FROM = 10_000
# So many are taken in before what was learnt is kept: who stops a long reading loses little of it.
_KEPT_EACH = 50_000


def memory_now(
    book: Book, player: str, now_utc: dt.datetime, *, say: Callable[[str], None] = lambda _: None
) -> Memory:
    """Return the memory of all answers of a player's ended runs; what it had to learn for that is kept.

    It is the same as `remember` of all these answers. Most of the time only the runs since the last call are
    read. All are read anew where the rules of memory changed, where runs turned up that are older than what
    is known (a clock set back, two machines on one book), and where answers that it had taken in changed.
    Runs dated in the future are taken as given now, each time anew until their time has come.
    say: told before it takes long. Raises BadInput for an unknown player.
    """
    now_s = now_utc.timestamp()
    memory = Memory()
    told, in_parts, attempts = False, True, 0
    while attempts < _ATTEMPTS:
        state = book.memory_state(player)
        kept = _kept(state.document)
        if state.document and kept is None:
            book.forget_memory(player)
            attempts += 1
            continue
        count = sum(run.answers for run in state.waiting)
        if count >= _TOLD_FROM and not told:
            say(f"what you remember is worked out from {count:,} answers; the next time this is quick")
            told = True
        waiting = _first_of(state.waiting) if in_parts else state.waiting
        memory = Memory(kept)
        taken: list[WaitingRun] = []
        future: list[RunAnswers] = []
        firsts = take_in(memory, _past(book, waiting, now_s, taken, future))
        if firsts is None:  # runs of two machines may overlap: then all of them are sorted together
            book.forget_memory(player)
            in_parts = False
            attempts += 1
            continue
        if taken and not _put(book, player, memory, taken, firsts, state.change):
            attempts += 1
            continue
        if len(waiting) < len(state.waiting):
            in_parts = bool(taken)
            continue
        if not on_top(memory, future, now_s):
            return _of_all(book, player, now_s)
        return _in_order(memory)
    return _of_all(book, player, now_s)  # others keep changing the book: for now, without keeping it


def waiting_answers(book: Book, player: str) -> int:
    """Return how many answers `memory_now` would take in. Raises BadInput for an unknown player."""
    state = book.memory_state(player)
    if state.document and _kept(state.document) is None:
        book.forget_memory(player)
        state = book.memory_state(player)
    return sum(run.answers for run in state.waiting)


def _first_of(waiting: tuple[WaitingRun, ...]) -> tuple[WaitingRun, ...]:
    """Return the first runs of these, with so many answers as are taken in at a time; one run at least."""
    answers = 0
    for number, run in enumerate(waiting):
        answers += run.answers
        if answers > _KEPT_EACH:
            return waiting[: max(number, 1)]
    return waiting


def _kept(document: str) -> KeptMemory | None:
    """What is kept, None for nothing or what cannot be used any more."""
    try:
        return memory_of(json.loads(document)) if document else None
    except (BadInput, ValueError, AttributeError):
        return None


def _past(
    book: Book,
    waiting: tuple[WaitingRun, ...],
    now_s: float,
    taken: list[WaitingRun],
    future: list[RunAnswers],
) -> Iterator[RunAnswers]:
    """Yield the runs that are not future, noting them in `taken`; the others go to `future`."""
    by_id = {run.run_id: run for run in waiting}
    for asked in book.asked_runs(tuple(by_id)):
        run = run_answers(asked)
        if run.is_future(now_s):
            future.append(run)
        else:
            taken.append(by_id[run.run_id])
            yield run


def _put(
    book: Book,
    player: str,
    memory: Memory,
    taken: list[WaitingRun],
    firsts: tuple[DayAnswer, ...],
    after: int,
) -> bool:
    return book.put_memory(
        player,
        json.dumps(memory_document(memory.kept), separators=(",", ":")),
        rules_number=RULES_NUMBER,
        newest_s=memory.newest_s,
        runs_in=taken,
        firsts=tuple(
            FirstAnswer(
                each.day,
                each.given.asked.kind.value,
                each.given.asked.place.string,
                each.given.asked.place.fret,
                each.given.at_s,
                each.given.right,
                each.given.recall_s,
            )
            for each in firsts
        ),
        after=after,
    )


def _of_all(book: Book, player: str, now_s: float) -> Memory:
    runs = (run_answers(asked) for asked in book.asked_runs(book.ended_runs(player)))
    return _in_order(remember((given for run in runs for given in run.answers), now_s))


def _in_order(memory: Memory) -> Memory:
    """The same with its places in order, as after being kept: so plans do not hang on what was read when."""
    return Memory(memory.kept)
