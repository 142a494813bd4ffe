"""Pages linked to the real server: refused, told, timed, replaced, slow and lost ones."""

import base64
import contextlib
import json
import random
import socket
import threading
import time
from collections.abc import Iterator

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from midifret import __version__
from midifret.serve import Patience, StandServer
from midifret.serve.link import REPLACED, VIOLATION
from midifret.serve.server import MOST_LINKS
from midifret.stand.codes import Rights
from midifret.stand.latest import MOST_WAITING
from midifret.stand.messages import MOST_BYTES, SCHEMA, Named, Notice, Pressed
from tests.serve.standing import (
    WAIT_S,
    ScriptedPage,
    a_hall,
    a_reading,
    a_screen,
    an_engraving,
    cookie,
    fall_behind,
    standing,
    until,
)


@pytest.fixture
def server() -> Iterator[StandServer]:
    with standing() as started:
        yield started


def refusal(server: StandServer, **headers: str) -> int:
    """Try to open a socket with these headers; returns the status of the answer."""
    origin = headers.pop("origin", None)
    with (
        pytest.raises(InvalidStatus) as caught,
        connect(
            f"ws://127.0.0.1:{server.port}/{headers.pop('path', 'socket')}",
            additional_headers={name.replace("_", "-"): value for name, value in headers.items()},
            origin=origin,  # type: ignore[arg-type]
        ),
    ):
        pass
    return caught.value.response.status_code


# --- who is not let in ----------------------------------------------------------------------------


def test_a_socket_without_pairing_is_refused(server: StandServer) -> None:
    origin = f"http://127.0.0.1:{server.port}"
    assert refusal(server, origin=origin) == 403
    assert refusal(server, origin=origin, cookie=f"midifret-{server.port}=00") == 403


@pytest.mark.parametrize(
    "origin", [None, "null", "http://evil.example", "http://127.0.0.1", "https://127.0.0.1:{p}"]
)
def test_a_socket_of_a_foreign_origin_is_refused(server: StandServer, origin: str | None) -> None:
    headers = {} if origin is None else {"origin": origin.format(p=server.port)}
    assert refusal(server, cookie=cookie(server), **headers) == 403


def test_a_socket_that_another_page_asks_for_is_refused(server: StandServer) -> None:
    origin = f"http://127.0.0.1:{server.port}"
    assert refusal(server, cookie=cookie(server), origin=origin, sec_fetch_site="cross-site") == 403


def test_a_socket_elsewhere_is_refused(server: StandServer) -> None:
    origin = f"http://127.0.0.1:{server.port}"
    assert refusal(server, cookie=cookie(server), origin=origin, path="other") == 404
    assert refusal(server, cookie=cookie(server), origin=origin, path="") == 200  # a page, and no socket


def test_an_unpaired_device_has_no_socket_under_the_name_of_the_pairing_page() -> None:
    with standing(lan=True) as server:
        origin = f"http://127.0.0.1:{server.port}"
        for path in ("socket", "pair/socket", "pair"):
            assert refusal(server, origin=origin, path=path) in (200, 403, 404)
        assert server.viewers == ()


# --- the first message ----------------------------------------------------------------------------


def test_a_page_is_welcomed_and_told_what_there_is(server: StandServer) -> None:
    server.send(a_hall("before"))
    with ScriptedPage(server, cookie(server)) as page:
        assert page.next() == {
            "kind": "welcome",
            "schema": SCHEMA,
            "version": __version__,
            "controls": True,
            "language": "en",
        }
        assert page.next()["notice"] == "before"
        server.send(a_hall("after"))
        assert page.next()["notice"] == "after"
        (viewer,) = server.viewers
        assert (viewer.controls, viewer.sounds, viewer.address) == (True, True, "127.0.0.1")
    until(server, lambda: server.viewers == ())


