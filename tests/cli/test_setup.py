"""The command setup: played by a scripted guitar in process, and on a pseudo-terminal."""

import io
import json
import os
import select
import struct
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import click.testing
import pytest

from midifret.cli import setup
from midifret.cli.main import run
from midifret.clock import SimulatedClock
from midifret.files import Home
from midifret.gear import load_guitar, load_settings
from midifret.session.hook_up import Showing, Step
from midifret.terms import BadInput, TimedMessage, Unavailable
from tests.session.hooking import STANDARD, Sender


class Stage:
    """Source and view in one: whatever is asked on the view, a careful player does on the guitar.

    presses: keys for a step, instead of what it would press. gone_s: when the port goes away.
    """

    name = "scripted port"

    def __init__(
        self,
        clock: SimulatedClock,
        sender: Sender,
        presses: dict[Step, list[str]] | None = None,
        *,
        plays: bool = True,
        gone_s: float = 1e9,
    ) -> None:
        self.clock, self.sender, self.presses = clock, sender, presses or {}
        self.plays, self.gone_s = plays, gone_s
        self.to_send: list[TimedMessage] = sender.begin()
        self.to_press: list[str] = []
        self.showings: list[Showing] = []
        self.busy_until_s = 0.0
        self.closed = self.left = False
        self.asked_for = ""

    # The port.

    def poll(self) -> list[TimedMessage]:
        due = [message for message in self.to_send if message.time_s <= self.clock.now_s()]
        self.to_send = [message for message in self.to_send if message.time_s > self.clock.now_s()]
        return due

    def connected(self) -> bool:
        return self.clock.now_s() < self.gone_s

    def close(self) -> None:
        self.closed = True

    # The view.

    def __enter__(self) -> "Stage":
        return self

    def __exit__(self, *_: object) -> None:
        self.left = True

    def keys(self) -> list[str]:
        pressed, self.to_press = self.to_press[:1], self.to_press[1:]
        return pressed

    def show(self, showing: Showing) -> None:
        self.showings.append(showing)
        now_s = self.clock.now_s()
        if now_s < self.busy_until_s or self.to_press:
            return
        if showing.step in self.presses:
            self.to_press = self.presses.pop(showing.step)
        elif showing.step in (Step.FOUND, Step.NAME):
            self.to_press = ["enter"]
        elif showing.step in (Step.CHOOSE, Step.OVERWRITE):
            self.to_press = ["y"]
        elif self.plays and showing.string is not None:
            sends = self.sender.slide if showing.step is Step.SLIDE else self.sender.pluck
            self.to_send += sends(showing.string, showing.fret or 0, now_s + 0.01)
            self.to_send.sort(key=lambda message: message.time_s)
            self.busy_until_s = self.to_send[-1].time_s + 0.5


Called = Callable[..., tuple[int, Stage, click.testing.Result]]


