"""Whether a JACK server has gone, which its library tells only in its error log.

The list of ports stays as it was when the server died, and the MIDI library does not ask for word of its end
(seen with jackd2 1.9.21 and python-rtmidi 1.5.8). But a client talks to its server over sockets, and the end
of the server is the end of these. Only on Linux; elsewhere nothing is noticed.
"""

import ctypes
import os
import select
import stat
from pathlib import Path


def open_sockets() -> dict[int, int]:
    """Return the sockets that this process has open: file descriptor and inode."""
    found: dict[int, int] = {}
    try:
        descriptors = [int(path.name) for path in Path("/proc/self/fd").iterdir()]
    except (OSError, ValueError):
        return found
    for descriptor in descriptors:
        try:
            status = os.fstat(descriptor)
        except OSError:
            continue  # closed since it was listed
        if stat.S_ISSOCK(status.st_mode):
            found[descriptor] = status.st_ino
    return found


class ServerWatch:
    """Watches the sockets of one client: those opened since `before` was taken with `open_sockets`."""

    def __init__(self, before: dict[int, int]) -> None:
        """Take what the making of a client has just opened."""
        self._sockets = {key: inode for key, inode in open_sockets().items() if before.get(key) != inode}
        self._poll = select.poll() if self._sockets else None
        for descriptor in self._sockets:
            # Nothing is asked but what is always told: hung up, failed, closed. 5 us a look (measured).
            assert self._poll is not None
            self._poll.register(descriptor, 0)

    @property
    def sockets(self) -> int:
        """How many sockets are watched; with none nothing is ever noticed."""
        return len(self._sockets)

    def gone(self) -> bool:
        """Whether the server has let go of the client."""
        return bool(self._poll is not None and self._poll.poll(0))


def silence_library() -> None:
    """Keep the error log of the loaded JACK library off stderr, where it would spoil a screen.

    The library takes any C function as its log. One of Python's own would be called on a thread of the
    library, which may just then be waited for; so it gets one of C that reads the text and does nothing.
    """
    try:
        lines = Path("/proc/self/maps").read_text(errors="replace").splitlines()
    except OSError:
        return  # no Linux
    for path in sorted({line.split(maxsplit=5)[-1] for line in lines if "/libjack" in line}):
        try:
            ctypes.CDLL(path).jack_set_error_function(ctypes.CDLL(None).strlen)
        except (OSError, AttributeError):
            continue
