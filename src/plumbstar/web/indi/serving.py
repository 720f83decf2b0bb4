"""The protocol's port beside the pages: who is let in, how many, and what all are told."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import socket
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from plumbstar.web.door.addresses import is_loopback, neighbourhood
from plumbstar.web.door.gate import Gate
from plumbstar.web.indi.device import IndiDevice
from plumbstar.web.indi.session import IndiSession
from plumbstar.web.programs.allowed import Allowed

if TYPE_CHECKING:
    from plumbstar.web.live.station import Station

log = logging.getLogger("plumbstar.web")

PORT = 7624  # the protocol's own
#: Programs at a time, and of one other computer.
MOST, MOST_OF_ONE = 32, 8
#: How often programs are told where the tube points.
TELL_S = 0.5


@dataclass
class IndiServer:
    """A socket taken before anything was printed; started and stopped with the pages' server."""

    sock: socket.socket
    allowed: Allowed
    slew_sets_target: bool = False
    _sessions: list[IndiSession] = field(default_factory=list)

    @property
    def port(self) -> int:
        return int(self.sock.getsockname()[1])

    async def start(self, station: Station, pages: Gate) -> None:
        self._device = IndiDevice(station, self.slew_sets_target)
        self._server = await asyncio.start_server(self._come_in, sock=self.sock, backlog=128)
        self._teller = asyncio.create_task(self._tell())

    async def stop(self) -> None:
        self._teller.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await self._teller
        self._server.close()
        for session in list(self._sessions):
            session.cut()

    async def _come_in(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        peer = str((writer.get_extra_info("peername") or ("",))[0])
        session = IndiSession(self._device, reader, writer, peer)
        if not self.allowed.peer(peer):
            await session.say_and_close(self.allowed.turned_away(peer))
            session.cut()
            return
        if not self._room_for(peer):
            await session.say_and_close("Too many programs use this telescope already.")
            session.cut()
            return
        sock = writer.get_extra_info("socket")
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        self._sessions.append(session)
        try:
            await session.run()
        except Exception as e:
            log.error("with a program on the INDI port", exc_info=e)
            session.cut()
        finally:
            self._sessions.remove(session)

    def _room_for(self, peer: str) -> bool:
        """Whether there is a place; whoever has asked nothing yet makes one."""
        mine = neighbourhood(peer)
        crowd = [s for s in self._sessions if neighbourhood(s.peer) == mine]
        if is_loopback(peer) or len(crowd) < MOST_OF_ONE:
            crowd = list(self._sessions)
            if len(crowd) < MOST:
                return True
        idle = [s for s in crowd if not s.asked]
        if idle:
            min(idle, key=lambda s: s.since).cut()
        return bool(idle)

    async def _tell(self) -> None:
        """Twice a second, worked out once for all."""
        loop = asyncio.get_running_loop()
        while True:
            await asyncio.sleep(TELL_S)
            try:
                for session in self._sessions:
                    session.look(loop.time())
                connected = [s for s in self._sessions if s.connected]
                if connected:
                    moving = [*self._device.pointing(), *self._device.around()]
                    for session in connected:
                        session.show(moving)
            except Exception as e:
                log.error("while programs were told where it points", exc_info=e)
