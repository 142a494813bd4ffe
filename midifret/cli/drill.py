"""`midifret drill`: play a drill on the guitar, in free tempo or on a beat."""

from contextlib import ExitStack
from dataclasses import dataclass, replace
from typing import Any

import click
from rich.console import Console

from midifret.book.book import Book
from midifret.book.day import practice_day
from midifret.cli.app import App, app_of, guitar_option, json_option, player_option, print_document
from midifret.cli.in_tempo import (
    START_BPM,
    TempoWishes,
    at_followed,
    at_tempo,
    check_click,
    followed_tempo,
    in_wished_tempo,
    keep_owned_tempo,
    open_beat,
    passes_of,
    tempo_options,
    why_not_counted,
)
from midifret.cli.passes import Passes, Search, owned_document, owned_rows
from midifret.cli.run_options import RunWishes, run_options, seed_option
from midifret.cli.running import (
    BREATH_S,
    INTERRUPTED,
    Table,
    after_run,
    exit_code,
    known_player,
    local_zone,
    now_utc,
    play_once,
    recover_takes,
    setting_for,
)
from midifret.clock import RealClock
from midifret.drills.timed import section
from midifret.gear import ClickSettings
from midifret.gear.guitar import Guitar
from midifret.session.around import Finished, Leave, Setting
from midifret.show.drill_screen import DrillScreen, open_view
from midifret.show.report import print_rows
from midifret.show.rows import row
from midifret.show.run_figures import figure_rows, run_document, share_tables, voided_rows
from midifret.tempo import PassResult
from midifret.terms import Exercise, Tempo
from midifret.wire.port_names import bare_name
from midifret.wire.ports import open_source


@click.command("drill")
@click.argument("drill")
@seed_option("Seed of a shuffled drill; else another for every run.")
@run_options()
@tempo_options
@guitar_option
@player_option
@json_option
@click.pass_context
def command(
    context: click.Context,
    drill: str,
    seed: int | None,
    live: RunWishes,
    wishes: TempoWishes,
    guitar: str | None,
    player: str | None,
    as_json: bool,
) -> int:
    """Play DRILL, a name from `midifret drills` or a file, on the MIDI guitar.

    In tempo each note is due on a beat, and early or late is told in ms. With --find-tempo short passes look
    for the fastest tempo at which 90% are right; with --ladder the tempo goes up after clean passes and down
    after bad ones.
    """
    app = app_of(context)
    chosen = app.guitar(guitar)
    clicks = live.click.over(app.settings.click)
    asked = DrillAsked(app, drill, chosen, seed, wishes, clicks)
    first = asked.exercise(0)  # a faulty drill or tempo is told before anything is opened
    check_click(first, live.click, follow=wishes.follow)
    passes = passes_of(first, wishes)
    recover_takes(app)
    clock = RealClock()
    console = Console(stderr=as_json)
    with app.open_book() as book, ExitStack() as opened:
        book.end_abandoned(started_before_utc=now_utc())
        name = known_player(book, app, player)
        source = open_source(live.port_of(chosen), clock, virtual=live.virtual)
        opened.callback(source.close)
        beat = open_beat(first, wishes.follow, clicks, source, clock)
        opened.callback(beat.close)
        asked = replace(asked, followed_bpm=followed_tempo(beat, source, clock))
        with open_view(console, json=False) as view:
            on_screen = isinstance(view, DrillScreen)
            table = Table(source, clock, view, conductor=beat.conductor, port=bare_name(source.name))
            begun = book.runs_of(name, drill)
            setting = setting_for(app, book, asked.exercise(begun), chosen, name, table.port)
            setting = live.over(
                setting,
                is_terminal=console.is_terminal,
                on_screen=on_screen,
                stay=on_screen and passes is None,
            )
            if passes is None:
                played = _play(app, book, setting, table, asked, begun)
            else:
                played = play_passes(app, book, setting, table, asked, begun, passes)
        owned = None
        if first.tempo is not None:
            window_ms = asked.own_window_ms
            day = practice_day(now_utc(), local_zone())
            owned = keep_owned_tempo(book, name, first, chosen.name, day, window_ms=window_ms)
    exercise, finished = played[-1]
    not_counted = why_not_counted(exercise, finished, asked.own_window_ms)
    code = exit_code(finished) if passes is None else _exit_code_of_passes(played)
    if as_json:
        document = run_document(exercise, finished.answers, finished.summary, finished.glitches)
        if passes is not None:
            document["passes"] = [_pass_document(*one) for one in played]
            document |= passes.document()
        if first.tempo is not None:
            document["owned_tempo"] = None if owned is None else owned_document(owned)
            document["counts_for_owned_tempo"] = not not_counted
        print_document(document)
        return code
    if on_screen:
        left_out = voided_rows(finished.glitches, finished.notes)
        print_rows(console, (*figure_rows(finished.summary), *left_out, *share_tables(finished.summary)))
    if passes is not None:
        print_rows(console, passes.rows())
    if not_counted:
        print_rows(console, (row(not_counted),))
    if owned is not None and (not_counted or not isinstance(passes, Search)):
        print_rows(console, owned_rows(owned))
    return code


