"""What pages of the stand begin, played by the same functions as the commands of the terminal."""

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from typing import Protocol

from midifret.book.book import Book
from midifret.book.day import practice_day
from midifret.cli.app import App
from midifret.cli.calibrate import calibration_figures, measure, missing_of
from midifret.cli.click_output import open_click
from midifret.cli.drill import DrillAsked, play_passes
from midifret.cli.in_tempo import Beat, keep_owned_tempo, passes_of, why_not_counted
from midifret.cli.melody import USUAL_POSITION, Wishes, give_melody
from midifret.cli.passes import Passes
from midifret.cli.read import reading_asked, reading_of
from midifret.cli.recorded import tuned_for
from midifret.cli.run_options import RunWishes
from midifret.cli.running import Table, after_run, local_zone, now_utc, play_once, setting_for
from midifret.cli.score_options import ScoreWishes
from midifret.cli.shelf import scores_folder
from midifret.cli.stand_engraving import Engraver
from midifret.cli.stand_wishes import (
    drill_wishes,
    left_out_of_drill,
    left_out_of_reading,
    reading_wishes,
)
from midifret.clock import Clock
from midifret.gear import ClickSettings, ClickWay
from midifret.gear.guitar import Guitar
from midifret.play.calibration import calibration_exercise
from midifret.serve.clicks import StandClick
from midifret.serve.pages import Pages
from midifret.serve.view import StandView
from midifret.session.around import Finished, Leave, Setting, Source
from midifret.show.rows import plain
from midifret.stand.messages import Begin, Notice
from midifret.terms import BadInput, Exercise
from midifret.terms.calibration import CalibrationPart
from midifret.wire.click import AllOf, ClickOutput
from midifret.wire.port_names import bare_name

# How the hall calls what can be begun; what follows names one.
DRILL, SCORE, MELODY, CALIBRATE = "drill ", "score ", "melody ", "calibrate"
PRACTICE = "practice"


class NamedSource(Source, Protocol):
    """Where the guitar is heard."""

    @property
    def name(self) -> str:
        """For people: the port."""


@dataclass(frozen=True, slots=True)
class Played:
    """What came of something that was begun. words: for the hall, empty for nothing to say."""

    words: str
    leave: Leave


