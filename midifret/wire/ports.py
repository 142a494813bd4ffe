"""Ports: which there are, choosing one by part of its name, reading notes from it, and sending to one."""

import contextlib
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from midifret.clock import Clock, DatingFigures, MessageDater
from midifret.hear.splitter import ByteSplitter
from midifret.terms import BadInput, TimedMessage, Unavailable
from midifret.wire import driver
from midifret.wire.port_names import bare_name, choose_port, find_again

# How often the list of ports is looked at. A look costs 0.2 ms at most (measured with JACK); a port that has
# gone is to be noticed within a second, with room for a busy machine [ours].
LOOK_EVERY_S = 0.25
# Active sensing, once it has come, comes at least every 300 ms while nothing else does, give or take 10%
# (MIDI 1.0, page 32). To that a busy machine may add what reading was measured to be late, 36 ms at the 99th
# percentile beside a parsing load, and several times that [ours].
SILENT_S = 0.5

# What a MIDI clock says, kept where nobody asks for it: 8 s at 300 bpm with 24 clocks a beat [ours].
REALTIME_KEPT = 1024

_ACTIVE_SENSING = 0xFE
_FIRST_SYSTEM = 0xF0
_OF_A_CLOCK = frozenset(
    (0xF2, 0xF8, 0xFA, 0xFB, 0xFC)
)  # song position, clock, start, continue, stop (MIDI 1.0)


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


