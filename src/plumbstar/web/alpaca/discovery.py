"""Discovery: a program broadcasts its question over UDP, and is told the device's port.

The standard's port is 32227, the question ``alpacadiscovery1``, the answer ``{"AlpacaPort": n}``.
IPv4 only: IPv6 is asked by multicast, for which every interface would have to be joined.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import sys
from typing import Any

import msgspec

from plumbstar.web.programs.allowed import Allowed

PORT = 32227
QUESTION = b"alpacadiscovery1"


def bind(port: int = PORT) -> socket.socket:
    """A socket at which broadcasts arrive. Raises OSError.

    Bound to every address, since a broadcast reaches no other; who is answered is another matter.
    The port is shared with other device servers on this computer, as the standard has it.
    """
    sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if sys.platform == "darwin":
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
        sock.bind(("0.0.0.0", port))
        sock.setblocking(False)
    except OSError:
        sock.close()
        raise
    return sock


class Discovery(asyncio.DatagramProtocol):
    """Answers those who may use the device, and nobody else."""

    def __init__(self, alpaca_port: int, allowed: Allowed) -> None:
        self._answer = msgspec.json.encode({"AlpacaPort": alpaca_port})
        self._allowed = allowed
        self._transport: Any = None

    def connection_made(self, transport: Any) -> None:
        self._transport = transport

    def datagram_received(self, data: bytes, addr: Any) -> None:
        if data.startswith(QUESTION) and self._allowed.peer(str(addr[0])):
            with contextlib.suppress(OSError):
                self._transport.sendto(self._answer, addr)

    def error_received(self, exc: Exception) -> None:
        """The asker has gone: nothing to do."""
