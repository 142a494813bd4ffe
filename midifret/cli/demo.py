"""`midifret demo`: a virtual player plays several drills, and the report is shown."""

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import click
from rich.console import Console

from midifret.book.day import practice_day
from midifret.cli.app import App, app_of, json_option, print_document
from midifret.cli.in_tempo import Beat, keep_owned_tempo
from midifret.cli.report import figures_of
from midifret.cli.running import Table, local_zone, now_utc, play_once
from midifret.clock import Clock, RealClock, SimulatedClock
from midifret.drills.timed import put_in_tempo
from midifret.gear.guitar import Guitar
from midifret.gear.settings import DEMO_PLAYER
from midifret.neck import Language, parse_name, pitch_name
from midifret.players import Player, named_skill
from midifret.session.around import Finished, Leave, Setting, Source
from midifret.session.live import POLL_S
from midifret.session.screen import Screen, View
from midifret.show.drill_screen import open_view
from midifret.show.line_view import SilentView
from midifret.show.report import print_rows, report_document, report_rows
from midifret.show.rows import Span, row
from midifret.show.run_figures import figure_rows, run_document
from midifret.terms import BadInput, Exercise, SpelledPitch, Tempo, TimedMessage, Unavailable
from midifret.wire.click import SilentClick
from midifret.wire.ports import PortSink, PortSource, open_sink, open_source
from midifret.wire.scenarios import CLEAN, named_scenario
from midifret.wire.virtual_guitar import VirtualGuitar, VirtualSource

_PORT = "midifret demo"
_FAST_POLL_S = 0.01
_AGAIN_AFTER_S = 2.5  # what a faulty converter swallowed is played again
_MEDIAN_RESPONSE_S = 0.8  # brisk, so that a newcomer has seen it all in little more than a minute


@dataclass(frozen=True, slots=True)
class _Number:
    """One number of the show. skill: of the virtual player. tempo_bpm: None in free tempo."""

    drill: str
    skill: str
    tempo_bpm: float | None = None


# Who plays what: a row walked, a row out of order, names typed, one note all over the neck, a row on a beat.
NUMBERS = (
    _Number("row-5-leap-1", "perfect"),
    _Number("row-7-shuffled", "one-fret-off"),
    _Number("open-position-naming", "steady"),
    _Number("places-of-f", "steady"),
    _Number("row-10-leap-1", "steady", 96.0),
)


@click.command("demo")
@click.option("--fast", is_flag=True, help="Simulated time, in process: done in a moment.")
@click.option(
    "--converter",
    "converter",
    metavar="NAME",
    default=CLEAN.name,
    show_default=True,
    help="How faulty the guitar's converter is: clean, ordinary, poor or hostile.",
)
@json_option
@click.pass_context
def command(context: click.Context, fast: bool, converter: str, as_json: bool) -> int:
    """Let a virtual player play several drills and show the report; nothing to plug in or to set up.

    The player `demo` is marked as simulated and never mixed with people.
    """
    app = app_of(context)
    console = Console()
    scenario = named_scenario(converter)
    # The virtual player gives no orders by plucking; two made-up notes could be taken for one.
    guitar = replace(app.guitar("default"), signals=())
    clock: Clock = SimulatedClock() if fast else RealClock()
    transport = _Transport.in_process("time is simulated") if fast else _Transport.best(clock)
    played: list[tuple[Exercise, Finished]] = []
    if not as_json:
        click.echo(f"A virtual player plays {len(NUMBERS)} drills, {transport.words}.")
        if scenario is not CLEAN:
            click.echo(f"The guitar's converter is {scenario.name}: it also sends notes that nobody played.")
    interrupted = False
    with app.open_book() as book, contextlib.closing(transport):
        book.ensure_player(DEMO_PLAYER, created_utc=now_utc(), simulated=True)
        with SilentView() if fast or as_json else open_view(console, json=False) as view:
            for seed, number in enumerate(NUMBERS):
                exercise = app.exercise(number.drill, guitar.neck, seed=seed)
                if number.tempo_bpm is not None:
                    exercise = put_in_tempo(exercise, Tempo(number.tempo_bpm))
                brisk = replace(named_skill(number.skill, seed=seed), median_response_s=_MEDIAN_RESPONSE_S)
                player = Player(brisk, guitar.neck, time_limit_s=exercise.time_limit_s, tempo=exercise.tempo)
                virtual = VirtualGuitar(
                    guitar,
                    player,
                    scenario=scenario,
                    seed=seed,
                    again_after_s=None if scenario is CLEAN else _AGAIN_AFTER_S,
                )
                table = Table(
                    source=transport.source(virtual, clock),
                    clock=clock,
                    view=_TypingView(view, virtual, clock, app.settings.language),
                    on_cue=virtual.cue,
                    on_due=virtual.beat,
                    conductor=Beat(SilentClick(), None).conductor,
                    poll_s=_FAST_POLL_S if fast else POLL_S,
                )
                finished = play_once(app, book, _setting(app, exercise, guitar), table)
                played.append((exercise, finished))
                if finished.failure is not None:
                    raise finished.failure
                if finished.ended_early or finished.leave in (Leave.QUIT, Leave.INTERRUPTED):
                    interrupted = finished.leave is Leave.INTERRUPTED
                    break
                if exercise.tempo is not None:
                    today = practice_day(now_utc(), local_zone())
                    own_ms = exercise.tempo.within_ms
                    keep_owned_tempo(book, DEMO_PLAYER, exercise, guitar.name, today, window_ms=own_ms)
        report, times = figures_of(app, book, DEMO_PLAYER)
    if as_json:
        print_document(
            {
                "transport": transport.words,
                "converter": scenario.name,
                "runs": [
                    run_document(exercise, done.answers, done.summary, done.glitches)
                    for exercise, done in played
                ],
                "report": report_document(report, times),
            }
        )
    else:
        for exercise, done in played:
            print_rows(console, (row(), row(Span(exercise.title, "strong")), *figure_rows(done.summary)))
        print_rows(console, (row(), *report_rows(report, console.width, times=times)))
    return 130 if interrupted else 0


