"""Connections that only hold a place: dropped, so that a stranger cannot shut the observer out.

uvicorn waits for ever for a request that does not come, one byte a minute included, and such
connections count against its limit. Here each has a time for its request's head, for its body and
for taking the answer; one address has so many places; and when all are taken, whoever has waited
longest without asking makes room. The times are generous for a phone at the edge of its Wi-Fi
(common practice, no source).
"""

from __future__ import annotations

import asyncio
from typing import Any

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from plumbstar.web.door.addresses import is_loopback, neighbourhood

#: A request's head must be here so soon after the connection, or after the last answer.
HEAD_S = 15.0
#: A body has this long, and longer the more of it has come.
BODY_S = 20.0
BODY_BYTES_PER_S = 8000.0
#: An answer of which nothing is taken for this long will not be taken.
ANSWER_S = 30.0
#: Connections of one address. A browser opens six, and a stream for each page it shows.
MOST_OF_ONE = 32
#: Connections of all. Over uvicorn's own limit, a little higher, the newcomer would be refused.
MOST = 190
LOOK_S = 1.0


class LimitedProtocol(H11Protocol):
    """uvicorn's plain HTTP/1.1, with an end to its waiting."""

    _since = 0.0  # when the present wait began: for a head, or for this request to be over
    _asked: Any = None  # the request that was under way at the last look
    _got = 0  # bytes that came for it
    _unsent = (0, 0.0)  # how much of the answer was not taken, and since when
    _timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._since = self.loop.time()
        mine = self._who()
        # One that was dropped a moment ago is still in the list, but closing.
        others = [
            c
            for c in self.connections
            if isinstance(c, LimitedProtocol) and c is not self and not c.transport.is_closing()
        ]
        crowd = [c for c in others if c._who() == mine]
        if mine != "" and len(crowd) >= MOST_OF_ONE:
            self._make_room(crowd)
        elif len(others) >= MOST:
            self._make_room(others)
        self._look()

    def connection_lost(self, exc: Exception | None) -> None:
        if self._timer is not None:
            self._timer.cancel()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        self._got += len(data)
        super().data_received(data)

    def on_response_complete(self) -> None:
        self._since = self.loop.time()
        super().on_response_complete()

    def _who(self) -> str:
        """The address, or its network; nothing for this very computer, which has no limit."""
        address = self.client[0] if self.client else ""
        return "" if is_loopback(address) else neighbourhood(address)

    def _busy(self) -> bool:
        return self.cycle is not None and not self.cycle.response_complete

    def _make_room(self, crowd: list[LimitedProtocol]) -> None:
        idle = [c for c in crowd if not c._busy()]
        (min(idle, key=lambda c: c._since) if idle else self).transport.abort()

    def _look(self) -> None:
        """Once a second: whether there is still something to wait for."""
        self._timer = self.loop.call_later(LOOK_S, self._look)
        now = self.loop.time()
        if not self._busy():
            self._asked = None
            if now - self._since > HEAD_S:
                self.transport.abort()
            return
        if self.cycle is not self._asked:
            self._asked, self._since, self._got = self.cycle, now, 0
            self._unsent = (0, now)
        if self.cycle.more_body and now - self._since > BODY_S + self._got / BODY_BYTES_PER_S:
            self.transport.abort()
        left = self.transport.get_write_buffer_size()
        if left == 0 or left != self._unsent[0]:
            self._unsent = (left, now)
        elif now - self._unsent[1] > ANSWER_S:
            self.transport.abort()


def config(app: Any, **more: Any) -> uvicorn.Config:
    """How every port here is served: with these limits, and no header believed about who asks."""
    return uvicorn.Config(
        app,
        http=LimitedProtocol,
        limit_concurrency=MOST + 10,
        ws="none",
        log_config=None,
        access_log=False,
        proxy_headers=False,  # else one could claim to be loopback
        server_header=False,
        date_header=False,
        **more,
    )
