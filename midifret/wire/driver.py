"""The one module that knows the MIDI library: rtmidi or rtmidi2, whichever is installed, behind one class.

Both wrap the same engine. Input is read from the engine's queue, never by a Python callback: a callback
runs inside the sound server's thread and loses notes whenever the interpreter is busy.
"""

import contextlib
import importlib
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from types import ModuleType
from typing import Any, Protocol

from midifret.terms import Unavailable
from midifret.wire.jack_watch import ServerWatch, open_sockets, silence_library
from midifret.wire.port_names import CHANGING, PLACE_IN_LIST

# Messages that may wait while nothing reads them. Bends on six strings come to about 600 a second [common
# practice, no source]; the usual 1,024 would overflow after two seconds, and only say so on the screen.
QUEUE_MESSAGES = 8192
# Lets a person, or a test, choose the MIDI system where there are several.
SYSTEM_VARIABLE = "MIDIFRET_MIDI_SYSTEM"

# How often the list is read anew where ports go while it is read: each time one more has to go just then.
_LOOKS = 8
# A child that imports the library and opens a port takes about 0.1 s; a slow disk may take some seconds.
_TRY_S = 10.0


@dataclass(frozen=True, slots=True)
class System:
    """A MIDI system of the platform.

    name: for people and for SYSTEM_VARIABLE. constant: its name in the libraries.
    virtual_ports: whether a program can open ports of its own that others connect to.
    changing: what in the name of a port changes though the port is the same.
    numbers_move: that this is a place in the list, and changes while the port is plugged in.
    """

    name: str
    constant: str
    virtual_ports: bool = True
    changing: re.Pattern[str] = CHANGING
    numbers_move: bool = False


ALSA = System("ALSA", "API_LINUX_ALSA")
JACK = System("JACK", "API_UNIX_JACK")
CORE_MIDI = System("CoreMIDI", "API_MACOSX_CORE")
WIN_MM = System("WinMM", "API_WINDOWS_MM", virtual_ports=False, changing=PLACE_IN_LIST, numbers_move=True)
_SYSTEMS = (ALSA, JACK, CORE_MIDI, WIN_MM)

_PLUG_IN = "plug in and switch on the guitar's MIDI interface, or see it all work with: midifret demo"
# The libraries' own words are for programmers, and differ.
_PLAIN_REASONS = {ALSA.name: "the sequencer cannot be opened", JACK.name: "no server is running"}
_NO_SERVER = "server not running"  # in what the engine writes where no JACK server answers


class DriverInput(Protocol):
    """One MIDI input, opened or not."""

    def port_names(self) -> list[str]:
        """The ports that could be opened. Raises OSError or RuntimeError where the system has gone."""
        ...

    def open(self, index: int) -> None:
        """Connect to a port by its place in `port_names`. Raises OSError or RuntimeError where refused."""
        ...

    def open_virtual(self, name: str) -> None:
        """Open a port of our own that other programs can connect to. Raises as `open`."""
        ...

    def read(self) -> tuple[bytes, float] | None:
        """The next bytes that came and the driver's step from those before, in s; None if nothing waits."""
        ...

    def close(self) -> None:
        """Let go of the port and the system; the object is of no use afterwards."""
        ...


class DriverOutput(Protocol):
    """One MIDI output, opened or not; methods as in DriverInput."""

    def port_names(self) -> list[str]:
        """The ports that could be opened."""
        ...

    def open(self, index: int) -> None:
        """Connect to a port by its place in `port_names`."""
        ...

    def open_virtual(self, name: str) -> None:
        """Open a port of our own."""
        ...

    def send(self, data: bytes) -> None:
        """Send one message now."""
        ...

    def close(self) -> None:
        """Let go of the port and the system."""
        ...