class PortSource:
    """Notes from a port, which is watched and opened anew when it comes back. All of it never waits.

    Everything but `name` is for the thread that hears.
    untrusted: messages so far whose time from the driver contradicted their arrival; untrusted_s: when the
    last of them was sent, or None.
    left_out: system messages (clock, active sensing, system exclusive) so far, which `poll` leaves out.
    """

    def __init__(
        self,
        port: driver.DriverInput,
        name: str,
        clock: Clock,
        *,
        virtual: bool = False,
        system: driver.System | None = None,
        client_name: str = "midifret",
        names: Sequence[str] = (),
    ) -> None:
        """Read an opened port; `open_source` makes one.

        virtual: a port of our own, in no list; it is there for as long as the MIDI system is. system,
        client_name: for opening it anew; without a system that is never done. names: the ports there are.
        """
        self.untrusted = 0
        self.untrusted_s: float | None = None
        self.left_out = 0
        self._port: driver.DriverInput | None = port
        self._open = True
        self._name = name
        self._clock = clock
        self._virtual = virtual
        self._system = system
        self._client_name = client_name
        self._names = tuple(names) or (name,)  # as last seen with this port among them
        self._alike = max(1, len(self._places(self._names)))
        self._waiting: list[TimedMessage] = []  # read before a port was closed, not given out yet
        self._realtime: deque[TimedMessage] = deque(maxlen=REALTIME_KEPT)
        self._damaged = 0  # by the splitters before this one
        self._trouble = ""
        self._looked_s = clock.now_s()
        self._begin()

    @property
    def name(self) -> str:
        """The name of the port, as it is now."""
        return self._name

    @property
    def damaged_bytes(self) -> int:
        """Bytes so far that belonged to no message."""
        return self._damaged + self._splitter.dropped

    @property
    def sensed_s(self) -> float | None:
        """When active sensing last came over this connection; None where the other end does not send it."""
        return self._sensed_s

    @property
    def trouble(self) -> str:
        """Why nothing can be heard just now and what to do, in full sentences; empty while all is well."""
        return self._trouble

    @property
    def last_there_s(self) -> float:
        """When the other end was last known to be there, on the clock.

        That is when it last sent anything, and without active sensing also when it was last in the list.
        """
        return self._heard_s if self._sensed_s is not None else max(self._heard_s, self._seen_s)

    def poll(self) -> list[TimedMessage]:
        """Return everything that waits, in order, as whole channel messages dated on the clock."""
        if self._open:
            self._read()
        messages, self._waiting = self._waiting, []
        return messages

    def realtime(self) -> list[TimedMessage]:
        """Return what a MIDI clock said, in order, dated like all else; call it after `poll`, which reads.

        Clock, start, continue and stop (one byte) and song position (three). Of what nobody asked for the
        last REALTIME_KEPT are kept: ask once, and throw away, before following a clock.
        """
        messages = list(self._realtime)
        self._realtime.clear()
        return messages

    def figures(self) -> DatingFigures:
        """Return how well the messages could be dated since the port was last opened."""
        return self._dater.figures()

    def connected(self, *, at_once: bool = False) -> bool:
        """Whether the other end is there; where it is not, look whether it is back and open it.

        at_once: look now, not only every LOOK_EVERY_S. A look takes 0.2 ms, opening anew 20 to 40 ms (JACK,
        measured). Once this is False `poll` still gives what came before.
        """
        now_s = self._clock.now_s()
        if at_once or now_s - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = now_s
            if self._open:
                self._look(now_s)
            else:
                self._look_for_it()
        is_silent = self._sensed_s is not None and self._empty_s - self._heard_s > SILENT_S
        if is_silent and not self._trouble:
            self._trouble = f"The guitar is silent ({self._name}). Look at its cable; is it switched on?"
        return not self._trouble

    def close(self) -> None:
        """Close the port."""
        self._open = False
        if self._port is not None:
            self._port.close()
            self._port = None

    def _begin(self) -> None:
        """Start on a connection of which nothing is known yet."""
        now_s = self._clock.now_s()
        self._dater = MessageDater()
        self._splitter = ByteSplitter()
        self._empty_s = now_s  # when the queue was last found empty
        self._seen_s = now_s  # when the port was last in the list
        self._heard_s = now_s
        self._sensed_s: float | None = None

    def _read(self) -> None:
        assert self._port is not None
        asked_s = self._clock.now_s()
        while (event := self._port.read()) is not None:
            if self._trouble:  # it had fallen silent, and is back
                self._trouble = ""
                self._alike = len(self._places(self._names))
                self._damaged += self._splitter.dropped
                empty_s = self._empty_s
                self._begin()
                self._empty_s = empty_s
            data, delta_s = event
            time_s, trusted = self._dater.date(delta_s, self._clock.now_s(), empty_s=self._empty_s)
            self._heard_s = time_s
            if not trusted:
                self.untrusted += 1
                self.untrusted_s = time_s
            for message in self._splitter.split(data):
                if message[0] < _FIRST_SYSTEM:
                    self._waiting.append(TimedMessage(time_s, message))
                    continue
                self.left_out += 1
                if message[0] in _OF_A_CLOCK:
                    self._realtime.append(TimedMessage(time_s, message))
                elif message[0] == _ACTIVE_SENSING:
                    self._sensed_s = time_s
            asked_s = self._clock.now_s()
        self._empty_s = asked_s  # read before the question that found nothing, so nothing was sent before it

    def _places(self, names: Sequence[str]) -> list[int]:
        """Where in a list ports stand that cannot be told from this one by their names."""
        if self._system is not None and self._system.numbers_move:
            changing = self._system.changing
            bare = bare_name(self._name, changing)
            return [n for n, name in enumerate(names) if bare_name(name, changing) == bare]
        return [n for n, name in enumerate(names) if name == self._name]

    def _look(self, now_s: float) -> None:
        """See whether the open port is still in the list."""
        assert self._port is not None
        try:
            names = tuple(self._port.port_names())
            if not self._places(names):  # once more: a port that came while the list was read shifts it
                names = tuple(self._port.port_names())
        except (OSError, RuntimeError):
            return self._let_go(self._stopped())
        places = self._places(names)
        if self._virtual:
            self._seen_s = now_s
        elif not places:
            self._let_go(self._gone())
        elif len(places) < self._alike:
            self._names = names
            self._trouble = (
                f"One of {self._alike} ports called {self._name} is gone. If it is this guitar's, plug it in "
                "again; if not, pluck a string."
            )
        elif self._trouble and len(self._places(self._names)) < self._alike:
            self._let_go(self._gone())  # the one that was gone is back, and may be this one
        else:
            self._names, self._alike, self._seen_s = names, len(places), now_s
            if len(places) == 1:
                self._name = names[places[0]]

    def _let_go(self, trouble: str) -> None:
        """Keep what came and close the port: to the system one that comes back is another one."""
        with contextlib.suppress(OSError, RuntimeError):
            self._read()
        self.close()
        self._trouble = trouble

    def _look_for_it(self) -> None:
        """See whether a port that was gone is back, and open it."""
        if self._system is None:
            return
        try:
            if (
                self._port is None
            ):  # the old one was closed before: JACK's ends the process in the other order
                self._port = driver.open_input(self._client_name, self._system)
            names = tuple(self._port.port_names())
        except (BadInput, OSError, RuntimeError):
            self.close()
            self._trouble = self._stopped()
            return
        if self._virtual:
            index, name = None, self._name
        else:
            try:
                index = find_again(self._name, names, self._others(), self._system.changing)
            except Unavailable as error:
                self._trouble = f"{_sentence(error.message)} {_sentence(error.allowed)}."
                return
            if index is None:
                self._trouble = self._gone()
                return
            name = names[index]
        try:
            if index is None:
                self._port.open_virtual(name)
            else:
                self._port.open(index)
        except (OSError, RuntimeError, ValueError):
            self.close()
            self._trouble = f"The guitar's port {name} is back but cannot be opened. Close what else uses it."
            return
        with contextlib.suppress(OSError, RuntimeError):
            if not self._virtual and tuple(self._port.port_names()) != names:
                self.close()  # the list moved: another port may stand there now; the next look tries again
                return
        self._open, self._name, self._names = True, name, names
        self._alike = max(1, len(self._places(names)))
        self._damaged += self._splitter.dropped
        self._trouble = ""
        self._begin()

    def _others(self) -> list[str]:
        others = list(self._names)
        if self._name in others:
            others.remove(self._name)
        return others

    def _gone(self) -> str:
        return f"The guitar's port is gone ({self._name}). Plug it in again."

    def _stopped(self) -> str:
        system = "" if self._system is None else f" ({self._system.name})"
        return f"The MIDI system{system} has stopped. Start it again."


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
        names = port.port_names()
        name = _connect(port, names, part, system, "input", virtual=virtual)
    except BaseException:
        port.close()
        raise
    return PortSource(port, name, clock, virtual=virtual, system=system, client_name=client_name, names=names)


def open_sink(part: str, *, virtual: bool = False, client_name: str = "midifret") -> PortSink:
    """Open an output port in the same way as `open_source`."""
    system = driver.find_system()
    port = driver.open_output(client_name, system)
    try:
        name = _connect(port, port.port_names(), part, system, "output", virtual=virtual)
    except BaseException:
        port.close()
        raise
    return PortSink(port, name)


def _connect(
    port: driver.DriverInput | driver.DriverOutput,
    names: Sequence[str],
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
        index = choose_port(part, names, kind, system.changing)
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


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
