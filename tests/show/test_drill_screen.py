"""The live screen on a terminal: what a terminal emulator (pyte) then shows, and that all is put back."""

import dataclasses
import io
import os
import re
import select
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Iterator

import pyte
import pytest
from rich.console import Console

from midifret.session.screen import Screen
from midifret.show.drill_screen import DrillScreen, LineView, SilentView, open_view
from midifret.show.frame import frame
from midifret.show.keys import KeyReader
from midifret.show.rows import plain

OTHER_SCREEN_ON, OTHER_SCREEN_OFF = "\x1b[?1049h", "\x1b[?1049l"
CURSOR_OFF, CURSOR_ON = "\x1b[?25l", "\x1b[?25h"


class Paper(io.StringIO):
    """Where the screen writes; counts the writes."""

    writes = 0

    def write(self, text: str) -> int:
        self.writes += 1
        return super().write(text)


def make_console(paper: io.StringIO, width: int = 80, height: int = 24) -> Console:
    return Console(file=paper, width=width, height=height, force_terminal=True, color_system="truecolor")


@pytest.fixture
def paper() -> Paper:
    return Paper()


@pytest.fixture
def view(paper: Paper) -> Iterator[DrillScreen]:
    with DrillScreen(make_console(paper), KeyReader(io.StringIO())) as opened:
        yield opened


def shown_by(text: str, width: int = 80, height: int = 24) -> list[str]:
    terminal = pyte.Screen(width, height)
    pyte.Stream(terminal).feed(text)
    return [line.rstrip() for line in terminal.display]


def lines_of(screen: Screen, width: int = 80, height: int = 24) -> list[str]:
    return [plain(line).rstrip() for line in frame(screen, width, height)]


def test_after_every_step_the_terminal_shows_the_frame(
    view: DrillScreen, paper: Paper, screens: dict[str, Screen]
) -> None:
    """Only changed rows are written; the sum of all writes must still be the whole picture."""
    for screen in [*screens.values(), *reversed(screens.values())]:
        view.show(screen)
        assert shown_by(paper.getvalue()) == lines_of(screen)


def test_the_last_row_and_column_do_not_scroll(screens: dict[str, Screen]) -> None:
    paper = Paper()
    with DrillScreen(make_console(paper, 60, 16), KeyReader(io.StringIO())) as view:
        view.show(screens["name"])
        view.show(screens["ended"])
        assert shown_by(paper.getvalue(), 60, 16) == lines_of(screens["ended"], 60, 16)


def test_a_part_of_a_second_writes_nothing(
    view: DrillScreen, paper: Paper, screens: dict[str, Screen]
) -> None:
    screen = screens["name"]
    view.show(screen)
    before = paper.writes
    view.show(dataclasses.replace(screen, elapsed_s=screen.elapsed_s + 0.3, prompt_s=0.7))
    assert paper.writes == before
    view.show(dataclasses.replace(screen, elapsed_s=screen.elapsed_s + 1))
    assert paper.writes == before + 1
    assert "1:06" in shown_by(paper.getvalue())[0]


def test_a_second_writes_one_row(view: DrillScreen, paper: Paper, screens: dict[str, Screen]) -> None:
    view.show(screens["name"])
    start = len(paper.getvalue())
    view.show(dataclasses.replace(screens["name"], elapsed_s=70))
    assert re.findall(r"\x1b\[(\d+);1H", paper.getvalue()[start:]) == ["1"]


def test_a_new_size_draws_all_anew(screens: dict[str, Screen]) -> None:
    paper = Paper()
    console = make_console(paper)
    with DrillScreen(console, KeyReader(io.StringIO())) as view:
        view.show(screens["name"])
        for width, height in ((100, 30), (50, 10), (80, 24)):
            console.size = (width, height)  # type: ignore[assignment]
            view.show(screens["name"])
            # pyte does not reflow: what was written since the size changed stands alone.
            written = paper.getvalue()
            assert shown_by(written[written.rindex("\x1b[2J") :], width, height) == lines_of(
                screens["name"], width, height
            )


