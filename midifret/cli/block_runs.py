"""The runs of a block: places as answers come, drills, tempos and readings; kept as any run is."""

import datetime as dt
import math
import textwrap
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from typing import Any

from midifret.book.book import Book
from midifret.book.day import practice_day
from midifret.cli.app import App
from midifret.cli.drill import DrillAsked, play_passes
from midifret.cli.in_tempo import TempoWishes, keep_owned_tempo
from midifret.cli.melody import Wishes, give_melody
from midifret.cli.passes import SEARCH_PASS_NOTES, Search
from midifret.cli.planning import Planning
from midifret.cli.read import ReadingAsked, reading_asked, reading_tempo
from midifret.cli.recorded import tuned_for
from midifret.cli.run_options import RunWishes
from midifret.cli.running import Table, local_zone, now_utc, play_once, setting_for
from midifret.cli.score_options import ScoreWishes
from midifret.cli.shelf import scores_folder
from midifret.fingering import OpenStrings
from midifret.gear import ClickSettings
from midifret.gear.guitar import Guitar
from midifret.play import Ask
from midifret.play.asked_text import asked_exercise
from midifret.practice import Block, BlockKind, PlanInput, RecallKind
from midifret.practice.asking import BlockAsker, PlacementAsker, limit_s
from midifret.practice.course import BlockDone, is_shown, may_be_enough
from midifret.practice.set_work import is_task_of
from midifret.reading.build import position_words, reading_exercise
from midifret.session.around import Finished, Leave, Setting
from midifret.show.practice_words import block_title
from midifret.show.rows import Block as Rows
from midifret.tempo import PassResult
from midifret.terms import Answer, BadInput, Exercise
from midifret.terms.calibration import ViewKind

# A drill ends with the first prompt that closes so many seconds after its time; whoever meets its gate needs
# less than its minutes for a pass. A reading may take half as long again: only one read to its end counts.
# Another pass begins where there is time for most of it, and where it will not be cut [ours].
_OVER_S, _READING_OVER, _MOST_OF = 30.0, 1.5, 0.6
_NOTE_LENGTH = 240  # characters of a teacher's note before a block; `today` has all of it [ours]
_PLACEMENT_LIMIT_S = 10.0  # as for places of which nothing is known, see `limit_s`


@dataclass(frozen=True, slots=True)
class Part:
    """What was played of a block just now.

    heard: whether any note was. failure: why it cannot go on. remarks: what else to say of it.
    """

    done: BlockDone
    leave: Leave
    heard: bool
    failure: BadInput | None = None
    answers: tuple[Answer, ...] = ()
    ended_early: bool = False
    remarks: tuple[str, ...] = ()

    @classmethod
    def of(cls, runs: list[Finished]) -> "Part":
        """Put several runs together. runs: at least one."""
        answers = [answer for run in runs for answer in run.answers]
        last = runs[-1]
        return cls(
            BlockDone(
                sum(run.played_s for run in runs) / 60, len(answers), sum(answer.right for answer in answers)
            ),
            last.leave,
            any(run.notes for run in runs) or any(answer.typed for answer in answers),
            last.failure,
            tuple(answers),
            last.ended_early,
        )


