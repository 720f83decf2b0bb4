"""What the server accepts sends at once: no answer waits for the other side's acknowledgement."""

import asyncio
import socket

import pytest

from plumbstar.commands.serve_beside import bind
from plumbstar.errors import UserError

from .server_rig import asynchronous


@pytest.mark.parametrize("host", ["127.0.0.1", "::1"])
def test_an_accepted_connection_does_not_wait(host):
    try:
        sock = bind(host, 0)
    except UserError:
        pytest.skip(f"this computer has no {host}")

    @asynchronous
    async def accept():
        seen = asyncio.get_running_loop().create_future()

        class Look(asyncio.Protocol):
            def connection_made(self, transport):
                s = transport.get_extra_info("socket")
                seen.set_result(s.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
                transport.close()

        # As uvicorn does it with a socket that it is given.
        server = await asyncio.get_running_loop().create_server(Look, sock=sock)
        _, writer = await asyncio.open_connection(host, sock.getsockname()[1])
        assert await seen != 0
        writer.close()
        server.close()

    accept()