@pytest.mark.parametrize("schema", [SCHEMA - 1, SCHEMA + 1])
def test_a_page_of_another_program_is_told_to_load_anew(server: StandServer, schema: int) -> None:
    page = ScriptedPage(server, cookie(server), schema=schema)
    told = page.next()
    assert (told["kind"], told["reload"]) == ("refused", True)
    assert "load it anew" in told["words"]
    assert page.close_code() == VIOLATION
    assert server.viewers == ()


def test_who_says_nothing_is_closed() -> None:
    with standing(patience=Patience(hello_s=0.1)) as server:
        page = ScriptedPage(server, cookie(server), greet=False)
        assert page.close_code() is not None


@pytest.mark.parametrize(
    "first",
    [
        json.dumps({"kind": "pressed", "key": "q", "pressed_ms": 1}),
        json.dumps({"kind": "synced", "number": 1, "came_ms": 1, "went_ms": 1}),
        json.dumps({"kind": "hello", "schema": SCHEMA, "viewer": "x" * 33, "sounds": True}),
        json.dumps({"kind": "hello", "schema": SCHEMA, "viewer": "x", "sounds": True, "admin": True}),
        "",
        "hello",
        "[" * 4000,
        "\ud7ff" * 10,
        "\x00",
    ],
)
def test_who_begins_with_something_else_is_refused(server: StandServer, first: str) -> None:
    page = ScriptedPage(server, cookie(server), greet=False)
    page.link.send(first)
    assert page.next()["kind"] == "refused"
    assert page.close_code() == VIOLATION


# --- what a page says -----------------------------------------------------------------------------


def test_what_a_player_presses_arrives_in_order_with_its_time(server: StandServer) -> None:
    with ScriptedPage(server, cookie(server)) as page:
        page.next("welcome")
        before_s = time.perf_counter()
        page.say(kind="pressed", key="n", pressed_ms=page.now_ms())
        page.say(kind="named", name="F sharp", pressed_ms=page.now_ms())
        arrived = server.take(WAIT_S)
        while len(arrived) < 2:
            arrived += server.take(WAIT_S)
        after_s = time.perf_counter()
    assert isinstance(arrived[0].message, Pressed)
    assert isinstance(arrived[1].message, Named)
    assert before_s <= arrived[0].at_s <= arrived[1].at_s <= after_s
    assert {each.viewer for each in arrived} == {"1.one"}
    assert server.take() == []


@pytest.mark.parametrize(
    "said",
    [
        "nonsense",
        json.dumps({"kind": "pressed", "key": "n"}),
        json.dumps({"kind": "pressed", "key": "n", "pressed_ms": -1}),
        '{"kind": "pressed", "key": "n", "pressed_ms": NaN}',
        '{"kind": "pressed", "key": "n", "pressed_ms": 1e999}',
        json.dumps({"kind": "welcome"}),
        json.dumps({"kind": "hello", "schema": SCHEMA, "viewer": "two", "sounds": False}),
        json.dumps([]),
    ],
)
def test_what_is_not_understood_closes_the_link_with_a_reason(server: StandServer, said: str) -> None:
    page = ScriptedPage(server, cookie(server))
    page.next("welcome")
    page.link.send(said)
    told = page.next("refused", answering=False)
    assert told["words"]
    assert "nonsense" not in told["words"]
    assert page.close_code() == VIOLATION
    assert server.take() == []


def test_bytes_are_no_message(server: StandServer) -> None:
    page = ScriptedPage(server, cookie(server))
    page.next("welcome")
    page.link.send(json.dumps({"kind": "pressed", "key": "n", "pressed_ms": 1}).encode())
    assert "no text" in page.next("refused", answering=False)["words"]
    assert page.close_code() == VIOLATION


def test_a_message_too_large_closes_the_link(server: StandServer) -> None:
    for parts in ("x" * (MOST_BYTES + 1), ["x" * 1000] * 5):  # whole, and in fragments
        page = ScriptedPage(server, cookie(server))
        page.next("welcome")
        with contextlib.suppress(ConnectionClosed):
            page.link.send(parts)
        assert page.close_code() == 1009  # too big (RFC 6455, section 7.4.1)
    until(server, lambda: server.viewers == ())


