"""One page that is connected: what it is told, its clock, and how much it may say."""

import asyncio
import contextlib
from dataclasses import dataclass

from websockets.exceptions import ConnectionClosed

from midifret.clock import Clock
from midifret.serve.connection import StandConnection
from midifret.stand.codes import Rights
from midifret.stand.latest import Outbox
from midifret.stand.messages import Hello, Refused, Sync, Synced, ToPage, dump
from midifret.stand.rates import TokenBucket
from midifret.stand.sync import ClockSync, Exchange

# Exchanges: so many at first, and after a jump, then one each second [ours].
_BURST, _BURST_S, _SYNC_S = 12, 0.04, 1.0
_MOST_UNANSWERED = 32
# A page tells some five things a second; keys held down 30 [ours].
_MESSAGES_A_SECOND, _MESSAGES_AT_ONCE = 40.0, 120.0
# RFC 6455, section 7.4.1: against what was agreed; and our own: a newer link of the same page took its place.
VIOLATION, REPLACED = 1008, 4000


@dataclass(frozen=True, slots=True)
class Viewer:
    """A page that is connected. ident: the same after a lost link. sounds: it can click.

    since_s: on the clock. answered_s: when it last answered an exchange; None before the first. A page that
    sleeps answers none.
    """

    ident: str
    controls: bool
    sounds: bool
    address: str
    since_s: float
    answered_s: float | None


class Link:
    """One page. For the server's thread, but for `clock_of_page`, which any thread may ask."""

    def __init__(
        self, connection: StandConnection, hello: Hello, rights: Rights, pairing: int, clock: Clock
    ) -> None:
        """Take over a connection whose page has said who it is."""
        self.connection = connection
        self.clock_of_page = ClockSync()
        self._clock = clock
        # The name is the page's own; that of the pairing keeps a watcher from taking another's place.
        self.ident = f"{pairing}.{hello.viewer}"
        self.controls = rights is Rights.PLAY
        self._sounds = hello.sounds
        self._since_s = clock.now_s()
        self._answered_s: float | None = None
        self._outbox = Outbox()
        self._more = asyncio.Event()
        self._asked: dict[int, float] = {}
        self._number = 0
        self._burst_left = _BURST
        self._again = asyncio.Event()
        self._bucket = TokenBucket(_MESSAGES_A_SECOND, _MESSAGES_AT_ONCE)
        self.closing = False

    def viewer(self) -> Viewer:
        """As it is now."""
        return Viewer(
            self.ident,
            self.controls,
            self._sounds,
            self.connection.address,
            self._since_s,
            self._answered_s,
        )

    def tell(self, message: ToPage) -> None:
        """Put a message in its outbox; a page too far behind is closed."""
        if self._outbox.put(message):
            self._more.set()
        else:
            self.connection.transport.abort()

    def may_say(self) -> bool:
        """Whether it may tell one thing more just now."""
        return self._bucket.take(self._clock.now_s())

    def synced(self, message: Synced, back_s: float) -> None:
        """Take the answer to an exchange; one that was not asked for is left out."""
        sent_s = self._asked.pop(message.number, None)
        if sent_s is None:
            return
        self._answered_s = back_s
        if self.clock_of_page.add(Exchange(sent_s, message.came_ms, message.went_ms, back_s)):
            self._burst_left = _BURST
            self._again.set()

    async def write(self) -> None:
        """Tell what waits, for as long as the link lasts."""
        try:
            while True:
                await self._more.wait()
                self._more.clear()
                while (message := self._outbox.next()) is not None:
                    text = dump(message)
                    if isinstance(message, Sync):
                        self._asked[message.number] = self._clock.now_s()
                    await self.connection.send(text)
        except ConnectionClosed:
            pass
        except Exception:  # a link on which nothing can be told any more is none: the page comes back
            self.connection.transport.abort()
            raise

    async def exchange(self) -> None:
        """Ask for the page's clock, for as long as the link lasts."""
        while True:
            self._number += 1
            while len(self._asked) >= _MOST_UNANSWERED:
                del self._asked[next(iter(self._asked))]
            self.tell(Sync(self._number))
            if self._burst_left > 0:
                self._burst_left -= 1
                await asyncio.sleep(_BURST_S)
                continue
            self._again.clear()
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._again.wait(), _SYNC_S)

    async def refuse(self, words: str, *, reload: bool, code: int = VIOLATION) -> None:
        """Say why, and close."""
        self.closing = True
        await refuse(self.connection, words, reload=reload, code=code)


async def refuse(connection: StandConnection, words: str, *, reload: bool, code: int = VIOLATION) -> None:
    """Say why nothing more is told, and close; who does not read is not waited for."""
    with contextlib.suppress(ConnectionClosed, TimeoutError):
        async with asyncio.timeout(1):
            await connection.send(dump(Refused(words, reload)))
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(2):
            await connection.close(code, words[:100].encode()[:120].decode(errors="ignore"))