@dataclass(frozen=True, slots=True)
class DrillAsked:
    """What is asked in the runs of one call. followed_bpm: of the clock that is followed."""

    app: App
    drill: str
    guitar: Guitar
    seed: int | None
    wishes: TempoWishes
    clicks: ClickSettings
    followed_bpm: float | None = None

    @property
    def own_window_ms(self) -> float:
        """How early or late a note may be where the command line does not say."""
        own = self.app.exercise(self.drill, self.guitar.neck, seed=self.seed or 0).tempo
        return Tempo(START_BPM).within_ms if own is None else own.within_ms

    def exercise(self, number: int) -> Exercise:
        """What is asked in a run; a shuffled drill goes in another order for each number."""
        seed = number if self.seed is None else self.seed
        exercise = self.app.exercise(self.drill, self.guitar.neck, seed=seed)
        exercise = in_wished_tempo(exercise, self.wishes, self.clicks)
        return exercise if self.followed_bpm is None else at_followed(exercise, self.followed_bpm)


_Played = list[tuple[Exercise, Finished]]


def _play(app: App, book: Book, setting: Setting, table: Table, asked: DrillAsked, number: int) -> _Played:
    """Play a run, again and again for as long as the player wants; return the last."""
    finished = play_once(app, book, setting, table)
    while finished.leave is Leave.AGAIN:
        number += 1
        setting = after_run(setting, finished, asked.exercise(number))
        finished = play_once(app, book, setting, table)
    return [(setting.exercise, finished)]


def play_passes(
    app: App, book: Book, setting: Setting, table: Table, asked: DrillAsked, number: int, passes: Passes
) -> _Played:
    """Play passes until they are over, or the player ends one early; return them all.

    number: of the first pass, which orders a shuffled drill.
    """
    played: _Played = []
    begin, played_s = 0, 0.0
    while (tempo_bpm := passes.tempo_bpm) is not None:
        whole = at_tempo(asked.exercise(number), tempo_bpm)
        exercise = section(whole, 0 if whole.shuffled else begin, passes.notes)
        begin += passes.notes
        notice = f"{passes.words()} {setting.notice if not played else ''}".rstrip()
        finished = play_once(app, book, replace(setting, exercise=exercise, notice=notice), table)
        played.append((exercise, finished))
        played_s += finished.played_s + BREATH_S
        if finished.leave is Leave.AGAIN:
            begin -= passes.notes
        elif finished.ended_early or finished.failure is not None:
            break
        else:
            right = sum(answer.right for answer in finished.answers)
            passes.take(PassResult(tempo_bpm, len(finished.answers), right), played_s)
            number += 1
            if finished.leave in (Leave.QUIT, Leave.INTERRUPTED):
                break
        setting = after_run(setting, finished, exercise)
    return played


def _exit_code_of_passes(played: _Played) -> int:
    """0 done, 1 nothing was heard, 130 interrupted. A gate is no matter of passes.

    Raises what made the last pass impossible.
    """
    _, last = played[-1]
    if last.failure is not None:
        raise last.failure
    if last.leave is Leave.INTERRUPTED:
        return INTERRUPTED
    return 0 if any(finished.notes for _, finished in played) else 1


def _pass_document(exercise: Exercise, finished: Finished) -> dict[str, Any]:
    """One pass: tempo_bpm, prompts, right, accuracy; ended_early."""
    summary = finished.summary
    return {
        "tempo_bpm": exercise.tempo_bpm,
        "prompts": summary.prompts,
        "right": summary.right,
        "accuracy": round(summary.accuracy, 4),
        "ended_early": finished.ended_early,
    }