def _setting(app: App, exercise: Exercise, guitar: Guitar) -> Setting:
    return Setting(
        exercise=exercise,
        guitar=guitar,
        player=DEMO_PLAYER,
        simulated=True,
        language=app.settings.language,
        accidentals=app.settings.accidentals,
        countdown_s=min(app.settings.countdown_s, 2),
    )


class _Transport:
    """How the virtual guitar reaches the program: through a real MIDI port where there is one."""

    def __init__(self, words: str, port: PortSource | None = None, sink: PortSink | None = None) -> None:
        """Keep an open pair of ports, or none. words: how it is heard, for the person."""
        self.words = words
        self._port = port
        self._sink = sink

    @classmethod
    def in_process(cls, why: str) -> "_Transport":
        """Without any MIDI system."""
        return cls(f"heard in process ({why})")

    @classmethod
    def best(cls, clock: Clock) -> "_Transport":
        """Through a port of our own, if the MIDI system gives one."""
        try:
            port = open_source(_PORT, clock, virtual=True)
        except Unavailable as error:
            return cls.in_process(error.message)
        try:
            sink = open_sink(_PORT, client_name="midifret virtual guitar")
        except BadInput as error:
            port.close()
            return cls.in_process(error.message)
        return cls(f"heard through the MIDI port {sink.name!r}", port, sink)

    def source(self, guitar: VirtualGuitar, clock: Clock) -> Source:
        """The source that a run listens to."""
        if self._port is None or self._sink is None:
            return VirtualSource(guitar, clock)
        return _Loop(guitar, clock, self._port, self._sink)

    def close(self) -> None:
        """Close the ports."""
        for end in (self._sink, self._port):
            if end is not None:
                end.close()


class _Loop:
    """Sends what the virtual guitar has due into one end of a port and hears it at the other."""

    def __init__(self, guitar: VirtualGuitar, clock: Clock, port: PortSource, sink: PortSink) -> None:
        self._guitar = guitar
        self._clock = clock
        self._port = port
        self._sink = sink

    def poll(self) -> Sequence[TimedMessage]:
        self._guitar.send_due(self._clock.now_s(), self._sink)
        return self._port.poll()

    def connected(self, *, at_once: bool = False) -> bool:
        return self._port.connected(at_once=at_once)

    @property
    def trouble(self) -> str:
        return self._port.trouble

    @property
    def last_there_s(self) -> float:
        return self._port.last_there_s


class _TypingView(View):
    """A view whose keys are also pressed by the virtual player, where a name is asked."""

    def __init__(self, view: View, guitar: VirtualGuitar, clock: Clock, language: Language) -> None:
        self._view = view
        self._guitar = guitar
        self._clock = clock
        self._language = language

    def show(self, screen: Screen) -> None:
        self._view.show(screen)

    def keys(self) -> list[str]:
        return [*self._view.keys(), *self._typed()]

    def _typed(self) -> Iterator[str]:
        for _, text in self._guitar.typed_due(self._clock.now_s()):
            step, alter, _ = parse_name(text)
            yield from pitch_name(SpelledPitch(step, alter, 4), self._language, signs=False).lower()
            yield "enter"