class _RtMidi:
    """An input or output of python-rtmidi."""

    def __init__(self, port: Any, server: ServerWatch | None = None) -> None:
        self._port = port
        self._server = server

    def port_names(self) -> list[str]:
        if self._server is not None and self._server.gone():  # the list would be that of before
            raise OSError("the JACK server has gone")
        for _ in range(_LOOKS):
            try:
                return [str(name) for name in self._port.get_ports()]
            except ValueError:
                continue  # a port went between being counted and being named (seen); the list is shorter now
        return []

    def open(self, index: int) -> None:
        self._port.open_port(index)

    def open_virtual(self, name: str) -> None:
        self._port.open_virtual_port(name)

    def read(self) -> tuple[bytes, float] | None:
        event = self._port.get_message()
        return None if event is None else (bytes(event[0]), event[1])

    def send(self, data: bytes) -> None:
        self._port.send_message(data)

    def close(self) -> None:
        self._port.close_port()
        self._port.delete()


class _RtMidi2:
    """An input or output of rtmidi2, which tells the step apart from the message and has no way to delete.

    Where it cannot open a port it ends the whole process (an exception of the engine that it does not pass
    on; seen with rtmidi2 1.5.0), so a child process tries first.
    """

    def __init__(self, port: Any) -> None:
        self._port = port
        self._kind = type(port).__name__

    def port_names(self) -> list[str]:
        return [name or "" for name in self._port.ports]

    def open(self, index: int) -> None:
        if not _opens_in_a_child(self._kind, self._port.get_current_api(), index):
            raise OSError("the MIDI system refuses it")
        self._port.open_port(index)

    def open_virtual(self, name: str) -> None:
        self._port.open_virtual_port(name)

    def read(self) -> tuple[bytes, float] | None:
        data = self._port.get_message()
        return None if data is None else (bytes(data), float(self._port.deltatime))

    def send(self, data: bytes) -> None:
        self._port.send_raw(*data)

    def close(self) -> None:
        self._port.close_port()
        self._port = None  # the library lets go of the client when nothing refers to it


def _opens_in_a_child(kind: str, constant: int, index: int) -> bool:
    """Whether another process can open a port with rtmidi2 and live. kind: MidiIn or MidiOut."""
    code = f"import rtmidi2; rtmidi2.{kind}('midifret-try', api={constant:d}).open_port({index:d})"
    try:
        tried = subprocess.run([sys.executable, "-c", code], capture_output=True, timeout=_TRY_S, check=False)
    except subprocess.TimeoutExpired:
        return False
    return tried.returncode == 0


def open_input(client_name: str = "midifret", system: System | None = None) -> DriverInput:
    """Return an input that is not connected yet. Raises Unavailable where there is no MIDI system."""
    library, system = _library_and_system(system)
    return _make_input(library, system, client_name)


def open_output(client_name: str = "midifret", system: System | None = None) -> DriverOutput:
    """Return an output that is not connected yet. Raises Unavailable where there is no MIDI system."""
    library, system = _library_and_system(system)
    constant = getattr(library, system.constant)
    with _refusals_told(), kept_off_the_screen() as noise:
        if library.__name__ == "rtmidi2":
            port = library.MidiOut(client_name, constant)
        else:
            port = library.MidiOut(rtapi=constant, name=client_name)
    _refuse_without_server(system, noise)
    return _RtMidi2(port) if library.__name__ == "rtmidi2" else _RtMidi(port)


def find_system() -> System:
    """Return the MIDI system that inputs and outputs are opened on: the first of the platform that answers.

    Raises Unavailable with the reason of each where none does.
    """
    return _library_and_system(None)[1]


def _library_and_system(system: System | None) -> tuple[ModuleType, System]:
    library = _load_library()
    if system is not None:
        return library, system
    reasons = []
    for candidate in _candidates():
        reason = _why_not(library, candidate)
        if reason is None:
            return library, candidate
        reasons.append(f"{candidate.name}: {reason}")
    raise Unavailable(f"no MIDI system answers; {', '.join(reasons)}", allowed=_PLUG_IN)


def _load_library() -> ModuleType:
    with contextlib.suppress(ImportError):
        library = importlib.import_module("rtmidi")
        if hasattr(library, "get_compiled_api"):  # another package goes by the same name
            return library
    with contextlib.suppress(ImportError):
        return importlib.import_module("rtmidi2")
    raise Unavailable(
        "no MIDI library can be imported",
        allowed="install python-rtmidi, or on Python 3.13 and later rtmidi2; takes and the demo need neither",
    )


