"""Keys: what each asks for, how bytes become keys, and that the terminal gets its settings back."""

import io
import os
import sys
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.session.screen import Screen, Stage
from midifret.show.keys import KeyReader, control_for, key_hints, split_keys
from midifret.terms import CueKind, Judged, Place, Prompt, SpelledPitch
from midifret.terms.control import Control

PLAY = Prompt(1, (CueKind.NAME,), Judged.PLACE, (Place(4, 0),), (50,), SpelledPitch("D", 0, 3))
NAME = Prompt(1, (CueKind.PLACE,), Judged.NAME, (Place(4, 0),), (50,), SpelledPitch("D", 0, 3))


@pytest.mark.parametrize(
    ("key", "prompt", "stage", "control"),
    [
        (" ", PLAY, Stage.ASKING, Control.PAUSE),
        ("escape", PLAY, Stage.ASKING, Control.PAUSE),
        ("n", PLAY, Stage.ASKING, Control.NEXT),
        ("N", PLAY, Stage.ASKING, Control.NEXT),
        ("tab", PLAY, Stage.ASKING, Control.NEXT),
        ("a", PLAY, Stage.ASKING, Control.AGAIN),
        ("q", PLAY, Stage.ASKING, Control.QUIT),
        ("ctrl-c", PLAY, Stage.ASKING, Control.QUIT),
        ("x", PLAY, Stage.ASKING, None),
        ("up", PLAY, Stage.ASKING, None),
        ("enter", PLAY, Stage.ASKING, None),
        # While a name is asked, letters belong to it.
        ("a", NAME, Stage.ASKING, None),
        ("n", NAME, Stage.ASKING, None),
        ("q", NAME, Stage.ASKING, None),
        ("#", NAME, Stage.ASKING, None),
        ("enter", NAME, Stage.ASKING, None),
        ("backspace", NAME, Stage.ASKING, None),
        (" ", NAME, Stage.ASKING, Control.PAUSE),
        ("escape", NAME, Stage.ASKING, Control.PAUSE),
        ("tab", NAME, Stage.ASKING, Control.NEXT),
        ("ctrl-c", NAME, Stage.ASKING, Control.QUIT),
        # In the pause nothing is typed.
        ("a", NAME, Stage.PAUSED, Control.AGAIN),
        ("q", NAME, Stage.PAUSED, Control.QUIT),
        (" ", NAME, Stage.PAUSED, Control.START),
        ("escape", PLAY, Stage.PAUSED, Control.START),
        ("enter", PLAY, Stage.PAUSED, Control.START),
        ("n", PLAY, Stage.PAUSED, Control.NEXT),
        ("enter", None, Stage.CHECKING, Control.START),
        ("escape", None, Stage.CHECKING, Control.QUIT),
        ("q", None, Stage.CHECKING, Control.QUIT),
        (" ", None, Stage.COUNTDOWN, Control.PAUSE),
        ("enter", None, Stage.COUNTDOWN, Control.START),
        ("enter", None, Stage.ENDED, Control.NEXT),
        ("a", None, Stage.ENDED, Control.AGAIN),
        ("q", None, Stage.ENDED, Control.QUIT),
    ],
)
def test_what_a_key_asks_for(key: str, prompt: Prompt | None, stage: Stage, control: Control | None) -> None:
    assert control_for(key, prompt, stage) is control


@pytest.mark.parametrize("stage", list(Stage))
@pytest.mark.parametrize("prompt", [PLAY, NAME, None])
def test_every_key_on_the_screen_does_something(stage: Stage, prompt: Prompt | None) -> None:
    for key, _ in key_hints(prompt, stage):
        if key != "letters":
            assert control_for({"space": " "}.get(key, key), prompt, stage) is not None