@pytest.fixture
def called(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Called:
    def call(
        sender: Sender, *arguments: str, presses: dict[Step, list[str]] | None = None, **how: object
    ) -> tuple[int, Stage, click.testing.Result]:
        clock = SimulatedClock()
        stage = Stage(clock, sender, presses, **how)  # type: ignore[arg-type]
        monkeypatch.setattr(setup, "RealClock", lambda: clock)
        monkeypatch.setattr(setup, "POLL_S", 0.01)

        def open_source(part: str, clock: SimulatedClock) -> Stage:
            stage.asked_for = part
            return stage

        monkeypatch.setattr(setup, "open_source", open_source)
        monkeypatch.setattr(setup, "open_setup_view", lambda console, drawn: stage)
        monkeypatch.setattr(setup, "_needs_terminal", lambda console: None)
        runner = click.testing.CliRunner()
        result = runner.invoke(setup.command, [*arguments], obj=str(tmp_path), standalone_mode=False)
        assert stage.closed
        assert stage.left
        return result.return_value, stage, result

    return call


def test_a_guitar_is_hooked_up_written_and_chosen(called: Called, tmp_path: Path) -> None:
    code, _, result = called(Sender(channels=(11, 12, 13, 14, 15, 16), bend_range=12))
    assert code == 0, result.output
    home = Home.of(tmp_path)
    assert load_settings(home).guitar == "my-guitar"
    guitar = load_guitar("my-guitar", home)
    assert [guitar.wiring.channel_of(string) for string in range(1, 7)] == [10, 11, 12, 13, 14, 15]
    assert guitar.wiring.bend_range_semitones == 12
    assert f"Written: {home.guitars / 'my-guitar.yaml'}" in result.output
    assert f"Written: {home.settings}" in result.output
    assert run(["--home", str(tmp_path), "check", str(home.guitars / "my-guitar.yaml")]) == 0


def test_the_document_says_what_was_found_and_written(called: Called, tmp_path: Path) -> None:
    code, _, result = called(
        Sender(opens=(*STANDARD, 38), channels=(7, 6, 5, 4, 3, 2, 1), offset=0),
        "--strings",
        "7",
        "--guitar",
        "seven",
        "--json",
        presses={Step.CHOOSE: ["n"]},
    )
    assert code == 0
    document = json.loads(result.stdout)
    assert (document["guitar"], document["encoding"], document["settings_changed"]) == (
        "seven",
        "per-string",
        False,
    )
    assert document["channels"] == [7, 6, 5, 4, 3, 2, 1]
    assert document["open_midi"] == [*STANDARD, 38]
    assert document["written"] == [str(tmp_path / "guitars" / "seven.yaml")]
    assert load_settings(Home.of(tmp_path)).guitar == "default"


def test_an_unknown_tuning_is_written_too(called: Called, tmp_path: Path) -> None:
    code, _, result = called(Sender(opens=(62, 57, 55, 50, 45, 38)))
    assert code == 0
    assert load_guitar("my-guitar", Home.of(tmp_path)).neck.tuning.open_midi == (62, 57, 55, 50, 45, 38)
    assert str(tmp_path / "tunings.yaml") in result.output


@pytest.mark.parametrize("step", [Step.OPEN, Step.SLIDE, Step.FOUND, Step.CHOOSE])
@pytest.mark.parametrize(("key", "code"), [("q", 0), ("ctrl-c", 130)])
def test_quitting_writes_nothing(called: Called, tmp_path: Path, step: Step, key: str, code: int) -> None:
    presses = {step: [key]}
    if step is Step.OPEN:
        presses = {Step.FRET_12: [key]}
    assert called(Sender(), presses=presses)[0] == code
    assert list(tmp_path.iterdir()) == []


def test_nothing_heard_is_told_by_the_exit_code(called: Called, tmp_path: Path) -> None:
    clock_keys = {Step.OPEN: [""] * 30 + ["q"]}
    code, _, result = called(Sender(), plays=False, presses=clock_keys)
    assert code == 1
    assert "nothing was heard" in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_port_that_goes_is_told_and_nothing_is_written(called: Called, tmp_path: Path) -> None:
    _, _, result = called(Sender(), gone_s=5.0)
    assert isinstance(result.exception, Unavailable)
    assert "nothing was written" in str(result.exception)
    assert list(tmp_path.iterdir()) == []


def test_a_guitar_set_up_again_keeps_what_plucking_does_not_tell(called: Called, tmp_path: Path) -> None:
    text = "title: My nylon\ntuning: standard\nfrets: 20\nchannels: [1, 2, 3, 4, 5, 6]\nport: left\n"
    text += "controls: {next: {controller: 64}}\n"
    (tmp_path / "guitars").mkdir()
    (tmp_path / "guitars" / "nylon.yaml").write_text(text, "utf-8")
    (tmp_path / "settings.yaml").write_text("# me\nguitar: nylon\nplayer: Ada\n", "utf-8")
    before = load_guitar("nylon", Home.of(tmp_path))
    code, stage, _ = called(Sender(channels=(6, 5, 4, 3, 2, 1)))
    assert code == 0
    assert stage.asked_for == "left"
    assert any(showing.step is Step.OVERWRITE for showing in stage.showings)
    after = load_guitar("nylon", Home.of(tmp_path))
    assert (after.title, after.neck, after.port, after.controls) == (
        before.title,
        before.neck,
        before.port,
        before.controls,
    )
    assert after.wiring.channel_of(1) == 5
    assert (tmp_path / "guitars" / "nylon.yaml~").read_text("utf-8") == text
    assert (tmp_path / "settings.yaml").read_text("utf-8") == "# me\nguitar: nylon\nplayer: Ada\n"


def test_a_faulty_guitar_file_is_told_and_set_up_anew(called: Called, tmp_path: Path) -> None:
    (tmp_path / "guitars").mkdir()
    (tmp_path / "guitars" / "nylon.yaml").write_text("title: N\ntuning: nothing\n", "utf-8")
    code, _, result = called(Sender(), "--guitar", "nylon", "--port", "right")
    assert code == 0
    assert "nothing" in result.stderr
    assert load_guitar("nylon", Home.of(tmp_path)).port == "right"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--guitar", "a/b"], "letters, digits"),
        ([], "setup needs a terminal"),
    ],
)
def test_what_cannot_be_is_refused(
    arguments: list[str], said: str, tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch
) -> None:
    if arguments:
        monkeypatch.setattr(setup, "_needs_terminal", lambda console: None)
    assert run(["--home", str(tmp_path), "setup", *arguments]) == 2
    out, err = capfd.readouterr()
    assert out == ""
    assert said in err
    assert run(["--home", str(tmp_path), "setup", "--strings", "5"]) == 2


