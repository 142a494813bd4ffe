"""Who is let in: hosts, origins, keys, codes, cookies and rates, by injected time and randomness."""

import random
from dataclasses import replace

import pytest

from midifret.stand.access import (
    CODE_HEADER,
    KEPT_DAYS,
    MOST_PAIRED,
    Access,
    Asked,
    Denied,
    Granted,
    Paired,
    address_group,
    is_this_machine,
)
from midifret.stand.codes import ALPHABET, HOLDS_S, LENGTH, SHOWN_S, Codes, Rights
from midifret.stand.rates import Guesses, TokenBucket

HERE, THERE = "127.0.0.1", "192.168.1.20"
HOST, LAN_HOST = "127.0.0.1:8649", "192.168.1.5:8649"


def access(*, lan: bool = False, seed: int = 1, day: int = 20_000, kept: object = ()) -> Access:
    made = Access(random.Random(seed).randbytes, lan=lan, day=day, kept=kept)  # type: ignore[arg-type]
    made.reached_at(["127.0.0.1", "192.168.1.5"] if lan else ["127.0.0.1"], 8649)
    return made


def asked(target: str = "/", *, host: str = HOST, address: str = HERE, **headers: str) -> Asked:
    more = tuple((name.replace("_", "-"), value) for name, value in headers.items())
    return Asked("GET", target, (("Host", host), *more), address)


def cookie_of(found: Paired) -> str:
    return found.cookie.partition(";")[0]


def let_in(guard: Access) -> str:
    """The cookie of a page that came with the key."""
    found = guard.judge(asked(f"/?key={guard.key}"), 0.0)
    assert isinstance(found, Paired)
    return cookie_of(found)


def paired(guard: Access, rights: Rights = Rights.PLAY, now_s: float = 0.0) -> str:
    code = guard.code(rights, now_s)
    found = guard.judge(tried(code.text), now_s)
    assert isinstance(found, Paired), found
    assert found.rights is rights
    return cookie_of(found)


def tried(code: str, *, address: str = THERE) -> Asked:
    return asked("/pair/try", host=LAN_HOST, address=address, midifret_code=code)


def status(found: object) -> int:
    assert isinstance(found, Denied), found
    return found.status


# --- this machine alone ---------------------------------------------------------------------------


def test_the_key_becomes_a_cookie_and_leaves_the_address() -> None:
    guard = access()
    found = guard.judge(asked(f"/?key={guard.key}"), 0.0)
    assert isinstance(found, Paired)
    assert found.to == "/"
    # RFC 6265: no script reads it, no other site's page sends it.
    parts = {part.strip() for part in found.cookie.split(";")}
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= parts
    assert guard.key not in found.cookie
    assert isinstance(guard.judge(asked(cookie=cookie_of(found)), 1.0), Granted)


def test_key_and_cookie_cannot_be_guessed() -> None:
    # 128 bits are the least that is called unguessable (OWASP Session Management: 64; NIST SP 800-63B: 112,
    # both from memory).
    guard = access()
    assert len(bytes.fromhex(guard.key)) * 8 >= 128
    assert len(bytes.fromhex(let_in(guard).partition("=")[2])) * 8 >= 128
    assert access(seed=2).key != guard.key


@pytest.mark.parametrize("target", ["/", "/index.html", "/pair", "/socket", "/report", "/?key=", "/?key=00"])
def test_without_key_or_cookie_nothing_is_served(target: str) -> None:
    found = access().judge(asked(target, origin=f"http://{HOST}"), 0.0)
    assert status(found) == 403


def test_no_code_opens_what_is_for_this_machine_alone() -> None:
    guard = access()
    code = guard.code(Rights.PLAY, 0.0).text
    assert status(guard.judge(asked("/pair/try", midifret_code=code), 0.0)) == 404


def test_the_key_of_another_start_is_refused() -> None:
    assert status(access(seed=1).judge(asked(f"/?key={access(seed=2).key}"), 0.0)) == 403


