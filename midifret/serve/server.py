"""The server of the stand: a thread of its own between the program and its pages."""

import asyncio
import contextlib
import logging
import socket
import threading
from collections import deque
from collections.abc import Callable, Coroutine, Sequence
from dataclasses import dataclass

from websockets.asyncio.server import Server, ServerConnection, serve
from websockets.exceptions import ConnectionClosed
from websockets.http11 import Request, Response

from midifret import __version__
from midifret.clock import Clock
from midifret.serve.addresses import LOOPBACK, listening
from midifret.serve.answers import Page, denied_answer, page_answer, paired_answer
from midifret.serve.connection import Counted, StandConnection
from midifret.serve.link import REPLACED, Link, Viewer, refuse
from midifret.stand.access import SOCKET, TRY_CODE, Access, Asked, Denied, Granted, Paired, Pairing
from midifret.stand.codes import Code, Rights
from midifret.stand.latest import Known
from midifret.stand.messages import (
    MOST_BYTES,
    SCHEMA,
    Begin,
    Hello,
    Named,
    Painted,
    Pressed,
    Sounding,
    Synced,
    ToPage,
    Welcome,
    parse,
)
from midifret.stand.sync import PageTime, RunTime, SyncFigures
from midifret.terms import BadInput, Unavailable

FromPlayer = Painted | Pressed | Named | Begin | Sounding

MOST_LINKS = 12
# So many messages wait to be taken; when more come the oldest are lost, and counted [ours].
_MOST_ARRIVED = 1024
_STOP_S = 5.0


@dataclass(frozen=True, slots=True)
class Patience:
    """How long is waited for a page, in seconds [ours].

    open_s: for a whole request, and until its answer was read. hello_s: for the first message. ping_s:
    between pings; pong_s: for their answers, after which the link is dead.
    """

    open_s: float = 5.0
    hello_s: float = 5.0
    ping_s: float = 5.0
    pong_s: float = 10.0


@dataclass(frozen=True, slots=True)
class Arrived:
    """What a player's page told. at_s: when it came, on the clock. viewer: whose it is."""

    message: FromPlayer
    at_s: float
    viewer: str


