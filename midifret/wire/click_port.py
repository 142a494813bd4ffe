"""The MIDI output of a click: watched, told when it goes, used again when it comes back."""

import contextlib
from collections.abc import Sequence

from midifret.clock import Clock
from midifret.terms import BadInput, Unavailable
from midifret.wire import driver
from midifret.wire.jack_watch import ServerWatch, open_sockets
from midifret.wire.port_names import bare_name, choose_port, find_again

# How often the list of ports is looked at, as for a guitar (ports.py). Of a JACK server's end the clients
# must all be rid before one makes a new connection, or the process dies (seen); a guitar's port does that
# at the second look, 0.25 s after the first. So that is looked for oftener; 5 us a look (measured).
LOOK_EVERY_S = 0.25
# A period of JACK's at its usual longest, 1,024 frames at 44,100 Hz, takes 23 ms; twice that [ours].
DRAIN_S = 0.05
SERVER_EVERY_S = 0.05


class ClickPort:
    """A port to send to. Once open it raises nothing: what cannot be sent is lost, and `trouble` says so.

    A port that is back is opened anew, which takes 20 to 40 ms once. After the end of the MIDI system
    nothing is: that is for the next start of the program.
    """

    def __init__(
        self,
        port: driver.DriverOutput,
        name: str,
        clock: Clock,
        *,
        system: driver.System | None = None,
        client_name: str = "midifret-click",
        names: Sequence[str] = (),
        server: ServerWatch | None = None,
        virtual: bool = False,
    ) -> None:
        """Send to an opened port; `open_click_port` makes one.

        clock: to wait on when closing. system, client_name: for opening it anew; without a system that is
        never done. names: the ports that there are. server: tells of the end of JACK. virtual: a port of our
        own, in no list.
        """
        self.name = name
        self.trouble = ""
        self._clock = clock
        self._port: driver.DriverOutput | None = port
        self._open = True
        self._system = system
        self._client_name = client_name
        self._names = tuple(names) or (name,)
        self._server = server
        self._virtual = virtual
        self._looked_s: float | None = None
        self._server_s: float | None = None

    def send(self, data: bytes) -> bool:
        """Send one message now; whether it could be."""
        if not self._open or self._port is None:
            return False
        try:
            self._port.send(data)
        except (OSError, RuntimeError, ValueError):
            self._let_go(self._gone())
            return False
        return True

    def look(self, now_s: float) -> None:
        """See whether the port is there; to be called each turn, and looks as often as is worth it."""
        if self._server_s is None or now_s - self._server_s >= SERVER_EVERY_S:
            self._server_s = now_s
            if self._server is not None and self._server.gone():
                self._end()
        if self._looked_s is None:
            self._looked_s = now_s
        if now_s - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = now_s
            if self._open:
                self._look()
            elif self._system is not None:
                self._look_for_it(self._system)

    def close(self) -> None:
        """Close the port for good, once what was sent is out: a JACK server drops the rest (seen)."""
        self._system = None
        if self._open:
            self._clock.wait_s(DRAIN_S)
        self._shut()

    def _shut(self) -> None:
        self._open = False
        self._server = None  # it watched the sockets of the port that is closed now
        if self._port is not None:
            with contextlib.suppress(OSError, RuntimeError):
                self._port.close()
            self._port = None

    def _let_go(self, trouble: str) -> None:
        self._shut()
        self.trouble = trouble

    def _end(self) -> None:
        """The MIDI system has ended."""
        self._let_go("The MIDI system of the click has stopped. Start it again, then this program.")
        self._system = None

    def _is(self, name: str) -> bool:
        """Whether a name in the list is this port's."""
        if self._system is not None and self._system.numbers_move:
            changing = self._system.changing
            return bare_name(name, changing) == bare_name(self.name, changing)
        return name == self.name

    def _look(self) -> None:
        assert self._port is not None
        if self._virtual:
            return
        try:
            names = tuple(self._port.port_names())
            if not any(map(self._is, names)):  # once more: the list is misread while a port comes or goes
                names = tuple(self._port.port_names())
        except (OSError, RuntimeError):
            return self._end()
        if any(map(self._is, names)):
            self._names = names
        else:
            self._let_go(self._gone())

    def _look_for_it(self, system: driver.System) -> None:
        try:
            if self._port is None:
                self._connect_anew(system)
            assert self._port is not None
            names = tuple(self._port.port_names())
            others = [name for name in self._names if not self._is(name)]
            index = find_again(self.name, names, others, system.changing)
            if index is None:
                return
            self._port.open(index)
        except Unavailable:
            return  # several could be it: none is taken
        except (BadInput, OSError, RuntimeError, ValueError):
            return self._shut()
        self._open, self.name, self._names, self.trouble = True, names[index], names, ""

    def _connect_anew(self, system: driver.System) -> None:
        before = open_sockets()
        self._port = driver.open_output(self._client_name, system)
        self._server = ServerWatch(before) if system is driver.JACK else None

    def _gone(self) -> str:
        return f"The click's port is gone ({self.name}). Plug it in again; until then the beat is only seen."


def open_click_port(
    part: str, clock: Clock, *, virtual: bool = False, client_name: str = "midifret-click"
) -> ClickPort:
    """Open the output port that `part` names, or one of our own of that name for others to connect to.

    Raises Unavailable, listing the ports that there are, where none or several fit or the port is taken.
    """
    system = driver.find_system()
    before = open_sockets()
    port = driver.open_output(client_name, system)
    server = ServerWatch(before) if system is driver.JACK else None
    try:
        names = tuple(port.port_names())
        name = part
        if virtual and not system.virtual_ports:
            raise Unavailable(
                f"{system.name} gives programs no ports of their own",
                allowed="connect the two programs through a loop-back MIDI port, and name that one",
            )
        try:
            if virtual:
                port.open_virtual(part)
            else:
                index = choose_port(part, names, "output", system.changing)
                name = names[index]
                port.open(index)
        except (OSError, RuntimeError, ValueError) as error:
            raise Unavailable(
                f"the MIDI output port {name!r} cannot be opened: {error}",
                allowed="close the other program that uses it, or plug the interface in again",
            ) from error
    except BaseException:
        port.close()
        raise
    return ClickPort(
        port,
        name,
        clock,
        system=system,
        client_name=client_name,
        names=names,
        server=server,
        virtual=virtual,
    )