def test_a_key_for_once_lets_in_once_and_only_soon() -> None:
    guard = access()
    first, second = guard.key_for_once(0.0), guard.key_for_once(0.0)
    found = guard.judge(asked(f"/?key={first}"), 1.0)
    assert isinstance(found, Paired)
    assert status(guard.judge(asked(f"/?key={first}"), 1.0)) == 403
    # The browser that was let in may ask again, as some do, and goes on.
    again = guard.judge(asked(f"/?key={first}", cookie=cookie_of(found)), 1.0)
    assert isinstance(again, Denied)
    assert (again.status, again.to) == (303, "/")
    assert status(guard.judge(asked(f"/?key={second}"), 121.0)) == 403
    assert isinstance(guard.judge(asked(f"/?key={guard.key}"), 121.0), Paired)  # the printed one holds on


def test_the_key_is_not_taken_over_the_network() -> None:
    guard = access(lan=True)
    for key in (guard.key, guard.key_for_once(0.0)):
        assert status(guard.judge(asked(f"/?key={key}", host=LAN_HOST, address=THERE), 0.0)) == 403


@pytest.mark.parametrize(
    "host",
    [
        "evil.example:8649",  # DNS rebinding: its name leads to 127.0.0.1
        "127.0.0.1.evil.example:8649",
        "127.0.0.1",  # another port than ours
        "127.0.0.1:80",
        "127.0.0.1:8649.evil.example",
        "[::1]:8649",  # not served there
        "0.0.0.0:8649",
        "192.168.1.5:8649",  # not with --lan
        "user@127.0.0.1:8649",
        "",
    ],
)
def test_a_foreign_host_is_refused_even_with_the_cookie(host: str) -> None:
    guard = access()
    cookie = let_in(guard)
    assert status(guard.judge(asked(host=host, cookie=cookie), 0.0)) == 421
    assert status(guard.judge(asked(f"/?key={guard.key}", host=host), 0.0)) == 421


def test_no_host_or_two_are_refused() -> None:
    guard = access()
    cookie = ("Cookie", let_in(guard))
    for hosts in ((), (("Host", HOST), ("host", HOST)), (("Host", HOST), ("Host", "evil.example"))):
        assert status(guard.judge(Asked("GET", "/", (*hosts, cookie), HERE), 0.0)) == 421


def test_this_machine_has_two_names() -> None:
    guard = access()
    cookie = let_in(guard)
    for host in (HOST, "localhost:8649", "LocalHost:8649"):
        assert isinstance(guard.judge(asked(host=host, cookie=cookie), 0.0), Granted)


def test_on_port_80_the_host_has_no_port() -> None:
    guard = Access(random.Random(1).randbytes)
    guard.reached_at(["127.0.0.1"], 80)
    assert isinstance(guard.judge(asked(f"/?key={guard.key}", host="127.0.0.1"), 0.0), Paired)


def test_an_address_of_ipv6_stands_in_brackets() -> None:
    guard = Access(random.Random(1).randbytes)
    guard.reached_at(["::1", "fd00::5"], 8649)
    for host in ("[::1]:8649", "[fd00::5]:8649"):
        found = guard.judge(asked(f"/?key={guard.key}", host=host, address="::1"), 0.0)
        assert isinstance(found, Paired)


@pytest.mark.parametrize(
    "origin",
    [
        None,
        "null",  # a file, a sandboxed frame
        "http://evil.example",
        "https://127.0.0.1:8649",
        "http://127.0.0.1",
        "http://127.0.0.1:9000",
        "http://localhost:8649",  # the page's own host is the other name
        "http://127.0.0.1:8649/",
        f"http://{HOST}, http://evil.example",
    ],
)
def test_a_socket_of_another_origin_is_refused(origin: str | None) -> None:
    guard = access()
    headers = {"cookie": let_in(guard), **({} if origin is None else {"origin": origin})}
    assert status(guard.judge(asked("/socket", **headers), 0.0)) == 403