@dataclass(slots=True)
class BlockRuns:
    """Plays blocks for a player on a guitar.

    table: gives what a run of an exercise needs from outside, which is closed with the stack. clicks: how a
    beat is heard. is_terminal: somebody may be asked to check strings. view: by which the player sees it.
    """

    app: App
    book: Book
    player: str
    guitar: Guitar
    live: RunWishes
    table: Callable[[Exercise, Guitar, ExitStack], Table]
    clicks: ClickSettings
    is_terminal: bool
    view: ViewKind = ViewKind.TERMINAL
    now: Callable[[], dt.datetime] = now_utc

    def play(self, block: Block, minutes: float, planning: Planning, given: Callable[[], PlanInput]) -> Part:
        """Play so many minutes of a block. given: what is known by now, asked again as it goes.

        Raises BadInput for a drill or a score that cannot be played, and Unavailable for a click.
        """
        if block.kind is BlockKind.READING and block.score is None:
            return self._melodies(block, minutes, planning)
        if block.score is not None:
            return self._score(block, minutes, planning)
        if block.drill is not None:
            if block.tempo_bpm is not None and block.kind is BlockKind.ROW:
                return self._search(block.drill, block.tempo_bpm, minutes)
            return self._drill(block, block.drill, minutes, given)
        return self._places(block, minutes, planning)

    def hint(self, block: Block, planning: Planning) -> str:
        """What else to say before a block; empty for nothing."""
        if block.kind is BlockKind.READING and block.score is None:
            bpm = self._reading_bpm(planning)
            return (
                "The cursor waits for each note." if bpm is None else f"In tempo, {bpm:.0f} beats a minute."
            )
        if block.kind is BlockKind.TASK:
            return self._task_hint(block, planning)
        if block.tempo_bpm is not None:
            return f"In tempo, from {block.tempo_bpm:.0f} beats a minute."
        return ""

    def _task_hint(self, block: Block, planning: Planning) -> str:
        """Position, tempo and note of what a teacher set."""
        how = []
        if block.score is not None:
            how.append(f"in {position_words(self._position_of(block, planning))}")
        if block.tempo_bpm is not None:
            how.append(f"at {block.tempo_bpm:g} beats a minute")
        words = ", ".join(how)
        notes = [
            f"Your teacher says: {textwrap.shorten(one.content.note, _NOTE_LENGTH, placeholder=' ...')}"
            for one in planning.assignments
            if one.content.note.strip() and any(is_task_of(block, task) for task in one.content.tasks)
        ]
        return " ".join([*([f"{words[:1].upper()}{words[1:]}."] if words else []), *notes])

    def _position_of(self, block: Block, planning: Planning) -> int | None:
        """Where a score is read: as was said, or else as the path has it."""
        reading = planning.standing.reading
        return block.position if block.position is not None else reading.position if reading else None

    def place(self, planning: Planning, minutes: float) -> tuple[PlacementAsker, Part]:
        """Play a placement run of so many minutes at most."""
        neck, settings = self.guitar.neck, self.app.settings
        seed = self.book.runs_of(self.player, "asked:placement")
        asker = PlacementAsker(
            planning.path, neck, seed=seed, most_s=minutes * 60, accidentals=settings.accidentals
        )
        kinds = {stage.kind for stage in planning.path.rows}
        exercise = asked_exercise(
            "placement",
            "Where do you stand?",
            "Places are asked row after row, until one does not come by heart. n: you do not know it.",
            minutes,
            time_limit_s=_PLACEMENT_LIMIT_S,
            naming=kinds == {RecallKind.NAMING},
        )
        return asker, Part.of([self._run(exercise, self.guitar, ask=asker, lasts_s=minutes * 60)])

    # --- places -----------------------------------------------------------------------------------

    def _places(self, block: Block, minutes: float, planning: Planning) -> Part:
        memory, now_s = planning.memory, self.now().timestamp()
        asker = BlockAsker(
            memory.kept,
            block.asked,
            self.guitar.neck,
            began_s=now_s,
            lasts_s=minutes * 60,
            accidentals=self.app.settings.accidentals,
            until_enough=may_be_enough(block, memory, now_s),
            told=(told := is_shown(block, memory)),
        )
        exercise = asked_exercise(
            block.kind.value,
            block_title(block, lambda drill: drill),
            block.why,
            minutes,
            time_limit_s=limit_s(memory),
            naming=all(asked.kind is RecallKind.NAMING for asked in block.asked),
        )
        part = Part.of([self._run(exercise, self.guitar, ask=asker, lasts_s=minutes * 60)])
        if told:  # what is shown is no answer
            part = replace(part, done=BlockDone(part.done.minutes))
        return part

    # --- drills -----------------------------------------------------------------------------------

    def _drill(self, block: Block, name: str, minutes: float, given: Callable[[], PlanInput]) -> Part:
        """A drill again and again; of a row the next one of its stage as soon as one goes well."""
        played: list[Finished] = []
        while True:
            wishes = TempoWishes(tempo_bpm=block.tempo_bpm)
            asked = DrillAsked(self.app, name, self.guitar, None, wishes, self.clicks)
            exercise = asked.exercise(self.book.runs_of(self.player, name))
            left_s = minutes * 60 - sum(run.played_s for run in played)
            finished = self._run(exercise, self.guitar, enough_at_s=left_s + _OVER_S)
            played.append(finished)
            if exercise.tempo is not None:
                self._keep_tempo(exercise, asked.own_window_ms)
            if not _another(played, minutes, over_s=_OVER_S):
                return Part.of(played)
            if block.kind is not BlockKind.ROW:
                continue
            known = given()
            if name in known.drills_done:
                stage = next((each for each in known.path.rows if name in each.drills), None)
                later = (
                    [] if stage is None else [each for each in stage.drills if each not in known.drills_done]
                )
                if later:
                    name = later[0]
                elif stage is not None and stage.gate.tempo_bpm is not None:
                    left = minutes - sum(run.played_s for run in played) / 60
                    rest = self._search(name, stage.gate.tempo_bpm, left)
                    return _together(Part.of(played), rest)

    def _search(self, name: str, tempo_bpm: float, minutes: float) -> Part:
        """Look for the tempo owned in a drill, for so many minutes."""
        asked = DrillAsked(self.app, name, self.guitar, None, TempoWishes(tempo_bpm=tempo_bpm), self.clicks)
        number = self.book.runs_of(self.player, name)
        first = asked.exercise(number)
        passes = TimedSearch(Search(tempo_bpm, min(SEARCH_PASS_NOTES, len(first.prompts))), minutes * 60)
        with ExitStack() as opened:
            table = self.table(first, self.guitar, opened)
            setting = self._setting(first, self.guitar, table)
            played = play_passes(self.app, self.book, setting, table, asked, number, passes)
        self._keep_tempo(first, asked.own_window_ms)
        return Part.of([finished for _, finished in played])

    def _keep_tempo(self, exercise: Exercise, window_ms: float) -> None:
        day = practice_day(self.now(), local_zone())
        keep_owned_tempo(self.book, self.player, exercise, self.guitar.name, day, window_ms=window_ms)

    # --- readings ---------------------------------------------------------------------------------

    def _melodies(self, block: Block, minutes: float, planning: Planning) -> Part:
        """Unseen melodies, one after the other."""
        neck = self.guitar.neck
        bpm = self._reading_bpm(planning)
        played: list[Finished] = []
        while True:
            wishes = Wishes(level=block.level or 1, position=block.position or 0)
            score = give_melody(self.app, neck, wishes, self.player).melody.score
            tempo = reading_tempo(self.app, TempoWishes(tempo_bpm=bpm), score)
            exercise = reading_exercise(score, neck, wishes.position, tempo=tempo)
            played.append(self._read(exercise, minutes, played))
            if not _another(played, minutes):
                return Part.of(played)

    def _score(self, block: Block, minutes: float, planning: Planning) -> Part:
        """A score that was set, in the position said, or else in that of the path."""
        position = self._position_of(block, planning)
        asked = ReadingAsked(position, OpenStrings.NEEDED, False, TempoWishes(tempo_bpm=block.tempo_bpm))
        path = scores_folder(self.app.home) / (block.score or "")
        exercise = reading_asked(self.app, asked, path, ScoreWishes(), self.guitar, assume_octave=True)
        remarks = () if exercise.score is None else _named(exercise.score.remarks, block.score or "")
        played: list[Finished] = []
        while True:
            notice = remarks[0] if remarks and not played else ""
            played.append(self._read(exercise, minutes, played, notice=notice))
            if not _another(played, minutes):
                return replace(Part.of(played), remarks=remarks)

    def _read(
        self, exercise: Exercise, minutes: float, before: list[Finished], *, notice: str = ""
    ) -> Finished:
        left_s = minutes * 60 - sum(run.played_s for run in before)
        guitar = tuned_for(exercise, self.guitar)
        return self._run(exercise, guitar, enough_at_s=left_s * _READING_OVER, notice=notice)

    def _reading_bpm(self, planning: Planning) -> float | None:
        """In tempo, as the gate asks, once a reading of the stage went well; before that the cursor waits."""
        stage = planning.standing.reading
        if stage is None or stage.gate.tempo_bpm is None:
            return None
        went_well = any(day.right >= stage.gate.right for day in planning.shown.get(stage.name, ()))
        return stage.gate.tempo_bpm if went_well else None

    # --- all of them ------------------------------------------------------------------------------

    def _run(
        self,
        exercise: Exercise,
        guitar: Guitar,
        *,
        ask: Ask | None = None,
        lasts_s: float | None = None,
        enough_at_s: float | None = None,
        notice: str = "",
    ) -> Finished:
        with ExitStack() as opened:
            table = self.table(exercise, guitar, opened)
            setting = self._setting(exercise, guitar, table)
            setting = replace(setting, ask=ask, lasts_s=lasts_s, enough_at_s=enough_at_s)
            setting = replace(setting, notice=notice or setting.notice)
            return play_once(self.app, self.book, setting, table)

    def _setting(self, exercise: Exercise, guitar: Guitar, table: Table) -> Setting:
        """As of any run; but the screen before was the time to read, and breaks are planned."""
        setting = setting_for(self.app, self.book, exercise, guitar, self.player, table.port, self.view)
        setting = self.live.over(setting, is_terminal=self.is_terminal, on_screen=False, stay=False)
        return replace(setting, wait_for_start=False, rest_at_s=None)