def test_a_flood_of_messages_closes_the_link_with_a_reason(server: StandServer) -> None:
    page = ScriptedPage(server, cookie(server))
    page.next("welcome")
    with contextlib.suppress(ConnectionClosed):
        for _ in range(400):
            page.say(kind="pressed", key="n", pressed_ms=1)
    assert "too much" in page.next("refused", answering=False)["words"]
    assert page.close_code() == VIOLATION
    assert 100 <= len(server.take()) <= 200
    with ScriptedPage(server, cookie(server)) as again:  # who comes back begins anew
        assert again.next()["kind"] == "welcome"


def test_a_flood_of_pings_is_cut_off(server: StandServer) -> None:
    page = ScriptedPage(server, cookie(server))
    page.next("welcome")
    with contextlib.suppress(ConnectionClosed, OSError):
        for _ in range(20_000):
            page.link.ping(random.randbytes(120))
    until(server, lambda: server.viewers == ())


def test_a_flood_is_of_its_page_alone(server: StandServer) -> None:
    let_in = cookie(server)
    with ScriptedPage(server, let_in, viewer="good") as good:
        good.next("welcome")
        bad = ScriptedPage(server, let_in, viewer="bad")
        bad.next("welcome")
        with contextlib.suppress(ConnectionClosed):
            for _ in range(400):
                bad.say(kind="pressed", key="n", pressed_ms=1)
        bad.close_code()
        server.take()
        good.say(kind="pressed", key="q", pressed_ms=1)
        assert [each.viewer for each in server.take(WAIT_S)] == ["1.good"]


def test_what_nobody_takes_does_not_grow(server: StandServer) -> None:
    from midifret.serve.server import Arrived

    for number in range(3000):
        server._arrived.append(Arrived(Pressed("n", number), 0.0, "x"))
    taken = server.take()
    assert len(taken) == 1024
    assert isinstance(taken[-1].message, Pressed)
    assert taken[-1].message.pressed_ms == 2999


# --- who watches ----------------------------------------------------------------------------------


def test_a_watcher_sees_all_and_says_nothing() -> None:
    with standing(lan=True) as server:
        server.send(a_screen(1))
        watcher = ScriptedPage(server, cookie(server, Rights.WATCH), viewer="teacher")
        assert watcher.next("welcome")["controls"] is False
        assert watcher.next("screen")["clock"] == "1"
        for said in (
            {"kind": "pressed", "key": "q", "pressed_ms": 1},
            {"kind": "named", "name": "C", "pressed_ms": 1},
            {"kind": "begin", "what": "drill"},
            {"kind": "painted", "run": 1, "n": 1, "painted_ms": 1, "frame_ms": 16},
            {"kind": "sounding", "ready": True, "output_latency_ms": None, "late": 0},
        ):
            watcher.say(**said)
        server.send(a_screen(2))
        assert watcher.next("screen")["clock"] == "2"
        until(server, lambda: server.sync_figures("1.teacher") is not None)
        assert server.take() == []
        assert [viewer.controls for viewer in server.viewers] == [False]
        watcher.link.close()


def test_a_watcher_cannot_take_the_place_of_the_player() -> None:
    with standing(lan=True) as server:
        player = ScriptedPage(server, cookie(server, Rights.PLAY), viewer="same")
        player.next("welcome")
        watcher = ScriptedPage(server, cookie(server, Rights.WATCH), viewer="same")
        watcher.next("welcome")
        assert len(server.viewers) == 2
        player.say(kind="pressed", key="n", pressed_ms=1)
        assert [each.viewer for each in server.take(WAIT_S)] == ["1.same"]
        for page in (player, watcher):
            page.link.close()


# --- several pages, lost links --------------------------------------------------------------------


