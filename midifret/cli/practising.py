"""A practice session played: block after block, what comes later planned again as answers come.

Nothing in here draws: a view of the runs and whoever asks the player between them are handed in.
"""

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from midifret.book.book import Book
from midifret.cli.app import App
from midifret.cli.block_runs import BlockRuns, Part
from midifret.cli.planning import BY_PLACEMENT, Planning, planning_of
from midifret.cli.running import local_zone, now_utc
from midifret.drills.library import find
from midifret.practice import Asked, BlockKind, DayPlan, PlanInput, Strand, plan_day
from midifret.practice.course import BlockDone, Course, begin, in_time, is_shown, newly_in_time
from midifret.practice.kept_course import course_document, course_of
from midifret.practice.plan import USUAL_MINUTES
from midifret.session.around import Leave
from midifret.session.interlude import Asks, Interlude, Reply
from midifret.show.practice_words import (
    block_interlude,
    end_interlude,
    left_interlude,
    offer_interlude,
    placed_interlude,
    placed_lines,
    summary_lines,
    take_up_interlude,
)
from midifret.terms import BadInput

PLACEMENT_MINUTES = 4.0
_DAY = dt.timedelta(days=1)
_LEAST_LEFT = 0.25  # minutes; less of a block is not begun [ours]


@dataclass(frozen=True, slots=True)
class Placed:
    """What a placement run found. stage: its name. lines: the same for people. answers: how many."""

    stage: str
    title: str
    lines: tuple[str, ...]
    answers: int
    ended: bool


@dataclass(frozen=True, slots=True)
class Practised:
    """What came of a call. course: None where no session was begun. leave: how it was left."""

    course: Course | None
    leave: Leave
    heard: bool
    newly: tuple[Asked, ...] = ()
    in_time: int = 0
    tomorrow: DayPlan | None = None
    lines: tuple[str, ...] = ()
    placed: Placed | None = None


