"""The simulated board's wires: TCP, and a pseudo-terminal for a serial port; and the plug."""

from __future__ import annotations

import asyncio
import contextlib
import os
from collections.abc import AsyncIterator, Callable, Coroutine
from pathlib import Path
from typing import Any

from plumbstar.errors import UserError
from plumbstar.simulate.conversations import Conversations, port_of, serve


class Wire:
    """Carries lines to whoever listens, and hears when somebody asks for one.

    ``poll``: the bytes that ask for a line; empty for a board that sends unasked. ``line``: the
    next line, piece by piece. ``spawn`` runs what an order of the pseudo-terminal begins. ``port``
    0 takes any free one, None none; ``link`` is where the pseudo-terminal appears.
    """

    def __init__(
        self,
        poll: bytes,
        line: Callable[[], AsyncIterator[bytes]],
        spawn: Callable[[Coroutine[Any, Any, None]], None],
        conversations: Conversations,
        *,
        host: str,
        port: int | None,
        pty: bool,
        link: Path | None,
    ) -> None:
        self._poll = poll
        self._line = line
        self._spawn = spawn
        self._conversations = conversations
        self._host = host
        self.port = port
        self._want_pty = pty or link is not None
        self._link = link
        #: The path of the pseudo-terminal; "" for none.
        self.device = ""
        #: Whether the plug is in.
        self.connected = False
        self._server: asyncio.Server | None = None
        self._clients: set[asyncio.StreamWriter] = set()
        self._master = self._slave = -1

    async def plug_in(self) -> None:
        """Listen again at the same places."""
        self.connected = True
        if self.port is not None and self._server is None:
            self._server = await serve(self._spoken_to, self._host, self.port)
            self.port = port_of(self._server)
        if self._want_pty and self._master < 0:
            self._open_pty()

    def pull_out(self) -> None:
        """Cut every TCP client off, and a pseudo-terminal that comes back under the same name.

        Without a link it would come back under another, where nobody would look for it; then the
        port stays and only falls silent.
        """
        self._cut_off()
        if self._link is not None:
            self._close_pty()

    def close(self) -> None:
        """For good."""
        self._cut_off()
        self._close_pty()

    def _cut_off(self) -> None:
        self.connected = False
        if self._server is not None:
            self._server.close()
            self._server = None
        for writer in list(self._clients):
            writer.transport.abort()

    def write(self, piece: bytes) -> None:
        """To everybody who listens."""
        for writer in list(self._clients):
            writer.write(piece)
        self._write_pty(piece)

    async def _spoken_to(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """One TCP client of the board."""
        heard = b""
        async with self._conversations.talking(writer, self._clients):
            while data := await reader.read(1024):
                heard, asked = self._asked(heard + data)
                for _ in range(asked):
                    async for piece in self._line():
                        writer.write(piece)
                await writer.drain()

    def _asked(self, heard: bytes) -> tuple[bytes, int]:
        """How many polls are in what was heard, and what is left of it."""
        if not self._poll:
            return b"", 0
        *asked, rest = heard.split(self._poll)
        return rest[-len(self._poll) :], len(asked)

    # ---- the pseudo-terminal ---------------------------------------------------------------

    def _open_pty(self) -> None:
        try:
            import termios  # noqa: F401 - its absence means there are no pseudo-terminals
            import tty
        except ImportError:
            raise UserError(
                "This system has no simulated serial ports (Linux and macOS have)",
                "",
                "Use the TCP port",
            ) from None
        # The slave is held open here too: otherwise the master fails whenever no one listens.
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.device = os.ttyname(self._slave)
        if self._link is not None:
            if self._link.exists() and not self._link.is_symlink():
                raise UserError(f"{self._link} exists already", "", "Give another path")
            self._link.unlink(missing_ok=True)
            self._link.symlink_to(self.device)
            self.device = str(self._link)
        heard = b""

        def ready() -> None:
            nonlocal heard
            with contextlib.suppress(OSError):
                heard, asked = self._asked(heard + os.read(self._master, 1024))
                for _ in range(asked):
                    self._spawn(self._answer_pty())

        asyncio.get_running_loop().add_reader(self._master, ready)

    async def _answer_pty(self) -> None:
        async for piece in self._line():
            self._write_pty(piece)

    def _write_pty(self, data: bytes) -> None:
        if self._master >= 0:
            with contextlib.suppress(OSError):  # full, since no one reads: a wire forgets too
                os.write(self._master, data)

    def _close_pty(self) -> None:
        if self._master < 0:
            return
        asyncio.get_running_loop().remove_reader(self._master)
        os.close(self._master)
        os.close(self._slave)
        self._master = self._slave = -1
        if self._link is not None:
            self._link.unlink(missing_ok=True)