def test_a_socket_of_the_page_itself_is_granted() -> None:
    guard = access()
    cookie = let_in(guard)
    for host in (HOST, "localhost:8649"):
        found = guard.judge(asked("/socket", host=host, cookie=cookie, origin=f"http://{host}"), 0.0)
        assert isinstance(found, Granted)
        assert found.rights is Rights.PLAY


@pytest.mark.parametrize(
    ("site", "granted"),
    [("none", True), ("same-origin", True), ("same-site", False), ("cross-site", False), ("?", False)],
)
def test_requests_that_another_page_made_are_refused(site: str, granted: bool) -> None:
    # Fetch Metadata Request Headers (W3C): these four values.
    guard = access()
    found = guard.judge(asked(cookie=let_in(guard), sec_fetch_site=site), 0.0)
    assert isinstance(found, Granted) is granted


@pytest.mark.parametrize(
    "method", ["POST", "HEAD", "OPTIONS", "PUT", "DELETE", "CONNECT", "TRACE", "get", ""]
)
def test_other_methods_are_refused(method: str) -> None:
    guard = access()
    found = guard.judge(replace(asked(cookie=let_in(guard)), method=method), 0.0)
    assert status(found) == 405


@pytest.mark.parametrize("cookie", ["", "midifret-8649", "midifret-8649=", "midifret-8649=00", "x=1; y=2"])
def test_other_cookies_let_nobody_in(cookie: str) -> None:
    guard = access()
    let_in(guard)
    assert status(guard.judge(asked(cookie=cookie), 0.0)) == 403


def test_the_cookie_of_another_port_is_not_taken() -> None:
    # Cookies of one host are sent to every port of it (RFC 6265, section 8.5).
    guard = access()
    token = let_in(guard).partition("=")[2]
    assert status(guard.judge(asked(cookie=f"midifret-9000={token}"), 0.0)) == 403
    assert isinstance(guard.judge(asked(cookie=f"midifret-9000=1; midifret-8649={token}"), 0.0), Granted)


def test_too_many_requests_have_to_wait() -> None:
    guard = access()
    cookie = let_in(guard)
    answers = [guard.judge(asked(cookie=cookie), 0.0) for _ in range(600)]
    assert [isinstance(each, Granted) for each in answers] == [True] * 499 + [False] * 101
    assert status(answers[-1]) == 429
    assert isinstance(guard.judge(asked(cookie=cookie), 1.0), Granted)
    # The flood of one address does not shut out another.
    many = [guard.judge(asked(cookie=cookie, address=f"10.0.{n // 256}.{n % 256}"), 1.0) for n in range(2000)]
    assert all(isinstance(each, Granted) for each in many)
    assert len(guard._requests) <= 256


# --- on the network -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("target", "answer"),
    [
        ("/", 303),
        ("/index.html", 403),
        ("/main.js", 403),
        ("/report", 403),
        ("/socket", 403),
        ("/../index.html", 403),
        ("/pair/../index.html", None),  # a name that no file has: nothing is ever decoded or resolved
        ("/pair", None),
        ("/pair.js", None),
        ("/pair.css", None),
    ],
)
def test_before_pairing_only_the_pairing_page_is_open(target: str, answer: int | None) -> None:
    found = access(lan=True).judge(
        asked(target, host=LAN_HOST, address=THERE, origin=f"http://{LAN_HOST}"), 0.0
    )
    if answer is None:
        assert isinstance(found, Granted)
        assert found.rights is None
    else:
        assert status(found) == answer
        assert isinstance(found, Denied)
        assert found.to == ("/pair" if answer == 303 else "")


def test_a_code_lets_in_once() -> None:
    guard = access(lan=True)
    code = guard.code(Rights.PLAY, 0.0)
    found = guard.judge(tried(code.text), 1.0)
    assert isinstance(found, Paired)
    assert status(guard.judge(tried(code.text), 2.0)) == 403
    assert guard.code(Rights.PLAY, 2.0).text != code.text
    granted = guard.judge(
        asked("/socket", host=LAN_HOST, address=THERE, cookie=cookie_of(found), origin=f"http://{LAN_HOST}"),
        3.0,
    )
    assert isinstance(granted, Granted)
    assert granted.rights is Rights.PLAY


