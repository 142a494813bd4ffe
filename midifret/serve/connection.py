"""A connection that is dated, counted and limited before anything of it is understood."""

import asyncio
from typing import Any, cast

from websockets.asyncio.server import ServerConnection

from midifret.clock import Clock
from midifret.stand.rates import TokenBucket

# A browser's request is 1 KB or so; the library would take 1 MB [ours].
MOST_REQUEST_BYTES = 16_384
# A page says 100 bytes at a time, 40 times a second at most [ours].
_BYTES_A_SECOND, _BYTES_AT_ONCE = 32_768.0, 131_072.0


class Counted:
    """How many connections there are, in all and of each address."""

    MOST, MOST_OF_ONE = 96, 48

    def __init__(self) -> None:
        """None."""
        self._of: dict[str, int] = {}

    def add(self, address: str) -> bool:
        """Count one more; returns whether there is room for it."""
        room = sum(self._of.values()) < self.MOST and self._of.get(address, 0) < self.MOST_OF_ONE
        self._of[address] = self._of.get(address, 0) + 1
        return room

    def remove(self, address: str) -> None:
        """Count one less."""
        self._of[address] -= 1
        if not self._of[address]:
            del self._of[address]

    def __len__(self) -> int:
        """How many there are."""
        return sum(self._of.values())


class StandConnection(ServerConnection):
    """A connection that says when its last bytes came. The server sets `counted` and `clock`."""

    counted: Counted
    clock: Clock
    address = ""
    came_s = 0.0
    granted: Any = None
    _bytes = 0
    _bucket: TokenBucket

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Begin, or end at once where there are too many."""
        where = transport.get_extra_info("peername")
        self.address = str(where[0]) if where else ""
        self._bucket = TokenBucket(_BYTES_A_SECOND, _BYTES_AT_ONCE)
        room = self.counted.add(self.address)
        super().connection_made(transport)
        if not room:
            cast(asyncio.Transport, transport).abort()

    def data_received(self, data: bytes) -> None:
        """Date what came; who sends too much is cut off, whatever it is."""
        self.came_s = self.clock.now_s()
        if self.request is None:
            self._bytes += len(data)
            if self._bytes > MOST_REQUEST_BYTES:
                self.transport.abort()
                return
        elif not self._bucket.take(self.came_s, len(data)):
            self.transport.abort()
            return
        super().data_received(data)

    def connection_lost(self, exc: Exception | None) -> None:
        """Count it out."""
        self.counted.remove(self.address)
        super().connection_lost(exc)
