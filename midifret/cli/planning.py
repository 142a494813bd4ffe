"""What is planned for a player today: book, path, assignments and memory gathered into one plan."""

import datetime as dt
import json
from collections.abc import Collection, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from midifret.book.book import Book
from midifret.book.day import practice_day
from midifret.cli.app import App, warn
from midifret.cli.remembering import memory_now
from midifret.drills.fields import position_number
from midifret.drills.library import entries, find
from midifret.files import Home
from midifret.gear.path import load_assignment, load_path
from midifret.neck import Neck
from midifret.neck.position import last_position
from midifret.practice import (
    Asked,
    Assignment,
    DayAnswer,
    DayMinutes,
    DayPlan,
    DayReading,
    DayTempo,
    Memory,
    MethodPath,
    PlanInput,
    Remembered,
    Stage,
    StageDay,
    Standing,
    Strand,
    plan_day,
    shown_of,
    standing,
    still_chosen,
)
from midifret.practice.course import Course
from midifret.practice.kept_course import course_of
from midifret.practice.plan import LEAST_MINUTES, MOST_MINUTES, USUAL_MINUTES
from midifret.practice.set_work import TaskToday, still_set, work_today
from midifret.reading.build import DRILL_PREFIX
from midifret.terms import BadInput, Place
from midifret.terms.practised import ReadingDone, SessionKept, StageSet

_ENDINGS = (".yaml", ".yml")
BY_PLACEMENT, BY_PLAYER = "placement", "player"
_LONG_AWAY_S = 10 * 365 * 86_400.0  # so long away is more likely a clock without a battery [ours]
_LEAST_READ = 8  # notes; a shorter reading shows little of a position [ours]


@dataclass(frozen=True, slots=True)
class HeldAssignment:
    """An assignment that holds today, and the file that it stands in. today: what was played of its tasks."""

    file: Path
    content: Assignment
    today: tuple[TaskToday, ...] = ()


@dataclass(frozen=True, slots=True)
class Planning:
    """A plan and all that it was made from.

    day: the practice day. neck: as practised. shown: what was shown of each stage, by its name. stages_set:
    what the player or a placement run set and still holds, by strand. left_out: errors of assignments that
    cannot be read. remarks: plain sentences that the plan itself cannot know. unfinished: the session of the
    day that can be taken up.
    """

    player: str
    day: dt.date
    neck: Neck
    given: PlanInput
    plan: DayPlan
    shown: Mapping[str, tuple[StageDay, ...]]
    stages_set: Mapping[Strand, StageSet]
    assignments: tuple[HeldAssignment, ...]
    left_out: tuple[BadInput, ...]
    remarks: tuple[str, ...]
    unfinished: SessionKept | None = None

    @property
    def memory(self) -> Memory:
        """What the player remembers."""
        return self.given.memory

    @property
    def path(self) -> MethodPath:
        """The path that holds for the player."""
        return self.given.path

    @property
    def standing(self) -> Standing:
        """Where the player stands on it."""
        return self.given.standing


def planning_of(
    app: App,
    book: Book | None,
    player: str,
    neck: Neck,
    *,
    now_utc: dt.datetime,
    zone: str,
    minutes: float = USUAL_MINUTES,
    memory: Memory | None = None,
) -> Planning:
    """Plan a session of so many minutes for a player.

    book: None where there is none yet; then nothing is known of the player. memory: where the caller has it
    already, as of now; else it is taken from the book and brought up to the newest runs, which is kept.
    Raises BadInput for minutes out of range, a faulty path, an unknown player or zone.
    """
    check_minutes(minutes)
    kept = _Kept(app.home, book, player)
    day = practice_day(now_utc, zone)
    if memory is None:
        memory = Memory() if book is None else memory_now(book, player, now_utc, say=warn)
    drills = {entry.name: entry for entry in entries(app.home)}
    path = path_on(app.home, neck, drills)
    assignments, left_out = held_assignments(app.home, path, drills, day)
    if assignments:
        contents = [one.content for one in assignments]
        work = work_today(contents, kept.courses_on(day), kept.drill_minutes_on(day))
        assignments = tuple(replace(one, today=today) for one, today in zip(assignments, work, strict=True))
    shown = kept.shown(path, neck, day)
    stages, remarks = _stages_set(path, kept.stages_set, shown, day)
    remarks += _clock_remarks(kept.begun_after(now_utc), memory, now_utc)
    said = {strand: one.stage for strand, one in stages.items()}
    stands = standing(
        path,
        shown,
        teacher=_by_teacher(assignments),
        placed=kept.placed,
        chosen=said,
    )
    given = PlanInput(
        memory,
        path,
        stands,
        day,
        now_utc.timestamp(),
        minutes,
        kept.history,
        tuple(still_set(one.content, one.today) for one in assignments),
        _drills_done(app.home, book, player, _drills_asked(path, stands)),
        neck.strings,
        neck.last_fret,
    )
    return Planning(
        player, day, neck, given, plan_day(given), shown, stages, assignments, left_out, tuple(remarks),
        None if book is None else book.open_session(player, day),
    )  # fmt: skip


