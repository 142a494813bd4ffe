"""`midifret stand`: the page for the music stand, live from the guitar."""

import os
import secrets
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

import click

import midifret.stand
from midifret.book.book import Book
from midifret.cli.app import App, app_of, guitar_option, player_option, warn
from midifret.cli.click_output import ClickWishes
from midifret.cli.report import figures_of, report_html
from midifret.cli.run_options import RunWishes
from midifret.cli.running import INTERRUPTED, Table, known_player, now_utc, recover_takes
from midifret.cli.stand_devices import keep_devices, kept_devices
from midifret.cli.stand_engraving import Engraver
from midifret.cli.stand_hall import REPORT_PATH, Offers
from midifret.cli.stand_practice import practise, today
from midifret.cli.stand_runs import PRACTICE, NamedSource, Played, StandRuns
from midifret.cli.stand_terminal import open_browser, pairing_lines
from midifret.clock import Clock, RealClock
from midifret.gear import ClickWay
from midifret.gear.guitar import Guitar
from midifret.serve import LOOPBACK, PORT, Page, StandServer, lan_address, read_files
from midifret.serve.pages import Pages
from midifret.serve.view import StandView
from midifret.session.around import Leave
from midifret.stand.access import Access
from midifret.stand.codes import Code, Rights
from midifret.stand.messages import Begin, Notice, Offer, Sounding
from midifret.terms import BadInput
from midifret.wire.ports import open_source

# How long the hall waits for a page before it looks after codes and the guitar's queue again.
_LOOK_S = 0.25
_STAND = "stand"
_DAY_S = 86_400


@dataclass(frozen=True, slots=True)
class StandWishes:
    """What the command line says of the stand itself. address: None for the likeliest one of the network."""

    browser: bool = True
    lan: bool = False
    address: str | None = None
    port: int = PORT
    forget: bool = False
    stand_clicks: bool = True
    left_handed: bool = False


@click.command("stand")
@click.option("--no-browser", is_flag=True, help="Open no browser; the address is printed all the same.")
@click.option(
    "--lan", is_flag=True, help="Other devices of the network may show it, by a code; not encrypted."
)
@click.option("--address", metavar="IP", default=None, help="With --lan: which address of this machine.")
@click.option(
    "--port", type=click.IntRange(1, 65535), default=PORT, show_default=True, help="Where the page is served."
)
@click.option("--forget", is_flag=True, help="Forget all devices that were let in before.")
@click.option("--left-handed", is_flag=True, help="The neck with the nut at the right.")
@click.option("--input", "part", metavar="PART", default=None, help="Part of the name of the MIDI input.")
@click.option("--virtual", is_flag=True, help="Open an input of that name, for others to connect to.")
@click.option("--countdown", type=click.IntRange(0, 10), default=None, help="Seconds before the first cue.")
@click.option("--no-check", is_flag=True, help="Leave out the day's check of the open strings.")
@click.option(
    "--click",
    "click_way",
    type=click.Choice([_STAND, *(way.value for way in ClickWay)]),
    default=_STAND,
    show_default=True,
    help="How the beat is heard.",
)
@click.option("--click-port", metavar="PART", default=None, help="Part of the name of the click's output.")
@click.option("--send-clock/--no-send-clock", default=None, help="Send MIDI clock on the click's port.")
@click.option("--volume", type=click.IntRange(0, 100), default=None, help="Of the click, in per cent.")
@guitar_option
@player_option
@click.pass_context
def command(
    context: click.Context,
    no_browser: bool,
    lan: bool,
    address: str | None,
    port: int,
    forget: bool,
    left_handed: bool,
    part: str | None,
    virtual: bool,
    countdown: int | None,
    no_check: bool,
    click_way: str,
    click_port: str | None,
    send_clock: bool | None,
    volume: int | None,
    guitar: str | None,
    player: str | None,
) -> int:
    """Show drills and readings on a page for the music stand; they are begun there.

    Only this machine can open the page, unless --lan is said. Ctrl-C ends it; a run in play is kept.
    """
    app = app_of(context)
    if address is not None and not lan:
        raise BadInput("--address is for other devices", allowed="with --lan")
    way = None if click_way == _STAND else ClickWay(click_way)
    live = RunWishes(part, virtual, countdown, no_check, ClickWishes(way, click_port, send_clock, volume))
    wishes = StandWishes(not no_browser, lan, address, port, forget, way is None, left_handed)
    with ending_in_order():
        return stand(app, wishes, live, guitar, player)