def test_two_tabs_of_one_name_are_one_viewer_and_the_newer_holds(server: StandServer) -> None:
    let_in = cookie(server)
    first = ScriptedPage(server, let_in)
    first.next("welcome")
    with ScriptedPage(server, let_in) as second:
        second.next("welcome")
        assert "another tab" in first.next("refused", answering=False)["words"]
        assert first.close_code() == REPLACED
        assert [viewer.ident for viewer in server.viewers] == ["1.one"]
        second.say(kind="pressed", key="n", pressed_ms=1)
        assert len(server.take(WAIT_S)) == 1


def test_two_pages_of_two_names_are_both_told(server: StandServer) -> None:
    let_in = cookie(server)
    with ScriptedPage(server, let_in, viewer="a") as a, ScriptedPage(server, let_in, viewer="b") as b:
        for page in (a, b):
            page.next("welcome")
        server.send(a_screen(7))
        assert a.next("screen") == b.next("screen")
        server.send_to("1.b", Notice("for b", grave=False))
        server.send(Notice("for all", grave=False))
        assert a.next("notice")["words"] == "for all"
        assert b.next("notice")["words"] == "for b"
        server.send_to("nobody", Notice("lost", grave=False))


def test_too_many_pages_are_refused_with_a_reason(server: StandServer) -> None:
    let_in = cookie(server)
    pages = []
    for number in range(MOST_LINKS):
        pages.append(ScriptedPage(server, let_in, viewer=str(number)))
        pages[-1].next("welcome")
    extra = ScriptedPage(server, let_in, viewer="extra")
    assert "Too many" in extra.next("refused", answering=False)["words"]
    again = ScriptedPage(server, let_in, viewer="0")  # a page that is known may come back
    assert again.next()["kind"] == "welcome"
    for page in (*pages, extra, again):
        page.link.close()


def test_who_comes_back_is_told_everything_again(server: StandServer) -> None:
    let_in = cookie(server)
    server.send(a_hall())
    server.send(an_engraving("one"))
    server.send(an_engraving("two"))
    server.send(a_screen(1, reading=a_reading(("n1", "right"), ("n2", "wrong"))))
    server.send(a_screen(2, reading=a_reading(("n2", "right"), ("n3", "right"))))
    for _ in range(2):
        with ScriptedPage(server, let_in) as page:
            assert page.next()["kind"] == "welcome"
            assert [page.next()["name"] for _ in range(2)] == ["one", "two"]
            screen = page.next()
            assert screen["clock"] == "2"
            assert screen["reading"]["whole"] is True
            marks = {mark["ident"]: mark["verdict"] for mark in screen["reading"]["marks"]}
            assert marks == {"n1": "right", "n2": "right", "n3": "right"}
            assert [viewer.ident for viewer in server.viewers] == ["1.one"]
        until(server, lambda: server.viewers == ())
    server.send(a_hall("over"))  # what was engraved for the run goes with it
    with ScriptedPage(server, let_in) as page:
        page.next("welcome")
        assert page.next()["notice"] == "over"


def test_a_page_finds_the_program_again_after_it_was_started_anew() -> None:
    with standing() as first:
        let_in, port = cookie(first), first.port
        kept = first.pairings_to_keep()
        page = ScriptedPage(first, let_in)
        page.next("welcome")
    assert page.close_code() == 1001  # going away (RFC 6455, section 7.4.1)
    with standing(port=port, kept=kept) as second:
        second.send(a_hall("again"))
        with ScriptedPage(second, let_in) as back:
            back.next("welcome")
            assert back.next("hall")["notice"] == "again"


