"""`midifret read`: read a score on the guitar, every note judged by string and fret."""

from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

import click
from click.core import ParameterSource
from rich.console import Console

from midifret.book.book import Book
from midifret.cli.app import App, app_of, guitar_option, json_option, player_option, print_document, warn
from midifret.cli.in_tempo import (
    START_BPM,
    TempoWishes,
    at_followed,
    check_click,
    followed_tempo,
    open_beat,
    reading_tempo_options,
)
from midifret.cli.recorded import guitar_of, judge_read, times_of, tuned_for
from midifret.cli.run_options import RunWishes, run_options
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
from midifret.neck import Neck
from midifret.play import summarise
from midifret.reading.bars import beats_a_bar, meter_of
from midifret.reading.build import reading_exercise
from midifret.reading.kept import is_reading
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
@reading_tempo_options
@click.option(
    "--take",
    "take",
    type=click.Path(path_type=Path),
    default=None,
    help="Judge this recording instead of listening.",
)
@run_options()
@score_options
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
    in_tempo: TempoWishes,
    take: Path | None,
    live: RunWishes,
    wishes: ScoreWishes,
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
    if take is not None:
        _check_take(in_tempo, live)
    recording = None if take is None else read_take(take)
    chosen = app.guitar(guitar) if recording is None else guitar_of(app, guitar, recording)
    asked = ReadingAsked(
        position=None if position is None else _position(position),
        open_strings=OpenStrings(opened),
        fingered=fingered,
        in_tempo=in_tempo,
    )
    exercise = reading_asked(app, asked, score, wishes, chosen)
    chosen = tuned_for(exercise, chosen)
    assert exercise.score is not None
    for remark in exercise.score.remarks:
        warn(f"{score}: {remark}")
    if take is not None and recording is not None:
        if is_reading(recording.drill) and recording.dues and recording.tempo_bpm is not None:
            exercise = replace(exercise, tempo=Tempo(recording.tempo_bpm))
        times = times_of(app, player, chosen, recording.view)
        answers, decoded, beside = judge_read(exercise, chosen, recording, times)
        summary = summarise(exercise, answers, latency_known=times.knows_latency)
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
    if exercise.tempo is None and live.click.unheard:
        raise BadInput(f"{live.click.unheard} needs a tempo", allowed="with --tempo BPM")
    check_click(exercise, live.click, follow=in_tempo.follow)
    recover_takes(app)
    clock = RealClock()
    console = Console(stderr=as_json)
    with app.open_book() as book, ExitStack() as opened_things:
        book.end_abandoned(started_before_utc=now_utc())
        name = known_player(book, app, player)
        source = open_source(live.port_of(chosen), clock, virtual=live.virtual)
        opened_things.callback(source.close)
        beat = open_beat(exercise, in_tempo.follow, live.click.over(app.settings.click), source, clock)
        opened_things.callback(beat.close)
        followed_bpm = followed_tempo(beat, source, clock)
        if followed_bpm is not None:
            exercise = at_followed(exercise, followed_bpm)
        with open_view(console, json=False) as view:
            on_screen = isinstance(view, DrillScreen)
            table = Table(source, clock, view, conductor=beat.conductor, port=bare_name(source.name))
            setting = setting_for(app, book, exercise, chosen, name, table.port)
            setting = live.over(setting, is_terminal=console.is_terminal, on_screen=on_screen, stay=on_screen)
            finished = _play(app, book, setting, table)
    if as_json:
        print_document(
            reading_document(exercise, finished.answers, finished.summary, finished.glitches, finished.beside)
        )
        return reading_code(finished)
    rows = reading_rows(exercise, finished.answers, finished.beside, app.settings.language)
    print_rows(console, (reading_heading(exercise), *rows))
    if on_screen:
        left_out = voided_rows(finished.glitches, finished.notes)
        print_rows(console, (BLANK, *figure_rows(finished.summary), *left_out))
    return reading_code(finished)


def reading_code(finished: Finished) -> int:
    """As of any run, and 1 where nothing was heard."""
    code = exit_code(finished)
    return code if code or finished.notes else 1


@dataclass(frozen=True, slots=True)
class ReadingAsked:
    """How a score is to be read; None for the whole neck."""

    position: int | None
    open_strings: OpenStrings
    fingered: bool
    in_tempo: TempoWishes


def reading_asked(
    app: App,
    asked: ReadingAsked,
    path: Path,
    wishes: ScoreWishes,
    guitar: Guitar,
    *,
    assume_octave: bool = False,
) -> Exercise:
    """Make the reading that is asked for. assume_octave: as for `read_asked`. Raises BadInput."""
    score, neck = read_asked(app, path, wishes, guitar.neck, assume_octave=assume_octave)
    return reading_of(app, asked, score, neck)


def reading_of(app: App, asked: ReadingAsked, score: Score, neck: Neck) -> Exercise:
    """Make the reading of a score that is read already. neck: tuned as the score asks. Raises BadInput."""
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
        tempo=reading_tempo(app, asked.in_tempo, score),
        fingered=places,
    )


def reading_tempo(app: App, wishes: TempoWishes, score: Score) -> Tempo | None:
    """Return the tempo wished for, in beats of the meter; None for free tempo. Raises BadInput."""
    if wishes.tempo_bpm is None and wishes.follow is None:
        if wishes.window_ms is not None:
            raise BadInput("--window needs a tempo", allowed="with --tempo BPM or --follow-clock")
        return None
    settings = app.settings.click
    tempo = Tempo(
        START_BPM if wishes.tempo_bpm is None else check_tempo(wishes.tempo_bpm),
        count_in=settings.count_in_beats,
        a_bar=beats_a_bar(meter_of(score)),
        parts=settings.subdivisions,
    )
    return tempo if wishes.window_ms is None else replace(tempo, within_ms=wishes.window_ms)


def _check_take(in_tempo: TempoWishes, live: RunWishes) -> None:
    """Refuse, beside a recording, what only a live reading can heed. Raises BadInput."""
    if live.given:
        raise BadInput(
            f"{live.given} and --take cannot go together", allowed="one of them: a recording is not played"
        )
    given = {
        "--tempo": in_tempo.tempo_bpm,
        "--window": in_tempo.window_ms,
        "--follow-clock": in_tempo.follow,
    }
    for option, value in given.items():
        if value is not None:
            raise BadInput(
                f"{option} and --take cannot go together",
                allowed="one of them: the beat of a reading stands in its take, and other recordings are "
                "judged in free tempo",
            )


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
