"""Where the stand is served: this machine alone, the network, ports that are taken, no network, IPv6."""

import contextlib
import re
import socket

import pytest

from midifret.clock import RealClock
from midifret.serve import PORT, StandServer, lan_address, lan_addresses
from midifret.serve.addresses import in_order, listening
from midifret.serve.qr import qr_lines
from midifret.stand.access import Access
from midifret.terms import BadInput, Unavailable
from tests.serve.standing import FILES, ScriptedPage, cookie, get, raw, standing


def no_ipv6() -> bool:
    try:
        with socket.socket(socket.AF_INET6) as probe:
            probe.bind(("::1", 0))
    except OSError:
        return True
    return False


def test_by_default_only_this_machine_can_connect() -> None:
    with standing() as server:
        (listening_at,) = {each.getsockname()[0] for each in server_sockets(server)}
        assert listening_at == "127.0.0.1"
        for address in lan_addresses():
            with pytest.raises(OSError), socket.create_connection((address, server.port), timeout=2):  # noqa: PT011
                pass


def server_sockets(server: StandServer) -> list[socket.socket]:
    """The listening sockets of this process at the server's port, by what the system tells of open files."""
    import os
    from pathlib import Path

    folder = Path("/proc/self/fd")
    if not folder.is_dir():
        pytest.skip("no /proc here, which tells the open sockets")
    found: list[socket.socket] = []
    for entry in folder.iterdir():
        with contextlib.suppress(OSError):
            if os.readlink(entry).startswith("socket:"):  # noqa: PTH115
                opened = socket.socket(fileno=os.dup(int(entry.name)))
                if opened.family in (socket.AF_INET, socket.AF_INET6) and opened.getsockopt(
                    socket.SOL_SOCKET, socket.SO_ACCEPTCONN
                ):
                    found.append(opened)
    return [each for each in found if each.getsockname()[1] == server.port]


def test_a_port_that_is_taken_is_named_with_another_to_take() -> None:
    with standing() as first:
        second = StandServer(FILES, Access(lambda n: b"x" * n), RealClock(), port=first.port)
        with pytest.raises(Unavailable) as caught:
            second.start()
        assert f"port {first.port} is taken" in str(caught.value)
        other = re.search(r"--port (\d+)", caught.value.allowed)
        assert other is not None
        with contextlib.closing(listening("127.0.0.1", int(other[1]))):
            pass  # the one that is named is free
        assert get(first, "/")[0] == 403  # the first is not disturbed
        second.stop()


def test_a_second_address_that_cannot_be_leaves_no_socket_of_the_first() -> None:
    server = StandServer(
        FILES, Access(lambda n: b"x" * n), RealClock(), addresses=("127.0.0.1", "192.0.2.77"), port=0
    )
    # 192.0.2.0/24 is for documentation (RFC 5737): no machine has such an address.
    with pytest.raises(Unavailable, match=r"served at 192\.0\.2\.77"):
        server.start()
    with contextlib.closing(listening("127.0.0.1", server.port)):
        pass


def test_the_usual_port_is_none_that_needs_rights() -> None:
    assert 1024 <= PORT < 49152  # the registered ones (RFC 6335, section 6)


def test_the_same_port_can_be_taken_again_at_once() -> None:
    with standing() as first:
        port = first.port
        assert get(first, "/")[0] == 403  # a connection that stays in TIME_WAIT
    with standing(port=port) as second:
        assert second.port == port


@pytest.mark.skipif(no_ipv6(), reason="this machine has no IPv6")
def test_it_serves_ipv6_as_well() -> None:
    with standing(addresses=("127.0.0.1", "::1")) as server:
        host = f"[::1]:{server.port}"
        target = "/?" + server.address("::1").partition("?")[2]
        assert server.address("::1").startswith(f"http://{host}/?key=")
        answer = raw(server, f"GET {target} HTTP/1.1\r\nHost: {host}\r\n\r\n".encode(), address="::1")
        assert answer.startswith(b"HTTP/1.1 303 ")
        assert get(server, "/")[0] == 403
        with ScriptedPage(server, cookie(server)) as page:
            assert page.next()["kind"] == "welcome"