def test_a_dead_link_is_found_by_its_pings() -> None:
    with standing(patience=Patience(ping_s=0.1, pong_s=0.1)) as server:
        opened = socket.create_connection(("127.0.0.1", server.port))
        key = base64.b64encode(b"0123456789abcdef").decode()
        lines = [
            "GET /socket HTTP/1.1",
            f"Host: 127.0.0.1:{server.port}",
            f"Origin: http://127.0.0.1:{server.port}",
            f"Cookie: {cookie(server)}",
            "Upgrade: websocket",
            "Connection: Upgrade",
            f"Sec-WebSocket-Key: {key}",
            "Sec-WebSocket-Version: 13",
        ]
        hello = json.dumps({"kind": "hello", "schema": SCHEMA, "viewer": "x", "sounds": False}).encode()
        frame = bytes([0x81, 0x80 | len(hello), 0, 0, 0, 0]) + hello  # masked with noughts (RFC 6455, 5.2)
        opened.sendall("\r\n".join(lines).encode() + b"\r\n\r\n" + frame)
        until(server, lambda: len(server.viewers) == 1)
        until(server, lambda: server.viewers == ())  # it answered nothing, no ping either
        opened.close()


def test_a_slow_page_gets_the_newest_moment_and_nobody_waits_for_it(server: StandServer) -> None:
    let_in = cookie(server)
    with (
        ScriptedPage(server, let_in, viewer="slow") as slow,
        ScriptedPage(server, let_in, viewer="quick") as quick,
    ):
        for page in (slow, quick):
            page.next("welcome")
        link = server._links["1.slow"]
        fall_behind(server, "1.slow")
        longest_s = 0.0
        for number in range(5000):
            begin_s = time.perf_counter()
            server.send(a_screen(number))
            longest_s = max(longest_s, time.perf_counter() - begin_s)
        while quick.next("screen")["clock"] != "4999":
            pass
        assert len(link._outbox) < 50  # exchanges, and one moment
        assert slow.next("engraving")["name"] == "large"
        clocks = [slow.next("screen")["clock"]]
        while clocks[-1] != "4999":
            clocks.append(slow.next("screen")["clock"])
        assert len(clocks) < 100
        assert longest_s < 0.25  # of 5000 calls while another thread works: nothing waits for a page


def test_marks_that_a_slow_page_missed_come_with_the_newest_moment(server: StandServer) -> None:
    with ScriptedPage(server, cookie(server)) as page:
        page.next("welcome")
        fall_behind(server, "1.one")
        for number in range(300):
            server.send(a_screen(number, reading=a_reading((f"n{number}", "right"))))
        marks: dict[str, str] = {}
        clock, moments = "", 0
        while clock != "299":
            screen = page.next("screen")
            clock, moments = screen["clock"], moments + 1
            marks |= {mark["ident"]: mark["verdict"] for mark in screen["reading"]["marks"]}
        assert len(marks) == 300
        assert moments < 30


def test_a_page_beyond_hope_is_closed(server: StandServer) -> None:
    page = ScriptedPage(server, cookie(server))
    page.next("welcome")
    fall_behind(server, "1.one")
    for number in range(MOST_WAITING + 10):
        server.send_to("1.one", Notice(str(number), grave=False))
    until(server, lambda: server.viewers == ())
    page.link.close()


def test_what_cannot_be_written_ends_the_links_and_not_the_server(server: StandServer) -> None:
    page = ScriptedPage(server, cookie(server))
    page.next("welcome")
    server.send_to("1.one", Notice(words=b"\xff", grave=False))  # type: ignore[arg-type]
    until(server, lambda: server.viewers == ())
    with ScriptedPage(server, cookie(server)) as again:
        assert again.next()["kind"] == "welcome"
    page.link.close()


# --- its clock ------------------------------------------------------------------------------------


def test_the_clock_of_a_page_is_known_after_the_first_exchanges(server: StandServer) -> None:
    with ScriptedPage(server, cookie(server), offset_ms=123_456_789.0) as page:
        page.next("welcome")
        ident = server.viewers[0].ident
        assert server.to_run_s(ident, page.now_ms()) is None
        for _ in range(12):
            page.next("sync")
        until(server, lambda: (figures := server.sync_figures(ident)) is not None and figures.exchanges >= 12)
        now_s = time.perf_counter()
        there = server.to_page_ms(ident, now_s)
        back = server.to_run_s(ident, now_s * 1000 + page.offset_ms)
        assert there is not None
        assert back is not None
        # One clock in truth; twenty milliseconds are for a machine that others use.
        assert abs(there.time_ms - now_s * 1000 - page.offset_ms) <= there.error_ms < 20
        assert abs(back.time_s - now_s) <= back.error_s < 0.02
        answered_s = server.viewers[0].answered_s
        assert answered_s is not None
        assert answered_s <= time.perf_counter()


