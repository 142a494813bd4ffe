"""The click's port: found by part of its name, watched, told when it goes, used again when it is back."""

import pytest

from midifret.clock import SimulatedClock
from midifret.terms import Unavailable
from midifret.wire import driver
from midifret.wire.click_port import DRAIN_S, LOOK_EVERY_S, SERVER_EVERY_S, ClickPort, open_click_port


class World:
    """A MIDI system in memory: the output ports that are plugged in, and what each was sent."""

    def __init__(self, *names: str) -> None:
        self.names = list(names)
        self.outputs: list[Output] = []
        self.sent: list[tuple[str, bytes]] = []
        self.stopped = False
        self.refused = False
        self.looks = 0

    def make(self, client_name: str, system: driver.System) -> "Output":
        if self.stopped:
            raise Unavailable("no server is running", allowed="start it")
        self.outputs.append(Output(self))
        return self.outputs[-1]

    @property
    def held(self) -> int:
        return sum(not output.closed for output in self.outputs)


class Output:
    """One output of it."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.name = ""
        self.closed = False

    def port_names(self) -> list[str]:
        assert not self.closed
        self.world.looks += 1
        if self.world.stopped:
            raise OSError("the server has gone")
        return list(self.world.names)

    def open(self, index: int) -> None:
        assert not self.closed
        if self.world.refused:
            raise OSError("busy")
        self.name = self.world.names[index]

    def open_virtual(self, name: str) -> None:
        assert not self.closed
        self.name = name

    def send(self, data: bytes) -> None:
        assert not self.closed
        if self.world.refused:
            raise OSError("broken")
        self.world.sent.append((self.name, data))

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def clock() -> SimulatedClock:
    return SimulatedClock()


def world_of(monkeypatch: pytest.MonkeyPatch, *names: str, system: driver.System = driver.ALSA) -> World:
    world = World(*names)
    monkeypatch.setattr(driver, "find_system", lambda: system)
    monkeypatch.setattr(driver, "open_output", world.make)
    return world


def looked(port: ClickPort, clock: SimulatedClock, seconds: float = LOOK_EVERY_S) -> ClickPort:
    """Turn the loop so long."""
    end_s = clock.now_s() + seconds + 0.002
    while clock.now_s() < end_s:
        port.look(clock.now_s())
        clock.wait_s(0.001)
    return port


def test_a_part_of_a_name_chooses_and_what_is_sent_goes_there(monkeypatch, clock):
    world = world_of(monkeypatch, "Synth 20:0", "Drums 24:0")
    port = open_click_port("drum", clock)
    assert port.name == "Drums 24:0"
    assert port.send(b"\x99\x4c\x40")
    assert world.sent == [("Drums 24:0", b"\x99\x4c\x40")]


def test_a_port_that_is_missing_or_taken_is_told_and_nothing_stays_open(monkeypatch, clock):
    world = world_of(monkeypatch, "Synth 20:0", "Drums 24:0")
    with pytest.raises(Unavailable, match="no MIDI output port has 'horn'") as caught:
        open_click_port("horn", clock)
    assert caught.value.allowed == "there are: 'Synth 20:0', 'Drums 24:0'"
    with pytest.raises(Unavailable, match="2 MIDI output ports") as caught:
        open_click_port("", clock)
    assert "name one of: 'Synth 20:0', 'Drums 24:0'" in caught.value.allowed
    world.refused = True
    with pytest.raises(Unavailable, match="'Drums 24:0' cannot be opened: busy"):
        open_click_port("drums", clock)
    world.names.clear()
    with pytest.raises(Unavailable, match=r"there is no MIDI output port \(wanted 'drums'\)"):
        open_click_port("drums", clock)
    assert world.held == 0


def test_a_system_without_ports_of_ones_own_says_so(monkeypatch, clock):
    world = world_of(monkeypatch, system=driver.WIN_MM)
    with pytest.raises(Unavailable, match="WinMM gives programs no ports of their own"):
        open_click_port("mine", clock, virtual=True)
    assert world.held == 0


def test_the_list_is_looked_at_four_times_a_second_and_no_oftener(monkeypatch, clock):
    world = world_of(monkeypatch, "Drums 24:0")
    port = open_click_port("", clock)
    before = world.looks
    looked(port, clock, 2.0)
    assert world.looks - before in (7, 8)  # each 0.25 s, or a turn of 1 ms later [calc]


def test_a_port_that_goes_is_told_and_used_again_under_its_new_number(monkeypatch, clock):
    world = world_of(monkeypatch, "Synth 20:0", "Drums 24:0")
    port = open_click_port("drums", clock)
    world.names.remove("Drums 24:0")
    looked(port, clock)
    assert port.trouble.startswith("The click's port is gone (Drums 24:0). Plug it in again")
    assert not port.send(b"\x99\x4c\x40")
    looked(port, clock, 2 * LOOK_EVERY_S)
    assert port.trouble
    world.names.append("Drums 28:0")
    looked(port, clock)
    assert port.trouble == ""
    assert port.send(b"\x99\x4c\x41")
    assert world.sent == [("Drums 28:0", b"\x99\x4c\x41")]
    assert world.held == 1


def test_of_two_that_could_be_it_none_is_taken(monkeypatch, clock):
    world = world_of(monkeypatch, "Drums 24:0")
    port = open_click_port("drums", clock)
    world.names[:] = []
    looked(port, clock)
    world.names[:] = ["Drums 28:0", "Drums 32:0"]
    looked(port, clock, 3 * LOOK_EVERY_S)
    assert port.trouble
    world.names.pop()
    looked(port, clock)
    assert (port.trouble, port.name) == ("", "Drums 28:0")


def test_numbers_that_are_places_in_the_list_may_move(monkeypatch, clock):
    world = world_of(monkeypatch, "Synth 0", "Drums 1", system=driver.WIN_MM)
    port = open_click_port("drums", clock)
    world.names[:] = ["Drums 0"]  # the other one was unplugged
    looked(port, clock)
    assert port.trouble == ""
    world.names[:] = []
    looked(port, clock)
    assert port.trouble


def test_a_port_that_breaks_while_sending_is_told_at_once(monkeypatch, clock):
    world = world_of(monkeypatch, "Drums 24:0")
    port = open_click_port("", clock)
    world.refused = True
    assert not port.send(b"\x99\x4c\x40")
    assert port.trouble
    looked(port, clock, 2 * LOOK_EVERY_S)  # still refused: no error comes out
    world.refused = False
    looked(port, clock, 2 * LOOK_EVERY_S)
    assert port.trouble == ""


def test_after_the_end_of_the_midi_system_nothing_is_opened_any_more(monkeypatch, clock):
    world = world_of(monkeypatch, "Drums 24:0")
    port = open_click_port("", clock)
    world.stopped = True
    looked(port, clock)
    assert port.trouble.startswith("The MIDI system of the click has stopped.")
    world.stopped = False
    made = len(world.outputs)
    looked(port, clock, 3.0)
    assert (len(world.outputs), world.held) == (made, 0)


def test_the_end_of_a_jack_server_is_noticed_before_anybody_makes_a_new_connection(monkeypatch, clock):
    class Server:
        is_gone = False

        def gone(self) -> bool:
            return self.is_gone

    world = world_of(monkeypatch, "Drums 24:0")
    server = Server()
    output = world.make("", driver.JACK)
    output.open(0)
    port = ClickPort(output, "Drums 24:0", clock, system=driver.JACK, server=server)
    looked(port, clock)
    assert port.trouble == ""
    server.is_gone = True
    looked(port, clock, SERVER_EVERY_S)
    assert output.closed
    assert "stopped" in port.trouble
    # A guitar's port opens anew at its second look, a look's time after it noticed at the earliest.
    assert SERVER_EVERY_S < LOOK_EVERY_S / 2


def test_closing_waits_for_what_was_sent_and_may_be_done_twice(monkeypatch, clock):
    world = world_of(monkeypatch, "Drums 24:0")
    port = open_click_port("", clock)
    port.close()
    assert clock.now_s() == pytest.approx(DRAIN_S)
    port.close()
    assert clock.now_s() == pytest.approx(DRAIN_S)
    assert world.held == 0
    assert not port.send(b"\xfc")
    looked(port, clock, 1.0)
    assert world.held == 0