def test_ipv6_that_is_not_asked_for_is_not_served() -> None:
    with standing() as server:
        assert get(server, "/", host=f"[::1]:{server.port}")[0] == 421


@pytest.mark.parametrize(
    ("found", "left"),
    [
        # Private ones by RFC 1918 and RFC 4193; 169.254/16 by RFC 3927.
        (["192.168.1.5", "10.0.0.7", "172.16.3.4"], ["192.168.1.5", "10.0.0.7", "172.16.3.4"]),
        (["fd00::1", "192.168.1.5"], ["192.168.1.5", "fd00::1"]),
        (["127.0.1.1", "0.0.0.0", "::1", "::"], []),
        (["8.8.8.8", "2a00:1450::1"], []),  # reached from anywhere
        (["169.254.3.4"], ["169.254.3.4"]),
        (["fe80::1%eth0", "fe80::2"], []),
        (["192.168.1.5", "192.168.1.5"], ["192.168.1.5"]),
        (["nothing", ""], []),
    ],
)
def test_which_addresses_are_of_the_network_around(found: list[str], left: list[str]) -> None:
    assert in_order(found) == left


def test_of_several_the_likeliest_is_taken_or_the_one_that_is_asked_for() -> None:
    found = ["192.168.1.5", "10.0.0.7", "fd00::1"]
    assert lan_address(None, found=found) == "192.168.1.5"
    assert lan_address("10.0.0.7", found=found) == "10.0.0.7"
    assert lan_address("fd00:0::1", found=found) == "fd00::1"


def test_what_is_no_address_is_told_with_those_there_are() -> None:
    with pytest.raises(BadInput, match="'tablet' is no address") as caught:
        lan_address("tablet", found=["192.168.1.5"])
    assert "192.168.1.5" in caught.value.allowed


def test_without_a_network_it_says_what_to_do() -> None:
    with pytest.raises(Unavailable, match="on no network") as caught:
        lan_address(None, found=[])
    assert "--lan" in caught.value.allowed


def test_the_addresses_of_this_machine_can_be_served_at() -> None:
    for address in lan_addresses():
        with contextlib.closing(listening(address, 0)):
            pass


def test_on_the_network_and_on_this_machine_at_once() -> None:
    addresses = lan_addresses()
    if not addresses:
        pytest.skip("this machine is on no network")
    with standing(lan=True, addresses=("127.0.0.1", addresses[0])) as server:
        host = f"[{addresses[0]}]" if ":" in addresses[0] else addresses[0]
        asked = f"GET / HTTP/1.1\r\nHost: {host}:{server.port}\r\n\r\n".encode()
        answer = raw(server, asked, address=addresses[0])
        assert answer.startswith(b"HTTP/1.1 303 ")
        assert b"\r\nLocation: /pair\r\n" in answer
        # The key is for this machine: by an address of the network it comes from outside, as far as we can
        # tell.
        key = "/?" + server.address().partition("?")[2]
        asked = f"GET {key} HTTP/1.1\r\nHost: {host}:{server.port}\r\n\r\n".encode()
        assert raw(server, asked, address=addresses[0]).startswith(b"HTTP/1.1 403 ")
        assert get(server, key)[0] == 303


def test_a_qr_code_fits_a_small_terminal_and_has_its_corners() -> None:
    lines = qr_lines("http://192.168.178.123:8649/pair#A7K3QM")
    assert len({len(line) for line in lines}) == 1
    assert len(lines) <= 22  # of 24, with room for words
    assert len(lines[0]) <= 80
    # The finder pattern of the standard (ISO/IEC 18004, from memory): 7 dark, 5 light, 3 dark, each in the
    # other.
    assert set(lines[0]) == {"█"}
    assert [line[4:11] for line in lines[2:6]] == [" ▄▄▄▄▄ ", " █   █ ", " █▄▄▄█ ", "▄▄▄▄▄▄▄"]