@dataclass(slots=True)
class TimedSearch:
    """A search for the owned tempo that ends with its time, or before, where it is sure."""

    search: Search
    lasts_s: float
    _played_s: float = field(init=False, default=0.0)

    @property
    def notes(self) -> int:
        """How many notes a pass has at most."""
        return self.search.notes

    @property
    def tempo_bpm(self) -> float | None:
        """Of the next pass."""
        return None if self._played_s >= self.lasts_s else self.search.tempo_bpm

    def take(self, result: PassResult, played_s: float) -> None:
        """Learn from a pass."""
        self._played_s = played_s
        self.search.take(result, played_s)

    def words(self) -> str:
        """Which pass it is."""
        return self.search.words()

    def rows(self) -> Rows:
        """The tempo found."""
        return self.search.rows()

    def document(self) -> dict[str, Any]:
        """The tempo found."""
        return self.search.document()


def _named(remarks: tuple[str, ...], score: str) -> tuple[str, ...]:
    """Remarks on a score with its name, where they do not say it."""
    return tuple(words if words.startswith(score) else f"{score}: {words}" for words in remarks)


def _another(played: list[Finished], minutes: float, *, over_s: float = math.inf) -> bool:
    """Whether there is time for most of another run like the last, and the player was still at it.

    over_s: by how much it may run over before it is cut.
    """
    last = played[-1]  # in tempo one whose last note was missed is not read to its end, and yet was played on
    if last.leave is not Leave.DONE or last.failure is not None or not last.answers:
        return False
    left_s = minutes * 60 - sum(run.played_s for run in played)
    least_s = max(_MOST_OF * last.played_s, last.played_s - over_s, 10.0)
    return left_s >= least_s and math.isfinite(left_s)


def _together(first: Part, then: Part) -> Part:
    return replace(
        then,
        done=first.done.and_then(then.done),
        heard=first.heard or then.heard,
        answers=(*first.answers, *then.answers),
    )
