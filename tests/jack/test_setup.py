"""Hooking up over real ports: the program on a terminal, a guitar that plays what it is asked for."""

import sys
import time
from pathlib import Path

import pytest

from midifret.files import Home
from midifret.gear import load_guitar
from midifret.terms import TimedMessage
from midifret.wire.ports import PortSink, open_sink
from tests.session.hooking import Sender

if sys.platform == "win32":
    pytest.skip("a pseudo-terminal is needed", allow_module_level=True)

from tests.cli.test_setup import Terminal

pytestmark = pytest.mark.jack


def play(sink: PortSink, messages: list[TimedMessage]) -> None:
    start_s = time.monotonic()
    for message in sorted(messages, key=lambda each: each.time_s):
        time.sleep(max(0.0, start_s + message.time_s - time.monotonic()))
        sink.send(message.data)


def test_a_guitar_on_a_real_port_is_hooked_up(tmp_path: Path, jack_environment: dict[str, str]) -> None:
    sender = Sender(channels=(6, 5, 4, 3, 2, 1), bend_range=12)
    sink = open_sink("hexaphonic", virtual=True, client_name="setup-guitar")
    try:
        screen = Terminal(tmp_path, program=("-m", "midifret"), **jack_environment)
        try:
            for string in range(6, 0, -1):
                screen.until_shown(f"Pluck string {string}, open.")
                play(sink, sender.pluck(string, 0, 0.0, ring_s=0.5))
            screen.until_shown("Pluck string 4 at fret 12.")
            assert "setup-guitar:hexaphonic" in screen.screen.display[0]
            play(sink, sender.pluck(4, 12, 0.0, ring_s=0.5))
            screen.until_shown("Slide on string 4")
            play(sink, sender.slide(4, 5, 0.0))
            screen.until_shown("Keep still.")
            screen.until_shown("Touch, damp")
            screen.press("n")
            screen.until_shown("Bend range 12: from the slide, sure.")
            screen.press("\r")
            screen.until_shown("my-guitar_")
            screen.press("\r")
            screen.until_shown("use it from now on?")
            screen.press("y")
            assert screen.end() == 0
        finally:
            screen.close()
    finally:
        sink.close()
    wiring = load_guitar("my-guitar", Home.of(tmp_path)).wiring
    assert [wiring.channel_of(string) for string in range(1, 7)] == [5, 4, 3, 2, 1, 0]
    assert wiring.bend_range_semitones == 12
