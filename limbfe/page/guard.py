"""Who may speak to the page: this browser, by the address it was given, and nobody else.

The server listens on the loopback address, but so can any program of this machine reach it, and any
page in the same browser send it something.  So the address holds a token nobody can guess; the name
by which it is called must be the machine's own, or another site's name could be made to lead here;
and what changes anything must say that it comes from this page.
"""

from __future__ import annotations

import hmac
import re
from dataclasses import dataclass
from typing import Any

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_REQUEST = 1_000_000
"""Bytes; a case is at most 256 kB."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
REPORT_POLICY = (
    "sandbox allow-scripts allow-modals allow-downloads; default-src 'none'; "
    "script-src 'unsafe-inline' 'unsafe-eval' blob: data:; style-src 'unsafe-inline'; "
    "img-src data: blob:; font-src data:; frame-src 'self' data: blob:; worker-src blob: data:; "
    "connect-src data: blob:; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
"""Of the report, which brings its own script and style: it may run them, but neither speak to this
server nor see its address, since its origin is one of its own."""

HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}


class TooLargeError(Exception):
    """More was sent than is taken."""


@dataclass(frozen=True, slots=True)
class Guard:
    """The application behind its door.

    Attributes
    ----------
    app : ASGI application
        Sees paths without the token.
    token : str
    port : int
    """

    app: ASGIApp
    token: str
    port: int

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in or turn it away."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        refused = self._refused(scope)
        if refused is not None:
            status, words = refused
            await PlainTextResponse(words, status, HEADERS)(scope, receive, send)
            return
        path = scope["path"][len(self.token) + 1 :]
        inside = {**scope, "path": path, "raw_path": path.encode(), "root_path": ""}

        async def guarded_send(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = [(name.encode(), value.encode()) for name, value in HEADERS.items()]
                given = message.get("headers", [])
                names = {name.lower() for name, _ in given}
                if b"content-security-policy" not in names:
                    own.append((b"content-security-policy", POLICY.encode()))
                message = {**message, "headers": [*given, *own]}
            await send(message)

        await self.app(inside, _bounded(receive), guarded_send)

    def _refused(self, scope: Scope) -> tuple[int, str] | None:
        headers = _headers(scope)
        here = (f"127.0.0.1:{self.port}", f"localhost:{self.port}")
        if headers.get("host") not in here:
            return 403, "called by a name that is not this machine's"
        first = scope["path"].split("/", 2)[1:2]
        if not first or not hmac.compare_digest(first[0].encode(), self.token.encode()):
            return 404, "not here; use the address that `limbfe sheet` printed, as it stands there"
        # no site may reach in here, neither by a picture's address nor by a form
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return 403, "asked for by another site"
        if scope["method"] in ("GET", "HEAD"):
            return None
        if scope["method"] != "POST":
            return 405, "not a way to ask here"
        if headers.get("origin") not in tuple(f"http://{name}" for name in here):
            return 403, "sent from another page"
        if headers.get("content-type", "").partition(";")[0].strip() != "application/json":
            return 415, "must be JSON"
        length = headers.get("content-length", "0")
        if not re.fullmatch(r"[0-9]{1,12}", length) or int(length) > LARGEST_REQUEST:
            return 413, "too large"
        return None


def _headers(scope: Scope) -> dict[str, str]:
    """Return the headers of a request; one given twice counts as wrong, since it is."""
    found: dict[str, str] = {}
    for name, value in scope["headers"]:
        word = name.decode("latin-1").lower()
        found[word] = "given twice" if word in found else value.decode("latin-1")
    return found


def _bounded(receive: Receive) -> Receive:
    """Return a way to receive that stops at the largest request, whatever its length was said."""
    taken = 0

    async def bounded() -> Message:
        nonlocal taken
        message: dict[str, Any] = dict(await receive())
        taken += len(message.get("body", b""))
        if taken > LARGEST_REQUEST:
            raise TooLargeError
        return message

    return bounded
