"""A live run put together: book, journal, source, clock and view, opened and closed in the right order."""

import datetime as dt
import gc
import signal
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from types import FrameType

import tzlocal

from midifret.book.book import Book
from midifret.book.day import local_time, practice_day
from midifret.book.writer import BookWriter
from midifret.cli.app import App, warn
from midifret.clock import Clock
from midifret.gear.guitar import Guitar
from midifret.gear.thresholds import load_thresholds
from midifret.play.asked_text import head_text
from midifret.session.around import Finished, Leave, Record, Recorder, Setting, Source
from midifret.session.conductor import Conductor
from midifret.session.live import POLL_S, LiveRun
from midifret.session.screen import View
from midifret.show.keys import control_for
from midifret.show.words import CAUTION, FIRST_RUN, rest_words
from midifret.terms import BadInput, Exercise, Prompt
from midifret.terms.calibration import ViewKind
from midifret.terms.record import RunEnd, RunStart
from midifret.timing import Calibrated, calibrate
from midifret.wire.journal import Journal, recover

# How long a live loop sleeps between two looks. Half of POLL_S: a look costs 0.03 ms, and a note is judged a
# quarter of a millisecond sooner in the mean, half of one at the 99th percentile [calc].
LIVE_POLL_S = POLL_S / 2
# Runs less than this far apart are one sitting: a rest shorter than five minutes is none.
_REST_S = 300.0
INTERRUPTED = 130  # the exit code
BREATH_S = 1  # before a count-in, which is a countdown itself [ours]


def now_utc() -> dt.datetime:
    """The wall clock, which only dates runs."""
    return dt.datetime.now(dt.UTC)


def local_zone() -> str:
    """The IANA name of the zone that this machine is in."""
    return tzlocal.get_localzone_name()


def recover_takes(app: App) -> None:
    """Turn what a killed run left behind into takes, and say so."""
    for found in recover(app.home.takes):
        if found.problem:
            warn(f"a run that was cut off could not be recovered: {found.problem}")
        else:
            warn(f"recovered the take of a run that was cut off: {found.take_path}")


def known_player(book: Book, app: App, asked: str | None) -> str:
    """Return the player asked for, who must exist, or the settings' own, who is added at the first run."""
    if asked is None:
        return book.ensure_player(app.settings.player, created_utc=now_utc())
    player = book.player(asked)
    if player.simulated:
        raise BadInput(
            f"{asked!r} is a simulated player; people's runs are kept apart from it",
            allowed="the name of a person; `midifret players --add NAME` adds one",
        )
    return player.name


@dataclass(frozen=True, slots=True)
class Table:
    """What a run needs from outside, each made by the command.

    source, clock, view: as the live run takes them. on_cue, on_due: told of every cue and beat, for a
    virtual guitar. poll_s: how long the loop sleeps between two looks. conductor: makes what gives the beat
    of an exercise in tempo. port: name of the guitar's MIDI input, empty for none. on_run: told of each run
    before it begins, for a view that has something to prepare.
    """

    source: Source
    clock: Clock
    view: View
    on_cue: Callable[[Prompt, float], None] | None = None
    poll_s: float = LIVE_POLL_S
    conductor: Callable[[Exercise], Conductor | None] = lambda exercise: None
    on_due: Callable[[Prompt, float], None] | None = None
    port: str = ""
    on_run: Callable[[Setting], None] = lambda setting: None


def play_once(app: App, book: Book, setting: Setting, table: Table) -> Finished:
    """Play one run: its take beside the book, every answer in the book, whatever makes it end."""
    zone = local_zone()
    started = now_utc()
    exercise = setting.exercise
    reading = ""
    if exercise.score is not None:
        from midifret.reading.kept import reading_text  # drills do without it

        reading = reading_text(exercise)
    folder = app.home.writable(app.home.takes)
    name = take_name(exercise, local_time(started, zone))
    journal = Journal(
        folder / name,
        drill=exercise.name,
        seed=exercise.seed,
        guitar=setting.guitar.name,
        tempo_bpm=exercise.tempo_bpm,
        section=exercise.section,
        reading=reading,
        asked="" if setting.ask is None else head_text(exercise),
        view=table.view.kind,
    )
    writer = BookWriter(book)
    try:
        writer.start_run(
            RunStart(
                player=setting.player,
                drill=exercise.name,
                title=exercise.title,
                seed=exercise.seed,
                guitar=setting.guitar.name,
                started_utc=started,
                zone=zone,
                take_file=name,
                simulated=setting.simulated,
                port=table.port,
                tempo_bpm=exercise.tempo_bpm,
                names_cued=exercise.names_cued,
                window_ms=None if exercise.tempo is None else exercise.tempo.within_ms,
            )
        )
        finished = play_live(setting, table, journal, writer)
        gate = finished.summary.gate
        end = RunEnd(
            ended_early=finished.ended_early,
            played_s=finished.played_s,
            gate_met=None if gate is None else gate.this_run,
            notes=finished.notes,
            voided=tuple(finished.glitches.items()),
            tempo_moved=finished.tempo_moved,
        )
        writer.end_run(end, ended_utc=now_utc())
    finally:
        # The take first: from it everything else can be had again.
        try:
            journal.close()
        finally:
            writer.close()
    if finished.strings_ok is not None:
        book.put_string_check(setting.guitar.name, checked_utc=started, zone=zone)
    return finished