@pytest.mark.parametrize(
    ("data", "keys"),
    [
        (b"a", ["a"]),
        (b"f#\r", ["f", "#", "enter"]),
        (b"\x7f\t\x03", ["backspace", "tab", "ctrl-c"]),
        (b"\x1b[A\x1b[B\x1bOC\x1b[D", ["up", "down", "right", "left"]),
        (b"\x1b", ["escape"]),
        (b"\x1bq", ["escape", "q"]),  # escape and then a letter, not Alt with a letter
        (b"\x1b[3~a", ["a"]),  # delete: not a key of ours, and not an escape
        (b"\x1b[1;5Cb", ["b"]),
        ("é♯".encode(), ["é", "♯"]),
        (b"\xff\x00\x1a", []),
    ],
)
def test_bytes_become_keys(data: bytes, keys: list[str]) -> None:
    assert split_keys(data) == keys


@given(st.binary(max_size=64))
def test_any_bytes_become_known_keys(data: bytes) -> None:
    named = {"enter", "backspace", "tab", "ctrl-c", "escape", "up", "down", "left", "right"}
    assert all(len(key) == 1 or key in named for key in split_keys(data))


def test_no_terminal_no_keys() -> None:
    with KeyReader(io.StringIO("q")) as reader:
        assert reader.keys() == []


if sys.platform != "win32":
    import pty
    import termios

    class Terminal:
        """A pseudo-terminal: what a person types at one end, what a program reads at the other."""

        def __init__(self) -> None:
            self.person, self.program = pty.openpty()
            self.stream = os.fdopen(self.program, "r", closefd=False)
            self.now_s = 0.0

        def settings(self) -> list[object]:
            return termios.tcgetattr(self.program)

        def reader(self) -> KeyReader:
            return KeyReader(self.stream, lambda: self.now_s)

        def type(self, data: bytes) -> None:
            os.write(self.person, data)

    @pytest.fixture
    def terminal() -> Iterator[Terminal]:
        opened = Terminal()
        yield opened
        os.close(opened.person)
        os.close(opened.program)

    def test_keys_come_at_once_and_without_echo(terminal: Terminal) -> None:
        with terminal.reader() as reader:
            assert reader.keys() == []
            terminal.type(b"a\x03\x1b[C")
            assert reader.keys() == ["a", "ctrl-c", "right"]
            settings = terminal.settings()
            assert not settings[3] & (termios.ECHO | termios.ICANON)  # type: ignore[operator]

    def test_an_arrow_in_two_pieces_is_one_key(terminal: Terminal) -> None:
        with terminal.reader() as reader:
            terminal.type(b"\x1b")
            assert reader.keys() == []
            terminal.now_s = 0.01
            terminal.type(b"[A")
            assert reader.keys() == ["up"]

    def test_escape_alone_counts_after_a_moment(terminal: Terminal) -> None:
        with terminal.reader() as reader:
            terminal.type(b"\x1b")
            assert reader.keys() == []
            terminal.now_s = 0.1
            assert reader.keys() == ["escape"]

    def test_a_character_in_two_pieces_is_one_key(terminal: Terminal) -> None:
        first, second = "♯".encode()[:1], "♯".encode()[1:]
        with terminal.reader() as reader:
            terminal.type(first)
            assert reader.keys() == []
            terminal.type(second)
            assert reader.keys() == ["♯"]

    def test_settings_are_back_after_the_end_and_after_an_error(terminal: Terminal) -> None:
        before = terminal.settings()
        with terminal.reader():
            assert terminal.settings() != before
        assert terminal.settings() == before

        def crash() -> None:
            with terminal.reader():
                raise RuntimeError("in the middle")

        with pytest.raises(RuntimeError, match="in the middle"):
            crash()
        assert terminal.settings() == before

    def test_closing_twice_does_no_harm(terminal: Terminal) -> None:
        before = terminal.settings()
        reader = terminal.reader()
        reader.__enter__()
        reader.close()
        reader.close()
        assert reader.keys() == []
        assert terminal.settings() == before


def test_hints_fit_into_60_cells(screen: Screen) -> None:
    hints = key_hints(screen.prompt, screen.stage)
    assert len("   ".join(f"{key} {words}" for key, words in hints)) <= 60
