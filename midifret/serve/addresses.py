"""Sockets to listen at, and the addresses of this machine on the network around it."""

import contextlib
import ipaddress
import socket
import sys
from collections.abc import Iterable, Sequence

from midifret.terms import BadInput, Unavailable

# Not in the list of registered ports (IANA [mem]); the same each time, so that an open page finds it again.
PORT = 8649
LOOPBACK = "127.0.0.1"
# Reserved for documentation (RFC 5737, RFC 3849): nothing is sent, the system only says which way it would
# go.
_ELSEWHERE = ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1"))


def lan_addresses() -> list[str]:
    """Addresses of this machine on networks around it, the likeliest first, IPv4 before IPv6.

    The one of the default route comes first, then what the system knows for its own name. Private and
    link-local addresses alone, as others may be reached from anywhere; IPv6 link-local ones are left out:
    browsers do not take them.
    """
    found: list[str] = []
    for family, elsewhere in _ELSEWHERE:
        with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((elsewhere, 9))
            found.append(str(probe.getsockname()[0]))
    with contextlib.suppress(OSError):
        for _, _, _, _, where in socket.getaddrinfo(socket.gethostname(), None, type=socket.SOCK_STREAM):
            found.append(str(where[0]))
    return in_order(found)


def in_order(addresses: Iterable[str]) -> list[str]:
    """Leave out what is no address of a local network or comes twice; IPv4 first, otherwise as given."""
    kept: list[str] = []
    for text in addresses:
        with contextlib.suppress(ValueError):
            address = ipaddress.ip_address(text.partition("%")[0])
            if address.is_loopback or address.is_unspecified or not address.is_private:
                continue
            if address.version == 6 and address.is_link_local:
                continue
            if str(address) not in kept:
                kept.append(str(address))
    return sorted(kept, key=lambda text: ":" in text)


def lan_address(asked: str | None, *, found: Sequence[str] | None = None) -> str:
    """Return the address to serve other devices at: the one asked for, or the likeliest.

    Raises BadInput for what is no address of this machine, Unavailable where there is no network.
    """
    if found is None:
        found = lan_addresses()
    if asked is not None:
        try:
            return str(ipaddress.ip_address(asked))
        except ValueError:
            listed = ", ".join(found) or "none was found"
            raise BadInput(f"{asked!r} is no address", allowed=f"of this machine: {listed}") from None
    if not found:
        raise Unavailable(
            "this machine is on no network that other devices could be on",
            allowed="connect it to one, or leave out --lan",
        )
    return found[0]


def listening(address: str, port: int) -> socket.socket:
    """Open a socket that listens at this address alone; port 0: any. Raises Unavailable."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    # With the protocol named: only then asyncio lets small messages go at once (TCP_NODELAY), which otherwise
    # wait up to 40 ms for the page to confirm the one before.
    opened = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if sys.platform == "win32":
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:
            opened.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        opened.bind((address, port))
        opened.listen(32)
        opened.setblocking(False)
    except OSError as error:
        opened.close()
        raise _unavailable(address, port, error) from None
    return opened


def _unavailable(address: str, port: int, error: OSError) -> Unavailable:
    import errno

    if error.errno in (errno.EADDRINUSE, getattr(errno, "WSAEADDRINUSE", -1)):
        return Unavailable(
            f"port {port} is taken, by another stand perhaps",
            allowed=f"close that, or take another port, for example --port {_free(address)}",
        )
    if error.errno in (errno.EACCES, errno.EPERM, getattr(errno, "WSAEACCES", -1)):
        return Unavailable(f"port {port} is not allowed", allowed="a port of 1024 to 65535")
    return Unavailable(
        f"nothing can be served at {address}, port {port}: {error.strerror or error}",
        allowed="an address of this machine: " + ", ".join([LOOPBACK, *lan_addresses()]),
    )


def _free(address: str) -> int:
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.bind((address, 0))
        return int(probe.getsockname()[1])