def path_on(home: Home, neck: Neck, drills: Collection[str] | None = None) -> MethodPath:
    """Return the path that holds for a player, as far as the neck has places for it. Raises BadInput."""
    return load_path(home, drills).on_neck(neck.strings, neck.last_fret, last_position(neck))


def held_assignments(
    home: Home, path: MethodPath, drills: Collection[str], day: dt.date
) -> tuple[tuple[HeldAssignment, ...], tuple[BadInput, ...]]:
    """Return the assignments that hold on a practice day, the one that ends first before the others.

    Beside them the errors of files that cannot be read: one bad file does not take the others with it.
    """
    folder = home.assignments
    if not folder.is_dir():
        return (), ()
    held: list[HeldAssignment] = []
    errors: list[BadInput] = []
    scores = home.score_names()
    for file in sorted(file for file in folder.iterdir() if file.suffix in _ENDINGS and file.name[0] != "."):
        try:
            content = load_assignment(file, path, drills, scores)
        except BadInput as error:
            errors.append(error)
            continue
        if content.holds_on(day):
            held.append(HeldAssignment(file, content))
    held.sort(key=lambda one: (one.content.until, one.file.name))
    return tuple(held), tuple(errors)


class _Kept:
    """What the book has of a player; nothing where there is no book."""

    def __init__(self, home: Home, book: Book | None, player: str) -> None:
        self._book = book
        self._player = player

    @cached_property
    def stages_set(self) -> Mapping[Strand, StageSet]:
        """The newest of each strand, whether or not it still holds.

        Where the player let the gates decide again, it is that of the newest placement run.
        """
        found: dict[Strand, StageSet] = {}
        by_run: dict[Strand, StageSet] = {}
        for one in self._book.stages_set(self._player) if self._book else ():
            strand = Strand(one.strand)
            if one.by == BY_PLACEMENT:
                by_run[strand] = one
            if one.stage:
                found[strand] = one
            elif strand in by_run:
                found[strand] = by_run[strand]
            else:
                found.pop(strand, None)
        return found

    def begun_after(self, time_utc: dt.datetime) -> int:
        """How many runs are dated so much later that a clock was wrong."""
        if self._book is None:
            return 0
        return self._book.runs_begun_after(self._player, time_utc + dt.timedelta(hours=1))

    def courses_on(self, day: dt.date) -> tuple[Course, ...]:
        """The sessions of a practice day; one that cannot be read shows nothing."""
        found = []
        for one in self._book.sessions_on(self._player, day) if self._book else ():
            with suppress(BadInput, ValueError):
                found.append(course_of(json.loads(one.plan), one.done, one.block))
        return tuple(found)

    def drill_minutes_on(self, day: dt.date) -> Mapping[tuple[str, float | None], float]:
        """Minutes of all runs of a day, by drill and tempo."""
        return self._book.drill_minutes_on(self._player, day) if self._book else {}

    @property
    def history(self) -> tuple[DayMinutes, ...]:
        """Minutes of each practice day."""
        days = self._book.minutes_by_day(self._player) if self._book else ()
        return tuple(DayMinutes(day, minutes) for day, minutes in days)

    @property
    def placed(self) -> Mapping[Strand, str]:
        """The stages set; those before them count as held."""
        return {strand: one.stage for strand, one in self.stages_set.items()}

    def shown(self, path: MethodPath, neck: Neck, day: dt.date) -> Mapping[str, tuple[StageDay, ...]]:
        """What was shown of each stage up to a day; later days were dated by a clock that was wrong."""
        if self._book is None:
            return {stage.name: () for stage in (*path.rows, *path.reading)}
        kinds = {stage.kind for stage in path.rows}
        last_fret = min(max(high for stage in path.rows for _, high in stage.frets), neck.last_fret)
        asked = {
            (kind.value, string, fret): Asked(Place(string, fret), kind)
            for kind in kinds
            for string in range(1, neck.strings + 1)
            for fret in range(last_fret + 1)
        }
        firsts = [
            DayAnswer(day, Remembered(asked[kind, string, fret], at_s, right, recall_s))
            for day, kind, string, fret, at_s, right, recall_s in self._book.first_answers(
                self._player, kinds, until=day, last_fret=last_fret
            )
            if (kind, string, fret) in asked
        ]
        tempos = [
            DayTempo(one.day, one.drill, one.tempo_bpm)
            for one in self._book.owned_tempos(self._player)
            if one.day <= day
        ]
        readings = [
            reading
            for one in self._book.readings_done(self._player, DRILL_PREFIX)
            if one.day <= day and (reading := _reading(one)) is not None
        ]
        return shown_of(path, firsts, tempos, readings, strings=neck.strings, last_fret=neck.last_fret)