def test_without_a_terminal_for_the_keys_it_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    from rich.console import Console

    monkeypatch.setattr(sys, "stdin", io.StringIO("q"))
    with pytest.raises(BadInput, match="needs a terminal"):
        setup._needs_terminal(Console(force_terminal=True))


# On a pseudo-terminal.

if sys.platform != "win32":
    import fcntl
    import pty
    import termios

    import pyte

DEADLINE_S = 20.0
# The real command with a port on which a guitar plays by itself: it plucks what the program would ask next.
PROGRAM = """
import sys
from midifret.cli import setup
from midifret.cli.main import main
from midifret.session.hook_up import HookUp, Step
from tests.session.hooking import Sender

class Port:
    name = "scripted port"
    def __init__(self, clock):
        self.clock, self.sender, self.sent, self.busy_s = clock, Sender(offset=2, bend_range=12), [], 0.0
    def poll(self):
        now_s = self.clock.now_s()
        if asked and now_s >= self.busy_s:
            showing = asked[-1]
            if showing.string is not None:
                sends = self.sender.slide if showing.step is Step.SLIDE else self.sender.pluck
                self.sent = sorted(sends(showing.string, showing.fret or 0, now_s), key=lambda m: m.time_s)
                self.busy_s = self.sent[-1].time_s + 0.2
                asked.clear()
        due = [m for m in self.sent if m.time_s <= now_s]
        self.sent = [m for m in self.sent if m.time_s > now_s]
        return due
    def connected(self):
        return True
    def close(self):
        pass

asked = []
showing_of = HookUp.showing
def showing(self, now_s):
    moment = showing_of(self, now_s)
    asked.append(moment)
    return moment
HookUp.showing = showing
setup.open_source = lambda part, clock: Port(clock)
main(sys.argv[1:])
"""


