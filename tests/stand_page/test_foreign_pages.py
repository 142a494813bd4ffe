"""What pages of others can do to the stand in a browser that was let in: nothing."""

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import Any

import pytest

from tests.stand_page.scripted import Stand


class _Foreign(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.end_headers()
        self.wfile.write(b"<!doctype html><title>foreign</title>")

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing."""


@pytest.fixture
def foreign(stand: Stand) -> Iterator[Any]:
    """A page of another program in the same browser: another port of this machine, where cookies go too."""
    page = stand.page()
    assert page.title()
    server = HTTPServer(("127.0.0.1", 0), _Foreign)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    other = page.context.new_page()
    other.goto(f"http://127.0.0.1:{server.server_port}/")
    yield other
    server.shutdown()
    server.server_close()


def test_the_key_is_gone_from_the_address_and_no_script_sees_the_cookie(stand: Stand) -> None:
    page = stand.page()
    assert "key" not in page.url
    assert page.evaluate("history.length") <= 2
    assert page.evaluate("document.cookie") == ""
    assert [cookie["httpOnly"] for cookie in page.context.cookies()] == [True]
    assert [cookie["sameSite"] for cookie in page.context.cookies()] == ["Strict"]


def test_the_page_is_isolated_and_so_has_the_finer_clock(stand: Stand) -> None:
    assert stand.page().evaluate("crossOriginIsolated") is True


def test_a_foreign_page_opens_no_socket(stand: Stand, foreign: Any) -> None:
    before = len(stand.server.viewers)
    opened = foreign.evaluate(
        """(port) => new Promise((done) => {
            const socket = new WebSocket(`ws://127.0.0.1:${port}/socket`);
            socket.onopen = () => done("opened");
            socket.onclose = () => done("refused");
        })""",
        stand.server.port,
    )
    assert opened == "refused"
    assert len(stand.server.viewers) == before


@pytest.mark.parametrize("mode", ["cors", "no-cors"])
@pytest.mark.parametrize("path", ["/", "/main.js", "/report"])
def test_a_foreign_page_reads_nothing(stand: Stand, foreign: Any, mode: str, path: str) -> None:
    read = foreign.evaluate(
        """([address, mode]) => fetch(address, {credentials: "include", mode})
            .then((answer) => answer.text()).catch(() => "refused")""",
        [f"http://127.0.0.1:{stand.server.port}{path}", mode],
    )
    assert read in ("refused", "")


def test_a_foreign_page_tries_no_codes(stand: Stand, foreign: Any) -> None:
    read = foreign.evaluate(
        """(address) => fetch(address, {headers: {"midifret-code": "AAAAAA"}})
            .then((answer) => `${answer.status}`).catch(() => "refused")""",
        f"http://127.0.0.1:{stand.server.port}/pair/try",
    )
    assert read == "refused"


def test_a_foreign_page_shows_the_stand_in_no_frame(stand: Stand, foreign: Any) -> None:
    before = len(stand.server.viewers)
    foreign.evaluate(
        """(address) => new Promise((done) => {
            const frame = document.createElement("iframe");
            frame.src = address;
            frame.onload = done;
            document.body.append(frame);
        }).then(() => null)""",
        f"http://127.0.0.1:{stand.server.port}/",
    )
    assert len(stand.server.viewers) == before
    assert not [frame for frame in foreign.frames if frame.query_selector("main, [role=main]")]


def test_a_foreign_page_leads_nobody_in_by_a_link(stand: Stand, foreign: Any) -> None:
    with foreign.expect_navigation() as gone:
        foreign.evaluate(
            "(address) => { location.href = address; }", f"http://127.0.0.1:{stand.server.port}/"
        )
    assert gone.value.status == 403