def test_a_page_that_reloads_has_another_clock(server: StandServer) -> None:
    let_in = cookie(server)
    for offset_ms in (5e6, 0.0):
        with ScriptedPage(server, let_in, offset_ms=offset_ms) as page:
            for _ in range(5):
                page.next("sync")
            until(
                server,
                lambda: (figures := server.sync_figures("1.one")) is not None and figures.exchanges >= 4,
            )
            there = server.to_page_ms("1.one", time.perf_counter())
            assert there is not None
            assert abs(there.time_ms - page.now_ms()) < 50
        until(server, lambda: server.viewers == ())


def test_a_page_clock_that_jumps_is_asked_again_at_once(server: StandServer) -> None:
    with ScriptedPage(server, cookie(server)) as page:
        for _ in range(13):
            page.next("sync")
        page.offset_ms += 60_000
        begin_s = time.perf_counter()
        for _ in range(10):  # a second until the next, then a burst
            page.next("sync")
        assert time.perf_counter() - begin_s < 5
        until(
            server, lambda: (figures := server.sync_figures("1.one")) is not None and figures.exchanges >= 8
        )
        figures = server.sync_figures("1.one")
        assert figures is not None
        assert figures.jumps == 1
        there = server.to_page_ms("1.one", time.perf_counter())
        assert there is not None
        assert abs(there.time_ms - page.now_ms()) < 50


def test_answers_that_nobody_asked_for_say_nothing(server: StandServer) -> None:
    with ScriptedPage(server, cookie(server)) as page:
        page.next("welcome")
        for number in (0, -1, 10**6, 10**6):
            page.say(kind="synced", number=number, came_ms=1.0, went_ms=2.0)
        page.say(kind="pressed", key="n", pressed_ms=1)
        assert len(server.take(WAIT_S)) == 1
        assert server.to_run_s("1.one", 1.5) is None


def test_small_messages_go_at_once(server: StandServer) -> None:
    # Otherwise one that follows another waits for its confirmation, up to 40 ms (RFC 896, RFC 1122).
    with ScriptedPage(server, cookie(server)) as page:
        page.next("welcome")
        opened = server._links["1.one"].connection.transport.get_extra_info("socket")
        assert opened.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) != 0


# --- threads --------------------------------------------------------------------------------------


def test_any_thread_may_tell_and_ask(server: StandServer) -> None:
    with ScriptedPage(server, cookie(server)) as page:
        page.next("welcome")
        failed: list[BaseException] = []

        def work(number: int) -> None:
            try:
                for step in range(200):
                    server.send(Notice(f"{number}.{step}", grave=False))
                    assert len(server.viewers) == 1
                    server.to_run_s("1.one", 1.0)
                    server.take()
            except BaseException as error:
                failed.append(error)

        threads = [threading.Thread(target=work, args=(number,)) for number in range(4)]
        for thread in threads:
            thread.start()
        told = [page.next("notice")["words"] for _ in range(800)]
        for thread in threads:
            thread.join()
        assert not failed
        for number in range(4):  # of each thread in its order
            assert [each for each in told if each.startswith(f"{number}.")] == [
                f"{number}.{s}" for s in range(200)
            ]


def test_before_the_start_and_after_the_end_nothing_happens(server: StandServer) -> None:
    server.send(a_hall())
    server.stop()
    server.stop()
    server.send(a_hall())
    server.send_to("1.one", a_hall())
    assert server.viewers == ()
    assert server.take() == []
    assert not [thread for thread in threading.enumerate() if thread.name == "stand" and thread.is_alive()]
