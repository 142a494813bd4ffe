"""`midifret calibrate`: how long guitar, eyes and hands need, so that recall times are the mind's alone."""

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import replace
from typing import Any

import click
from rich.console import Console

from midifret.book.book import Book
from midifret.book.day import local_time
from midifret.cli.app import (
    App,
    app_of,
    guitar_option,
    json_option,
    player_option,
    print_document,
    warn,
)
from midifret.cli.in_tempo import Beat, open_beat
from midifret.cli.run_options import RunWishes, run_options, seed_option
from midifret.cli.running import (
    BREATH_S,
    Table,
    known_player,
    local_zone,
    now_utc,
    play_live,
    recover_takes,
    take_name,
)
from midifret.cli.time_figures import KeptTimes, time_figures
from midifret.clock import RealClock
from midifret.gear import ClickSettings, ClickWay
from midifret.gear.guitar import Guitar
from midifret.gear.thresholds import load_thresholds
from midifret.play.calibration import calibration_exercise, readings_of
from midifret.session.around import NO_TIMES, Finished, Leave, Setting
from midifret.show.drill_screen import DrillScreen, open_view
from midifret.show.report import print_rows
from midifret.show.time_document import time_document
from midifret.show.time_rows import calibration_rows
from midifret.show.time_values import CalibrationFigure, TimeFigures
from midifret.show.words import CAUTION
from midifret.terms import Answer, BadInput, Exercise
from midifret.terms.calibration import CalibrationPart, Measurement, Missing
from midifret.wire.journal import Journal
from midifret.wire.port_names import bare_name
from midifret.wire.ports import open_source

_PARTS = {
    CalibrationPart.REACTION: "reaction",
    CalibrationPart.CLICK: "click",
    CalibrationPart.HANDS: "hands",
}
_UNHEARD = (
    "No click is heard, only seen: the eye follows a beat less well than the ear. With --click midi or "
    "--click sound it is heard."
)


@click.command("calibrate")
@click.option(
    "--part",
    "parts",
    type=click.Choice([part.value for part in CalibrationPart]),
    multiple=True,
    help="Only this part, once for each; else all three.",
)
@click.option("--plucks", type=click.IntRange(1, 500), default=None, help="How many, where more are needed.")
@seed_option("Of the order; else another for every call.")
@run_options(counted=False)
@guitar_option
@player_option
@json_option
@click.pass_context
def command(
    context: click.Context,
    parts: tuple[str, ...],
    plucks: int | None,
    seed: int | None,
    live: RunWishes,
    guitar: str | None,
    player: str | None,
    as_json: bool,
) -> int:
    """Measure, in three minutes, what a response time holds beside recalling a note.

    Reaction: pluck a shown open string the moment it is shown. Click: pluck shown places on a click, which
    tells how latency depends on pitch. Hands: play shown places, which tells the way of the hands. Each part
    can be done alone. What was measured on one guitar and port does not hold for another, nor for ever.
    """
    app = app_of(context)
    chosen = app.guitar(guitar)
    asked = [CalibrationPart(part) for part in dict.fromkeys(parts)] or list(_PARTS)
    if plucks is not None and len(asked) > 1:
        raise BadInput("--plucks says how many are needed of one part", allowed="one --part with it")
    if live.click.unheard and CalibrationPart.CLICK not in asked:
        raise BadInput(f"{live.click.unheard} needs the part with the click", allowed="--part click with it")
    clicks = live.click.over(app.settings.click)
    for part in asked:
        calibration_exercise(part, chosen.neck, count=plucks)  # a neck that cannot is told before all else
    recover_takes(app)
    clock = RealClock()
    console = Console(stderr=as_json)
    interrupted = False
    failure: BadInput | None = None
    with app.open_book() as book, ExitStack() as opened:
        name = known_player(book, app, player)
        source = open_source(live.port_of(chosen), clock, virtual=live.virtual)
        opened.callback(source.close)
        beat = Beat(None, None)
        if CalibrationPart.CLICK in asked:
            with_click = calibration_exercise(CalibrationPart.CLICK, chosen.neck)
            beat = open_beat(with_click, None, clicks, source, clock)
            opened.callback(beat.close)
        with open_view(console, json=False) as view:
            table = Table(source, clock, view, conductor=beat.conductor, port=bare_name(source.name))
            on_screen = isinstance(view, DrillScreen)
            for part in asked:
                finished = measure(
                    app, book, name, chosen, table, part, plucks, seed, clicks, beat.name, on_screen=on_screen
                )
                interrupted = finished.leave is Leave.INTERRUPTED
                failure = finished.failure
                if interrupted or failure is not None or finished.ended_early or finished.leave is Leave.QUIT:
                    break
        figures = calibration_figures(app, book, name)
    if as_json:
        print_document({"calibration": _document(figures)})
    else:
        print_rows(console, calibration_rows(figures.calibration, console.width))
    if failure is not None:
        raise failure
    if interrupted:
        return 130
    missing = missing_of(figures.calibration, asked)
    for part, words in missing:
        warn(f"{_PARTS[part]}: {words}")
    return 1 if missing else 0


