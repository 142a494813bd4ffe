"""Today's practice on the stand: what is planned for the hall, and what is asked between its parts."""

import json
from collections.abc import Callable
from dataclasses import replace

from midifret.book.book import Book
from midifret.book.day import practice_day
from midifret.cli.app import App
from midifret.cli.block_runs import BlockRuns
from midifret.cli.interludes import await_reply
from midifret.cli.planning import planning_of
from midifret.cli.practising import Practising
from midifret.cli.running import local_zone, now_utc
from midifret.cli.stand_runs import PRACTICE, NamedSource, Played, StandRuns
from midifret.clock import Clock
from midifret.drills.library import find
from midifret.gear import ClickWay
from midifret.neck import Neck
from midifret.practice import Block
from midifret.practice.kept_course import course_of
from midifret.serve.view import StandView
from midifret.session.interlude import Interlude, InterludeKind, Reply
from midifret.show.practice_words import block_title
from midifret.stand.interludes import block_words, interlude_screen
from midifret.stand.messages import Offer
from midifret.terms import BadInput


def today(app: App, book: Book, player: str, neck: Neck) -> tuple[Offer, ...]:
    """Return the blocks of today's practice: those that are left of a session, or those of a plan.

    Raises BadInput where the path or an assignment cannot be read.
    """

    def title(drill: str) -> str:
        try:
            return find(drill, app.home).content.title
        except BadInput:
            return drill

    def offer(block: Block) -> Offer:
        return Offer(PRACTICE, block_title(block, title), block.why.rstrip("."), "", minutes=block.minutes)

    kept = book.open_session(player, practice_day(now_utc(), local_zone()))
    if kept is not None:
        course = course_of(json.loads(kept.plan), kept.done, kept.block)
        if course.block is not None:
            at_hand = replace(course.block, minutes=course.block_left)
            return tuple(offer(block) for block in (at_hand, *course.coming))
    planning = planning_of(app, book, player, neck, now_utc=now_utc(), zone=local_zone())
    return tuple(offer(block) for block in planning.plan.blocks)


def practise(runs: StandRuns, minutes: float | None, say: Callable[[str], None]) -> Played:
    """Play today's session, or what is left of it. minutes: plan so much anew; None for as it is.

    Raises BadInput and Unavailable for what cannot be planned or played.
    """
    clicks = replace(runs.clicks, output=ClickWay.SOUND) if runs.stand_clicks else runs.clicks
    blocks = BlockRuns(
        runs.app,
        runs.book,
        runs.player,
        runs.guitar,
        runs.live,
        runs.table,
        clicks,
        is_terminal=True,
        view=runs.view.kind,
    )
    asks = StandAsks(runs.view, runs.source(runs.guitar), runs.clock, runs.player)
    try:
        done = Practising(runs.app, runs.book, runs.player, blocks, asks, say).practise(minutes)
    finally:
        runs.view.block = ""
    return Played(" ".join(done.lines[:1]), done.leave)


class StandAsks:
    """Shows an interlude on the pages, and takes a key, a button or a plucked string for the reply."""

    def __init__(self, view: StandView, source: NamedSource, clock: Clock, player: str) -> None:
        """Take what the runs have too."""
        self._view = view
        self._source = source
        self._clock = clock
        self._player = player

    def __call__(self, interlude: Interlude) -> Reply:
        """Show it and wait. Ctrl-C in the terminal raises KeyboardInterrupt."""
        self._view.block = block_words(interlude) if interlude.kind is InterludeKind.BLOCK else ""
        run = self._view.begin()

        def show(waited_s: float, trouble: str) -> None:
            self._view.tell(
                interlude_screen(interlude, run=run, player=self._player, waited_s=waited_s, trouble=trouble)
            )

        return await_reply(interlude, self._source, self._clock, show=show, keys=self._view.keys)
