"""Who may see the stand: which requests are answered, by host, origin, path, key, code and cookie."""

import hashlib
import hmac
import ipaddress
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from midifret.stand.codes import Code, Codes, Rights
from midifret.stand.rates import Guesses, TokenBucket

SOCKET = "/socket"
PAIRING = "/pair"
# Where the pairing page tries a code, which stands in a header: addresses are kept in histories, and no page
# of another site can send such a header without asking first (CORS preflight, Fetch standard), which is
# refused.
TRY_CODE = "/pair/try"
CODE_HEADER = "midifret-code"
# What may be read before a device is paired: the pairing page and what begins with its name.
OPEN = "/pair"

# A device stays paired so long after it was last let in [ours].
KEPT_DAYS = 30
MOST_PAIRED = 32
_ONCE_S = 120.0
_COOKIE_AGE_S = KEPT_DAYS * 86_400
# Requests of one address: a page is some twenty files [ours].
_REQUESTS_A_SECOND, _REQUESTS_AT_ONCE = 50.0, 500.0
_ADDRESSES = 256


@dataclass(frozen=True, slots=True)
class Asked:
    """One request. target: as it came, not decoded. headers: all of them, in order. address: who asks."""

    method: str
    target: str
    headers: tuple[tuple[str, str], ...]
    address: str

    def all(self, name: str) -> list[str]:
        """Every value of a header."""
        return [value for key, value in self.headers if key.lower() == name]


@dataclass(frozen=True, slots=True)
class Granted:
    """The path may be read. rights: of who asks; None where only the pairing page is open to them.

    pairing: a number for the device, so that viewers of one are told from those of another.
    """

    path: str
    host: str
    rights: Rights | None
    pairing: int = 0


@dataclass(frozen=True, slots=True)
class Paired:
    """Let in just now. cookie: the value of Set-Cookie. to: where to go from here; empty for a code tried."""

    rights: Rights
    cookie: str
    to: str


@dataclass(frozen=True, slots=True)
class Denied:
    """Not answered. status: of HTTP. to: go there instead. wait_s: before another try."""

    status: int
    words: str
    to: str = ""
    wait_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Pairing:
    """A device that was let in. proof: SHA-256 of its cookie. day: of its last visit, since 1970."""

    proof: str
    rights: Rights
    day: int
    number: int = 0