def stand(
    app: App,
    wishes: StandWishes,
    live: RunWishes,
    guitar: str | None,
    player: str | None,
    *,
    clock: Clock | None = None,
    source: Callable[[Guitar], NamedSource] | None = None,
    on_table: Callable[[Table], Table] = lambda table: table,
    on_start: Callable[[StandServer], None] = lambda server: None,
) -> int:
    """Serve the stand until it is interrupted; return the exit code.

    clock, source, on_table, on_start: for tests, which play a virtual guitar and are told of the server.
    Raises BadInput and Unavailable for what cannot be served; what cannot be played is told on the page.
    """
    chosen = app.guitar(guitar)
    clock = clock or RealClock()
    recover_takes(app)
    lan_host = lan_address(wishes.address) if wishes.lan else ""
    server = _server(app, wishes, clock, lan_host)
    with app.open_book() as book, ExitStack() as opened:
        book.end_abandoned(started_before_utc=now_utc())
        name = known_player(book, app, player)
        server.start()
        opened.callback(server.stop)
        pages = Pages(server)
        inputs = _Inputs(live, clock) if source is None else None
        if inputs is not None:
            opened.callback(inputs.close)
            if live.virtual:
                inputs.of(chosen)  # others connect to it before anything is begun
        runs = StandRuns(
            app,
            book,
            name,
            chosen,
            live,
            wishes.stand_clicks,
            pages,
            StandView(pages, clock, left_handed=wishes.left_handed),
            clock,
            source or (inputs.of if inputs is not None else _no_source),
            click.echo,
            Engraver(),
            on_table,
        )
        offers = Offers(app, guitar, name, chosen.neck)
        click.echo(f"The stand: {server.address()}")
        if wishes.browser and not open_browser(server.address_for_once()):
            click.echo("No browser was found: open this address in one on this machine.")
        click.echo("Ctrl-C ends it.")
        hall = _HallKeeper(app, book, server, runs, offers, inputs, lan_host)
        on_start(server)
        return hall.keep()