def test_one_code_is_for_playing_and_one_for_watching() -> None:
    guard = access(lan=True)
    assert guard.code(Rights.PLAY, 0.0).text != guard.code(Rights.WATCH, 0.0).text
    for rights in Rights:
        cookie = paired(guard, rights)
        found = guard.judge(asked(host=LAN_HOST, address=THERE, cookie=cookie), 0.0)
        assert isinstance(found, Granted)
        assert found.rights is rights


def test_a_code_is_typed_as_people_type() -> None:
    guard = access(lan=True)
    code = guard.code(Rights.PLAY, 0.0)
    assert isinstance(guard.judge(tried(f" {code.shown.lower()} "), 0.0), Paired)


@pytest.mark.parametrize("typed", ["", "-", "A" * 33, "A" * 5000, "ÄÖÜ", "' or 1=1"])
def test_what_is_no_code_lets_nobody_in(typed: str) -> None:
    assert status(access(lan=True).judge(tried(typed), 0.0)) == 403


def test_two_codes_at_once_are_no_code() -> None:
    guard = access(lan=True)
    right = guard.code(Rights.PLAY, 0.0).text
    both = replace(tried(right), headers=(("Host", LAN_HOST), (CODE_HEADER, right), (CODE_HEADER, "AAAAAA")))
    assert status(guard.judge(both, 0.0)) == 403


def test_a_code_in_the_address_is_not_taken() -> None:
    guard = access(lan=True)
    code = guard.code(Rights.PLAY, 0.0).text
    for target in (f"/pair/try?code={code}", f"/pair?code={code}", f"/?code={code}"):
        assert status(guard.judge(asked(target, host=LAN_HOST, address=THERE), 0.0)) == 404


def test_a_page_of_another_site_cannot_try_codes() -> None:
    guard = access(lan=True)
    right = guard.code(Rights.PLAY, 0.0).text
    found = guard.judge(
        asked("/pair/try", host=LAN_HOST, address=THERE, midifret_code=right, sec_fetch_site="cross-site"),
        0.0,
    )
    assert status(found) == 403


def test_codes_are_out_of_date_after_some_minutes_and_another_is_shown() -> None:
    codes = Codes(random.Random(1).randbytes)
    first = codes.shown(Rights.PLAY, 0.0)
    assert codes.shown(Rights.PLAY, SHOWN_S - 1) == first
    second = codes.shown(Rights.PLAY, SHOWN_S)
    assert second.text != first.text
    assert codes.shown(Rights.PLAY, HOLDS_S - 1) == second
    # Who is just typing the first may finish; then it is over.
    assert codes.use(first.text, HOLDS_S - 1) is Rights.PLAY
    assert codes.use(first.text, HOLDS_S - 1) is None
    assert codes.use(second.text, SHOWN_S + HOLDS_S) is None


def test_codes_have_no_letters_that_look_alike_and_all_are_as_likely() -> None:
    assert not set(ALPHABET) & set("0OQD1IL2Z5S8BUV")
    codes = Codes(random.Random(1).randbytes)
    counts = dict.fromkeys(ALPHABET, 0)
    for number in range(7000):
        code = codes.shown(Rights.PLAY, number * HOLDS_S)
        assert len(code.text) == LENGTH
        for letter in code.text:
            counts[letter] += 1
    # Chi squared with 20 degrees of freedom lies under 45.3 in 999 of 1000 cases (tables).
    expected = 7000 * LENGTH / len(ALPHABET)
    assert sum((count - expected) ** 2 / expected for count in counts.values()) < 45.3


def test_who_guesses_waits_longer_each_time_and_is_not_heard_meanwhile() -> None:
    guard = access(lan=True)
    waits = []
    now_s = 0.0
    for _ in range(12):
        found = guard.judge(tried("AAAAAA"), now_s)
        assert isinstance(found, Denied)
        assert found.status == 403
        waits.append(found.wait_s)
        if found.wait_s:
            right = guard.code(Rights.PLAY, now_s).text
            assert status(guard.judge(tried(right), now_s + found.wait_s - 0.1)) == 429
        now_s += found.wait_s
    assert waits == [0, 0, 0, 0, 10, 20, 40, 80, 160, 320, 640, 900]
    # Another device is not kept waiting by that.
    assert isinstance(
        guard.judge(tried(guard.code(Rights.PLAY, now_s).text, address="192.168.1.9"), now_s), Paired
    )