@dataclass(slots=True)
class StandRuns:
    """Everything that runs on the stand need, and the runs.

    stand_clicks: the page makes the click heard; otherwise the settings say what does. source: opens where
    the guitar is heard, or gives what is open. say: one line in the terminal.
    """

    app: App
    book: Book
    player: str
    guitar: Guitar
    live: RunWishes
    stand_clicks: bool
    pages: Pages
    view: StandView
    clock: Clock
    source: Callable[[Guitar], NamedSource]
    say: Callable[[str], None]
    engraver: Engraver
    on_table: Callable[[Table], Table] = lambda table: table

    @property
    def clicks(self) -> ClickSettings:
        """How the beat is heard, where the page does not make it heard."""
        return self.live.click.over(self.app.settings.click)

    def play(self, begin: Begin, *, positions: tuple[int, ...] = ()) -> Played:
        """Play what a page began. positions: that suit it, best first. Raises BadInput and Unavailable."""
        what = begin.what
        if what.startswith(DRILL):
            return self._drill(what.removeprefix(DRILL), begin)
        if what.startswith(MELODY):
            return self._melody(int(what.removeprefix(MELODY)), begin)
        if what.startswith(SCORE):
            return self._score(what.removeprefix(SCORE), begin, positions)
        if what == CALIBRATE:
            return self._calibrate(list(CalibrationPart))
        if what.startswith(f"{CALIBRATE} "):
            return self._calibrate([CalibrationPart(what.removeprefix(f"{CALIBRATE} "))])
        raise BadInput(f"{what!r} cannot be begun", allowed="what the page offers")

    # --- drills and readings ----------------------------------------------------------------------

    def _drill(self, name: str, begin: Begin) -> Played:
        wishes = drill_wishes(begin)
        asked = DrillAsked(self.app, name, self.guitar, None, wishes, self.clicks)
        first = asked.exercise(0)
        passes = passes_of(first, wishes)
        number = self.book.runs_of(self.player, name)
        notice = left_out_of_drill(begin)
        if passes is None:
            finished, exercise = self._again(asked.exercise, number, self.guitar, begin, notice)
            words = _result(finished, exercise)
        else:
            finished, exercise = self._passes(asked, first, passes, number, notice)
            words = " ".join(plain(line).strip() for line in passes.rows())
        if first.tempo is not None:
            day = practice_day(now_utc(), local_zone())
            window_ms = asked.own_window_ms
            keep_owned_tempo(self.book, self.player, first, self.guitar.name, day, window_ms=window_ms)
            words = f"{words} {why_not_counted(exercise, finished, window_ms)}".rstrip()
        if finished.failure is not None:
            raise finished.failure
        return Played(words, finished.leave)

    def _passes(
        self, asked: DrillAsked, first: Exercise, passes: Passes, number: int, notice: str
    ) -> tuple[Finished, Exercise]:
        """Play the passes of a search or a ladder until they are over; return the last."""
        self.engraver.check(first, self.guitar.neck)
        with ExitStack() as opened:
            table = self.table(first, self.guitar, opened)
            setting = self._setting(first, self.guitar, table, stay=False)
            setting = replace(setting, notice=f"{notice} {setting.notice}".strip())
            self.say(f"Playing in passes: {first.title or first.name}")
            played = play_passes(self.app, self.book, setting, table, asked, number, passes)
        for line in passes.rows():
            self.say(plain(line))
        exercise, finished = played[-1]
        return finished, exercise

    def _score(self, file: str, begin: Begin, positions: tuple[int, ...]) -> Played:
        asked = reading_wishes(begin, next(iter(positions), None))
        path = scores_folder(self.app.home) / file
        exercise = reading_asked(
            self.app, asked, path, ScoreWishes(octave=begin.octave, bars=begin.bars), self.guitar
        )
        assert exercise.score is not None
        for remark in exercise.score.remarks:
            self.say(f"{file}: {remark}")
        return self._read(exercise, begin, left_out_of_reading(begin, composed=False))

    def _melody(self, level: int, begin: Begin) -> Played:
        asked = reading_wishes(begin, USUAL_POSITION)
        position = USUAL_POSITION if asked.position is None else asked.position
        neck = self.guitar.neck
        score = give_melody(self.app, neck, Wishes(level=level, position=position), self.player).melody.score
        exercise = reading_of(self.app, asked, score, neck)
        return self._read(exercise, begin, left_out_of_reading(begin, composed=True))

    def _read(self, exercise: Exercise, begin: Begin, notice: str) -> Played:
        guitar = tuned_for(exercise, self.guitar)
        finished, _ = self._again(lambda number: exercise, 0, guitar, begin, notice)
        return Played(_result(finished, exercise), finished.leave)

    def _again(
        self,
        exercise_of: Callable[[int], Exercise],
        number: int,
        guitar: Guitar,
        begin: Begin,
        notice: str = "",
    ) -> tuple[Finished, Exercise]:
        """Play a run, again and again for as long as the player wants; return the last.

        begin: its minutes end a run that is longer. notice: said before the first one.
        """
        exercise = exercise_of(number)
        self.engraver.check(exercise, guitar.neck)
        with ExitStack() as opened:
            table = self.table(exercise, guitar, opened)
            setting = self._setting(exercise, guitar, table, stay=True)
            enough_at_s = None if begin.minutes is None else begin.minutes * 60
            notice = f"{notice} {setting.notice}".strip()
            setting = replace(setting, enough_at_s=enough_at_s, notice=notice)
            while True:
                self.say(f"Playing: {exercise.title or exercise.name}")
                finished = play_once(self.app, self.book, setting, table)
                self.say(_result(finished, exercise))
                if finished.failure is not None:
                    raise finished.failure
                if finished.leave is not Leave.AGAIN:
                    return finished, exercise
                number += 1
                exercise = exercise_of(number)
                setting = after_run(setting, finished, exercise)

    def _setting(self, exercise: Exercise, guitar: Guitar, table: Table, *, stay: bool) -> Setting:
        """The setting of the first run. stay: at the end wait for a key."""
        setting = setting_for(self.app, self.book, exercise, guitar, self.player, table.port, self.view.kind)
        return self.live.over(setting, is_terminal=True, on_screen=True, stay=stay)

    def table(self, exercise: Exercise, guitar: Guitar, opened: ExitStack) -> Table:
        """What runs of an exercise need from outside; the click is closed with `opened`."""
        source = self.source(guitar)
        beat = Beat(None, None)
        if exercise.tempo is not None:
            beat = Beat(self._click(), None)
            opened.callback(beat.close)
        return self.on_table(
            Table(
                source,
                self.clock,
                self.view,
                conductor=beat.conductor,
                port=bare_name(source.name),
                on_run=self.prepare,
            )
        )

    def prepare(self, setting: Setting) -> None:
        """Send the pages what was engraved for a run, and begin it there."""
        prepared = self.engraver.prepare(setting)
        for engraving in prepared.told:
            self.pages.server.send(engraving)
        if prepared.notice:
            self.pages.server.send(Notice(prepared.notice, grave=False))
        self.view.begin(prepared.engraved)

    def _click(self) -> ClickOutput:
        if not self.stand_clicks:
            return open_click(self.clicks, self.clock)
        page = StandClick(self.pages, volume_percent=self.clicks.volume_percent)
        if not self.clicks.send_clock:
            return page
        return AllOf([page, open_click(replace(self.clicks, output=ClickWay.OFF), self.clock)])

    # --- calibration ------------------------------------------------------------------------------

    def _calibrate(self, parts: list[CalibrationPart]) -> Played:
        leave = Leave.DONE
        # What sounds on the page is heard as what sounds on the sound card is.
        clicks = replace(self.clicks, output=ClickWay.SOUND) if self.stand_clicks else self.clicks
        for part in parts:
            exercise = calibration_exercise(part, self.guitar.neck)
            with ExitStack() as opened:
                table = self.table(exercise, self.guitar, opened)
                self.say(f"Playing: {exercise.title or exercise.name}")
                finished = measure(
                    self.app,
                    self.book,
                    self.player,
                    self.guitar,
                    table,
                    part,
                    None,
                    None,
                    clicks,
                    StandClick.name if self.stand_clicks else str(clicks.output),
                    on_screen=True,
                )
            leave = finished.leave
            if finished.failure is not None:
                raise finished.failure
            if finished.ended_early or leave in (Leave.QUIT, Leave.INTERRUPTED):
                break
        figures = calibration_figures(self.app, self.book, self.player)
        missing = missing_of(figures.calibration, parts)
        words = " ".join(f"{part.value.capitalize()}: {why}." for part, why in missing)
        return Played(words or "Calibrated: the report has the figures.", leave)


def _result(finished: Finished, exercise: Exercise) -> str:
    summary = finished.summary
    if not summary.prompts:
        return f"{exercise.title or exercise.name}: nothing was answered."
    return f"{exercise.title or exercise.name}: {summary.right} of {summary.prompts} right."
