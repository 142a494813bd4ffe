"""`midifret read`: read a score on the guitar, every note judged by string and fret."""

from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

import click
from click.core import ParameterSource
from rich.console import Console

from midifret.book.book import Book
from midifret.cli.app import App, app_of, guitar_option, json_option, player_option, print_document, warn
from midifret.cli.click_output import click_options, click_wishes
from midifret.cli.in_tempo import open_beat
from midifret.cli.recorded import guitar_of, judge_read, tuned_for
from midifret.cli.running import (
    Table,
    after_run,
    exit_code,
    known_player,
    now_utc,
    play_once,
    recover_takes,
    setting_for,
)
from midifret.cli.score_options import ScoreWishes, read_asked, score_options
from midifret.clock import RealClock
from midifret.drills.fields import position_number
from midifret.fingering import Choices, OpenStrings, finger
from midifret.gear.fingering import load_weights
from midifret.gear.guitar import Guitar
from midifret.play import summarise
from midifret.reading.bars import beats_a_bar, meter_of
from midifret.reading.build import reading_exercise
from midifret.session.around import Finished, Leave, Setting
from midifret.show.drill_screen import DrillScreen, open_view
from midifret.show.reading_rows import reading_document, reading_heading, reading_rows
from midifret.show.report import print_rows
from midifret.show.rows import BLANK
from midifret.show.run_figures import figure_rows, voided_rows
from midifret.tempo import check_tempo
from midifret.terms import BadInput, Exercise, Tempo
from midifret.terms.score import Score
from midifret.wire.port_names import bare_name
from midifret.wire.ports import open_source
from midifret.wire.take import read_take


@click.command("read")
@click.argument("score", type=click.Path(path_type=Path))
@click.option("--position", metavar="N", default=None, help="Read in a position, 5 or V; 0 is the open one.")
@click.option(
    "--open",
    "opened",
    type=click.Choice([choice.value for choice in OpenStrings]),
    default=OpenStrings.NEEDED.value,
    show_default=True,
    help="When an open string is right.",
)
@click.option("--fingered", is_flag=True, help="Show a fingering, and take its places alone for right.")
@click.option("--tempo", "tempo_bpm", type=float, default=None, metavar="BPM", help="Read on a beat.")
@click.option(
    "--window",
    "window_ms",
    type=click.FloatRange(10, 2000),
    default=None,
    metavar="MS",
    help="How early or late a note may be.",
)
@click.option(
    "--take",
    "take",
    type=click.Path(path_type=Path),
    default=None,
    help="Judge this recording instead of listening.",
)
@click.option("--port", metavar="PART", default=None, help="Part of the name of the guitar's MIDI input.")
@click.option("--virtual", is_flag=True, help="Open a port of that name instead, for others to connect to.")
@click.option("--countdown", type=click.IntRange(0, 10), default=None, help="Seconds before the first note.")
@click.option("--no-check", is_flag=True, help="Leave out the day's check of the open strings.")
@score_options
@click_options
@guitar_option
@player_option
@json_option
@click.pass_context
def command(
    context: click.Context,
    score: Path,
    position: str | None,
    opened: str,
    fingered: bool,
    tempo_bpm: float | None,
    window_ms: float | None,
    take: Path | None,
    port: str | None,
    virtual: bool,
    countdown: int | None,
    no_check: bool,
    wishes: ScoreWishes,
    click_way: str | None,
    click_port: str | None,
    send_clock: bool | None,
    volume: int | None,
    guitar: str | None,
    player: str | None,
    as_json: bool,
) -> int:
    """Read SCORE, any score file, on the MIDI guitar.

    In free tempo the cursor waits for each note or chord, and follows where you go on, start again or leave
    something out. In tempo each note is due by its rhythm, and the beat goes on. A note is right where the
    position and the rule for open strings allow it; without --position anywhere on the neck.
    """
    app = app_of(context)
    if position is None and context.get_parameter_source("opened") is ParameterSource.COMMANDLINE:
        raise BadInput("--open needs a position", allowed="with --position N")
    recording = None if take is None else read_take(take)
    chosen = app.guitar(guitar) if recording is None else guitar_of(app, guitar, recording)
    asked = _Asked(
        position=None if position is None else _position(position),
        open_strings=OpenStrings(opened),
        fingered=fingered,
        tempo_bpm=None if tempo_bpm is None else check_tempo(tempo_bpm),
        window_ms=window_ms,
    )
    exercise = _exercise(app, asked, score, wishes, chosen)
    chosen = tuned_for(exercise, chosen)
    assert exercise.score is not None
    for remark in exercise.score.remarks:
        warn(f"{score}: {remark}")
    if take is not None and recording is not None:
        if exercise.tempo is not None and not recording.dues:
            warn(f"{take}: no beat stands in this recording, so it is judged in free tempo")
        exercise = replace(exercise, tempo=exercise.tempo if recording.dues else None)
        answers, decoded, beside = judge_read(exercise, chosen, recording)
        summary = summarise(exercise, answers)
        if as_json:
            print_document(reading_document(exercise, answers, summary, decoded.glitches, beside))
        else:
            rows = reading_rows(exercise, answers, beside, app.settings.language)
            left_out = voided_rows(decoded.glitches, len(decoded.notes))
            heading = reading_heading(exercise)
            print_rows(Console(), (heading, *rows, BLANK, *figure_rows(summary), *left_out))
        if not decoded.notes:
            warn(f"{take}: there is no note in this recording")
        return 0 if decoded.notes else 1
    clicks = click_wishes(click_way, click_port, send_clock, volume)
    if exercise.tempo is None and clicks.unheard:
        raise BadInput(f"{clicks.unheard} needs a tempo", allowed="with --tempo BPM")
    recover_takes(app)
    clock = RealClock()
    console = Console(stderr=as_json)
    with app.open_book() as book, ExitStack() as opened_things:
        book.end_abandoned(started_before_utc=now_utc())
        name = known_player(book, app, player)
        source = open_source(port if port is not None else chosen.port, clock, virtual=virtual)
        opened_things.callback(source.close)
        beat = open_beat(exercise, None, clicks.over(app.settings.click), source, clock)
        opened_things.callback(beat.close)
        with open_view(console, json=False) as view:
            on_screen = isinstance(view, DrillScreen)
            table = Table(source, clock, view, conductor=beat.conductor, port=bare_name(source.name))
            setting = setting_for(app, book, exercise, chosen, name, table.port)
            setting = replace(
                setting,
                check_strings=setting.check_strings and console.is_terminal and not no_check,
                countdown_s=setting.countdown_s if countdown is None else countdown,
                wait_for_start=setting.wait_for_start and on_screen and countdown is None,
                stay=on_screen,
            )
            finished = _play(app, book, setting, table)
    if as_json:
        print_document(
            reading_document(exercise, finished.answers, finished.summary, finished.glitches, finished.beside)
        )
        return exit_code(finished)
    rows = reading_rows(exercise, finished.answers, finished.beside, app.settings.language)
    print_rows(console, (reading_heading(exercise), *rows))
    if on_screen:
        left_out = voided_rows(finished.glitches, finished.notes)
        print_rows(console, (BLANK, *figure_rows(finished.summary), *left_out))
    return exit_code(finished)


