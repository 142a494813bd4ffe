"""Ports chosen by part of their name; what comes from them whole, dated, and without system messages."""

from collections import deque

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midifret.clock import SimulatedClock
from midifret.terms import TimedMessage, Unavailable
from midifret.wire import driver
from midifret.wire.ports import (
    LOOK_EVERY_S,
    REALTIME_KEPT,
    PortSource,
    choose_port,
    list_ports,
    open_sink,
    open_source,
)

NAMES = ["GK Guitar 20:0", "GK Guitar Two 21:0", "Keyboard:Keys 1 24:0"]


class FakePort:
    """A port in memory: what is put in comes out."""

    def __init__(self, names: list[str]) -> None:
        self.names = names
        self.waiting: deque[tuple[bytes, float]] = deque()
        self.looks = 0
        self.opened: list[object] = []
        self.closed = False
        self.fault: Exception | None = None

    def port_names(self) -> list[str]:
        self.looks += 1
        if self.fault:
            raise self.fault
        return list(self.names)

    def open(self, index: int) -> None:
        if self.fault:
            raise self.fault
        self.opened.append(index)

    def open_virtual(self, name: str) -> None:
        self.opened.append(name)

    def read(self) -> tuple[bytes, float] | None:
        return self.waiting.popleft() if self.waiting else None

    def send(self, data: bytes) -> None:
        self.waiting.append((data, 0.0))

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def port(monkeypatch: pytest.MonkeyPatch) -> FakePort:
    """The port that every opening gives."""
    fake = FakePort(list(NAMES))
    monkeypatch.setattr(driver, "find_system", lambda: driver.ALSA)
    monkeypatch.setattr(driver, "open_input", lambda name, system: fake)
    monkeypatch.setattr(driver, "open_output", lambda name, system: fake)
    return fake


@pytest.mark.parametrize(
    ("part", "index"),
    [
        ("GK Guitar 20:0", 0),  # the whole name
        ("gk guitar", 0),  # the whole name without ALSA's numbers, though it is a part of another
        ("two", 1),
        ("KEYB", 2),
        (" keys 1 ", 2),
        ("24:0", 2),
    ],
)
def test_a_name_chooses_one_port(part: str, index: int) -> None:
    assert choose_port(part, NAMES) == index


def test_an_empty_name_takes_the_only_port_there_is() -> None:
    assert choose_port("", ["Guitar"]) == 0
    with pytest.raises(Unavailable, match=r"which one\? 3 MIDI input ports.*GK Guitar 20:0.*Two.*Keys"):
        choose_port("", NAMES)


def test_ambiguous_and_missing_names_list_the_candidates() -> None:
    with pytest.raises(Unavailable) as ambiguous:
        choose_port("gk", NAMES)
    assert "GK Guitar 20:0" in ambiguous.value.allowed
    assert "Keyboard" not in ambiguous.value.allowed
    with pytest.raises(Unavailable) as missing:
        choose_port("lute", NAMES, "output")
    assert "'lute'" in missing.value.message
    assert all(name in missing.value.allowed for name in NAMES)
    with pytest.raises(Unavailable, match=r"no MIDI input port.*'lute'"):
        choose_port("lute", [])
    with pytest.raises(Unavailable, match="fits 2"):
        choose_port("same", ["Same", "Same"])


@given(st.lists(st.text(min_size=1, max_size=8), min_size=1, max_size=6, unique_by=str.casefold), st.data())
def test_the_whole_name_of_a_port_always_chooses_it(names: list[str], data: st.DataObject) -> None:
    index = data.draw(st.integers(0, len(names) - 1))
    if names[index].strip() == names[index]:
        assert choose_port(names[index], names) == index


def test_messages_are_split_dated_and_kept_in_order(port: FakePort) -> None:
    clock = SimulatedClock(100.0)
    source = open_source("two", clock)
    assert port.opened == [1]
    assert source.name == "GK Guitar Two 21:0"
    assert source.poll() == []
    # Running status, two messages in one chunk, and a clock byte inside a message (MIDI 1.0).
    port.waiting.extend([(b"\x90\x40\x64\x43\x64", 0.0), (b"\x80\x40\xf8\x00", 0.002)])
    clock.wait_s(0.004)
    assert source.poll() == [
        TimedMessage(100.004, b"\x90\x40\x64"),
        TimedMessage(100.004, b"\x90\x43\x64"),
        TimedMessage(100.004, b"\x80\x40\x00"),
    ]
    assert source.left_out == 1


def test_a_late_reader_still_dates_by_the_drivers_steps(port: FakePort) -> None:
    clock = SimulatedClock(100.0)
    source = open_source("two", clock)
    port.waiting.append((b"\x90\x40\x64", 0.0))
    source.poll()
    port.waiting.append((b"\x80\x40\x00", 0.050))
    clock.wait_s(0.2)  # something kept the reader for 200 ms
    (message,) = source.poll()
    assert message.time_s == pytest.approx(100.05)
    assert source.untrusted == 0
    port.waiting.append((b"\x90\x40\x64", 77.0))
    clock.wait_s(0.001)
    assert source.poll()[0].time_s == pytest.approx(100.201)
    assert source.untrusted == 1


