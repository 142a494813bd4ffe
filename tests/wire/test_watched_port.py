"""A port that goes and comes back: pulled out, silent, renumbered, held by others, its system stopped."""

from collections import deque

import pytest

from midifret.clock import SimulatedClock
from midifret.terms import TimedMessage, Unavailable
from midifret.wire import driver
from midifret.wire.ports import LOOK_EVERY_S, SILENT_S, PortSource, open_source

PLUCK = b"\x90\x40\x64"


class World:
    """A MIDI system in memory: the ports that are plugged in, and who opened which."""

    def __init__(self, *names: str) -> None:
        self.names = list(names)
        self.inputs: list[Input] = []
        self.stopped = False
        self.refused = False
        self.most_at_once = 0

    @property
    def opened(self) -> list[str]:
        return [port.name for port in self.inputs if port.name and not port.closed]

    def make(self, client_name: str, system: driver.System) -> "Input":
        if self.stopped:
            raise Unavailable("no server is running", allowed="start it")
        self.inputs.append(Input(self))
        self.most_at_once = max(self.most_at_once, sum(not port.closed for port in self.inputs))
        return self.inputs[-1]

    def send(self, data: bytes, delta_s: float = 0.0) -> None:
        for port in self.inputs:
            if not port.closed and port.name:
                port.waiting.append((data, delta_s))