def play_live(setting: Setting, table: Table, recorder: Recorder, record: Record) -> Finished:
    """Play a live run at a table, kept by whatever is handed in."""
    table.on_run(setting)
    live = LiveRun(
        setting,
        source=table.source,
        clock=table.clock,
        recorder=recorder,
        record=record,
        view=table.view,
        orders=control_for,
        on_cue=table.on_cue,
        conductor=table.conductor(setting.exercise),
        on_due=table.on_due,
        poll_s=table.poll_s,
    )
    # A collection of all that was imported and read so far would take 10 ms of the player's time.
    gc.collect()
    gc.freeze()
    with _interrupting(live):
        return live.play()


def calibrated(
    app: App, book: Book, player: str, guitar: str, port: str, view: ViewKind = ViewKind.TERMINAL
) -> Calibrated:
    """Return the calibration that holds for a player, guitar, port and view now."""
    measured, rules = book.measurements(player), load_thresholds(app.home)
    return calibrate(measured, guitar=guitar, port=port, now=now_utc(), rules=rules, view=view)


def setting_for(
    app: App,
    book: Book,
    exercise: Exercise,
    guitar: Guitar,
    player: str,
    port: str = "",
    view: ViewKind = ViewKind.TERMINAL,
) -> Setting:
    """Return the setting of a person's next run: what of the day's cautions and checks is still due.

    port: name of the guitar's MIDI input. By it, and by the view, its calibration is known.
    """
    zone, now = local_zone(), now_utc()
    today = practice_day(now, zone)
    settings = app.settings
    first_of_day = book.runs_on(player, today) == 0
    notices = [CAUTION] if first_of_day else []
    if first_of_day and not any(app.home.guitars.glob("*.yaml")) and settings.guitar == "default":
        notices.insert(0, FIRST_RUN)
    played_s = _sitting_s(book, player, today, now)
    return Setting(
        exercise=exercise,
        guitar=guitar,
        player=player,
        language=settings.language,
        accidentals=settings.accidentals,
        countdown_s=settings.countdown_s if exercise.tempo is None else BREATH_S,
        wait_for_start=book.runs_of(player, exercise.name) == 0,
        check_strings=guitar.wiring.knows_strings and not book.string_check_done(guitar.name, today),
        notice=" ".join(notices),
        rest_at_s=max(0.0, settings.rest_after_minutes * 60 - played_s),
        rest_words=rest_words(settings.rest_after_minutes),
        passed_before=book.runs_passed_in_a_row(player, exercise.name),
        times=calibrated(app, book, player, guitar.name, port, view).times,
    )


def after_run(setting: Setting, finished: Finished, exercise: Exercise) -> Setting:
    """Return the setting for the same drill once more in the same sitting."""
    gate = finished.summary.gate
    return replace(
        setting,
        exercise=exercise,
        check_strings=False,
        wait_for_start=False,
        notice="",
        rest_at_s=None if setting.rest_at_s is None else max(0.0, setting.rest_at_s - finished.played_s),
        passed_before=setting.passed_before + 1 if gate is not None and gate.this_run else 0,
    )


def _sitting_s(book: Book, player: str, today: dt.date, now: dt.datetime) -> float:
    """Seconds played today, if the last run ended so lately that there was no rest since."""
    last = book.last_run_end(player)
    if last is None or (now - last).total_seconds() > _REST_S:
        return 0.0
    return book.minutes_on(player, today) * 60


def take_name(exercise: Exercise, started: dt.datetime) -> str:
    """The name of a new take: local time, what was played, and some letters that no other take has."""
    played = "".join(c if c.isalnum() or c in "-." else "-" for c in exercise.name)[-60:]
    return f"{started:%Y-%m-%d_%H%M%S}_{played}_{uuid.uuid4().hex[:6]}.mid"


@contextmanager
def _interrupting(live: LiveRun) -> Iterator[None]:
    """Let Ctrl-C and a request to end stop the run in order instead of in the middle of a step."""

    def stop(_number: int, _frame: FrameType | None) -> None:
        live.interrupt()

    before = {number: signal.signal(number, stop) for number in _stopping_signals()}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _stopping_signals() -> list[int]:
    names = ("SIGINT", "SIGTERM", "SIGHUP")
    return [getattr(signal, name) for name in names if hasattr(signal, name)]


def exit_code(finished: Finished) -> int:
    """0 done, 1 the gate was not met, 130 interrupted. Raises what made the run impossible."""
    if finished.failure is not None:
        raise finished.failure
    if finished.leave is Leave.INTERRUPTED:
        return INTERRUPTED
    gate = finished.summary.gate
    return 0 if gate is None or gate.met else 1