def test_active_sensing_is_noted_and_system_exclusive_left_out(port: FakePort) -> None:
    clock = SimulatedClock(5.0)
    source = open_source("two", clock)
    assert source.sensed_s is None
    port.waiting.extend([(b"\xfe", 0.0), (b"\xf0\x7e\x7f\x06\x01\xf7", 0.0)])
    assert source.poll() == []
    assert source.sensed_s == 5.0
    assert source.left_out == 2
    port.waiting.append((b"\x40\x40", 0.0))
    assert source.poll() == []
    assert source.damaged_bytes == 2


def test_what_a_clock_says_is_given_apart_dated_and_in_order(port: FakePort) -> None:
    clock = SimulatedClock(50.0)
    source = open_source("two", clock)
    source.poll()
    # Song position: a bar of 4/4 (16 sixteenths, LSB first); continue; clocks, one inside a note; start and
    # stop. Reset and active sensing are no part of a clock (MIDI 1.0).
    notes: list[TimedMessage] = []
    for data, step_s in (
        (b"\xf2\x10\x00", 0.0),
        (b"\xfb", 0.001),
        (b"\xf8", 0.02),
        (b"\x90\x40\xf8\x64", 0.02),
        (b"\xfe", 0.001),
        (b"\xff", 0.001),
        (b"\xfa\xfc", 0.001),
    ):
        clock.wait_s(step_s)
        port.waiting.append((data, step_s))
        notes += source.poll()
    assert [message.data for message in notes] == [b"\x90\x40\x64"]
    came = source.realtime()
    assert [message.data for message in came] == [b"\xf2\x10\x00", b"\xfb", *[b"\xf8"] * 2, b"\xfa", b"\xfc"]
    since_ms = [round(1000 * (message.time_s - 50.0), 3) for message in came]
    assert since_ms == [0, 1, 21, 41, 44, 44]  # the steps told above
    assert source.realtime() == []
    assert source.left_out == 8


def test_a_clock_that_nobody_follows_takes_no_memory(port: FakePort) -> None:
    clock = SimulatedClock(50.0)
    source = open_source("two", clock)
    for n in range(3 * REALTIME_KEPT):
        port.waiting.append((b"\xf8", 0.02 if n else 0.0))
        source.poll()
        clock.wait_s(0.02)
    came = source.realtime()
    assert len(came) == REALTIME_KEPT
    assert came[-1].time_s == pytest.approx(50.0 + 0.02 * (3 * REALTIME_KEPT - 1))


def test_the_port_list_is_looked_at_four_times_a_second(port: FakePort) -> None:
    clock = SimulatedClock(0.0)
    source = open_source("two", clock)
    port.looks = 0
    for _ in range(2000):
        assert source.connected()
        clock.wait_s(0.001)
    assert port.looks in (7, 8)
    port.names.remove("GK Guitar Two 21:0")
    clock.wait_s(LOOK_EVERY_S)
    assert not source.connected()
    assert port.closed


def test_a_virtual_port_stays_connected(port: FakePort) -> None:
    clock = SimulatedClock(0.0)
    source = open_source("my ear", clock, virtual=True)
    assert port.opened == ["my ear"]
    clock.wait_s(100.0)
    assert source.connected()
    source.close()
    assert port.closed


def test_a_port_that_another_program_holds(port: FakePort) -> None:
    def refuse(index: int) -> None:
        raise OSError("error creating port")

    port.open = refuse  # type: ignore[method-assign]
    with pytest.raises(Unavailable, match=r"'GK Guitar Two 21:0' cannot be opened.*close the other program"):
        open_source("two", SimulatedClock())
    assert port.closed
    port.closed = False
    with pytest.raises(Unavailable, match="output port"):
        open_sink("two")
    assert port.closed


def test_where_the_platform_has_no_virtual_ports_it_says_so(
    port: FakePort, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(driver, "find_system", lambda: driver.WIN_MM)
    with pytest.raises(Unavailable, match="loop-back"):
        open_source("mine", SimulatedClock(), virtual=True)
    assert port.closed


def test_listing_never_raises(port: FakePort, monkeypatch: pytest.MonkeyPatch) -> None:
    assert list_ports().inputs == tuple(NAMES)
    port.fault = RuntimeError("gone")
    assert list_ports().system is None
    assert "gone" in list_ports().reason

    def nothing() -> driver.System:
        raise Unavailable("no MIDI system answers", allowed="plug it in")

    monkeypatch.setattr(driver, "find_system", nothing)
    assert list_ports().reason == "no MIDI system answers (plug it in)"


def test_a_source_is_read_through_its_constructor_too() -> None:
    port = FakePort([])
    port.waiting.append((b"\x90\x40\x40", 0.0))
    assert PortSource(port, "by hand", SimulatedClock(2.0)).poll() == [TimedMessage(2.0, b"\x90\x40\x40")]