class Access:
    """All decisions on who is let in; for one thread.

    By default only this machine can connect, and even here a page needs the key of this start, so that no
    other user of the machine and no other program's page gets in. With `lan` other devices can be paired by
    a code. What it does not do: the connection is not encrypted, so that who can listen to the network can
    read along and take over a pairing. It is meant for a network at home or at a school.
    """

    def __init__(
        self,
        draw: Callable[[int], bytes],
        *,
        lan: bool = False,
        day: int = 0,
        kept: Iterable[Pairing] = (),
    ) -> None:
        """draw: gives so many random bytes that nobody can guess. kept: pairings of earlier starts."""
        self._draw = draw
        self.lan = lan
        self.key = draw(24).hex()
        self._once: dict[str, float] = {}  # keys that open the page one time, and until when
        self._codes = Codes(draw)
        self._guesses = Guesses()
        self._day = day
        self._number = 0
        self._pairings: list[Pairing] = []
        for pairing in kept:
            if 0 <= day - pairing.day <= KEPT_DAYS:
                self._pairings.append(replace(pairing, number=self._next()))
        self._hosts: frozenset[str] = frozenset()
        self._cookie = "midifret"
        self._requests: dict[str, TokenBucket] = {}
        self.changed = False  # whether pairings are to be kept anew

    def reached_at(self, addresses: Iterable[str], port: int) -> None:
        """Say at which addresses and port the page is served; requests for another host are refused."""
        names = {"localhost", *addresses}
        hosts = {f"[{name}]" if ":" in name else name for name in names}
        self._hosts = frozenset({f"{host}:{port}" for host in hosts} | (hosts if port == 80 else set()))
        self._cookie = f"midifret-{port}"  # cookies do not tell ports apart (RFC 6265, section 8.5)

    def pairings(self) -> tuple[Pairing, ...]:
        """What to keep for the next start."""
        return tuple(self._pairings)

    def key_for_once(self, now_s: float) -> str:
        """Return a key that lets in one time, within two minutes.

        For a browser that is started with it: other users of the machine can read command lines.
        """
        key = self._draw(24).hex()
        self._once[key] = now_s + _ONCE_S
        return key

    def code(self, rights: Rights, now_s: float) -> Code:
        """Return the code to be shown now."""
        return self._codes.shown(rights, now_s)

    def judge(self, asked: Asked, now_s: float) -> Granted | Paired | Denied:
        """Decide on one request. now_s: on a steady clock."""
        wrong = self._refused(asked, now_s)
        if wrong is not None:
            return wrong
        host = asked.all("host")[0].lower()
        path, mark, query = asked.target.partition("?")
        if path == TRY_CODE and not mark:
            return self._try_code(asked, now_s)
        if path == "/" and query.startswith("key="):
            return self._by_key(query.removeprefix("key="), asked, now_s)
        if mark:
            return Denied(404, "There is no such page.")
        if path == SOCKET:
            origins = asked.all("origin")
            if origins != [f"http://{host}"]:
                return Denied(403, "Only the stand's own page may connect here.")
        pairing = self._pairing(asked)
        if pairing is not None:
            return Granted(path, host, pairing.rights, pairing.number)
        if self.lan and path.startswith(OPEN):
            return Granted(path, host, None)
        if self.lan and path == "/":
            return Denied(303, "This device is not paired yet.", to=PAIRING)
        if self.lan:
            return Denied(403, f"This device is not paired yet: open {PAIRING}.")
        return Denied(403, "Open the whole address that midifret stand printed, with its key.")

    def _refused(self, asked: Asked, now_s: float) -> Denied | None:
        """What is refused whoever asks."""
        hosts = asked.all("host")
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts:
            return Denied(421, "This is not the address of the stand.")
        if not self._may_ask(asked.address, now_s):
            return Denied(429, "Too many requests; wait a moment.", wait_s=5.0)
        if asked.method != "GET":
            return Denied(405, "Only reading is possible here.")
        # Absent in old browsers; none: typed or clicked outside of any page (Fetch Metadata, W3C).
        if set(asked.all("sec-fetch-site")) - {"none", "same-origin"}:
            return Denied(403, "The stand is not opened from another page: type its address.")
        return None

    def _may_ask(self, address: str, now_s: float) -> bool:
        bucket = self._requests.pop(address, None)
        if bucket is None:
            bucket = TokenBucket(_REQUESTS_A_SECOND, _REQUESTS_AT_ONCE)
            if len(self._requests) >= _ADDRESSES:
                del self._requests[next(iter(self._requests))]
        self._requests[address] = bucket
        return bucket.take(now_s)

    def _by_key(self, typed: str, asked: Asked, now_s: float) -> Paired | Denied:
        # Off this machine the key is not taken: it would have crossed the network in an address.
        if is_this_machine(asked.address):
            self._once = {key: until_s for key, until_s in self._once.items() if until_s > now_s}
            for key in (self.key, *self._once):
                if hmac.compare_digest(key.encode(), typed.encode()):
                    self._once.pop(key, None)
                    return self._let_in(Rights.PLAY, to="/")
            if self._pairing(asked) is not None:  # a browser that asks twice, or goes back to it
                return Denied(303, "Go on.", to="/")
        return Denied(403, "This key is of an earlier start: open the address that was printed last.")

    def _try_code(self, asked: Asked, now_s: float) -> Paired | Denied:
        if not self.lan:
            return Denied(404, "There is no such page.")
        group = address_group(asked.address)
        wait_s = self._guesses.wait_s(group, now_s)
        if wait_s > 0:
            return Denied(429, "Too many wrong codes; wait.", wait_s=wait_s)
        typed = asked.all(CODE_HEADER)
        rights = self._codes.use(typed[0], now_s) if len(typed) == 1 and len(typed[0]) <= 32 else None
        if rights is None:
            self._guesses.wrong(group, now_s)
            wait_s = self._guesses.wait_s(group, now_s)
            return Denied(403, "This code does not hold: type the one that is shown now.", wait_s=wait_s)
        return self._let_in(rights, to="")

    def _let_in(self, rights: Rights, *, to: str) -> Paired:
        token = self._draw(24).hex()
        self._pairings.append(Pairing(_proof(token), rights, self._day, self._next()))
        del self._pairings[:-MOST_PAIRED]
        self.changed = True
        cookie = f"{self._cookie}={token}; HttpOnly; SameSite=Strict; Path=/; Max-Age={_COOKIE_AGE_S}"
        return Paired(rights, cookie, to)

    def _pairing(self, asked: Asked) -> Pairing | None:
        """Whose cookie it is. Takes as long for any."""
        found: Pairing | None = None
        for token in self._tokens(asked):
            proof = _proof(token)
            for pairing in self._pairings:
                if hmac.compare_digest(pairing.proof, proof):
                    found = pairing
        if found is not None and found.day != self._day:
            place = self._pairings.index(found)
            self._pairings[place] = replace(found, day=self._day)
            self.changed = True
        return found

    def _tokens(self, asked: Asked) -> list[str]:
        parts = [part.strip().partition("=") for line in asked.all("cookie") for part in line.split(";")]
        return [value for name, _, value in parts if name == self._cookie][:4]

    def _next(self) -> int:
        self._number += 1
        return self._number


def _proof(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def is_this_machine(address: str) -> bool:
    """Whether an address is a loopback one."""
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return False
    mapped = getattr(found, "ipv4_mapped", None)
    return bool((mapped or found).is_loopback)


def address_group(address: str) -> str:
    """Return what counts as one guesser: an IPv4 address, or a /64 of IPv6, which a device has to itself."""
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    mapped = getattr(found, "ipv4_mapped", None)
    if mapped is not None:
        return str(mapped)
    return str(ipaddress.ip_network((found, 64), strict=False)) if found.version == 6 else str(found)
