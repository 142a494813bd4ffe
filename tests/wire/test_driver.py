"""Both MIDI libraries behind the one driver, by stand-ins with their documented interfaces.

Interfaces: python-rtmidi 1.5.8 and rtmidi2 1.5.0, as their own documentation and help texts give them.
"""

import os
import subprocess
import sys
import types
from collections import deque
from pathlib import Path
from typing import Any

import pytest

from midifret.terms import Unavailable
from midifret.wire import driver
from midifret.wire.ports import list_ports

ALSA, CORE, MM, JACK = 2, 1, 4, 3  # the constants have the same values in both libraries


class Engine:
    """What stands behind a stand-in library: systems that answer, ports, and what was done."""

    def __init__(self, answering: set[int], ports: list[str]) -> None:
        self.answering = answering
        self.ports = ports
        self.waiting: deque[tuple[list[int], float]] = deque()
        self.sent: list[bytes] = []
        self.done: list[tuple[str, object]] = []
        self.refuse_open = False
        self.vanishing: list[str] = []


def rtmidi_module(engine: Engine) -> types.ModuleType:
    module = types.ModuleType("rtmidi")
    module.API_LINUX_ALSA, module.API_UNIX_JACK = ALSA, JACK  # type: ignore[attr-defined]
    module.API_MACOSX_CORE, module.API_WINDOWS_MM = CORE, MM  # type: ignore[attr-defined]
    module.get_compiled_api = lambda: [ALSA, JACK, CORE, MM]  # type: ignore[attr-defined]

    class Port:
        def __init__(self, rtapi: int, name: str, queue_size_limit: int = 1024) -> None:
            os.write(2, b"the system's library talks to itself\n")
            if rtapi not in engine.answering:
                raise OSError("Midi::initialize: no such system.")
            self.api = rtapi
            engine.done.append(("made", (name, queue_size_limit)))

        def get_current_api(self) -> int:
            return self.api

        def get_ports(self) -> list[str]:
            if engine.vanishing:  # counted, but gone when its name is asked for
                engine.ports.remove(engine.vanishing.pop())
                raise ValueError("MidiInJack::getPortName: no ports available!")
            return list(engine.ports)

        def open_port(self, port: int) -> None:
            if engine.refuse_open:
                raise OSError("error creating the port")
            engine.done.append(("open", port))

        def open_virtual_port(self, name: str) -> None:
            engine.done.append(("virtual", name))

        def ignore_types(self, sysex: bool, timing: bool, active_sense: bool) -> None:
            engine.done.append(("ignore", (sysex, timing, active_sense)))

        def get_message(self) -> tuple[list[int], float] | None:
            return engine.waiting.popleft() if engine.waiting else None

        def send_message(self, message: bytes) -> None:
            engine.sent.append(bytes(message))

        def close_port(self) -> None:
            engine.done.append(("close", None))

        def delete(self) -> None:
            engine.done.append(("delete", None))

    module.MidiIn = module.MidiOut = Port  # type: ignore[attr-defined]
    return module


def rtmidi2_module(engine: Engine) -> types.ModuleType:
    module = types.ModuleType("rtmidi2")
    module.API_LINUX_ALSA, module.API_UNIX_JACK = ALSA, JACK  # type: ignore[attr-defined]
    module.API_MACOSX_CORE, module.API_WINDOWS_MM = CORE, MM  # type: ignore[attr-defined]

    class Base:
        def _make(self, api: int) -> None:
            if api == JACK and api not in engine.answering:
                # No exception, only a line on stderr; opening a port would then end the process.
                os.write(2, b"\nMidiInJack::initialize: JACK server not running?\n\n")
            elif api not in engine.answering:
                raise RuntimeError("Midi::initialize: error creating client object.")
            self.api = api
            self._openedports: list[object] = []

        def get_current_api(self) -> int:
            return self.api

        @property
        def ports(self) -> list[str | None]:
            return list(engine.ports)

        def open_port(self, port: int = 0) -> None:
            assert self.api in engine.answering, "this would end the process"
            if port > len(engine.ports) - 1:
                raise ValueError("port number out of range")
            engine.done.append(("open", port))

        def open_virtual_port(self, port_name: str) -> None:
            assert self.api in engine.answering, "this would end the process"
            engine.done.append(("virtual", port_name))

        def close_port(self) -> None:
            engine.done.append(("close", None))

    class MidiIn(Base):
        def __init__(self, clientname: str | None = None, queuesize: int = 1024, api: int = 0) -> None:
            self._make(api)
            self.deltatime = 0.0
            engine.done.append(("made", (clientname, queuesize)))

        def ignore_types(
            self, midi_sysex: bool = True, midi_time: bool = True, midi_sense: bool = True
        ) -> None:
            engine.done.append(("ignore", (midi_sysex, midi_time, midi_sense)))

        def get_message(self) -> list[int] | None:
            if not engine.waiting:
                self.deltatime = 0.0
                return None
            data, self.deltatime = engine.waiting.popleft()
            return data

    class MidiOut(Base):
        def __init__(self, clientname: str | None = None, api: int = 0) -> None:
            self._make(api)

        def send_raw(self, *data: int) -> None:
            engine.sent.append(bytes(data))

    module.MidiIn, module.MidiOut = MidiIn, MidiOut  # type: ignore[attr-defined]
    return module


