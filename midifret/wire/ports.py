"""Ports: which there are, choosing one by part of its name, reading notes from it, and sending to one."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.clock import Clock, MessageDater
from midifret.hear.splitter import ByteSplitter
from midifret.terms import TimedMessage, Unavailable
from midifret.wire import driver

# How often the list of ports is looked at. A look costs 0.06 ms (measured with JACK), so once a second is
# nothing; a player whose cable came out waits that long at most for the run to pause.
LOOK_EVERY_S = 1.0

_ALSA_NUMBERS = re.compile(r" \d+:\d+\Z")  # ALSA's client and port number, which change with every plugging
_ACTIVE_SENSING = 0xFE
_FIRST_SYSTEM = 0xF0


@dataclass(frozen=True, slots=True)
class PortList:
    """The ports there are.

    system: the MIDI system that has them, or None where there is none; `reason` then says why.
    """

    system: str | None
    inputs: tuple[str, ...] = ()
    outputs: tuple[str, ...] = ()
    reason: str = ""


def list_ports() -> PortList:
    """Return what could be opened; a machine without MIDI gives empty lists and a reason, never an error."""
    try:
        system = driver.find_system()
        inputs = driver.open_input("midifret-list", system)
        try:
            input_names = tuple(inputs.port_names())
        finally:
            inputs.close()
        outputs = driver.open_output("midifret-list", system)
        try:
            output_names = tuple(outputs.port_names())
        finally:
            outputs.close()
    except Unavailable as error:
        return PortList(None, reason=str(error))
    except (OSError, RuntimeError) as error:
        return PortList(None, reason=f"the MIDI system failed: {error}")
    return PortList(system.name, input_names, output_names)


def choose_port(part: str, names: Sequence[str], kind: str = "input") -> int:
    """Return the place of the port that `part` names: the whole name, or else any part, case left aside.

    An empty part takes the only port there is. Raises Unavailable, listing the candidates, where none or
    several fit.
    """
    listed = ", ".join(repr(name) for name in names)
    if not names:
        wanted = f" (wanted {part!r})" if part else ""
        raise Unavailable(
            f"there is no MIDI {kind} port{wanted}",
            allowed="plug in and switch on the MIDI interface, then look again with: midifret ports",
        )
    wanted = part.strip().casefold()
    bare = [_ALSA_NUMBERS.sub("", name) for name in names]
    for fits in (
        [n for n, name in enumerate(names) if name.casefold() == wanted],
        [n for n, name in enumerate(bare) if name.casefold() == wanted],
        [n for n, name in enumerate(names) if wanted in name.casefold()],
    ):
        if len(fits) == 1:
            return fits[0]
        if fits:
            candidates = ", ".join(repr(names[n]) for n in fits)
            what = (
                f"{part!r} fits {len(fits)} MIDI {kind} ports" if wanted else f"{len(fits)} MIDI {kind} ports"
            )
            raise Unavailable(f"which one? {what}", allowed=f"name one of: {candidates}")
    raise Unavailable(f"no MIDI {kind} port has {part!r} in its name", allowed=f"there are: {listed}")


class PortSource:
    """Notes from a port. Everything but `name` is for the thread that hears.

    untrusted: messages so far whose time from the driver contradicted their arrival.
    left_out: system messages (clock, active sensing, system exclusive) so far; nothing here needs them.
    """

    def __init__(self, port: driver.DriverInput, name: str, clock: Clock, *, virtual: bool = False) -> None:
        """Read an opened port; `open_source` makes one. A virtual port counts as connected for ever."""
        self.untrusted = 0
        self.left_out = 0
        self._port = port
        self._name = name
        self._clock = clock
        self._virtual = virtual
        self._dater = MessageDater()
        self._splitter = ByteSplitter()
        self._empty_s = clock.now_s()  # when the queue was last found empty
        self._looked_s = clock.now_s()
        self._connected = True
        self._sensed_s: float | None = None

    @property
    def name(self) -> str:
        """The name of the port."""
        return self._name

    @property
    def damaged_bytes(self) -> int:
        """Bytes so far that belonged to no message."""
        return self._splitter.dropped

    @property
    def sensed_s(self) -> float | None:
        """When active sensing last came, or None where the other end does not send it (MIDI 1.0)."""
        return self._sensed_s

    def poll(self) -> list[TimedMessage]:
        """Return everything that waits, in order, as whole channel messages dated on the clock."""
        messages: list[TimedMessage] = []
        asked_s = self._clock.now_s()
        while (event := self._port.read()) is not None:
            data, delta_s = event
            time_s, trusted = self._dater.date(delta_s, self._clock.now_s(), empty_s=self._empty_s)
            self.untrusted += not trusted
            for message in self._splitter.split(data):
                if message[0] < _FIRST_SYSTEM:
                    messages.append(TimedMessage(time_s, message))
                    continue
                self.left_out += 1
                if message[0] == _ACTIVE_SENSING:
                    self._sensed_s = time_s
            asked_s = self._clock.now_s()
        self._empty_s = asked_s  # read before the question that found nothing, so nothing was sent before it
        return messages

    def connected(self) -> bool:
        """Whether the port is still in the list, looked at once a second; once gone it stays gone.

        A port that comes back is another one to the system and must be opened anew.
        """
        now_s = self._clock.now_s()
        if self._connected and not self._virtual and now_s - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = now_s
            try:
                self._connected = self._name in self._port.port_names()
            except (OSError, RuntimeError):
                self._connected = False
        return self._connected

    def close(self) -> None:
        """Close the port."""
        self._port.close()


class PortSink:
    """A port to send to, as the virtual guitar does."""

    def __init__(self, port: driver.DriverOutput, name: str) -> None:
        """Send to an opened port; `open_sink` makes one."""
        self._port = port
        self.name = name

    def send(self, data: bytes) -> None:
        """Send one message now."""
        self._port.send(data)

    def close(self) -> None:
        """Close the port."""
        self._port.close()


def open_source(
    part: str, clock: Clock, *, virtual: bool = False, client_name: str = "midifret"
) -> PortSource:
    """Open the input port that `part` names, or one of our own of that name for others to connect to.

    Raises Unavailable where there is no MIDI system, none or several ports fit, or the port is taken.
    """
    system = driver.find_system()
    port = driver.open_input(client_name, system)
    try:
        name = _connect(port, part, system, "input", virtual=virtual)
    except BaseException:
        port.close()
        raise
    return PortSource(port, name, clock, virtual=virtual)


def open_sink(part: str, *, virtual: bool = False, client_name: str = "midifret") -> PortSink:
    """Open an output port in the same way as `open_source`."""
    system = driver.find_system()
    port = driver.open_output(client_name, system)
    try:
        name = _connect(port, part, system, "output", virtual=virtual)
    except BaseException:
        port.close()
        raise
    return PortSink(port, name)


def _connect(
    port: driver.DriverInput | driver.DriverOutput,
    part: str,
    system: driver.System,
    kind: str,
    *,
    virtual: bool,
) -> str:
    if virtual:
        if not system.virtual_ports:
            raise Unavailable(
                f"{system.name} gives programs no ports of their own",
                allowed="connect the two programs through a loop-back MIDI port, and name that one",
            )
        name = part
    else:
        names = port.port_names()
        index = choose_port(part, names, kind)
        name = names[index]
    try:
        if virtual:
            port.open_virtual(name)
        else:
            port.open(index)
    except (OSError, RuntimeError, ValueError) as error:
        raise Unavailable(
            f"the MIDI {kind} port {name!r} cannot be opened: {error}",
            allowed="close the other program that uses it, or plug the interface in again",
        ) from error
    return name
