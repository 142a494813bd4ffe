"""What is answered to a request for a file: the files of the page, and the headers of every answer."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path

from websockets.datastructures import Headers
from websockets.http11 import Response

from midifret.stand.access import Denied, Paired
from midifret.terms import Unavailable

_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".woff2": "font/woff2",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
}
# Nothing inside the page itself, nothing from elsewhere, in no other page. Sockets are named besides, as
# older Safari does not count them to 'self' (CSP3; the browser from memory).
_POLICY = (
    "default-src 'self'; connect-src 'self' ws://{host}; object-src 'none'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
# A page that brings its style along: the report.
_STYLED_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
# The last two make the page isolated, with a clock of 5 microseconds in place of 100 (MDN, performance.now).
_ALWAYS = (
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("X-Frame-Options", "DENY"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("Cross-Origin-Opener-Policy", "same-origin"),
    ("Cross-Origin-Embedder-Policy", "require-corp"),
    ("Cache-Control", "no-store"),
    ("Connection", "close"),
)


@dataclass(frozen=True, slots=True)
class Page:
    """Something to be served. kind: its media type. styled: it brings its style along, and runs no script."""

    body: bytes
    kind: str
    styled: bool = False


def read_files(folder: Path) -> dict[str, Page]:
    """Read all files of a folder, by the path that a browser asks for. Nothing else is ever served.

    Raises Unavailable where there is no index.html in it.
    """
    pages: dict[str, Page] = {}
    for path in sorted(folder.rglob("*")):
        kind = _KINDS.get(path.suffix)
        if kind is not None and path.is_file():
            pages["/" + path.relative_to(folder).as_posix()] = Page(path.read_bytes(), kind)
    if "/index.html" not in pages:
        raise Unavailable(f"the page of the stand is not in {folder}", allowed="install midifret anew")
    pages["/"] = pages["/index.html"]
    if "/pair.html" in pages:
        pages["/pair"] = pages["/pair.html"]
    return pages


def page_answer(page: Page | None, host: str) -> Response:
    """Answer with a page, or that there is none."""
    if page is None:
        return _text(HTTPStatus.NOT_FOUND, "There is no such page.")
    policy = _STYLED_POLICY if page.styled else _POLICY.format(host=host)
    return _answer(HTTPStatus.OK, page.body, page.kind, policy=policy)


def denied_answer(denied: Denied, *, told_as_json: bool) -> Response:
    """Answer that it is refused, or where to go."""
    status = HTTPStatus(denied.status)
    more: dict[str, str] = {}
    if denied.to:
        more["Location"] = denied.to
    if denied.status == HTTPStatus.METHOD_NOT_ALLOWED:
        more["Allow"] = "GET"
    if denied.wait_s > 0:
        more["Retry-After"] = str(int(denied.wait_s) + 1)
    if told_as_json:
        return _json(status, more, paired=False, words=denied.words, wait_s=round(denied.wait_s, 1))
    return _text(status, denied.words, more)


def paired_answer(paired: Paired) -> Response:
    """Answer that a device was let in: on to the page, or in words for the page that tried a code."""
    more = {"Set-Cookie": paired.cookie}
    if paired.to:
        return _text(HTTPStatus.SEE_OTHER, "Go on.", {**more, "Location": paired.to})
    return _json(HTTPStatus.OK, more, paired=True, words="", wait_s=0.0, rights=paired.rights)


def _json(status: HTTPStatus, more: Mapping[str, str], **content: object) -> Response:
    return _answer(status, json.dumps(content).encode(), "application/json", more)


def _text(status: HTTPStatus, words: str, more: Mapping[str, str] | None = None) -> Response:
    return _answer(status, f"{words}\n".encode(), "text/plain; charset=utf-8", more)


def _answer(
    status: HTTPStatus,
    body: bytes,
    kind: str,
    more: Mapping[str, str] | None = None,
    *,
    policy: str = "default-src 'none'; frame-ancestors 'none'",
) -> Response:
    headers = Headers(_ALWAYS)
    headers["Content-Security-Policy"] = policy
    headers["Content-Type"] = kind
    headers["Content-Length"] = str(len(body))
    for name, value in (more or {}).items():
        headers[name] = value
    return Response(status.value, status.phrase, headers, body)
