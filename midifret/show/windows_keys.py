"""Keys of a Windows console, through msvcrt. Written from its documentation; never run by the developers."""

import sys

from midifret.show.keys import split_keys

assert sys.platform == "win32"

import msvcrt  # noqa: E402  (nothing below can be imported elsewhere)

_ARROWS = {"H": "up", "P": "down", "M": "right", "K": "left"}


class WindowsKeys:
    """Single keys without echo; ctrl-c stays a signal here."""

    def keys(self) -> list[str]:
        """Keys since the last call, oldest first; never waits."""
        found: list[str] = []
        while msvcrt.kbhit():
            character = msvcrt.getwch()
            if character in ("\x00", "\xe0"):
                arrow = _ARROWS.get(msvcrt.getwch())
                found += [arrow] if arrow else []
            else:
                found += split_keys(character.encode("utf-8", "ignore"))
        return found

    def close(self) -> None:
        """Nothing was changed."""