def measure(
    app: App,
    book: Book,
    player: str,
    guitar: Guitar,
    table: Table,
    part: CalibrationPart,
    plucks: int | None,
    seed: int | None,
    clicks: ClickSettings,
    click_name: str,
    *,
    on_screen: bool,
) -> Finished:
    """Play one part, and again for as long as the player wants; keep what was played in book and take."""
    while True:
        number = len(book.measurements(player)) if seed is None else seed
        exercise = calibration_exercise(part, guitar.neck, seed=number, count=plucks)
        started = now_utc()
        take = take_name(exercise, local_time(started, local_zone()))
        folder = app.home.writable(app.home.takes)
        journal = Journal(
            folder / take,
            drill=exercise.name,
            seed=exercise.seed,
            guitar=guitar.name,
            tempo_bpm=exercise.tempo_bpm,
            section=exercise.section,
            view=table.view.kind,
        )
        try:
            setting = _setting(app, exercise, guitar, player, clicks, on_screen=on_screen)
            finished = play_live(setting, table, journal, _NoRecord())
        finally:
            journal.close()
        readings = readings_of(finished.answers)
        if finished.leave is Leave.AGAIN:
            continue
        if readings:
            click_by = click_name if exercise.tempo is not None else ""
            view = table.view.kind
            measured = Measurement(part, guitar.name, table.port, started, readings, take, click_by, view)
            figures = calibration_figures(app, book, player, (measured, *book.measurements(player)))
            book.put_measurement(player, measured, _document(figures))
        return finished


def calibration_figures(
    app: App, book: Book, player: str, measurements: Sequence[Measurement] | None = None
) -> TimeFigures:
    """Return what was measured of a player, and what it gives."""
    kept = KeptTimes(measurements=tuple(book.measurements(player) if measurements is None else measurements))
    return time_figures(kept, load_thresholds(app.home), now=local_time(now_utc(), local_zone()))


def _document(figures: TimeFigures) -> dict[str, Any]:
    """The same as the report has it in its document."""
    return time_document(figures)["calibration"] or {}


def missing_of(
    figure: CalibrationFigure | None, asked: Sequence[CalibrationPart]
) -> list[tuple[CalibrationPart, str]]:
    """Which of the parts asked for give no figure yet, or not a sure one, each with what to do."""
    if figure is None:
        return [(part, "nothing was played") for part in asked]
    calibrated = figure.calibrated
    found = {
        CalibrationPart.CLICK: calibrated.latency,
        CalibrationPart.REACTION: calibrated.reaction,
        CalibrationPart.HANDS: calibrated.travels,
    }
    missing = []
    for part in asked:
        value = found[part]
        if isinstance(value, Missing):
            missing.append((part, value.words))
        elif value is None:
            needs = part is CalibrationPart.HANDS and found[CalibrationPart.REACTION] is None
            missing.append((part, "it needs the reaction too" if needs else "nothing was played"))
    return missing


def _setting(
    app: App, exercise: Exercise, guitar: Guitar, player: str, clicks: ClickSettings, *, on_screen: bool
) -> Setting:
    settings = app.settings
    notices = [CAUTION]
    if exercise.tempo is not None and clicks.output is ClickWay.OFF and not clicks.send_clock:
        notices.insert(0, _UNHEARD)
    return Setting(
        exercise=exercise,
        guitar=replace(guitar, signals=()),  # two strings at once may be a slip, and would be an order
        player=player,
        language=settings.language,
        accidentals=settings.accidentals,
        countdown_s=settings.countdown_s if exercise.tempo is None else BREATH_S,
        wait_for_start=on_screen,
        notice=" ".join(notices),
        times=NO_TIMES,  # nothing may be taken off what is being measured
    )


class _NoRecord:
    """Calibration is no practice: its answers stay out of the figures of practice."""

    def answer(self, answer: Answer) -> None:
        """Not kept."""

    def withdraw_from(self, n: int) -> None:
        """Nothing was kept."""

    def check(self) -> None:
        """Nothing can fail."""
