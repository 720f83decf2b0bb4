"""The live stream: server-sent events to any number of phones, none of which can hold up another.

Each client has two slots, the newest state and the newest reading; what it was too slow to take is
replaced, not queued. So a phone that sleeps costs nothing, and gets the whole present on waking.
Format: WHATWG HTML Living Standard, section 9.2, Server-sent events.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable

from starlette.types import Receive, Scope, Send

#: A client that takes nothing for this long is dropped; it will come back by itself.
GIVEN_UP_S = 20.0
#: Streams open at once. More than a family of phones, less than would hurt.
MOST_CLIENTS = 64


def event(name: str, data: bytes, number: int | None = None) -> bytes:
    """One event, with its ``id`` if it has one. ``data`` is JSON, which has no line breaks."""
    numbered = b"" if number is None else b"id: %d\n" % number
    return b"event: " + name.encode() + b"\n" + numbered + b"data: " + data + b"\n\n"


class _Client:
    def __init__(self, *, state: bytes | None, reading: bytes | None) -> None:
        self.state = state
        self.reading = reading
        self.news = asyncio.Event()
        self.over = False
        self.news.set()

    def take(self) -> bytes:
        """What is new, state first, and both slots empty."""
        out = (self.state or b"") + (self.reading or b"")
        self.state = self.reading = None
        self.news.clear()
        return out


class Hub:
    """Everybody who listens. All methods belong to the event loop's thread."""

    def __init__(self) -> None:
        self._clients: set[_Client] = set()
        self._state: bytes | None = None
        self._reading: bytes | None = None
        self._closed = False

    def __len__(self) -> int:
        return len(self._clients)

    def publish_state(self, state: bytes) -> None:
        """Give the whole state (JSON, serialised once) to everybody."""
        self._state = event("state", state)
        for c in self._clients:
            c.state = self._state
            c.news.set()

    def publish_reading(self, reading: bytes, at_s: float) -> None:
        """Give the present reading (JSON, serialised once) to everybody.

        Its id is our steady clock in milliseconds, ``at_s`` in seconds: from it a page knows what
        that clock says when it sends a press (routes/evening.py).
        """
        self._reading = event("reading", reading, round(at_s * 1000.0))
        for c in self._clients:
            c.reading = self._reading
            c.news.set()

    def close(self) -> None:
        """End every stream, so that the server can stop."""
        self._closed = True
        for c in self._clients:
            c.over = True
            c.news.set()

    def full(self) -> bool:
        """Whether no more can be served."""
        return self._closed or len(self._clients) >= MOST_CLIENTS

    def join(self) -> _Client:
        c = _Client(state=self._state, reading=self._reading)
        self._clients.add(c)
        return c

    def leave(self, c: _Client) -> None:
        self._clients.discard(c)


class EventStream:
    """One client's stream, as an ASGI response. Ends when the client goes, however it goes."""

    def __init__(self, hub: Hub, joined: Callable[[], None] = lambda: None) -> None:
        self.hub = hub
        self.joined = joined

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await send(
            {
                "type": "http.response.start",
                "status": 200,
                "headers": [
                    (b"content-type", b"text/event-stream; charset=utf-8"),
                    (b"cache-control", b"no-store"),
                    (b"x-accel-buffering", b"no"),
                ],
            }
        )
        client = self.hub.join()
        gone = asyncio.create_task(_until_gone(receive))
        gone.add_done_callback(lambda _: client.news.set())
        try:
            self.joined()
            await send(_piece(b"retry: 1000\n\n"))
            while not (client.over or gone.done()):
                await client.news.wait()
                if gone.done():
                    break
                data = client.take()
                if data:
                    # Waits only while this client's own buffer is full.
                    async with asyncio.timeout(GIVEN_UP_S):
                        await send(_piece(data))
            await send({"type": "http.response.body", "body": b"", "more_body": False})
        except (TimeoutError, OSError):
            pass  # asleep or gone: nothing out of the ordinary
        finally:
            self.hub.leave(client)
            gone.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await gone


def _piece(data: bytes) -> dict[str, object]:
    return {"type": "http.response.body", "body": data, "more_body": True}


async def _until_gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