def _candidates() -> tuple[System, ...]:
    wanted = os.environ.get(SYSTEM_VARIABLE, "")
    if wanted:
        for system in _SYSTEMS:
            if system.name.casefold() == wanted.casefold():
                return (system,)
        names = ", ".join(system.name for system in _SYSTEMS)
        raise Unavailable(f"{SYSTEM_VARIABLE} names no MIDI system: {wanted!r}", allowed=names)
    if sys.platform == "darwin":
        return (CORE_MIDI,)
    if sys.platform == "win32":
        return (WIN_MM,)
    return (ALSA, JACK)


def _why_not(library: ModuleType, system: System) -> str | None:
    """Return why a system cannot be used, or None if it can."""
    if not hasattr(library, system.constant):
        return f"not in this build of {library.__name__}"
    compiled = getattr(library, "get_compiled_api", None)
    if compiled is not None and getattr(library, system.constant) not in compiled():
        return f"not in this build of {library.__name__}"
    try:
        probe = _make_input(library, system, "midifret-probe")
    except Unavailable as error:
        return _PLAIN_REASONS.get(system.name, error.message)
    probe.close()
    return None


def _make_input(library: ModuleType, system: System, client_name: str) -> DriverInput:
    constant = getattr(library, system.constant)
    before = open_sockets()
    with _refusals_told(), kept_off_the_screen() as noise:
        if library.__name__ == "rtmidi2":
            port = library.MidiIn(client_name, QUEUE_MESSAGES, constant)
        else:
            port = library.MidiIn(rtapi=constant, name=client_name, queue_size_limit=QUEUE_MESSAGES)
    _refuse_without_server(system, noise)
    if port.get_current_api() != constant:  # the engine silently takes another one it was built with
        raise Unavailable(f"not in this build of {library.__name__}", allowed=_PLUG_IN)
    # The engine filters nothing out. With JACK it drops the time step together with the message that it
    # filters (seen with python-rtmidi 1.5.8), so that every later message is dated too early; and active
    # sensing tells of a cable pulled out.
    port.ignore_types(False, False, False)
    if library.__name__ == "rtmidi2":
        return _RtMidi2(port)
    if system is not JACK:
        return _RtMidi(port)
    silence_library()
    return _RtMidi(port, ServerWatch(before))


def _refuse_without_server(system: System, noise: list[str]) -> None:
    # rtmidi2 makes a port even where no JACK server answers, says so on stderr only, and opening that port
    # then ends the whole process; so what it wrote is looked at.
    if system is JACK and any(_NO_SERVER in text for text in noise):
        raise Unavailable("no JACK server answers", allowed=_PLUG_IN)


@contextlib.contextmanager
def _refusals_told() -> Iterator[None]:
    try:
        yield
    except (OSError, RuntimeError) as error:  # python-rtmidi's own errors are OSErrors
        raise Unavailable(str(error).rstrip("."), allowed=_PLUG_IN) from error


@contextlib.contextmanager
def kept_off_the_screen() -> Iterator[list[str]]:
    """Catch what the system's libraries write to stderr, and keep JACK from starting a server of its own.

    The list gets the text when the block ends. Where stderr cannot be redirected nothing is caught.
    """
    noise: list[str] = []
    before = os.environ.get("JACK_NO_START_SERVER")
    os.environ["JACK_NO_START_SERVER"] = "1"
    try:
        with tempfile.TemporaryFile() as caught:
            try:
                if sys.stderr is not None:
                    sys.stderr.flush()
                screen = os.dup(2)
            except (OSError, ValueError):
                yield noise
                return
            os.dup2(caught.fileno(), 2)
            try:
                yield noise
            finally:
                os.dup2(screen, 2)
                os.close(screen)
                caught.seek(0)
                noise.append(caught.read().decode(errors="replace"))
    finally:
        if before is None:
            del os.environ["JACK_NO_START_SERVER"]
        else:
            os.environ["JACK_NO_START_SERVER"] = before
