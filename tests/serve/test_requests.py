"""The real server answers files to whom it should, and nothing to anybody else: raw bytes over 127.0.0.1."""

import contextlib
import json
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from midifret.serve import Page, Patience, StandServer, read_files
from midifret.serve.connection import MOST_REQUEST_BYTES, Counted
from midifret.stand.codes import Rights
from midifret.terms import Unavailable
from tests.serve.standing import FILES, cookie, get, raw, standing, until

SECRET = b"nobody may read this"


@pytest.fixture(scope="module")
def server() -> Iterator[StandServer]:
    with standing() as started:
        yield started


@pytest.fixture(scope="module")
def let_in(server: StandServer) -> str:
    return cookie(server)


def test_the_key_brings_a_cookie_and_a_way_on_without_it(server: StandServer) -> None:
    status, headers, _ = get(server, "/?" + server.address().partition("?")[2])
    assert (status, headers["location"]) == (303, "/")
    assert headers["cache-control"] == "no-store"
    status, _, body = get(server, "/", cookie=headers["set-cookie"].partition(";")[0])
    assert (status, body) == (200, FILES["/"].body)


def test_a_browser_is_started_with_a_key_that_holds_once(server: StandServer) -> None:
    target = "/?" + server.address_for_once().partition("?")[2]
    assert [get(server, target)[0] for _ in range(2)] == [303, 403]


def test_without_it_nothing_is_served(server: StandServer) -> None:
    for path in (*FILES, "/socket", "/favicon.ico"):
        status, _, body = get(server, path)
        assert status == 403
        assert b"doctype" not in body


def test_what_is_put_is_served_with_its_style(server: StandServer, let_in: str) -> None:
    assert get(server, "/report", cookie=let_in)[0] == 404
    server.put("/report", Page(b"<style></style>", "text/html; charset=utf-8", styled=True))
    status, headers, body = get(server, "/report", cookie=let_in)
    assert (status, body) == (200, b"<style></style>")
    policy = headers["content-security-policy"]
    assert "style-src 'unsafe-inline'" in policy
    assert "script-src" not in policy
    assert "default-src 'none'" in policy


@pytest.mark.parametrize(
    ("target", "more"),
    [
        ("/", True),
        ("/main.js", True),
        ("/nothing", True),
        ("/", False),
        ("/?key=wrong", False),
        ("/?" + "KEY", False),
        ("/socket", True),
    ],
)
def test_every_answer_has_the_headers_that_keep_it_in(
    server: StandServer, let_in: str, target: str, more: bool
) -> None:
    target = target.replace("KEY", server.address().partition("?")[2])
    _, headers, body = get(server, target, **({"cookie": let_in} if more else {}))
    policy = headers["content-security-policy"]
    assert "default-src 'self'" in policy or "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["x-frame-options"] == "DENY"
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["cache-control"] == "no-store"
    assert int(headers["content-length"]) == len(body)
    assert "server" not in headers
    assert "access-control-allow-origin" not in headers


def test_the_page_may_connect_to_its_own_host_alone(server: StandServer, let_in: str) -> None:
    host = f"localhost:{server.port}"
    policy = get(server, "/", host=host, cookie=let_in)[1]["content-security-policy"]
    assert f"connect-src 'self' ws://{host};" in policy


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1:1", "[::1]:{port}", "x" * 300]
)
def test_a_foreign_host_is_refused(server: StandServer, let_in: str, host: str) -> None:
    status, _, body = get(server, "/", host=host.format(port=server.port), cookie=let_in)
    assert status == 421
    assert b"doctype" not in body


def test_a_second_host_is_refused(server: StandServer, let_in: str) -> None:
    request = (
        f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nHost: evil.example\r\nCookie: {let_in}\r\n\r\n"
    )
    assert raw(server, request.encode()).startswith(b"HTTP/1.1 421 ")


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_request_of_another_page_is_refused(server: StandServer, let_in: str, site: str) -> None:
    for target in ("/", "/main.js", "/?" + server.address().partition("?")[2]):
        assert get(server, target, cookie=let_in, sec_fetch_site=site)[0] == 403


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "HEAD", "OPTIONS", "PATCH", "TRACE", "CONNECT"])
def test_other_methods_than_get_are_refused(server: StandServer, let_in: str, method: str) -> None:
    status, headers, _ = get(server, "/", method=method, cookie=let_in)
    assert (status, headers["allow"]) == (405, "GET")