def test_without_colour_nothing_is_coloured(
    monkeypatch: pytest.MonkeyPatch, screens: dict[str, Screen]
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    paper = Paper()
    with DrillScreen(make_console(paper), KeyReader(io.StringIO())) as view:
        for screen in screens.values():
            view.show(screen)
    codes = [
        int(n) for group in re.findall(r"\x1b\[([\d;]*)m", paper.getvalue()) for n in group.split(";") if n
    ]
    assert not [n for n in codes if 30 <= n <= 49 or 90 <= n <= 107]  # ECMA-48: colours


def test_with_colour_right_and_wrong_differ_also_without_it(
    view: DrillScreen, paper: Paper, screens: dict[str, Screen]
) -> None:
    view.show(screens["name"])
    assert "38;" in paper.getvalue()
    assert "✗" in paper.getvalue()
    view.show(screens["both names"])
    assert "✓" in paper.getvalue()


def test_ascii_where_the_encoding_has_no_blocks(screens: dict[str, Screen]) -> None:
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding="ascii", errors="strict")
    with DrillScreen(make_console(out), KeyReader(io.StringIO())) as view:  # type: ignore[arg-type]
        for screen in screens.values():
            view.show(screen)
    assert b"F#" in raw.getvalue()


def test_leaving_puts_screen_and_cursor_back(screens: dict[str, Screen]) -> None:
    paper = Paper()

    def crash() -> None:
        with DrillScreen(make_console(paper), KeyReader(io.StringIO())) as view:
            view.show(screens["name"])
            raise RuntimeError("in the middle")

    with pytest.raises(RuntimeError, match="in the middle"):
        crash()
    written = paper.getvalue()
    assert written.count(OTHER_SCREEN_ON) == written.count(OTHER_SCREEN_OFF) == 1
    assert written.count(CURSOR_OFF) == written.count(CURSOR_ON) == 1
    assert written.index(OTHER_SCREEN_ON) < written.index(OTHER_SCREEN_OFF)
    assert written.rindex("\x1b[0m") < written.index(CURSOR_ON)


def test_signal_handlers_are_put_back_and_others_left_alone() -> None:
    before = signal.getsignal(signal.SIGTERM)
    with DrillScreen(make_console(Paper()), KeyReader(io.StringIO())):
        assert signal.getsignal(signal.SIGTERM) is not before
    assert signal.getsignal(signal.SIGTERM) is before

    def own(_number: int, _frame: object) -> None:
        """A handler of the program's own."""

    signal.signal(signal.SIGTERM, own)
    try:
        with DrillScreen(make_console(Paper()), KeyReader(io.StringIO())):
            assert signal.getsignal(signal.SIGTERM) is own
    finally:
        signal.signal(signal.SIGTERM, before)


def test_the_view_suits_where_it_is_shown() -> None:
    paper = Paper()
    assert isinstance(open_view(make_console(paper), json=True), SilentView)
    assert isinstance(open_view(make_console(paper), json=False), DrillScreen)
    assert isinstance(open_view(Console(file=paper), json=False), LineView)


def test_a_dumb_terminal_gets_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "dumb")
    assert isinstance(open_view(make_console(Paper()), json=False), LineView)


PROGRAM = """
import sys
from rich.console import Console
from midifret.show.drill_screen import DrillScreen

with DrillScreen(Console(force_terminal=True)) as view:
    sys.stdout.write("READY")
    sys.stdout.flush()
    while True:
        for key in view.keys():
            if key == "x":
                raise RuntimeError("in the middle")
            if key == "ctrl-c":
                raise SystemExit(3)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
@pytest.mark.parametrize(
    ("act", "code"),
    [("x", 1), ("\x03", 3), (signal.SIGTERM, 143), (signal.SIGHUP, 129), (signal.SIGINT, None)],
    ids=["error", "ctrl-c", "SIGTERM", "SIGHUP", "SIGINT"],
)
def test_the_terminal_is_as_before_however_it_ends(act: str | signal.Signals, code: int | None) -> None:
    """A process of its own on a pseudo-terminal, ended in the middle of a run."""
    import pty
    import termios

    person, program = pty.openpty()
    before = termios.tcgetattr(program)
    process = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(PROGRAM)],
        stdin=program,
        stdout=program,
        stderr=subprocess.PIPE,
    )
    try:
        written = b""
        deadline = time.monotonic() + 20
        while b"READY" not in written and time.monotonic() < deadline:
            if select.select([person], [], [], 0.1)[0]:
                written += os.read(person, 4096)
        assert b"READY" in written
        assert termios.tcgetattr(program) != before
        if isinstance(act, str):
            os.write(person, act.encode())
        else:
            process.send_signal(act)
        _, errors = process.communicate(timeout=20)
        while select.select([person], [], [], 0)[0]:
            written += os.read(person, 4096)
    finally:
        process.kill()
        process.wait()
    text = written.decode()
    assert termios.tcgetattr(program) == before
    assert text.endswith(CURSOR_ON + OTHER_SCREEN_OFF)
    if code is not None:
        assert process.returncode == code
    else:
        assert b"KeyboardInterrupt" in errors
    os.close(person)
    os.close(program)
