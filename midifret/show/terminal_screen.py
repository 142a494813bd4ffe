"""A terminal taken over for a while: draws only what changed, and leaves it as it was."""

import contextlib
import signal
import threading
from types import FrameType
from typing import NoReturn, Self

from rich.console import Console

from midifret.show.keys import KeyReader
from midifret.show.rows import STYLES, Block, Row, can_print_signs, pad

# Control sequences of ECMA-48 and of the DEC terminals that every terminal program follows.
_ENTER = "\x1b[?1049h\x1b[?25l\x1b[2J"  # other screen, no cursor, empty
_LEAVE = "\x1b[0m\x1b[2J\x1b[H\x1b[?25h\x1b[?1049l"  # emptied first: some terminals keep rows after a resize
_CLEAR = "\x1b[0m\x1b[2J"
_STOPPED = 128  # exit codes of a program ended by a signal start here


class TerminalScreen:
    """A terminal that is drawn on row by row.

    A context manager: inside it has the terminal to itself; on leaving, by whatever way that Python
    still notices (the end, an exception, SIGTERM or SIGHUP), screen, cursor and keys are as before.
    SIGTERM and SIGHUP then end the program by SystemExit, so that all else is closed in order too;
    a handler that is already set is left alone.
    """

    def __init__(self, console: Console, keys: KeyReader | None = None) -> None:
        """Take the console to draw on and the keys to read, by default those of standard input.

        ascii_only: what is drawn must be spelt with ASCII alone.
        """
        self._console = console
        self._keys = keys if keys is not None else KeyReader()
        self.ascii_only = not can_print_signs(console.encoding)
        self._codes = _style_codes(console)
        self._shown: Block | None = None
        self._size = (0, 0)
        self._open = False
        self._handlers: dict[int, object] = {}

    def __enter__(self) -> Self:
        """Take over the terminal."""
        self._set_handlers()
        try:
            self._keys.__enter__()
            self._open = True
            self._write(_ENTER)
        except BaseException:
            self.close()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        """Give the terminal back."""
        self.close()

    def close(self) -> None:
        """Give the terminal back; twice does no harm."""
        try:
            if self._open:
                self._open = False
                with contextlib.suppress(OSError, ValueError):  # the terminal is gone: nothing to put back
                    self._write(_LEAVE)
        finally:
            self._keys.close()
            self._restore_handlers()

    def keys(self) -> list[str]:
        """Keys since the last call."""
        return self._keys.keys()

    @property
    def size(self) -> tuple[int, int]:
        """Columns and rows that there are just now."""
        width, height = self._console.size
        return width, height

    def draw(self, lines: Block, size: tuple[int, int]) -> None:
        """Draw what changed since the last drawing; everything, where the size is another one."""
        resized = size != self._size
        before: Block = () if resized or self._shown is None else self._shown
        self._size, self._shown = size, lines
        changed = [
            f"\x1b[{number + 1};1H{self._codes_of(line, size[0])}"
            for number, line in enumerate(lines)
            if number >= len(before) or before[number] != line
        ]
        if resized:
            changed.insert(0, _CLEAR)
        if changed:
            self._write("".join(changed))

    def _codes_of(self, line: Row, width: int) -> str:
        pieces = []
        for text, style in pad(line, width):
            start, end = self._codes.get(style, ("", ""))
            pieces.append(f"{start}{text}{end}")
        return "".join(pieces)

    def _write(self, text: str) -> None:
        self._console.file.write(text)
        self._console.file.flush()

    def _set_handlers(self) -> None:
        if threading.current_thread() is not threading.main_thread():
            return
        for name in ("SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)
            if number is not None and signal.getsignal(number) is signal.SIG_DFL:
                self._handlers[number] = signal.SIG_DFL
                signal.signal(number, _end_by_signal)

    def _restore_handlers(self) -> None:
        for number in list(self._handlers):
            del self._handlers[number]
            signal.signal(number, signal.SIG_DFL)


def _end_by_signal(number: int, _frame: FrameType | None) -> NoReturn:
    raise SystemExit(_STOPPED + number)


def _style_codes(console: Console) -> dict[str, tuple[str, str]]:
    """What to write before and after a text of each style; decided once, by what the console can show."""
    codes: dict[str, tuple[str, str]] = {}
    for name, style in STYLES.items():
        with console.capture() as capture:
            console.print("x", style=style, end="", highlight=False)
        start, _, end = capture.get().partition("x")
        codes[name] = (start, end)
    return codes