def _reading(done: ReadingDone) -> DayReading | None:
    """A reading in a position; None for one anywhere on the neck, by a fingering, or too short."""
    where = done.drill.rpartition("@")[2]
    try:
        position = 0 if where == "open" else position_number(where)
    except ValueError:
        return None
    if done.answers < _LEAST_READ:
        return None
    return DayReading(done.day, position, done.right / done.answers, done.tempo_bpm)


def _stages_set(
    path: MethodPath,
    kept: Mapping[Strand, StageSet],
    shown: Mapping[str, tuple[StageDay, ...]],
    day: dt.date,
) -> tuple[Mapping[Strand, StageSet], list[str]]:
    """The stages that were set and still hold, and what to say of those that cannot."""
    found: dict[Strand, StageSet] = {}
    remarks: list[str] = []
    for strand, one in kept.items():
        stage = next((stage for stage in path.strand(strand) if stage.name == one.stage), None)
        if stage is None:
            remarks.append(f'The stage "{one.stage}", which was set, is not on the path any more.')
        elif still_chosen(stage, shown.get(stage.name, ()), min(one.day, day)):
            found[strand] = one
    return found, remarks


def _clock_remarks(future: int, memory: Memory, now_utc: dt.datetime) -> list[str]:
    """What to say where a clock was wrong, or is."""
    remarks = []
    if future:
        are = "run is" if future == 1 else "runs are"
        remarks.append(
            f"{future} {are} dated later than now: a clock was wrong, then or now. Such answers are taken "
            "as given now, and show nothing for the path until their day comes."
        )
    if memory.newest_s is not None and now_utc.timestamp() - memory.newest_s > _LONG_AWAY_S:
        remarks.append(
            "By its date your last practice was more than ten years ago. If it was not, a clock was wrong, "
            "and what is said to be lost is said in error."
        )
    return remarks


def _by_teacher(assignments: tuple[HeldAssignment, ...]) -> Mapping[Strand, str]:
    """Where teachers say to be; of two that say it, the one that ends first."""
    found: dict[Strand, str] = {}
    for one in assignments:
        for strand, name in one.content.stages:
            found.setdefault(strand, name)
    return found


def _drills_asked(path: MethodPath, stands: Standing) -> tuple[str, ...]:
    """The drills of which a plan has to know whether their gates were met."""
    stages: list[Stage | None] = [stands.rows, *(path.stage(name) for name in stands.fallen)]
    return tuple(dict.fromkeys(name for stage in stages if stage is not None for name in stage.drills))


def _drills_done(home: Home, book: Book | None, player: str, drills: tuple[str, ...]) -> frozenset[str]:
    """Those of the drills whose own gate was met by as many runs in a row as it asks for."""
    if book is None:
        return frozenset()
    done = set()
    for name in drills:
        passed = book.runs_passed_in_a_row(player, name)
        if not passed:
            continue
        try:
            gate = find(name, home).content.gate
        except BadInput:
            continue  # a faulty drill is told by whoever plays it
        if gate is not None and passed >= gate.runs_in_a_row:
            done.add(name)
    return frozenset(done)


def check_minutes(minutes: float) -> None:
    """Raise BadInput for minutes of which no session can be planned."""
    if not LEAST_MINUTES <= minutes <= MOST_MINUTES:  # also false for what is no number
        raise BadInput(
            f"a session of {minutes:g} minutes cannot be planned",
            allowed=f"{LEAST_MINUTES:g} to {MOST_MINUTES:g} minutes",
        )