class Input:
    """One input of it."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.name = ""
        self.closed = False
        self.waiting: deque[tuple[bytes, float]] = deque()

    def port_names(self) -> list[str]:
        assert not self.closed
        if self.world.stopped:
            raise OSError("the server has gone")
        return list(self.world.names)

    def open(self, index: int) -> None:
        assert not self.closed
        if self.world.refused:
            raise OSError("busy")
        self.name = self.world.names[index]

    def open_virtual(self, name: str) -> None:
        self.name = name

    def read(self) -> tuple[bytes, float] | None:
        assert not self.closed
        return self.waiting.popleft() if self.waiting else None

    def close(self) -> None:
        assert not self.closed
        self.closed = True


Opened = tuple[World, SimulatedClock, PortSource]


def opened(
    monkeypatch: pytest.MonkeyPatch,
    *names: str,
    part: str = "GK",
    system: driver.System = driver.ALSA,
    virtual: bool = False,
) -> Opened:
    world = World(*names)
    clock = SimulatedClock(100.0)
    monkeypatch.setattr(driver, "find_system", lambda: system)
    monkeypatch.setattr(driver, "open_input", world.make)
    return world, clock, open_source(part, clock, virtual=virtual)


def watched_for(seconds: float, clock: SimulatedClock, source: PortSource) -> list[bool]:
    """Poll and look as a live run does, every 0.1 s; return what each look said."""
    said = []
    for _ in range(round(seconds / 0.1)):
        clock.wait_s(0.1)
        source.poll()
        said.append(source.connected())
    return said


def test_a_port_that_is_pulled_out_and_plugged_in_again(monkeypatch: pytest.MonkeyPatch) -> None:
    world, clock, source = opened(monkeypatch, "GK 20:0", "Keys 24:0")
    assert all(watched_for(5, clock, source))
    world.names.remove("GK 20:0")
    gone_s = clock.now_s()
    clock.wait_s(LOOK_EVERY_S)
    assert not source.connected()
    assert source.last_there_s <= gone_s  # never later than it went
    assert gone_s - source.last_there_s <= LOOK_EVERY_S
    assert "GK 20:0" in source.trouble
    assert "Plug it in again" in source.trouble
    assert not any(watched_for(5, clock, source))
    world.names.append("GK 20:0")
    assert watched_for(0.5, clock, source)[-1]
    assert source.trouble == ""
    world.send(PLUCK, 77.0)  # the new connection's steps begin with it
    assert source.poll() == [TimedMessage(clock.now_s(), PLUCK)]
    assert source.untrusted == 0
    assert world.opened == ["GK 20:0"]
    assert world.most_at_once == 1  # the old one is closed first


def test_what_came_before_it_went_is_not_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    world, clock, source = opened(monkeypatch, "GK 20:0")
    world.send(PLUCK)
    world.names.clear()
    clock.wait_s(LOOK_EVERY_S)
    assert not source.connected()
    assert source.poll() == [TimedMessage(clock.now_s(), PLUCK)]
    assert source.poll() == []


def test_a_look_can_be_asked_for_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    world, clock, source = opened(monkeypatch, "GK 20:0")
    world.names.clear()
    clock.wait_s(0.01)
    assert source.connected()
    assert not source.connected(at_once=True)


def test_a_port_comes_back_under_another_number(monkeypatch: pytest.MonkeyPatch) -> None:
    world, clock, source = opened(monkeypatch, "GK 20:0")
    world.names[:] = ["GK Two 20:0"]
    assert not watched_for(0.5, clock, source)[-1]
    world.names[:] = ["GK Two 20:0", "GK 24:0"]
    assert watched_for(0.5, clock, source)[-1]
    assert source.name == "GK 24:0"
    assert world.opened == ["GK 24:0"]


def test_of_two_guitars_of_one_make_the_other_is_never_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    world, clock, source = opened(monkeypatch, "GK 20:0", "GK 24:0", part="GK 20:0")
    world.names[:] = ["GK 24:0"]
    assert not any(watched_for(3, clock, source)[3:])
    assert world.opened == []
    world.names[:] = ["GK 24:0", "GK 28:0"]
    assert watched_for(0.5, clock, source)[-1]
    assert source.name == "GK 28:0"


def test_of_two_that_come_back_renumbered_neither_is_guessed(monkeypatch: pytest.MonkeyPatch) -> None:
    world, clock, source = opened(monkeypatch, "GK 20:0", "GK 24:0", part="GK 20:0")
    world.names.clear()
    watched_for(0.5, clock, source)
    world.names[:] = ["GK 28:0", "GK 32:0"]
    assert not any(watched_for(1, clock, source))
    assert "Which port is the guitar's now" in source.trouble
    assert "GK 28:0" in source.trouble
    assert "GK 32:0" in source.trouble
    world.names[:] = ["GK 32:0", "GK 20:0"]  # the very same name is it
    assert watched_for(0.5, clock, source)[-1]
    assert source.name == "GK 20:0"


def test_a_port_that_another_program_took_meanwhile(monkeypatch: pytest.MonkeyPatch) -> None:
    world, clock, source = opened(monkeypatch, "GK 20:0")
    world.names.clear()
    watched_for(0.5, clock, source)
    world.names[:] = ["GK 20:0"]
    world.refused = True
    assert not any(watched_for(1, clock, source))
    assert "cannot be opened" in source.trouble
    world.refused = False
    assert watched_for(0.5, clock, source)[-1]


@pytest.mark.parametrize("virtual", [False, True])
def test_a_system_that_stops_and_starts_again(monkeypatch: pytest.MonkeyPatch, *, virtual: bool) -> None:
    world, clock, source = opened(monkeypatch, "GK:out", part="GK:out", system=driver.JACK, virtual=virtual)
    world.send(PLUCK)
    world.stopped = True
    clock.wait_s(LOOK_EVERY_S)
    assert not source.connected()
    assert source.trouble == "The MIDI system (JACK) has stopped. Start it again."
    assert [message.data for message in source.poll()] == [PLUCK]
    assert not any(watched_for(1, clock, source))
    world.stopped = False
    assert watched_for(0.5, clock, source)[-1]
    assert world.opened == ["GK:out"]
    assert world.most_at_once == 1


def test_silence_after_active_sensing_is_a_loss_and_any_message_the_return(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # MIDI 1.0, active sensing: at most 300 ms between messages once FE has come.
    world, clock, source = opened(monkeypatch, "GK 20:0")
    for _ in range(20):
        world.send(b"\xfe", 0.29)
        clock.wait_s(0.29)
        source.poll()
        assert source.connected()
    sent_s = clock.now_s()
    said = watched_for(0.8, clock, source)
    assert said[:4] == [True] * 4
    assert said[5:] == [False] * 3  # 0.6 s after the last message
    assert source.last_there_s == pytest.approx(sent_s)
    assert "silent" in source.trouble
    world.send(PLUCK, 0.8)
    assert source.poll() == [TimedMessage(clock.now_s(), PLUCK)]
    assert source.connected()
    assert all(watched_for(2, clock, source))  # that connection has sent no active sensing yet


def test_without_active_sensing_silence_means_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    world, clock, source = opened(monkeypatch, "GK 20:0")
    world.send(PLUCK)
    assert all(watched_for(30, clock, source))


def test_a_reader_that_was_kept_away_takes_no_silence_for_a_loss(monkeypatch: pytest.MonkeyPatch) -> None:
    world, clock, source = opened(monkeypatch, "GK 20:0")
    world.send(b"\xfe")
    source.poll()
    for _ in range(10):
        world.send(b"\xfe", 0.3)
    clock.wait_s(3 * SILENT_S + 1.5)  # all ten came meanwhile
    assert source.connected()
    source.poll()
    assert source.connected()


def test_on_windows_a_port_that_moves_up_the_list_is_still_there(monkeypatch: pytest.MonkeyPatch) -> None:
    world, clock, source = opened(monkeypatch, "Keys 0", "GK 1", system=driver.WIN_MM)
    world.names[:] = ["GK 0"]
    assert all(watched_for(1, clock, source))
    assert source.name == "GK 0"
    world.names.clear()
    assert not watched_for(0.5, clock, source)[-1]
    world.names[:] = ["Keys 0", "GK 1"]
    assert watched_for(0.5, clock, source)[-1]
    assert source.name == "GK 1"


def test_on_windows_two_of_one_make_cannot_be_told_apart_until_one_plays(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    world, clock, source = opened(monkeypatch, "GK 0", "GK 1", part="GK 1", system=driver.WIN_MM)
    world.names[:] = ["GK 0"]  # which of the two?
    assert not watched_for(0.5, clock, source)[-1]
    assert "One of 2 ports" in source.trouble
    world.send(PLUCK)
    assert [message.data for message in source.poll()] == [PLUCK]  # it was the other one
    assert source.connected()
    assert all(watched_for(1, clock, source))


def test_on_windows_of_two_of_one_make_the_one_that_comes_back_is_opened_anew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    world, clock, source = opened(monkeypatch, "GK 0", "GK 1", part="GK 1", system=driver.WIN_MM)
    world.names[:] = ["GK 0"]
    assert not any(watched_for(2, clock, source)[3:])
    world.names[:] = ["GK 0", "GK 1"]
    assert watched_for(1, clock, source)[-1]
    assert len(world.inputs) == 2
    assert world.opened == ["GK 1"]