def test_a_preflight_is_refused_so_that_no_other_page_tries_codes() -> None:
    with standing(lan=True) as server:
        status, headers, _ = get(
            server,
            "/pair/try",
            method="OPTIONS",
            origin="http://evil.example",
            access_control_request_method="GET",
            access_control_request_headers="midifret-code",
        )
        assert status == 405
        assert not [name for name in headers if name.startswith("access-control")]


@pytest.mark.parametrize(
    "target",
    [
        "/../secret.txt",
        "/..%2fsecret.txt",
        "/%2e%2e/secret.txt",
        "/%2e%2e%2fsecret.txt",
        "/..\\secret.txt",
        "/%5c..%5csecret.txt",
        "/main.js/../../secret.txt",
        "//secret.txt",
        "/./secret.txt",
        "/secret.txt%00.js",
        "/secret.txt",
        "secret.txt",
        "../secret.txt",
        "file:///etc/passwd",
        "/etc/passwd",
        "//etc/passwd",
        "http://127.0.0.1/secret.txt",
        "/main.js%00",
        "/main.js?x",
        "/MAIN.JS",
        "*",
        "",
    ],
)
def test_no_path_leads_out_of_the_folder(tmp_path: Path, target: str) -> None:
    folder = tmp_path / "web"
    folder.mkdir()
    (tmp_path / "secret.txt").write_bytes(SECRET)
    (folder / "secret.txt").write_bytes(SECRET)  # of a kind that is not served
    (folder / "index.html").write_bytes(b"page")
    (folder / "main.js").write_bytes(b"script")
    with standing() as server:
        for path, page in read_files(folder).items():
            server.put(path, page)
        let_in = cookie(server)
        assert get(server, "/main.js", cookie=let_in)[2] == b"script"
        status, _, body = get(server, target, cookie=let_in)
        assert status in (0, 404)
        assert SECRET not in body
        assert b"script" not in body


def test_links_in_the_folder_are_read_once_and_never_again(tmp_path: Path) -> None:
    (tmp_path / "index.html").write_bytes(b"page")
    (tmp_path / "main.js").write_bytes(b"script")
    pages = read_files(tmp_path)
    (tmp_path / "main.js").write_bytes(b"other")
    assert set(pages) == {"/", "/index.html", "/main.js"}
    assert pages["/main.js"].body == b"script"
    (tmp_path / "index.html").unlink()
    with pytest.raises(Unavailable, match="not in"):
        read_files(tmp_path)


@pytest.mark.parametrize(
    "data",
    [
        b"\r\n\r\n",
        b"GET\r\n\r\n",
        b"GET /\r\n\r\n",
        b"GET / HTTP/2\r\n\r\n",
        b"GET / HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost\r\n\r\n",
        b"GET / HTTP/1.1\r\nHo st: 127.0.0.1\r\n\r\n",
        b"GET /\xff HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",  # a browser that tries https
        b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 5\r\n\r\nhello",
        b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        b"\x00" * 1000,
    ],
)
def test_what_is_no_request_gets_nothing(data: bytes) -> None:
    with standing(patience=Patience(open_s=0.3)) as server:
        answer = raw(server, data)
        assert not answer.startswith((b"HTTP/1.1 2", b"HTTP/1.1 3", b"HTTP/1.1 101"))
        assert get(server, "/")[0] == 403  # it serves on


@pytest.mark.parametrize(
    "data",
    [
        b"GET /" + b"x" * MOST_REQUEST_BYTES,
        b"GET / HTTP/1.1\r\n" + b"A: b\r\n" * (MOST_REQUEST_BYTES // 4),
        b"GET / HTTP/1.1\r\nCookie: " + b"x" * 2_000_000,
    ],
)
def test_a_request_too_large_is_cut_off(server: StandServer, data: bytes) -> None:
    answer = raw(server, data)
    assert not answer.startswith(b"HTTP/1.1 2")
    until(server, lambda: len(server._counted) == 0)
    assert get(server, "/")[0] == 403


def test_a_request_that_is_whole_but_too_large_is_cut_off(server: StandServer, let_in: str) -> None:
    # Lines that the library would take, each and all.
    more = {f"x{number}": "x" * 400 for number in range(50)}
    assert get(server, "/", cookie=let_in, **more)[0] == 0
    assert get(server, "/", cookie=let_in, **dict(list(more.items())[:10]))[0] == 200


def test_who_sends_a_request_drop_by_drop_is_cut_off() -> None:
    with standing(patience=Patience(open_s=0.2)) as server:
        waiting = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(20)]
        for opened in waiting:
            opened.sendall(b"GET / HTTP/1.1\r\nHost: 127")
        assert get(server, "/")[0] == 403  # others are answered meanwhile
        for opened in waiting:
            opened.settimeout(5)
            with contextlib.suppress(ConnectionResetError):
                assert opened.recv(1) == b""
            opened.close()
        until(server, lambda: len(server._counted) == 0)


