"""The device beside the pages: its own port and plain HTTP, which is what other programs speak."""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import uvicorn

from plumbstar.web.alpaca.app import make_alpaca
from plumbstar.web.alpaca.discovery import Discovery
from plumbstar.web.alpaca.identity import unique_id
from plumbstar.web.door import connections
from plumbstar.web.door.gate import Gate
from plumbstar.web.programs.allowed import Allowed

if TYPE_CHECKING:
    from plumbstar.web.live.station import Station


class _Quiet(uvicorn.Server):
    """The signals are the pages' server's business."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


@dataclass
class AlpacaServer:
    """Sockets taken before anything was printed; started and stopped with the pages' server.

    ``questions`` is the discovery's, or None.
    """

    sock: socket.socket
    questions: socket.socket | None
    allowed: Allowed
    slew_sets_target: bool = False

    @property
    def port(self) -> int:
        return int(self.sock.getsockname()[1])

    async def start(self, station: Station, pages: Gate) -> None:
        """Listen. ``pages`` is the pages' gate, whose names are known here too."""
        gate = Gate(pages.names, self.port, False, pages.sessions)
        app = make_alpaca(
            station, gate, self.allowed, unique_id(), slew_sets_target=self.slew_sets_target
        )
        self._server = _Quiet(connections.config(app, timeout_graceful_shutdown=1, lifespan="off"))
        self.sock.listen(128)  # now, and not when the task gets its turn
        self._task = asyncio.create_task(self._server.serve(sockets=[self.sock]))
        self._transport: Any = None
        if self.questions is not None:
            self._transport, _ = await asyncio.get_running_loop().create_datagram_endpoint(
                lambda: Discovery(self.port, self.allowed), sock=self.questions
            )

    async def stop(self) -> None:
        if self._transport is not None:
            self._transport.close()
        self._server.should_exit = True
        await self._task
