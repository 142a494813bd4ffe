"""Following the clock of another device: what is read, and what is said where there is none to follow."""

import mido
import pytest

from midifret.tempo import ClockState, Stretch, clock_messages
from midifret.terms import TimedMessage
from midifret.wire.clock_in import ABSENT_AFTER_S, ClockIn

PORT = "Drums MIDI 1"


class Port:
    """A port on which messages come when their time has come."""

    def __init__(self, messages: list[TimedMessage] = ()) -> None:
        self.name = PORT
        self.trouble = ""
        self.coming = list(messages)
        self.read: list[TimedMessage] = []
        self.now_s = 0.0
        self.looks = self.closed = 0

    def poll(self) -> list[TimedMessage]:
        self.read += [message for message in self.coming if message.time_s <= self.now_s]
        self.coming = [message for message in self.coming if message.time_s > self.now_s]
        return []

    def realtime(self) -> list[TimedMessage]:
        read, self.read = self.read, []
        return read

    def connected(self, *, at_once: bool = False) -> bool:
        self.looks += 1
        return not self.trouble

    def close(self) -> None:
        self.closed += 1


def listened(port: Port, to_s: float, clock_in: ClockIn | None = None) -> ClockIn:
    clock_in = clock_in or ClockIn(port, 0.0, own_port=True)
    while port.now_s < to_s:
        port.now_s = min(port.now_s + 0.001, to_s)
        clock_in.turn(port.now_s)
    return clock_in


def test_tempo_and_beat_are_those_of_the_other_device():
    port = Port(list(clock_messages([Stretch(100, 90)], 1.0)))
    clock_in = listened(port, 9.0)
    reading = clock_in.reading(9.0)
    assert reading.state is ClockState.RUNNING
    assert reading.tempo_bpm == pytest.approx(90)
    assert reading.beat == pytest.approx(12)  # 8 s at 90 bpm [calc]
    assert clock_in.beat_due_s(14) == pytest.approx(1.0 + 14 * 60 / 90)
    assert clock_in.words(9.0) == ""
    assert port.looks > 0
    assert clock_in.name == PORT


def test_song_position_and_continue_go_on_at_their_place():
    position = mido.Message("songpos", pos=32).bytes()  # a library's way to write it
    port = Port(
        [
            TimedMessage(0.5, bytes(position)),
            TimedMessage(0.9, bytes(mido.Message("continue").bytes())),
            *[TimedMessage(1.0 + n * 0.5 / 24, b"\xf8") for n in range(49)],
        ]
    )
    clock_in = listened(port, 2.0)
    assert clock_in.reading(2.0).beat == pytest.approx(32 / 4 + 2)


def test_the_guitars_own_port_is_left_to_others():
    port = Port(list(clock_messages([Stretch(8, 120)], 1.0)))
    port.trouble = "The guitar is silent."
    clock_in = ClockIn(port, 0.0, own_port=False)
    clock_in.turn(2.0)
    assert port.looks == 0
    port.now_s = 2.0
    port.poll()  # as the live run does
    clock_in.turn(2.0)
    assert clock_in.reading(2.0).tempo_bpm == pytest.approx(120)
    assert clock_in.words(2.0) == ""
    clock_in.close()
    assert port.closed == 0


def test_what_was_said_before_listening_counts_for_nothing():
    port = Port(list(clock_messages([Stretch(8, 120)], 0.0)))
    port.now_s = 2.0
    port.poll()
    clock_in = ClockIn(port, 2.0, own_port=False)
    clock_in.turn(2.0)
    assert clock_in.reading(2.0).state is ClockState.ABSENT


def test_no_clock_is_told_after_a_while_with_the_port_and_what_to_do():
    port = Port()
    clock_in = listened(port, ABSENT_AFTER_S - 0.1)
    assert clock_in.words(port.now_s) == ""
    listened(port, 5.0, clock_in)
    words = clock_in.words(5.0)
    assert words.startswith(f"No MIDI clock comes from {PORT} (waited 5 s). ")
    assert "sends clock" in words


def test_a_tempo_out_of_range_is_told_with_the_range():
    port = Port(list(clock_messages([Stretch(100, 400)], 1.0)))
    for n, message in enumerate(port.coming):
        port.coming[n] = TimedMessage(message.time_s * 0.8, message.data)  # 500 bpm
    clock_in = listened(port, 3.0)
    words = clock_in.words(3.0)
    assert "500 bpm" in words
    assert "10 to 400 bpm" in words


def test_a_clock_that_is_lost_or_stopped_is_told():
    whole = list(clock_messages([Stretch(8, 120)], 1.0))
    port = Port(whole[:-1])  # without the stop
    clock_in = listened(port, 6.0)
    assert clock_in.reading(6.0).state is ClockState.LOST
    assert clock_in.words(6.0).startswith(f"The clock of {PORT} is lost: nothing for 1.0 s.")
    clock_in = listened(Port(whole), 6.0)
    assert clock_in.words(6.0) == f"The clock of {PORT} is stopped. Start it there."


def test_a_clock_that_was_never_started_is_told():
    port = Port([TimedMessage(n * 0.02, b"\xf8") for n in range(60)])
    clock_in = listened(port, 1.0)
    assert "which beat it is was not heard" in clock_in.words(1.0)
    assert clock_in.reading(1.0).tempo_bpm == pytest.approx(125)  # 60 s / (24 * 0.02 s) [calc]


def test_a_port_that_has_gone_is_told_and_closed_in_the_end():
    port = Port(list(clock_messages([Stretch(8, 120)], 1.0)))
    clock_in = listened(port, 2.0)
    port.trouble = "The guitar's port is gone."  # as a port says it, which thinks of guitars
    assert clock_in.words(2.0) == f"The clock's port is gone or silent ({PORT}). Look at its cable."
    clock_in.close()
    assert port.closed == 1


def test_dates_that_go_back_a_little_do_no_harm():
    port = Port()
    clock_in = ClockIn(port, 0.0, own_port=False)
    for n in range(60):
        port.read.append(TimedMessage(1.0 + n * 0.02 - 0.03 * (n == 30), b"\xf8"))
    clock_in.turn(1.5)
    assert clock_in.reading(1.5).tempo_bpm == pytest.approx(125, rel=0.01)
