"""Keys of a POSIX terminal, through termios and select."""

import os
import select
import termios
from collections.abc import Callable

from midifret.show.keys import split_keys

# A terminal sends escape, and an arrow as escape and more; over a slow line the rest may come a little
# later. Escape alone counts once nothing followed for so long [common practice, no source].
_ESCAPE_WAITS_S = 0.05
_AT_ONCE_BYTES = 4096
_SIGNAL_KEYS = ("VINTR", "VSUSP", "VDSUSP", "VLNEXT")  # ctrl-\ stays a way out of a program that hangs


class PosixKeys:
    """Single keys without echo; on closing the terminal has its settings back."""

    def __init__(self, descriptor: int, now: Callable[[], float]) -> None:
        """Take over a terminal. now: seconds of a steady clock."""
        self._descriptor = descriptor
        self._now = now
        self._held = b""
        self._held_since_s = 0.0
        self._before = termios.tcgetattr(descriptor)
        changed = termios.tcgetattr(descriptor)
        changed[0] &= ~(termios.IXON | termios.ICRNL)
        changed[3] &= ~(termios.ICANON | termios.ECHO)
        characters = changed[6]
        characters[termios.VMIN], characters[termios.VTIME] = 0, 0
        disabled = bytes([os.fpathconf(descriptor, "PC_VDISABLE")])
        for name in _SIGNAL_KEYS:
            if hasattr(termios, name):
                characters[getattr(termios, name)] = disabled
        termios.tcsetattr(descriptor, termios.TCSADRAIN, changed)

    def keys(self) -> list[str]:
        """Keys since the last call, oldest first; never waits."""
        fresh = self._read()
        data = self._held + fresh
        whole = _whole(data)
        if whole < len(data):
            if fresh or not self._held:
                self._held_since_s = self._now()
            elif self._now() - self._held_since_s >= _ESCAPE_WAITS_S:
                whole = len(data)
        self._held = data[whole:]
        return split_keys(data[:whole])

    def _read(self) -> bytes:
        data = b""
        while len(data) < _AT_ONCE_BYTES and select.select([self._descriptor], [], [], 0)[0]:
            try:
                more = os.read(self._descriptor, 1024)
            except OSError:  # the terminal is gone
                break
            if not more:
                break
            data += more
        return data

    def close(self) -> None:
        """Give the terminal its settings back; keys not yet read are dropped."""
        try:
            termios.tcsetattr(self._descriptor, termios.TCSAFLUSH, self._before)
        except termios.error:  # the terminal is gone
            return


def _whole(data: bytes) -> int:
    """How many bytes hold whole keys; the rest may be the start of an arrow or of a UTF-8 character."""
    for ending in (b"\x1b", b"\x1b[", b"\x1bO"):
        if data.endswith(ending):
            return len(data) - len(ending)
    for back in range(1, min(3, len(data)) + 1):
        byte = data[-back]
        if byte & 0xC0 == 0xC0:
            needed = 2 if byte < 0xE0 else 3 if byte < 0xF0 else 4
            return len(data) - back if needed > back else len(data)
        if byte & 0x80 == 0:
            break
    return len(data)
