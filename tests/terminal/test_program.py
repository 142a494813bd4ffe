"""The program on a pseudo-terminal: start, pause, quit, resize, Ctrl-C, and the terminal left as it was."""

import os
import re
import select
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pyte
import pytest

if sys.platform == "win32":
    pytest.skip("a pseudo-terminal is needed", allow_module_level=True)

import fcntl
import pty
import termios

DEADLINE_S = 20.0
ENTER_SCREEN, LEAVE_SCREEN, SHOW_CURSOR = b"\x1b[?1049h", b"\x1b[?1049l", b"\x1b[?25h"


class Terminal:
    """A program on a pseudo-terminal, its screen kept by a terminal emulator (pyte)."""

    def __init__(self, home: Path, *arguments: str, columns: int = 80, rows: int = 24, **extra: str) -> None:
        self.screen = pyte.Screen(columns, rows)
        self.stream = pyte.ByteStream(self.screen)
        self.output = b""
        self.master, slave = pty.openpty()
        self.slave = slave
        self.resize(columns, rows)
        self.before = termios.tcgetattr(slave)
        environment = {
            **os.environ,
            "TERM": "xterm-256color",
            "JACK_DEFAULT_SERVER": "midifret-none",
            **extra,
        }
        environment.pop("COLUMNS", None)
        environment.pop("LINES", None)
        self.process = subprocess.Popen(
            [sys.executable, "-m", "midifret", "--home", str(home), *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env=environment,
            start_new_session=True,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )

    def resize(self, columns: int, rows: int) -> None:
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.screen.resize(rows, columns)

    def read(self, wait_s: float = 0.05) -> None:
        while select.select([self.master], [], [], wait_s)[0]:
            try:
                data = os.read(self.master, 65536)
            except OSError:  # Linux says so when the other end is closed
                return
            if not data:
                return
            self.output += data
            self.stream.feed(data)
            wait_s = 0.0

    def until(self, holds: Callable[[], bool], what: str) -> None:
        end_s = time.monotonic() + DEADLINE_S
        while not holds():
            if time.monotonic() > end_s:
                pytest.fail(f"not within {DEADLINE_S} s: {what}\n" + "\n".join(self.screen.display))
            self.read()

    def until_shown(self, text: str) -> None:
        self.until(lambda: text in "\n".join(self.screen.display), f"{text!r} on the screen")

    def press(self, keys: str) -> None:
        os.write(self.master, keys.encode())

    def end(self) -> int:
        self.until(lambda: self.process.poll() is not None, "the end of the program")
        self.read(0.2)
        return self.process.returncode

    def as_before(self) -> bool:
        """Whether settings, screen and cursor are as the program found them."""
        left = self.output.rfind(LEAVE_SCREEN) > self.output.rfind(ENTER_SCREEN)
        return termios.tcgetattr(self.slave) == self.before and left and SHOW_CURSOR in self.output

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self.master)
        os.close(self.slave)


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Callable[..., Terminal]]:
    opened: list[Terminal] = []

    def start(*arguments: str, **options: object) -> Terminal:
        opened.append(Terminal(tmp_path, *arguments, **options))  # type: ignore[arg-type]
        return opened[-1]

    yield start
    for each in opened:
        each.close()


def test_start_pause_and_quit(terminal: Callable[..., Terminal]) -> None:
    screen = terminal("demo")
    screen.until_shown("1 of 11")
    screen.until_shown("Right.")
    screen.press(" ")
    screen.until_shown("Paused")
    assert "The walk is yours" not in "\n".join(screen.screen.display)  # a paused prompt is hidden
    screen.press(" ")
    screen.until(lambda: "Paused" not in "\n".join(screen.screen.display), "the end of the pause")
    screen.press("q")
    assert screen.end() == 0
    assert screen.as_before()
    assert "(simulated player)" in screen.output.decode()


def test_ctrl_c_keeps_the_run_and_the_terminal(terminal: Callable[..., Terminal], tmp_path: Path) -> None:
    screen = terminal("demo")
    screen.until_shown("Right.")
    screen.press("\x03")
    assert screen.end() == 130
    assert screen.as_before()
    assert "Traceback" not in screen.output.decode()
    assert len(list((tmp_path / "takes").glob("*.mid"))) == 1
    assert not list((tmp_path / "takes").glob("*.journal"))


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_request_to_end_leaves_the_terminal_as_it_was(
    number: signal.Signals, terminal: Callable[..., Terminal], tmp_path: Path
) -> None:
    screen = terminal("demo")
    screen.until_shown("Right.")
    screen.process.send_signal(number)
    assert screen.end() == 130
    assert screen.as_before()
    assert len(list((tmp_path / "takes").glob("*.mid"))) == 1


@pytest.mark.parametrize(("columns", "rows"), [(120, 40), (60, 16), (40, 10), (20, 5)])
def test_resized_while_running(columns: int, rows: int, terminal: Callable[..., Terminal]) -> None:
    screen = terminal("demo")
    screen.until_shown("Right.")
    screen.resize(columns, rows)
    before = len(screen.output)
    screen.until(lambda: len(screen.output) > before + 20, "a new drawing")
    screen.read(0.3)
    assert any(line.strip() for line in screen.screen.display)
    screen.press("\x03")
    assert screen.end() == 130
    assert screen.as_before()


def test_without_colour_no_colour_is_sent(terminal: Callable[..., Terminal]) -> None:
    screen = terminal("demo", NO_COLOR="1")
    screen.until_shown("Right.")
    # Select graphic rendition (ECMA-48): 30-49 and 90-107 are colours; bold, dim and reverse may stay.
    numbers = [
        int(n) for code in re.findall(rb"\x1b\[([0-9;]*)m", screen.output) for n in code.split(b";") if n
    ]
    assert numbers
    assert not [n for n in numbers if 30 <= n <= 49 or 90 <= n <= 107]
    screen.press("\x03")
    assert screen.end() == 130


def test_an_ascii_terminal_gets_ascii(terminal: Callable[..., Terminal]) -> None:
    screen = terminal("demo", PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    screen.until_shown("Right.")
    assert screen.output.isascii()
    screen.press("\x03")
    assert screen.end() == 130


def test_a_dumb_terminal_gets_lines(terminal: Callable[..., Terminal]) -> None:
    screen = terminal("demo", TERM="dumb")
    screen.until(lambda: b"1/11 right" in screen.output, "a line")
    assert b"\x1b" not in screen.output
    screen.process.send_signal(signal.SIGINT)
    assert screen.end() == 130
