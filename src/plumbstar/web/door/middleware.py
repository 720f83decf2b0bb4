"""Who may come in: the Host and Origin checks, the headers, the size limit and the pairing code.

What each of these is for is told in docs/serving.md. In short: a page of another site must be able
neither to act nor to read here (Origin, Sec-Fetch-Site, own header, Host against DNS rebinding),
and somebody else on the telescope's network neither without the code shown on its screen.
"""

from __future__ import annotations

import asyncio
import contextlib

import msgspec
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from plumbstar.web.door.gate import Gate
from plumbstar.web.door.limits import announces_more, limit_for, limited

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "x-frame-options": "DENY",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(self), camera=(), microphone=()",
}

_ASKS = ("GET", "HEAD")
# What a guest without the code may see: the page that asks for it and what it is made of.
_OPEN = ("/pair", "/static/", "/favicon.ico")

#: What is said to a page that is none of ours.
_ELSEWHERE = "The request came from another website and was refused"
_NOT_OURS = "The request came without the X-Plumbstar header that our pages send, and was refused"


class Door:
    """ASGI middleware: refuses before anything else has looked at the request."""

    def __init__(self, app: ASGIApp, gate: Gate, pair_page: ASGIApp) -> None:
        self.app = app
        self.gate = gate
        self.pair_page = pair_page

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":  # nothing here speaks anything else
            await send({"type": "websocket.close", "code": 1008})
            return
        send = _with_headers(send, scope["path"])
        refusal = self._refusal(scope)
        if refusal is not None:
            await _say(send, *refusal)
            return
        path: str = scope["path"]
        paired = self.gate.paired(scope)
        scope.setdefault("state", {})["paired"] = paired
        if not paired and path not in _OPEN and not path.startswith("/static/"):
            if path.startswith(("/data/", "/do/")) or path == "/stream":
                await _say(
                    send, 401, "This phone is not paired", "Type the code that the server shows"
                )
            else:
                await self.pair_page(scope, receive, send)
            return
        limit = limit_for(path)
        if announces_more(scope, limit):
            # Closed, since what is still coming would be taken for the next request.
            await _say(
                send,
                413,
                "What was sent is too large",
                f"Send at most {limit // 1024} kB",
                close=True,
            )
            return
        try:
            await self.app(scope, limited(receive, limit), send)
        except asyncio.CancelledError:
            # The server is at its end and has waited long enough. No mistake of the program's, so
            # no traceback; a phone asks again. Where the answer had begun it is cut short.
            with contextlib.suppress(Exception):
                await _say(send, 503, "The program is being stopped", "Start it again", close=True)

    def _refusal(self, scope: Scope) -> tuple[int, str, str] | None:
        headers = Headers(scope=scope)
        if not self.gate.called(scope):
            return (
                421,
                f"The server is not known as '{headers.get('host', '')[:100]}'",
                "Use the address it printed, or start it with --name for that name",
            )
        site = headers.get("sec-fetch-site", "")
        if scope["method"] in _ASKS:
            # A link from another page may open ours; reading our data from there may not.
            top = headers.get("sec-fetch-mode", "") == "navigate"
            if site in ("cross-site", "same-site") and not top:
                return (
                    403,
                    "Another website tried to read from here, and was refused",
                    "Open the server's own page",
                )
            return None
        if scope["method"] != "POST":
            return 405, f"Requests of the kind {scope['method']} are not taken", "Use GET or POST"
        if self.gate.foreign(scope) or site not in ("", "same-origin"):
            return (
                403,
                "Another website tried to act here, and was refused",
                "Use the server's own page",
            )
        if headers.get("x-plumbstar") != "1":
            # A form of another site cannot set this header, even in a browser without Origin.
            return (
                403,
                "The request did not come from Plumbstar's own page (no X-Plumbstar header)",
                "Use the server's own page",
            )
        return None


def _with_headers(send: Send, path: str) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            # Pages change with the program: ask each time, and be told "not changed".
            headers.setdefault(
                "cache-control", "no-cache" if path.startswith("/static/") else "no-store"
            )
        await send(message)

    return with_headers


async def _say(send: Send, status: int, error: str, remedy: str, close: bool = False) -> None:
    body = msgspec.json.encode({"error": error, "remedy": remedy})
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    if close:
        headers.append((b"connection", b"close"))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