def test_who_does_not_read_the_answer_is_cut_off() -> None:
    with standing(patience=Patience(open_s=0.3)) as server:
        let_in = cookie(server)
        opened = socket.create_connection(("127.0.0.1", server.port))
        request = f"GET /large HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nCookie: {let_in}\r\n\r\n"
        opened.sendall(request.encode())
        until(server, lambda: len(server._counted) == 1)
        until(server, lambda: len(server._counted) == 0)
        opened.close()


def test_a_large_answer_comes_whole(server: StandServer, let_in: str) -> None:
    assert get(server, "/large", cookie=let_in)[2] == FILES["/large"].body


def test_too_many_connections_are_closed_and_the_others_go_on() -> None:
    with standing() as server:
        let_in = cookie(server)
        until(server, lambda: len(server._counted) == 0)
        opened = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(Counted.MOST_OF_ONE)]
        until(server, lambda: len(server._counted) == Counted.MOST_OF_ONE)
        assert get(server, "/", cookie=let_in)[0] == 0
        opened.pop().close()
        until(server, lambda: len(server._counted) < Counted.MOST_OF_ONE)
        assert get(server, "/", cookie=let_in)[0] == 200
        for each in opened:
            each.close()


def test_a_flood_of_requests_is_answered_with_a_wait() -> None:
    with standing() as server:
        let_in = cookie(server)
        answers = [get(server, "/main.js", cookie=let_in) for _ in range(1200)]
        waiting = [headers for status, headers, _ in answers if status == 429]
        assert waiting
        assert int(waiting[0]["retry-after"]) >= 1


# --- pairing --------------------------------------------------------------------------------------


def test_pairing_over_real_requests() -> None:
    with standing(lan=True) as server:
        assert get(server, "/")[1]["location"] == "/pair"
        assert get(server, "/pair")[2] == FILES["/pair"].body
        assert get(server, "/main.js")[0] == 403
        code = server.code(Rights.WATCH)
        assert server.pairing_address("192.168.1.5", code).endswith(f":{server.port}/pair#{code.text}")
        status, headers, body = get(server, "/pair/try", midifret_code=code.shown)
        told = json.loads(body)
        assert (status, told["paired"], told["rights"]) == (200, True, "watch")
        assert "HttpOnly" in headers["set-cookie"]
        assert get(server, "/main.js", cookie=headers["set-cookie"].partition(";")[0])[0] == 200
        assert server.code(Rights.WATCH).text != code.text
        status, _, body = get(server, "/pair/try", midifret_code=code.text)
        assert (status, json.loads(body)["paired"]) == (403, False)


def test_guessing_codes_comes_to_a_wait() -> None:
    with standing(lan=True) as server:
        for number in range(5):
            status, headers, body = get(server, "/pair/try", midifret_code="AAAAAA")
            assert status == 403
            assert (json.loads(body)["wait_s"] > 0) is (number == 4)
        assert int(headers["retry-after"]) >= 10
        right = server.code(Rights.PLAY).text
        status, _, body = get(server, "/pair/try", midifret_code=right)
        assert status == 429
        assert 0 < json.loads(body)["wait_s"] <= 10
        assert "set-cookie" not in headers


def test_pairings_to_keep_are_told_once_after_each_change() -> None:
    with standing(lan=True) as server:
        assert server.pairings_to_keep() is None
        cookie(server, Rights.PLAY)
        kept = server.pairings_to_keep()
        assert kept is not None
        assert [pairing.rights for pairing in kept] == [Rights.PLAY]
        assert server.pairings_to_keep() is None