class Terminal:
    """The command on a pseudo-terminal, its screen kept by a terminal emulator (pyte)."""

    def __init__(self, home: Path, *, program: tuple[str, ...] = ("-c", PROGRAM), **extra: str) -> None:
        self.screen = pyte.Screen(80, 24)
        self.stream = pyte.ByteStream(self.screen)
        self.output = b""
        self.master, self.slave = pty.openpty()
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.before = termios.tcgetattr(self.slave)
        root = str(Path(__file__).parents[2])
        environment = {**os.environ, "TERM": "xterm-256color", "PYTHONPATH": root, **extra}
        environment.pop("COLUMNS", None)
        environment.pop("LINES", None)
        self.process = subprocess.Popen(
            [sys.executable, *program, "--home", str(home), "setup"],
            stdin=self.slave,
            stdout=self.slave,
            stderr=self.slave,
            env=environment,
            start_new_session=True,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )

    def until(self, holds: Callable[[], bool], what: str) -> None:
        end_s = time.monotonic() + DEADLINE_S
        while not holds():
            if time.monotonic() > end_s:
                pytest.fail(f"not within {DEADLINE_S} s: {what}\n" + "\n".join(self.screen.display))
            if select.select([self.master], [], [], 0.05)[0]:
                try:
                    data = os.read(self.master, 65536)
                except OSError:  # Linux says so when the other end is closed
                    continue
                self.output += data
                self.stream.feed(data)

    def until_shown(self, text: str) -> None:
        self.until(lambda: text in "\n".join(self.screen.display), f"{text!r} on the screen")

    def press(self, keys: str) -> None:
        os.write(self.master, keys.encode())

    def end(self) -> int:
        self.until(lambda: self.process.poll() is not None, "the end of the program")
        return self.process.returncode

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self.master)
        os.close(self.slave)


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Callable[..., Terminal]]:
    if sys.platform == "win32":
        pytest.skip("a pseudo-terminal is needed")
    opened: list[Terminal] = []

    def start(**extra: str) -> Terminal:
        opened.append(Terminal(tmp_path, **extra))
        return opened[-1]

    yield start
    for each in opened:
        each.close()


def test_from_the_first_pluck_to_the_file_on_a_terminal(
    terminal: Callable[..., Terminal], tmp_path: Path
) -> None:
    screen = terminal()
    screen.until_shown("Pluck string 4, open.")
    screen.until_shown("✓ string 6")
    screen.until_shown("Slide on string 4")
    screen.until_shown("Touch, damp")
    screen.press("n")
    screen.until_shown("1  a capo lies at fret 2")
    screen.press("1")
    screen.until_shown("Tuning: Standard, capo at fret 2.")
    screen.press("\r")
    screen.until_shown("my-guitar_")
    screen.press("\r")
    screen.until_shown("use it from now on?")
    assert list(tmp_path.iterdir()) == []  # nothing before it was agreed
    screen.press("y")
    assert screen.end() == 0
    assert termios.tcgetattr(screen.slave) == screen.before
    guitar = load_guitar("my-guitar", Home.of(tmp_path))
    assert (guitar.neck.capo, guitar.wiring.bend_range_semitones) == (2, 12)


def test_ctrl_c_leaves_the_terminal_as_it_was_and_nothing_written(
    terminal: Callable[..., Terminal], tmp_path: Path
) -> None:
    screen = terminal()
    screen.until_shown("✓ string 6")
    screen.press("\x03")
    assert screen.end() == 130
    assert termios.tcgetattr(screen.slave) == screen.before
    assert b"Traceback" not in screen.output
    assert list(tmp_path.iterdir()) == []


def test_a_dumb_terminal_gets_lines_and_ascii(terminal: Callable[..., Terminal], tmp_path: Path) -> None:
    screen = terminal(TERM="dumb", PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    screen.until(lambda: b"> Pluck string 4, open." in screen.output, "a line")
    assert b"\x1b" not in screen.output
    assert screen.output.isascii()
    screen.press("q")
    assert screen.end() == 0
    assert list(tmp_path.iterdir()) == []
