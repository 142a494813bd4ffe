"""A real server on this machine, and pages for it: raw bytes, or a client that speaks as the page does."""

import asyncio
import json
import random
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import TracebackType
from typing import Any

from websockets.sync.client import ClientConnection, connect

from midifret.clock import RealClock
from midifret.serve import Page, Patience, StandServer
from midifret.stand.access import Access
from midifret.stand.codes import Rights
from midifret.stand.messages import SCHEMA, Engraving, Hall, NoteMark, Notice, Reading, RunScreen

FILES = {
    "/": Page(b"<!doctype html><title>stand</title>", "text/html; charset=utf-8"),
    "/main.js": Page(b"export {};", "text/javascript; charset=utf-8"),
    "/pair": Page(b"<!doctype html><title>pair</title>", "text/html; charset=utf-8"),
    "/large": Page(b"x" * 8_000_000, "text/html; charset=utf-8"),
}
WAIT_S = 5.0  # for what has to come; a test that waits so long has failed


@contextmanager
def standing(
    *,
    lan: bool = False,
    patience: Patience | None = None,
    port: int = 0,
    kept: Any = (),
    addresses: tuple[str, ...] = ("127.0.0.1",),
) -> Iterator[StandServer]:
    """Serve, and stop."""
    access = Access(random.SystemRandom().randbytes, lan=lan, kept=kept)
    server = StandServer(
        FILES, access, RealClock(), port=port, addresses=addresses, patience=patience or Patience()
    )
    server.start()
    try:
        yield server
    finally:
        server.stop()


def raw(server: StandServer, data: bytes, *, address: str = "127.0.0.1") -> bytes:
    """Send bytes and return all that comes back until the server closes."""
    with socket.create_connection((address, server.port), timeout=WAIT_S) as opened:
        answer = b""
        try:
            opened.sendall(data)
            while part := opened.recv(65_536):
                answer += part
        except (ConnectionResetError, BrokenPipeError):
            pass
        return answer


def get(
    server: StandServer, target: str, *, method: str = "GET", host: str | None = None, **headers: str
) -> tuple[int, dict[str, str], bytes]:
    """Ask as a browser does. Returns status, headers by small names, body; status 0 for no answer at all."""
    lines = [f"{method} {target} HTTP/1.1", f"Host: {host or f'127.0.0.1:{server.port}'}"]
    lines += [f"{name.replace('_', '-')}: {value}" for name, value in headers.items()]
    answer = raw(server, ("\r\n".join(lines) + "\r\n\r\n").encode("latin-1"))
    head, _, body = answer.partition(b"\r\n\r\n")
    if not head:
        return 0, {}, b""
    first, *rest = head.decode("latin-1").split("\r\n")
    return int(first.split()[1]), {k.lower(): v for k, _, v in (line.partition(": ") for line in rest)}, body


def cookie(server: StandServer, rights: Rights | None = None) -> str:
    """Come in with the key, or with a code for these rights."""
    if rights is None:
        status, headers, _ = get(server, "/?" + server.address().partition("?")[2])
        assert status == 303
    else:
        status, headers, _ = get(server, "/pair/try", midifret_code=server.code(rights).text)
        assert status == 200
    return headers["set-cookie"].partition(";")[0]


class ScriptedPage:
    """A page: says hello, answers exchanges when told to read, and keeps the rest."""

    def __init__(
        self,
        server: StandServer,
        cookie_text: str,
        *,
        viewer: str = "one",
        schema: int = SCHEMA,
        greet: bool = True,
        offset_ms: float = 0.0,
    ) -> None:
        """Connect. offset_ms: of this page's clock over that of the machine."""
        self.server = server
        self.offset_ms = offset_ms
        self._opening = connect(
            f"ws://127.0.0.1:{server.port}/socket",
            additional_headers={"Cookie": cookie_text},
            origin=f"http://127.0.0.1:{server.port}",  # type: ignore[arg-type]
            compression=None,
            max_size=None,
            close_timeout=0.5,
        )
        self.link: ClientConnection = self._opening.__enter__()
        if greet:
            self.say(kind="hello", schema=schema, viewer=viewer, sounds=True)

    def __enter__(self) -> "ScriptedPage":
        """Itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close."""
        self.link.close()

    def now_ms(self) -> float:
        """The page's clock."""
        return time.perf_counter() * 1000 + self.offset_ms

    def say(self, **message: object) -> None:
        """Tell something."""
        self.link.send(json.dumps(message))

    def next(self, *kinds: str, answering: bool = True) -> dict[str, Any]:
        """Return the next message, of these kinds if any are given; exchanges are answered on the way."""
        while True:
            message: dict[str, Any] = json.loads(self.link.recv(WAIT_S))
            came_ms = self.now_ms()
            if message["kind"] == "sync":
                if answering:
                    number = message["number"]
                    self.say(kind="synced", number=number, came_ms=came_ms, went_ms=self.now_ms())
                if "sync" not in kinds:
                    continue
            if not kinds or message["kind"] in kinds:
                return message

    def close_code(self) -> int | None:
        """Read to the end, and return how it was closed."""
        from websockets.exceptions import ConnectionClosed

        try:
            while True:
                self.link.recv(WAIT_S)
        except ConnectionClosed:
            return self.link.close_code


def until(server: StandServer, holds: Callable[[], object]) -> None:
    """Wait for what the server is about to do. Asked in its own thread, between all that it does there."""

    async def held() -> None:
        async with asyncio.timeout(WAIT_S):
            while not holds():
                await asyncio.sleep(0)  # lets the server do the next thing

    loop = server._loop
    assert loop is not None, "the server has stopped"
    asyncio.run_coroutine_threadsafe(held(), loop).result()


def fall_behind(server: StandServer, viewer: str, size: int = 20_000_000) -> None:
    """Let this page be far behind.

    Its client reads on only while fewer than 16 messages wait, and then more is on its way than buffers take.
    """
    for number in range(40):
        server.send_to(viewer, Notice(str(number), grave=False))
    server.send_to(viewer, an_engraving("large", size))


def a_screen(number: int = 0, *, run: int = 1, reading: Reading | None = None) -> RunScreen:
    """A moment of a run; the number is its clock."""
    return RunScreen(
        run=run,
        stage="asking",
        title="",
        player="",
        progress=(0, 1),
        right=0,
        clock=str(number),
        count=None,
        cue=None,
        told=None,
        beat=None,
        reading=reading,
        message="",
        rows=(),
        typed="",
        naming=(),
        spots=(),
        strings=6,
        frets=19,
        left_handed=False,
        buttons=(),
    )


def a_reading(*marks: tuple[str, str], whole: bool = False) -> Reading:
    """A moment of a reading, with marks (ident, verdict)."""
    return Reading("page", "", 0, tuple(NoteMark(ident, verdict, "") for ident, verdict in marks), whole)


def a_hall(notice: str = "") -> Hall:
    """Where nothing is being played."""
    return Hall("", notice, (), (), "")


def an_engraving(name: str = "page", size: int = 10) -> Engraving:
    """Something engraved."""
    return Engraving(name, ("x" * size,), "")
