"""``plumbstar serve``: the loop that answers, first for the one question that may come before."""

from __future__ import annotations

import asyncio
import logging
import socket
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

from plumbstar.web.door.gate import Gate
from plumbstar.web.door.pairing import Pairing

if TYPE_CHECKING:
    import uvicorn

    from plumbstar.web.alpaca.serving import AlpacaServer
    from plumbstar.web.indi.serving import IndiServer
    from plumbstar.web.live.station import Station
    from plumbstar.web.routes.missing_book import Chosen


def ask_about_the_copy(
    path: Path, sock: socket.socket, options: dict[str, str], gate: Gate, pairing: Pairing
) -> Chosen | None:
    """Have the pages ask which logbook to go on with. How it was answered; None if stopped before
    that."""
    import uvicorn

    from plumbstar.web.door import connections
    from plumbstar.web.routes.missing_book import OpenQuestion, make_app

    done: Chosen | None = None

    def answered(chosen: Chosen) -> None:
        nonlocal done
        done = chosen
        server.should_exit = True  # once the answer is on its way

    class AskingServer(uvicorn.Server):
        """Notices besides when it is answered at the command line."""

        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets=sockets)
            self.looking = asyncio.create_task(asked.watch())

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            self.looking.cancel()
            await super().shutdown(sockets=sockets)

    logging.getLogger("uvicorn.error").setLevel(logging.ERROR)
    asked = OpenQuestion(path, answered)
    app = make_app(gate, pairing, asked)
    server = AskingServer(
        connections.config(app, timeout_graceful_shutdown=2, lifespan="off", **options)
    )
    # The server closes what it is given; the pages will listen on the same.
    _until_its_end(asyncio.new_event_loop(), server, sock.dup())
    return done


def run(
    app: Any,
    station: Station,
    sock: socket.socket,
    options: dict[str, str],
    gate: Gate,
    beside: list[AlpacaServer | IndiServer],
) -> None:
    """Serve the pages until the stop. Raises what made the evening fail."""
    import uvicorn

    from plumbstar.web.door import connections

    class EveningServer(uvicorn.Server):
        """Ends the streams first: an open stream would hold up the stop."""

        def handle_exit(self, sig: int, frame: FrameType | None) -> None:
            loop.call_soon_threadsafe(station.end)
            super().handle_exit(sig, frame)

        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            for device in beside:  # first: whoever finds the pages up finds the device up too
                await device.start(station, gate)
            await super().startup(sockets=sockets)

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            for device in beside:
                await device.stop()
            await super().shutdown(sockets=sockets)

    # It warns of every request that is none: anybody on the network could fill the log with them.
    logging.getLogger("uvicorn.error").setLevel(logging.ERROR)
    server = EveningServer(
        connections.config(app, timeout_graceful_shutdown=2, lifespan="on", **options)
    )

    def give_up() -> None:
        server.should_exit = True

    station.on_failure = give_up
    loop = asyncio.new_event_loop()
    _until_its_end(loop, server, sock)
    if station.failed is not None:
        raise station.failed


def _until_its_end(
    loop: asyncio.AbstractEventLoop, server: uvicorn.Server, sock: socket.socket
) -> None:
    asyncio.set_event_loop(loop)
    try:
        loop.run_until_complete(server.serve(sockets=[sock]))
    finally:
        # Ctrl-C leaves the loop before what hangs on the server's end has run: the threads that
        # read the static files would wait for ever, and the program with them.
        loop.run_until_complete(loop.shutdown_asyncgens())
        loop.close()