def test_many_addresses_together_guess_no_more_often() -> None:
    guesses = Guesses()
    now_s, made = 0.0, 0
    while now_s < 86_400:
        address = f"10.1.{made // 250}.{made % 250}"
        wait_s = guesses.wait_s(address, now_s)
        if wait_s == 0:
            guesses.wrong(address, now_s)
            made += 1
        now_s += max(wait_s, 0.01)
    assert made < 1000
    assert len(guesses._by_address) <= Guesses.ADDRESSES


def test_the_best_pace_of_guessing_is_what_is_stated() -> None:
    # Nineteen at once, then quiet until they are forgotten: the most that a day gives without any wait.
    guesses = Guesses()
    now_s, made = 0.0, 0
    while now_s < 86_400:
        for number in range(19):
            assert guesses.wait_s(f"{number}", now_s) == 0
            guesses.wrong(f"{number}", now_s)
            made += 1
        now_s += Guesses.FORGOTTEN_S + 1
    assert made <= 1000


def test_one_device_has_one_address() -> None:
    assert address_group("fd00::1:2:3:4") == address_group("fd00::4:3:2:1")
    assert address_group("fd00:0:0:1::1") != address_group("fd00:0:0:2::1")
    assert address_group("::ffff:192.168.1.5") == "192.168.1.5"
    assert address_group("fe80::1%eth0") == address_group("fe80::2%eth0")
    assert address_group("nothing") == "nothing"
    assert is_this_machine("127.0.0.1")
    assert is_this_machine("::1")
    assert is_this_machine("::ffff:127.0.0.1")
    assert not is_this_machine("192.168.1.5")
    assert not is_this_machine("nothing")


# --- from one start to the next -------------------------------------------------------------------


def test_a_paired_device_is_known_at_the_next_start_and_its_cookie_is_not_kept() -> None:
    first = access(lan=True)
    cookie = paired(first, Rights.WATCH)
    assert first.changed
    kept = first.pairings()
    assert cookie.partition("=")[2] not in repr(kept)
    again = access(lan=True, seed=9, day=20_000 + KEPT_DAYS, kept=kept)
    found = again.judge(asked(host=LAN_HOST, address=THERE, cookie=cookie), 0.0)
    assert isinstance(found, Granted)
    assert found.rights is Rights.WATCH
    assert again.pairings()[0].day == 20_000 + KEPT_DAYS  # seen today: kept for longer
    late = access(lan=True, day=20_001 + KEPT_DAYS, kept=kept)
    assert status(late.judge(asked(host=LAN_HOST, address=THERE, cookie=cookie), 0.0)) == 303


def test_no_more_devices_are_kept_than_there_is_room_for() -> None:
    guard = access(lan=True)
    cookies = [paired(guard, now_s=float(number)) for number in range(MOST_PAIRED + 5)]
    assert len(guard.pairings()) == MOST_PAIRED
    assert status(guard.judge(asked(host=LAN_HOST, address=THERE, cookie=cookies[0]), 99.0)) == 303
    assert isinstance(guard.judge(asked(host=LAN_HOST, address=THERE, cookie=cookies[-1]), 99.0), Granted)


def test_a_bucket_gives_so_many_at_once_and_so_many_a_second() -> None:
    bucket = TokenBucket(10, 5)
    assert [bucket.take(0.0) for _ in range(6)] == [True] * 5 + [False]
    assert bucket.take(0.1)
    assert not bucket.take(0.1)
    assert not bucket.take(-100.0)  # a clock that ran back gives nothing
    assert bucket.take(1000.0, 5)
    assert not bucket.take(1000.0)