@dataclass(slots=True)
class Practising:
    """A player's sessions. runs: plays what is in a block. asks: shows what is between and brings replies.

    say: told what could not be played, or read.
    """

    app: App
    book: Book
    player: str
    runs: BlockRuns
    asks: Asks
    say: Callable[[str], None]
    now: Callable[[], dt.datetime] = now_utc
    _session_id: int | None = field(init=False, default=None)
    _planning: Planning | None = field(init=False, default=None)
    _heard: bool = field(init=False, default=False)
    _remarks: list[str] = field(init=False, default_factory=list)  # for the screen before the next block
    _told: set[str] = field(init=False, default_factory=set)
    _titles: dict[str, str] = field(init=False, default_factory=dict)

    def practise(self, minutes: float | None = None, *, anew: bool = False) -> Practised:
        """Play today's session, or go on with what is left of it.

        minutes: of a new plan; with a number the day is planned anew. Raises BadInput for what cannot be
        planned, and what made a run impossible, with all kept.
        """
        planning = self._plan(minutes)
        placed: Placed | None = None
        try:
            course = self._left_over(planning, anew=anew or minutes is not None)
            if course is None and not planning.memory.items and not planning.stages_set:
                reply = self.asks(offer_interlude())
                if reply is Reply.STOP:
                    return Practised(None, Leave.QUIT, heard=False)
                if reply is Reply.GO:
                    placed = self.place()
                    if not placed.ended:
                        return Practised(None, Leave.QUIT, self._heard, lines=placed.lines, placed=placed)
                    if self.asks(placed_interlude(placed.lines)) is Reply.STOP:
                        return Practised(None, Leave.QUIT, self._heard, placed=placed)
                    planning = self._plan(minutes)
        except _Stopped as stopped:
            return Practised(None, stopped.leave, self._heard, placed=placed)
        except KeyboardInterrupt:
            return Practised(None, Leave.INTERRUPTED, self._heard, placed=placed)
        if course is None:
            self._remarks += [*planning.remarks, *planning.plan.remarks]
            course = self._begin(planning)
        return replace(self._play(course), placed=placed)

    @property
    def heard(self) -> bool:
        """Whether a note was heard, or a name typed, in any run so far."""
        return self._heard

    def place_only(self) -> tuple[Placed | None, Leave]:
        """Play a placement run for itself. Raises what made it impossible."""
        try:
            placed = self.place()
        except _Stopped as stopped:
            return None, stopped.leave
        return placed, Leave.DONE if placed.ended else Leave.QUIT

    def place(self) -> Placed:
        """Play a placement run and keep what it found.

        Raises what made it impossible, and _Stopped where the player broke it off.
        """
        planning = self._plan(None)
        asker, part = self.runs.place(planning, PLACEMENT_MINUTES)
        self._heard |= part.heard
        if part.failure is not None:
            raise part.failure
        if part.leave is Leave.INTERRUPTED:
            raise _Stopped(part.leave)
        stage = asker.result(part.answers)
        names = [each.name for each in planning.path.rows]
        passed = planning.path.rows[: names.index(stage.name)]
        if part.ended_early or not part.answers:
            lines: tuple[str, ...] = (
                "The placement run was left before its end: nothing was set. Its answers are kept.",
            )
            return Placed(stage.name, stage.title, lines, len(part.answers), ended=False)
        self.book.put_stage(
            self.player,
            Strand.ROWS.value,
            stage.name,
            by=BY_PLACEMENT,
            set_utc=self.now(),
            zone=local_zone(),
        )
        lines = placed_lines(stage, passed, ran_out=asker.ran_out)
        return Placed(stage.name, stage.title, lines, len(part.answers), ended=True)

    def _tell(self, words: str) -> None:
        """Say something once, now and on the next screen."""
        if words not in self._told:
            self._told.add(words)
            self._remarks.append(words)
            self.say(words)

    # What is planned.

    def _plan(self, minutes: float | None) -> Planning:
        self._planning = planning_of(
            self.app,
            self.book,
            self.player,
            self.runs.guitar.neck,
            now_utc=self.now(),
            zone=local_zone(),
            minutes=USUAL_MINUTES if minutes is None else minutes,
        )
        for error in self._planning.left_out:
            self._tell(f"An assignment is left out: {error}")
        return self._planning

    def _given(self) -> PlanInput:
        """What is known now, all answers so far among it."""
        return self._plan(None).given

    def _left_over(self, planning: Planning, *, anew: bool) -> Course | None:
        """What is left of today's session where the player goes on with it; else it is given up."""
        kept = self.book.open_session(self.player, planning.day)
        if kept is None:
            return None
        try:
            course = course_of(json.loads(kept.plan), kept.done, kept.block)
        except BadInput as error:
            self._tell(str(error))
            course = None
        if course is not None and course.block is not None and not anew:
            reply = self.asks(take_up_interlude(course, self._title))
            if reply is Reply.STOP:
                raise _Stopped(Leave.QUIT)
            if reply is Reply.GO:
                self._session_id = kept.session_id
                return course
        self.book.go_on_with_session(kept.session_id, done=kept.done, block=kept.block, ended_utc=self.now())
        return None

    def _begin(self, planning: Planning) -> Course:
        course = begin(planning.plan, planning.memory)
        text = json.dumps(course_document(course), separators=(",", ":"))
        kept = self.book.begin_session(self.player, text, started_utc=self.now(), zone=local_zone())
        self._session_id = kept.session_id
        return course

    def _keep(self, course: Course) -> None:
        assert self._session_id is not None
        self.book.go_on_with_session(
            self._session_id,
            done=[part.minutes for part in course.done],
            block=course.at,
            plan=json.dumps(course_document(course), separators=(",", ":")),
            ended_utc=None if course.block is not None else self.now(),
        )

    # What is played.

    def _play(self, course: Course) -> Practised:
        leave = Leave.DONE
        goes_on = False  # with the block at hand, of which something was played just now
        try:
            while (block := course.block) is not None:
                if not goes_on:
                    reply = self.asks(self._before(course))
                    if reply is Reply.STOP:
                        leave = Leave.QUIT
                        break
                    if reply is Reply.SKIP or block.kind is BlockKind.BREAK:
                        course = self._next(course, skipped=reply is Reply.SKIP)
                        continue
                part = self._play_block(course)
                course = course.played_on(part.done)
                self._keep(course)
                if part.failure is not None:
                    raise part.failure
                if part.leave is Leave.INTERRUPTED:
                    leave = part.leave
                    break
                goes_on = False
                if part.leave is Leave.AGAIN and course.block_left > _LEAST_LEFT:
                    goes_on = True
                    continue
                if part.leave is Leave.QUIT and course.block_left > _LEAST_LEFT:
                    reply = self.asks(left_interlude(course, self._title))
                    if reply is Reply.STOP:
                        leave = Leave.QUIT
                        break
                    goes_on = reply is Reply.GO
                    if goes_on:
                        continue
                    course = self._next(course, skipped=True)
                    continue
                course = self._next(course)
        except KeyboardInterrupt:
            leave = Leave.INTERRUPTED
        return self._ended(course, leave)

    def _next(self, course: Course, *, skipped: bool = False) -> Course:
        course = course.next(self._given(), skipped=skipped)
        self._keep(course)
        return course

    def _before(self, course: Course) -> Interlude:
        assert course.block is not None
        assert self._planning is not None
        hint = self.runs.hint(course.block, self._planning)
        shown = is_shown(course.block, self._planning.memory)
        interlude = block_interlude(course, self._title, hint=hint, shown=shown)
        remarks, self._remarks = self._remarks, []
        return replace(interlude, lines=(*interlude.lines, *remarks))

    def _play_block(self, course: Course) -> Part:
        assert course.block is not None
        assert self._planning is not None
        try:
            part = self.runs.play(course.block, course.block_left, self._planning, self._given)
        except BadInput as error:  # a drill or a score that cannot be played: the rest can
            self._tell(f"{self._title_of(course)} is left out: {error}")
            return Part(BlockDone(skipped=True), Leave.DONE, heard=False)
        self._heard |= part.heard
        for words in part.remarks:
            self._tell(words)
        return part

    def _ended(self, course: Course, leave: Leave) -> Practised:
        planning = self._plan(None)
        memory = planning.memory
        newly = newly_in_time(course, memory)
        count = len(in_time(memory))
        tomorrow = None
        if course.block is None:
            given = planning.given
            later = replace(
                given,
                day=given.day + _DAY,
                now_s=given.now_s + _DAY.total_seconds(),
                minutes=max(course.minutes, 3.0),
                assignments=tuple(one.content for one in planning.assignments),
            )
            tomorrow = plan_day(later)
        settings = self.app.settings
        lines = summary_lines(
            course,
            self._title,
            newly,
            count,
            tomorrow,
            self.runs.guitar.neck,
            settings.language,
            settings.accidentals,
        )
        if leave is not Leave.INTERRUPTED:
            try:
                self.asks(end_interlude(course, lines))
            except KeyboardInterrupt:
                leave = Leave.INTERRUPTED
        return Practised(course, leave, self._heard, newly, count, tomorrow, lines)

    def _title(self, drill: str) -> str:
        if drill not in self._titles:
            try:
                self._titles[drill] = find(drill, self.app.home).content.title
            except BadInput:
                self._titles[drill] = drill
        return self._titles[drill]

    def _title_of(self, course: Course) -> str:
        block = course.block
        return "" if block is None else block.drill or block.score or block.kind.value


class _Stopped(Exception):
    """The player stopped before a session began."""

    def __init__(self, leave: Leave) -> None:
        super().__init__(leave.value)
        self.leave = leave