class _HallKeeper:
    """Waits in the hall for what a page begins, plays it, and comes back."""

    def __init__(
        self,
        app: App,
        book: Book,
        server: StandServer,
        runs: StandRuns,
        offers: Offers,
        inputs: "_Inputs | None",
        lan_host: str,
    ) -> None:
        """lan_host: address for other devices, empty for none."""
        self._app = app
        self._book = book
        self._server = server
        self._runs = runs
        self._offers = offers
        self._inputs = inputs
        self._lan_host = lan_host
        self._codes: tuple[Code, Code] | None = None
        self._seen = 0

    def keep(self) -> int:
        """Wait and play until interrupted; return the exit code."""
        try:
            self._offers.look_up()
            self._show("")
            self._offers.look_for_scores()  # which may take long
            self._show("")
            while True:
                self._look_around()
                begun = self._next()
                if begun is None:
                    continue
                begin, viewer = begun
                self._runs.pages.began(viewer)
                played = self._play(begin)
                if played.leave is Leave.INTERRUPTED:
                    click.echo("Interrupted; what was played is kept.")
                    return INTERRUPTED
                self._offers.look_for_scores()
                self._show(played.words)
        except KeyboardInterrupt:
            click.echo("The stand is closed.")
            return 0
        finally:
            self._keep_devices()

    def _play(self, begin: Begin) -> Played:
        try:
            if begin.what not in {PRACTICE, *self._offers.names}:
                raise BadInput("that cannot be begun any more", allowed="what the page offers")
            if begin.what == PRACTICE:
                return practise(self._runs, begin.minutes, warn)
            return self._runs.play(begin, positions=self._offers.positions.get(begin.what, ()))
        except BadInput as error:  # also Unavailable: no guitar, no engraving library, no disk
            warn(str(error))
            self._server.send(Notice(str(error), grave=True))
            return Played("", Leave.DONE)

    def _next(self) -> tuple[Begin, str] | None:
        """The next thing that a page begins, waited for a little."""
        first: tuple[Begin, str] | None = None
        for arrived in self._server.take(_LOOK_S):
            if isinstance(arrived.message, Sounding):
                self._runs.pages.sounds[arrived.viewer] = arrived.message
            elif isinstance(arrived.message, Begin) and first is None:
                first = arrived.message, arrived.viewer
        return first

    def _show(self, notice: str) -> None:
        self._server.put(REPORT_PATH, self._report())
        self._server.send(self._offers.hall(notice, self._today()))

    def _today(self) -> tuple[Offer, ...]:
        runs = self._runs
        try:
            return today(self._app, self._book, runs.player, runs.guitar.neck)
        except BadInput as error:  # a path or an assignment that cannot be read; all else can be played
            warn(str(error))
            return ()

    def _report(self) -> Page:
        report, times = figures_of(self._app, self._book, self._runs.player)
        html = report_html(
            self._app, report, times, left_handed=self._runs.view.left_handed, marked_pages=False
        )
        return Page(html.encode(), "text/html; charset=utf-8", styled=True)

    def _look_around(self) -> None:
        """Codes that have changed are shown, new devices are kept, the guitar's queue does not run over."""
        if self._inputs is not None:
            self._inputs.drain()
        self._keep_devices()
        viewers = len(self._server.viewers)
        if viewers != self._seen:
            self._seen = viewers
            click.echo(f"Pages open: {viewers}")
        if self._lan_host:
            play, watch = self._server.code(Rights.PLAY), self._server.code(Rights.WATCH)
            if (play, watch) != self._codes:
                self._codes = play, watch
                where = self._server.pairing_address(self._lan_host, play)
                coloured = sys.stdout.isatty() and not os.environ.get("NO_COLOR")
                click.echo(pairing_lines(where, play, watch, coloured=coloured))

    def _keep_devices(self) -> None:
        """Devices that were let in since the last call can come back after the next start."""
        devices = self._server.pairings_to_keep()
        if devices is not None:
            keep_devices(self._app.home, devices)


class _Inputs:
    """The guitar's input, opened when it is first needed and kept: others may have connected to it."""

    def __init__(self, live: RunWishes, clock: Clock) -> None:
        self._live = live
        self._clock = clock
        self._open: dict[str, NamedSource] = {}
        self._closing = ExitStack()

    def of(self, guitar: Guitar) -> NamedSource:
        """Return the input of a guitar, open. Raises Unavailable where there is none."""
        part = self._live.port_of(guitar)
        if part not in self._open:
            opened = open_source(part, self._clock, virtual=self._live.virtual)
            self._closing.callback(opened.close)
            self._open[part] = opened
        return self._open[part]

    def drain(self) -> None:
        """Take out what was played while nothing listens."""
        for opened in self._open.values():
            opened.poll()

    def close(self) -> None:
        """Close all of them."""
        self._closing.close()


def _no_source(guitar: Guitar) -> NamedSource:
    raise AssertionError(guitar.name)


def _server(app: App, wishes: StandWishes, clock: Clock, lan_host: str) -> StandServer:
    """Make the server, not started yet."""
    kept = () if wishes.forget else kept_devices(app.home)
    day = int(time.time() // _DAY_S)
    access = Access(secrets.token_bytes, lan=wishes.lan, day=day, kept=kept)
    if wishes.forget:
        keep_devices(app.home, ())
    return StandServer(
        read_files(Path(midifret.stand.__file__).parent / "web"),
        access,
        clock,
        addresses=(LOOPBACK, *([lan_host] if lan_host else [])),
        port=wishes.port,
        language=app.settings.language.value,
    )


@contextmanager
def ending_in_order() -> Iterator[None]:
    """Let a request to end from outside end the stand as Ctrl-C does; runs have a way of their own."""

    def stop(_number: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    names = [name for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {number: signal.signal(number, stop) for number in (getattr(signal, name) for name in names)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
