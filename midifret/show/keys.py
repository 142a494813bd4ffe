"""Keys from the terminal, one at a time, and what each asks for."""

import sys
from collections.abc import Callable
from time import monotonic
from types import TracebackType
from typing import Protocol, TextIO

from midifret.session.screen import Stage
from midifret.terms import Judged, Prompt
from midifret.terms.control import Control

# What terminals send for keys that are not characters (ECMA-48; arrows also as in application mode).
_SEQUENCES = {
    b"\x1b[A": "up",
    b"\x1b[B": "down",
    b"\x1b[C": "right",
    b"\x1b[D": "left",
    b"\x1bOA": "up",
    b"\x1bOB": "down",
    b"\x1bOC": "right",
    b"\x1bOD": "left",
}
_NAMED = {
    "\r": "enter",
    "\n": "enter",
    "\x7f": "backspace",
    "\x08": "backspace",
    "\t": "tab",
    "\x03": "ctrl-c",
}
_ANYWHERE = {" ": Control.PAUSE, "escape": Control.PAUSE, "tab": Control.NEXT, "ctrl-c": Control.QUIT}
_LETTERS = {"n": Control.NEXT, "a": Control.AGAIN, "q": Control.QUIT}


def control_for(key: str, prompt: Prompt | None, stage: Stage) -> Control | None:
    """What a key asks for, or None where it asks for nothing or belongs to a typed name.

    While a name is asked, letters, signs, enter and backspace go into the answer: there space or
    escape pauses, tab goes on to the next prompt, and again and quit are asked for in the pause.
    """
    typing = stage is Stage.ASKING and prompt is not None and prompt.judged is Judged.NAME
    if typing:
        return _ANYWHERE.get(key)
    if stage is Stage.COUNTDOWN and key == "enter":
        return Control.START
    if stage in (Stage.CHECKING, Stage.ENDED):
        if key in ("enter", " ", "tab"):
            return Control.NEXT if stage is Stage.ENDED else Control.START
        if key == "escape":
            return Control.QUIT
    if stage is Stage.PAUSED and key in ("enter", " ", "escape"):
        return Control.START
    return _ANYWHERE.get(key) or _LETTERS.get(key.lower() if len(key) == 1 else key)


def key_hints(prompt: Prompt | None, stage: Stage, *, in_tempo: bool = False) -> tuple[tuple[str, str], ...]:
    """The keys that do something now and what they do, for the last line of the screen.

    in_tempo: the beat goes on by itself, and nothing can be skipped.
    """
    if in_tempo:
        return tuple(hint for hint in key_hints(prompt, stage) if hint[1] != "next")
    match stage:
        case Stage.CHECKING:
            return (("enter", "go on without the check"), ("q", "quit"))
        case Stage.COUNTDOWN:
            return (("enter", "start now"), ("space", "pause, go on"), ("q", "quit"))
        case Stage.PAUSED:
            return (("space", "go on"), ("n", "next"), ("a", "again"), ("q", "quit"))
        case Stage.ENDED:
            return (("enter", "go on"), ("a", "again"), ("q", "quit"))
    if prompt is not None and prompt.judged is Judged.NAME:
        return (("letters", "name it"), ("space", "pause (then a or q)"), ("tab", "next"))
    return (("space", "pause"), ("n", "next"), ("a", "again"), ("q", "quit"))


def split_keys(data: bytes) -> list[str]:
    """Split what a terminal sent into keys: characters, or enter, backspace, tab, escape, ctrl-c, arrows.

    Unknown control sequences and other control characters are left out; bytes that are no UTF-8 too.
    """
    keys: list[str] = []
    at = 0
    while at < len(data):
        if data[at] == 0x1B:
            name, length = _escape(data[at:])
            if name:
                keys.append(name)
            at += length
            continue
        end = at + 1
        while end < len(data) and data[end] != 0x1B:
            end += 1
        for character in data[at:end].decode("utf-8", "ignore"):
            if character in _NAMED:
                keys.append(_NAMED[character])
            elif character.isprintable():
                keys.append(character)
        at = end
    return keys


def _escape(data: bytes) -> tuple[str, int]:
    """The key at the start of data that begins with escape, and how many bytes it takes."""
    if data[:3] in _SEQUENCES:
        return _SEQUENCES[data[:3]], 3
    if data[1:2] == b"[":
        # A control sequence: parameters, then one final byte from @ to ~.
        for length in range(2, len(data)):
            if 0x40 <= data[length] <= 0x7E:
                return "", length + 1
        return "", len(data)
    if data[1:2] == b"O" and len(data) > 2:
        return "", 3
    return "escape", 1


class KeySource(Protocol):
    """One platform's way to read single keys."""

    def keys(self) -> list[str]:
        """Keys since the last call, oldest first; never waits."""

    def close(self) -> None:
        """Give the terminal its settings back."""


class KeyReader:
    """Keys of a terminal without waiting; nothing where the input is no terminal.

    A context manager: on leaving, however that happens, the terminal has its settings back. While it
    is open ctrl-c is a key (a signal sent from outside stays a signal), and ctrl-z and ctrl-s do
    nothing, because a stopped terminal would stop the thread that hears.
    Not tried on Windows: there the keys come from msvcrt.
    """

    def __init__(self, stream: TextIO | None = None, now: Callable[[], float] = monotonic) -> None:
        """Take the stream to read from, by default standard input. now: seconds of a steady clock."""
        self._stream = stream if stream is not None else sys.stdin
        self._now = now
        self._reader: KeySource | None = None

    def __enter__(self) -> "KeyReader":
        """Switch the terminal to single keys without echo."""
        try:
            is_terminal = self._stream.isatty()
        except (AttributeError, ValueError):
            is_terminal = False
        if is_terminal:
            self._reader = _open(self._stream, self._now)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Give the terminal its settings back."""
        self.close()

    def close(self) -> None:
        """Give the terminal its settings back; twice does no harm."""
        reader, self._reader = self._reader, None
        if reader is not None:
            reader.close()

    def keys(self) -> list[str]:
        """Keys since the last call, oldest first; never waits."""
        return [] if self._reader is None else self._reader.keys()


def _open(stream: TextIO, now: Callable[[], float]) -> KeySource:
    if sys.platform == "win32":
        from midifret.show.windows_keys import WindowsKeys

        return WindowsKeys()
    from midifret.show.posix_keys import PosixKeys

    return PosixKeys(stream.fileno(), now)
