"""Real MIDI ports over JACK's dummy driver: nothing lost, names chosen, a source that goes away noticed."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest

from midifret.clock import RealClock
from midifret.terms import Unavailable
from midifret.wire.ports import LOOK_EVERY_S, PortSink, PortSource, list_ports, open_sink, open_source
from midifret.wire.virtual_guitar import VirtualGuitar

from .conftest import SERVER, running_server, wait_until

pytestmark = [pytest.mark.jack, pytest.mark.usefixtures("jack_server")]


@contextmanager
def line(name: str = "wire") -> Iterator[tuple[PortSource, PortSink]]:
    """A sink with a port of its own, and a source connected to it."""
    with ExitStack() as stack:
        sink = open_sink(name, virtual=True, client_name=f"{name}-guitar")
        stack.callback(sink.close)
        source = open_source(name, RealClock(), client_name=f"{name}-ear")
        stack.callback(source.close)
        hear_each_other(source, sink)
        yield source, sink


def hear_each_other(source: PortSource, sink: PortSink) -> None:
    """Wait until messages pass: one sent within milliseconds of joining may be lost (seen 3 times in 120)."""
    probe = b"\x8f\x00\x00"
    for _ in range(20):
        sink.send(probe)
        end_s = time.monotonic() + 0.1
        heard: list[bytes] = []
        while not heard and time.monotonic() < end_s:
            heard = [message.data for message in source.poll()]
            time.sleep(0.002)
        if heard:
            time.sleep(0.02)  # probes that came late
            source.poll()
            return
    pytest.fail("nothing passes from the sink to the source")


def numbered(count: int) -> list[bytes]:
    """Note-ons that each occur once: channel, key and velocity count up."""
    return [bytes((0x90 | n >> 11 & 0xF, n >> 4 & 0x7F, 1 + (n & 0xF))) for n in range(count)]


def test_a_burst_of_1000_messages_arrives_whole_and_in_order() -> None:
    sent = numbered(1000)
    heard: list[bytes] = []
    with line() as (source, sink):
        for start in range(0, 1000, 100):  # the ring buffer of the sending side holds some hundreds
            for data in sent[start : start + 100]:
                sink.send(data)
            time.sleep(0.005)  # nothing reads meanwhile
        wait_until(lambda: heard.extend(m.data for m in source.poll()) or len(heard) >= 1000, "1000 messages")
        heard += [message.data for message in source.poll()]
    assert heard == sent


def test_messages_are_dated_when_they_were_sent_though_read_late() -> None:
    clock = RealClock()
    with line() as (source, sink):
        source.poll()
        sent_s = []
        for data in numbered(20):
            sent_s.append(clock.now_s())
            sink.send(data)
            time.sleep(0.01)
        time.sleep(0.05)
        messages = source.poll()
        # Read promptly once: this anchors the driver's steps; the ones before were dated without an anchor.
        sink.send(b"\x90\x40\x40")
        wait_until(source.poll, "one more message")
        late_s = clock.now_s()
        for data in numbered(20):
            sent_s.append(clock.now_s())
            sink.send(data)
            time.sleep(0.01)
        messages = source.poll()
    errors_s = [message.time_s - sent for message, sent in zip(messages, sent_s[20:], strict=True)]
    assert late_s < messages[0].time_s
    # A period of the server is 64/48000 s = 1.33 ms, twice at most from send to reception; the rest is what
    # a busy machine adds. Dated by arrival the first would be 200 ms late.
    assert max(errors_s) < 0.05
    assert min(errors_s) > -0.005


def test_clock_and_active_sensing_are_left_out_and_do_not_bend_the_time() -> None:
    clock = RealClock()
    heard = []
    with line() as (source, sink):
        sent_s = []
        for data in numbered(10):
            sent_s.append(clock.now_s())
            sink.send(data)
            for _ in range(5):
                sink.send(b"\xf8")
                time.sleep(0.004)
                heard += source.poll()
        sink.send(b"\xfe")
        wait_until(lambda: heard.extend(source.poll()) or source.sensed_s is not None, "active sensing")
        assert source.left_out == 51
    assert [message.data for message in heard] == numbered(10)
    assert all(-0.005 < message.time_s - sent < 0.05 for message, sent in zip(heard, sent_s, strict=True))


KILLED = """
import time
from midifret.wire.ports import open_sink
sink = open_sink("doomed", virtual=True, client_name="doomed-guitar")
print("ready", flush=True)
time.sleep(60)
"""
LISTENING = """
from midifret.clock import RealClock
from midifret.wire.ports import open_source
clock = RealClock()
source = open_source("doomed", clock)
print(source.connected(), flush=True)
while source.connected():
    source.poll()
    clock.wait_s(0.001)
