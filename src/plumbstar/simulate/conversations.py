"""Conversations over TCP: many clients at once, each of which may be cut off from either side."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any

from plumbstar.errors import UserError

Client = Callable[[asyncio.StreamReader, asyncio.StreamWriter], Awaitable[None]]


async def serve(client: Client, host: str, port: int) -> asyncio.Server:
    """Listen. Raises :class:`UserError` when the port is taken or forbidden."""
    try:
        return await asyncio.start_server(client, host, port)
    except OSError as e:
        raise UserError(
            f"port {port} on {host} ({e.strerror})", "a free port", "Give another, or 0 for any"
        ) from None


def port_of(server: asyncio.Server) -> int:
    """Where a server listens."""
    port: int = server.sockets[0].getsockname()[1]
    return port


class Conversations:
    """Those under way, so that they can be cut off, and waited for at the end."""

    def __init__(self) -> None:
        self._talks: set[asyncio.Task[Any]] = set()
        self._closing = False

    @contextlib.asynccontextmanager
    async def talking(
        self, writer: asyncio.StreamWriter, among: set[asyncio.StreamWriter]
    ) -> AsyncIterator[None]:
        """A conversation with one client, which may be cut off at any time from either side."""
        task = asyncio.current_task()
        assert task is not None
        self._talks.add(task)
        task.add_done_callback(self._talks.discard)
        among.add(writer)
        try:
            yield
        except ConnectionError:
            pass
        except asyncio.CancelledError:
            if not self._closing:
                raise
        finally:
            among.discard(writer)
            writer.close()

    async def end(self) -> None:
        """Wait for the last words.

        Conversations end by themselves once cut off, but for one that waits for a push to end. Left
        to be cancelled with the event loop it would print a traceback (Python 3.11): so it is told
        here, and takes that for its end.
        """
        self._closing = True
        for talk in self._talks:
            talk.cancel()
        if self._talks:
            await asyncio.wait(self._talks, timeout=2.0)