@dataclass(frozen=True, slots=True)
class _Asked:
    """How a score is to be read; None for the whole neck, for free tempo, for the usual window."""

    position: int | None
    open_strings: OpenStrings
    fingered: bool
    tempo_bpm: float | None
    window_ms: float | None


def _exercise(app: App, asked: _Asked, path: Path, wishes: ScoreWishes, guitar: Guitar) -> Exercise:
    """Make the reading that is asked for. Raises BadInput."""
    score, neck = read_asked(path, wishes, guitar.neck)
    places = None
    if asked.fingered:
        open_strings = asked.open_strings if asked.position is not None else OpenStrings.FREELY
        choices = Choices(position=asked.position, open_strings=open_strings)
        places = {note.n: note.place for note in finger(score, neck, choices, load_weights(app.home)).notes}
    return reading_exercise(
        score,
        neck,
        asked.position,
        open_strings=asked.open_strings,
        tempo=_tempo(app, asked, score),
        fingered=places,
    )


def _tempo(app: App, asked: _Asked, score: Score) -> Tempo | None:
    if asked.tempo_bpm is None:
        if asked.window_ms is not None:
            raise BadInput("--window needs a tempo", allowed="with --tempo BPM")
        return None
    settings = app.settings.click
    tempo = Tempo(
        asked.tempo_bpm,
        count_in=settings.count_in_beats,
        a_bar=beats_a_bar(meter_of(score)),
        parts=settings.subdivisions,
    )
    return tempo if asked.window_ms is None else replace(tempo, within_ms=asked.window_ms)


def _play(app: App, book: Book, setting: Setting, table: Table) -> Finished:
    """Read, again and again for as long as the player wants; return the last."""
    finished = play_once(app, book, setting, table)
    while finished.leave is Leave.AGAIN:
        setting = after_run(setting, finished, setting.exercise)
        finished = play_once(app, book, setting, table)
    return finished


def _position(text: str) -> int:
    try:
        return position_number(text)
    except ValueError as error:
        raise BadInput(str(error)) from None