print("gone", flush=True)
source.close()
"""


def test_a_source_that_is_killed_is_noticed_within_a_second() -> None:
    # A server that does not wait for its clients: one that waits (-S) stands still for five seconds when one
    # of them is killed, and shows the dead port that long.
    with running_server(f"{SERVER}-async"):
        doomed = subprocess.Popen([sys.executable, "-c", KILLED], stdout=subprocess.PIPE)
        listening = None
        try:
            assert doomed.stdout is not None
            assert doomed.stdout.readline() == b"ready\n"
            listening = subprocess.Popen([sys.executable, "-c", LISTENING], stdout=subprocess.PIPE)
            assert listening.stdout is not None
            assert listening.stdout.readline() == b"True\n"
            doomed.kill()
            doomed.wait()
            killed_s = time.monotonic()
            assert listening.stdout.readline() == b"gone\n"
            assert time.monotonic() - killed_s < LOOK_EVERY_S + 0.5  # half a second for a busy machine
            assert listening.wait(10) == 0
        finally:
            for child in (doomed, listening):
                if child is not None:
                    child.kill()
                    child.wait()


def test_names_choose_ports_and_ambiguous_ones_list_the_candidates() -> None:
    with ExitStack() as stack:
        for name in ("left hand", "right hand"):
            sink = open_sink(name, virtual=True, client_name=name.replace(" ", "-"))
            stack.callback(sink.close)
        assert {"left-hand:left hand", "right-hand:right hand"} <= set(list_ports().inputs)
        source = open_source("LEFT", RealClock())
        stack.callback(source.close)
        assert source.name == "left-hand:left hand"
        with pytest.raises(Unavailable, match="which one"):
            open_source("hand", RealClock())
        with pytest.raises(Unavailable, match=r"no MIDI input port has 'foot'.*left hand"):
            open_source("foot", RealClock())


def test_a_virtual_input_can_be_found_and_played_to() -> None:
    source = open_source("ear trumpet", RealClock(), virtual=True, client_name="ear")
    try:
        assert "ear:ear trumpet" in list_ports().outputs
        sink = open_sink("trumpet")
        try:
            hear_each_other(source, sink)
            sink.send(b"\x91\x40\x40")
            heard = []
            wait_until(lambda: heard.extend(source.poll()) or heard, "a message")
            assert [message.data for message in heard] == [b"\x91\x40\x40"]
        finally:
            sink.close()
        assert source.connected()
    finally:
        source.close()


def test_the_ports_command_lists_them(jack_environment: dict[str, str]) -> None:
    with line("listed"):
        command = [sys.executable, "-m", "midifret", "ports", "--json"]
        done = subprocess.run(command, capture_output=True, env=jack_environment, timeout=20, check=True)
    document = json.loads(done.stdout)
    assert document["system"] == "JACK"
    assert "listed-guitar:listed" in document["inputs"]
    assert document["reason"] is None
    assert done.stderr == b""


def test_the_monitor_hears_a_real_port_and_ends_at_an_interrupt(
    jack_environment: dict[str, str], tmp_path: Path
) -> None:
    from midifret.files import Home
    from midifret.gear import load_guitar
    from midifret.terms import Place

    guitar = VirtualGuitar(load_guitar("default", Home.of(tmp_path)))
    sink = open_sink("monitored", virtual=True, client_name="monitored-guitar")
    try:
        command = [
            sys.executable,
            "-m",
            "midifret",
            "--home",
            str(tmp_path),
            "monitor",
            "--port",
            "monitored",
        ]
        child = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=jack_environment
        )
        try:
            assert child.stdout is not None
            assert b"monitored" in child.stdout.readline()
            assert b"string" in child.stdout.readline()
            for string, fret in ((6, 5), (1, 12)):
                guitar.pluck(Place(string, fret), 0.0, velocity=77)
            assert guitar.send_due(1.0, sink) == 4
            lines = [child.stdout.readline().split() for _ in range(2)]
            child.send_signal(signal.SIGINT)
            assert child.wait(10) == 130
        finally:
            child.kill()
            child.wait()
    finally:
        sink.close()
    # time, string, fret, name, cents, velocity, channel
    assert [line[1:] for line in lines] == [
        [b"6", b"5", b"A", b"+0", b"77", b"6"],
        [b"1", b"12", b"E", b"+0", b"77", b"1"],
    ]


def test_the_libraries_write_nothing_to_the_screen(jack_environment: dict[str, str]) -> None:
    environment = {**jack_environment, "JACK_DEFAULT_SERVER": "midifret-nobody-there"}
    code = "from midifret.wire.ports import list_ports; print(list_ports().reason)"
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, capture_output=True, text=True, env=environment, timeout=20, check=True)
    assert done.stderr == ""
    assert "no server is running" in done.stdout
    assert not Path(f"/dev/shm/jack-{os.getuid()}-midifret-nobody-there").exists()


def test_a_clock_comes_apart_from_the_notes_and_is_dated_when_it_was_sent() -> None:
    clock = RealClock()
    sent_s: list[float] = []
    notes, ticks = [], []
    with line("ticking") as (source, sink):
        source.realtime()
        sink.send(b"\xf2\x10\x00")
        sink.send(b"\xfb")
        for n in range(48):
            sent_s.append(clock.now_s())
            sink.send(b"\xf8")
            if n % 24 == 0:
                sink.send(b"\x90\x40\x40")
            time.sleep(0.01)
            notes += source.poll()
            ticks += source.realtime()
        sink.send(b"\xfc")
        wait_until(
            lambda: notes.extend(source.poll()) or ticks.extend(source.realtime()) or len(ticks) >= 51,
            "position, continue, 48 clocks and stop",
        )
    assert [message.data for message in notes] == [b"\x90\x40\x40"] * 2
    assert [message.data for message in ticks] == [b"\xf2\x10\x00", b"\xfb", *[b"\xf8"] * 48, b"\xfc"]
    errors_s = [m.time_s - s for m, s in zip([m for m in ticks if m.data == b"\xf8"], sent_s, strict=True)]
    # Read 10 ms apart, dated within two periods of the server (64/48000 s) and what a busy machine adds.
    assert max(errors_s) < 0.05
    assert min(errors_s) > -0.005