class StandServer:
    """Serves the page and its sockets. Every method may be called from any thread, and none but start and
    stop waits for a page.
    """

    def __init__(
        self,
        files: dict[str, Page],
        access: Access,
        clock: Clock,
        *,
        addresses: Sequence[str] = (LOOPBACK,),
        port: int = 0,
        language: str = "en",
        patience: Patience = Patience(),
    ) -> None:
        """files: by path, as read_files gives them. port 0: any that is free. language: of names."""
        self._files = dict(files)
        self._access = access
        self._clock = clock
        self._addresses, self._port = tuple(addresses), port
        self._language = language
        self._patience = patience
        self._known = Known()
        self._links: dict[str, Link] = {}
        self._counted = Counted()
        self._greeting = 0
        self._closing: set[asyncio.Future[None]] = set()
        self._arrived: deque[Arrived] = deque(maxlen=_MOST_ARRIVED)
        self._something = threading.Event()
        self._lock = threading.Lock()  # around codes and pairings alone, which two threads ask for
        self._loop: asyncio.AbstractEventLoop | None = None
        self._ending: asyncio.Event | None = None
        self._thread: threading.Thread | None = None
        self._failed: BaseException | None = None
        self.lost = 0

    # --- beginning and end ------------------------------------------------------------------------

    def start(self) -> int:
        """Begin to serve; returns the port. Raises Unavailable where that cannot be."""
        sockets: list[socket.socket] = []
        try:
            for address in self._addresses:
                sockets.append(listening(address, self._port))
                self._port = int(sockets[0].getsockname()[1])
        except BaseException:
            for opened in sockets:
                opened.close()
            raise
        self._access.reached_at(self._addresses, self._port)
        ready = threading.Event()
        self._thread = threading.Thread(target=self._live, args=(sockets, ready), name="stand", daemon=True)
        self._thread.start()
        ready.wait()
        if self._failed is not None:
            raise Unavailable(f"the stand cannot be served: {self._failed}")
        return self._port

    def stop(self) -> None:
        """Close all links and end the thread. A second call does nothing."""
        loop, thread = self._loop, self._thread
        if loop is None or thread is None:
            return
        self._call(self._end)
        thread.join(_STOP_S)
        self._thread = None

    @property
    def port(self) -> int:
        """Where it serves."""
        return self._port

    def address(self, host: str = LOOPBACK) -> str:
        """Return the address to be opened on this machine, with the key of this start."""
        return f"http://{_in_address(host)}:{self._port}/?key={self._access.key}"

    def address_for_once(self, host: str = LOOPBACK) -> str:
        """Return one for a browser that is started with it: its key is worth nothing once it was used."""
        with self._lock:
            key = self._access.key_for_once(self._clock.now_s())
        return f"http://{_in_address(host)}:{self._port}/?key={key}"

    def pairing_address(self, host: str, code: Code) -> str:
        """Return what the QR code says: the code stands after #, which is never sent."""
        return f"http://{_in_address(host)}:{self._port}/pair#{code.text}"

    # --- to pages ---------------------------------------------------------------------------------

    def send(self, message: ToPage) -> None:
        """Tell every page, and remember it for those that come later. Never waits."""
        self._call(self._tell_all, message)

    def send_to(self, viewer: str, message: ToPage) -> None:
        """Tell one page. Never waits; nothing happens if it is gone."""
        self._call(self._tell_one, viewer, message)

    def put(self, path: str, page: Page) -> None:
        """Serve something besides the files, the report say, from now on. path: begins with a stroke."""
        self._call(self._files.__setitem__, path, page)

    # --- from pages -------------------------------------------------------------------------------

    @property
    def viewers(self) -> tuple[Viewer, ...]:
        """Who is connected."""
        return tuple(link.viewer() for link in self._links.values())

    def take(self, wait_s: float = 0.0) -> list[Arrived]:
        """Return what players' pages told since the last call, oldest first. wait_s: for the first."""
        if wait_s > 0 and not self._arrived:
            self._something.wait(wait_s)
        self._something.clear()
        taken: list[Arrived] = []
        with contextlib.suppress(IndexError):
            while True:
                taken.append(self._arrived.popleft())
        return taken

    def to_run_s(self, viewer: str, page_ms: float) -> RunTime | None:
        """Convert a page's time to the clock's; None where it is not known."""
        link = self._links.get(viewer)
        return None if link is None else link.clock_of_page.to_run(page_ms)

    def to_page_ms(self, viewer: str, time_s: float) -> PageTime | None:
        """Convert a time of the clock to a page's; None where it is not known."""
        link = self._links.get(viewer)
        return None if link is None else link.clock_of_page.to_page(time_s)

    def sync_figures(self, viewer: str) -> SyncFigures | None:
        """How well a page's clock is known; None where the page is gone."""
        link = self._links.get(viewer)
        return None if link is None else link.clock_of_page.figures()

    # --- pairing ----------------------------------------------------------------------------------

    def code(self, rights: Rights) -> Code:
        """Return the code to be shown now; it changes when one was used, and with time."""
        with self._lock:
            return self._access.code(rights, self._clock.now_s())

    def pairings_to_keep(self) -> tuple[Pairing, ...] | None:
        """Return the paired devices where they changed since the last call; None otherwise."""
        with self._lock:
            if not self._access.changed:
                return None
            self._access.changed = False
            return self._access.pairings()

    # --- the server's own thread --------------------------------------------------------------------

    def _live(self, sockets: list[socket.socket], ready: threading.Event) -> None:
        try:
            asyncio.run(self._serve(sockets, ready))
        except BaseException as error:
            self._failed = error
            if ready.is_set():
                raise
        finally:
            self._loop = None
            ready.set()

    async def _serve(self, sockets: list[socket.socket], ready: threading.Event) -> None:
        self._ending = asyncio.Event()
        connection = type("Connection", (StandConnection,), {"counted": self._counted, "clock": self._clock})
        quiet = logging.getLogger("midifret.stand")
        quiet.addHandler(logging.NullHandler())
        quiet.propagate = False
        servers: list[Server] = []
        async with contextlib.AsyncExitStack() as stack:
            for opened in sockets:
                server = serve(
                    self._handle,
                    sock=opened,
                    process_request=self._answer,
                    create_connection=connection,
                    compression=None,
                    server_header=None,
                    open_timeout=self._patience.open_s,
                    ping_interval=self._patience.ping_s,
                    ping_timeout=self._patience.pong_s,
                    close_timeout=2,
                    max_size=MOST_BYTES,
                    logger=quiet,
                )
                servers.append(await stack.enter_async_context(server))
            self._loop = asyncio.get_running_loop()
            ready.set()
            await self._ending.wait()

    def _end(self) -> None:
        assert self._ending is not None
        self._ending.set()

    def _call(self, function: Callable[..., object], *values: object) -> None:
        loop = self._loop
        if loop is not None:
            with contextlib.suppress(RuntimeError):  # closed since
                loop.call_soon_threadsafe(function, *values)

    def _tell_all(self, message: ToPage) -> None:
        self._known.keep(message)
        for link in self._links.values():
            link.tell(message)

    def _tell_one(self, viewer: str, message: ToPage) -> None:
        link = self._links.get(viewer)
        if link is not None:
            link.tell(message)

    def _answer(self, connection: ServerConnection, request: Request) -> Response | None:
        """Answer a request; None lets it become a socket."""
        assert isinstance(connection, StandConnection)
        asked = Asked(request.method, request.path, tuple(request.headers.raw_items()), connection.address)
        with self._lock:
            found = self._access.judge(asked, self._clock.now_s())
        if isinstance(found, Denied):
            return denied_answer(found, told_as_json=asked.target == TRY_CODE)
        if isinstance(found, Paired):
            return paired_answer(found)
        if found.path != SOCKET:
            return page_answer(self._files.get(found.path), found.host)
        if len(self._links) + self._greeting >= MOST_LINKS + 4:
            return denied_answer(Denied(503, "Too many pages are open."), told_as_json=False)
        connection.granted = found
        return None

    async def _handle(self, connection: ServerConnection) -> None:
        assert isinstance(connection, StandConnection)
        granted: Granted = connection.granted
        self._greeting += 1
        try:
            hello = await self._hello(connection)
        finally:
            self._greeting -= 1
        if hello is None or granted.rights is None:
            return
        link = Link(connection, hello, granted.rights, granted.pairing, self._clock)
        older = self._links.get(link.ident)
        if older is None and len(self._links) >= MOST_LINKS:
            await link.refuse("Too many pages are open: close one.", reload=True)
            return
        self._links = {**self._links, link.ident: link}  # a new one, as other threads read it
        if older is not None:
            older.closing = True
            self._later(older.refuse("The stand was opened in another tab.", reload=True, code=REPLACED))
        link.tell(Welcome(SCHEMA, __version__, link.controls, self._language))
        for message in self._known.all():
            link.tell(message)
        tasks = [asyncio.create_task(link.write()), asyncio.create_task(link.exchange())]
        try:
            await self._listen(link)
        finally:
            for task in tasks:
                task.cancel()
            if self._links.get(link.ident) is link:
                self._links = {ident: each for ident, each in self._links.items() if each is not link}

    async def _hello(self, connection: StandConnection) -> Hello | None:
        try:
            async with asyncio.timeout(self._patience.hello_s):
                message = _understood(await connection.recv())
        except (TimeoutError, ConnectionClosed):
            return None
        except BadInput as error:
            await refuse(connection, str(error), reload=True)
            return None
        if not isinstance(message, Hello):
            await refuse(connection, "The page did not say who it is: load it anew.", reload=True)
            return None
        if message.schema != SCHEMA:
            await refuse(connection, "This page is of another midifret: load it anew.", reload=True)
            return None
        return message

    async def _listen(self, link: Link) -> None:
        with contextlib.suppress(ConnectionClosed):
            while True:
                text = await link.connection.recv()
                at_s = link.connection.came_s
                if link.closing:
                    return
                if not link.may_say():
                    await link.refuse("The page tells too much: load it anew.", reload=True)
                    return
                try:
                    message = _understood(text)
                except BadInput as error:
                    await link.refuse(str(error), reload=True)
                    return
                if isinstance(message, Synced):
                    link.synced(message, at_s)
                elif isinstance(message, Hello):
                    await link.refuse("The page said twice who it is: load it anew.", reload=True)
                    return
                elif link.controls:
                    if len(self._arrived) == _MOST_ARRIVED:
                        self.lost += 1
                    self._arrived.append(Arrived(message, at_s, link.ident))
                    self._something.set()

    def _later(self, work: Coroutine[None, None, None]) -> None:
        task = asyncio.ensure_future(work)
        self._closing.add(task)  # the loop itself holds tasks weakly
        task.add_done_callback(self._closing.discard)


def _understood(text: str | bytes) -> Hello | Synced | FromPlayer:
    if not isinstance(text, str):
        raise BadInput("a page told something that is no text", allowed="messages in JSON")
    return parse(text)


def _in_address(host: str) -> str:
    return f"[{host}]" if ":" in host else host
