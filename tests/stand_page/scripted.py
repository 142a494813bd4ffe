"""A page in a browser: linked to the program's own server, or to a socket that says what a test says."""

import json
import os
from collections.abc import Callable
from pathlib import Path
from time import monotonic
from typing import Any

from midifret.clock import RealClock
from midifret.serve.answers import read_files
from midifret.serve.server import Arrived, FromPlayer, StandServer
from midifret.stand.access import Access
from midifret.stand.messages import SCHEMA, dump
from tests.stand_page.moments import moments

WEB = Path(__file__).parents[2] / "midifret" / "stand" / "web"


def drawn(count: int) -> bytes:
    """Random bytes for keys."""
    return os.urandom(count)


def as_told(name: str) -> dict[str, Any]:
    """A moment as the program writes it."""
    told: dict[str, Any] = json.loads(dump(moments()[name]))
    return told


class Stand:
    """The server with pages that are told what a test says; keeps what they told."""

    def __init__(self, browser: Any, *, server: StandServer | None = None) -> None:
        self.browser = browser
        self.access = Access(drawn, lan=True)
        self.server = server or StandServer(read_files(WEB), self.access, RealClock())
        self.server.start()
        self.told: list[Arrived] = []
        self.asked: list[str] = []
        self.faults: list[str] = []
        self.contexts: list[Any] = []

    def context(self, **options: Any) -> Any:
        """A browser of its own: size, light or dark, and so on, by Playwright's names."""
        context = self.browser.new_context(**options)
        context.set_default_timeout(5000)
        self.contexts.append(context)
        return context

    def page(self, *, open_it: bool = True, init: str = "", **options: Any) -> Any:
        """A page that is linked. init: runs before its own scripts."""
        page = self.context(**options).new_page()
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on(
            "console",
            lambda line: self.faults.append(line.text) if line.type in ("error", "warning") else None,
        )
        if init:
            page.add_init_script(init)
        if open_it:
            page.goto(self.server.address())
            page.locator("body[data-link=linked]").wait_for()
        return page

    def wait_for(self, page: Any, wanted: Callable[[Arrived], bool], most_s: float = 5.0) -> Arrived:
        """The next message of a page that is wanted; those before it are forgotten."""
        until = monotonic() + most_s
        while monotonic() < until:
            self.told += self.server.take()
            for at, arrived in enumerate(self.told):
                if wanted(arrived):
                    del self.told[: at + 1]
                    return arrived
            page.wait_for_timeout(5)
        raise AssertionError(f"the page told nothing of the kind; it told {[a.message for a in self.told]}")

    def of_kind(self, page: Any, kind: type[FromPlayer], most_s: float = 5.0) -> Any:
        """The next message of a kind."""
        return self.wait_for(page, lambda arrived: isinstance(arrived.message, kind), most_s).message

    def told_of(self, page: Any, kind: type[FromPlayer], after_ms: float = 250) -> list[Any]:
        """All messages of a kind that came until some time from now."""
        page.wait_for_timeout(after_ms)
        self.told += self.server.take()
        found = [arrived.message for arrived in self.told if isinstance(arrived.message, kind)]
        self.told.clear()
        return found

    def close(self) -> None:
        """Close all pages and the server."""
        for context in self.contexts:
            context.close()
        self.server.stop()


class Socket:
    """The program's side of a page's socket, in the browser driver's hands: says anything, closes at will."""

    def __init__(self, page: Any, controls: bool = True) -> None:
        self.heard: list[dict[str, Any]] = []
        self.links: list[Any] = []
        self.open_doors = True
        self.controls = controls
        self.page = page
        page.route_web_socket("**/socket", self._came)

    def _came(self, link: Any) -> None:
        if not self.open_doors:
            link.close()
            return
        self.links.append(link)
        link.on_message(lambda text: self._heard(link, text))

    def _heard(self, link: Any, text: str) -> None:
        message = json.loads(text)
        self.heard.append(message)
        if message["kind"] == "hello":
            welcome = {
                "kind": "welcome",
                "schema": SCHEMA,
                "version": "1",
                "controls": self.controls,
                "language": "en",
            }
            link.send(json.dumps(welcome))

    def say(self, message: object) -> None:
        """Send text as it is, anything else as JSON."""
        self.links[-1].send(message if isinstance(message, str) else json.dumps(message))

    def close(self) -> None:
        """End the link, as a program that stops."""
        self.links[-1].close()

    def of_kind(self, kind: str) -> list[dict[str, Any]]:
        """All messages of a kind so far."""
        return [message for message in self.heard if message["kind"] == kind]