LIBRARIES = {"rtmidi": rtmidi_module, "rtmidi2": rtmidi2_module}


@pytest.fixture(autouse=True)
def _plain_linux(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.delenv(driver.SYSTEM_VARIABLE, raising=False)


@pytest.fixture(params=LIBRARIES)
def library(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def install(monkeypatch: pytest.MonkeyPatch, library: str, engine: Engine) -> None:
    """Let only this library be found."""
    for name in LIBRARIES:
        monkeypatch.setitem(sys.modules, name, None)
    monkeypatch.setitem(sys.modules, library, LIBRARIES[library](engine))
    monkeypatch.setattr(driver, "_opens_in_a_child", lambda kind, constant, index: not engine.refuse_open)


def test_an_input_reads_bytes_and_the_step_from_the_queue(
    monkeypatch: pytest.MonkeyPatch, library: str
) -> None:
    engine = Engine({ALSA}, ["Guitar 20:0"])
    install(monkeypatch, library, engine)
    port = driver.open_input("ear")
    assert port.port_names() == ["Guitar 20:0"]
    port.open(0)
    engine.waiting.extend([([0x90, 64, 100], 0.0), ([0x80, 64, 0], 0.25)])
    assert port.read() == (b"\x90\x40\x64", 0.0)
    assert port.read() == (b"\x80\x40\x00", 0.25)
    assert port.read() is None
    port.close()
    assert ("made", ("ear", driver.QUEUE_MESSAGES)) in engine.done
    assert ("ignore", (False, False, False)) in engine.done
    assert ("open", 0) in engine.done
    assert engine.done[-1][0] in ("close", "delete")


def test_a_port_that_goes_while_the_list_is_read_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    # Seen with python-rtmidi 1.5.8 over JACK: the engine counts, then asks for each name, and raises.
    engine = Engine({JACK}, ["Guitar", "Keys", "Drums"])
    install(monkeypatch, "rtmidi", engine)
    port = driver.open_input("ear", driver.JACK)
    engine.vanishing = ["Keys", "Drums"]
    assert port.port_names() == ["Guitar"]


def test_an_output_sends_bytes(monkeypatch: pytest.MonkeyPatch, library: str) -> None:
    engine = Engine({ALSA}, ["Synth"])
    install(monkeypatch, library, engine)
    port = driver.open_output("guitar")
    port.open_virtual("strings")
    port.send(b"\xe0\x00\x40")
    port.close()
    assert engine.sent == [b"\xe0\x00\x40"]
    assert ("virtual", "strings") in engine.done


@pytest.mark.parametrize(
    ("answering", "platform", "expected"),
    [
        ({ALSA, JACK}, "linux", "ALSA"),
        ({JACK}, "linux", "JACK"),
        ({CORE, JACK}, "darwin", "CoreMIDI"),
        ({MM}, "win32", "WinMM"),
    ],
)
def test_the_first_system_that_answers_is_taken(
    monkeypatch: pytest.MonkeyPatch, library: str, answering: set[int], platform: str, expected: str
) -> None:
    install(monkeypatch, library, Engine(answering, []))
    monkeypatch.setattr(sys, "platform", platform)
    assert driver.find_system().name == expected


def test_a_person_can_choose_the_system(monkeypatch: pytest.MonkeyPatch, library: str) -> None:
    install(monkeypatch, library, Engine({ALSA, JACK}, []))
    monkeypatch.setenv(driver.SYSTEM_VARIABLE, "jack")
    assert driver.find_system() is driver.JACK
    monkeypatch.setenv(driver.SYSTEM_VARIABLE, "telepathy")
    with pytest.raises(Unavailable, match=r"'telepathy'.*ALSA, JACK, CoreMIDI, WinMM"):
        driver.find_system()


def test_without_any_system_the_reasons_are_given(monkeypatch: pytest.MonkeyPatch, library: str) -> None:
    install(monkeypatch, library, Engine(set(), []))
    for attempt in (driver.open_input, driver.open_output, driver.find_system):
        with pytest.raises(
            Unavailable, match="ALSA: the sequencer cannot be opened, JACK: no server is running"
        ):
            attempt()


def test_a_port_on_a_jack_that_has_gone_is_refused_before_it_is_opened(
    monkeypatch: pytest.MonkeyPatch, library: str
) -> None:
    install(monkeypatch, library, Engine(set(), ["ghost"]))
    for attempt in (driver.open_input, driver.open_output):
        with pytest.raises(Unavailable):
            attempt("late", driver.JACK)


def test_without_a_library_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in LIBRARIES:
        monkeypatch.setitem(sys.modules, name, None)
    with pytest.raises(Unavailable, match="python-rtmidi"):
        driver.open_input()


def test_what_the_libraries_write_is_kept_off_the_screen_and_nothing_else(
    monkeypatch: pytest.MonkeyPatch, library: str, capfd: pytest.CaptureFixture[str]
) -> None:
    install(monkeypatch, library, Engine({ALSA}, []))
    os.write(2, b"before\n")
    driver.open_input()
    driver.open_output()
    os.write(2, b"after\n")
    assert capfd.readouterr().err == "before\nafter\n"


def test_no_jack_server_is_started_by_looking_for_one(monkeypatch: pytest.MonkeyPatch) -> None:
    engine = Engine({ALSA}, [])
    module = rtmidi_module(engine)
    seen: list[str | None] = []
    made = module.MidiIn

    def watched(**arguments: Any) -> Any:
        seen.append(os.environ.get("JACK_NO_START_SERVER"))
        return made(**arguments)

    install(monkeypatch, "rtmidi", engine)
    module.MidiIn = watched  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "rtmidi", module)
    monkeypatch.delenv("JACK_NO_START_SERVER", raising=False)
    driver.open_input()
    assert seen
    assert set(seen) == {"1"}
    assert "JACK_NO_START_SERVER" not in os.environ


def test_a_closed_stderr_does_no_harm() -> None:
    code = "import os; os.close(2); from midifret.wire.ports import list_ports; print(list_ports())"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=20
    )
    assert "PortList" in done.stdout


def test_whatever_this_machine_has_is_a_system_or_a_reason() -> None:
    ports = list_ports()
    assert (ports.system is None) == bool(ports.reason)


STAND_IN = """
import os
class MidiIn:
    def __init__(self, clientname=None, queuesize=1024, api=0):
        assert api == 2
    def open_port(self, port=0):
        if port == 1:
            os.abort()  # as rtmidi2 does where the system refuses
"""


def test_a_refused_port_ends_a_child_and_not_this_process(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "rtmidi2.py").write_text(STAND_IN)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    assert driver._opens_in_a_child("MidiIn", ALSA, 0)
    assert not driver._opens_in_a_child("MidiIn", ALSA, 1)
    engine = Engine({ALSA}, ["taken"])
    tries = driver._opens_in_a_child
    install(monkeypatch, "rtmidi2", engine)
    monkeypatch.setattr(driver, "_opens_in_a_child", tries)
    port = driver.open_input("ear")
    port.open(0)
    with pytest.raises(OSError, match="refuses"):
        port.open(1)
    assert engine.done[-1] == ("open", 0)
