"""One program on the line: what it asks, and what it has been told so far."""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Iterable
from typing import Any

from plumbstar.web.door import connections
from plumbstar.web.indi.device import CONNECTION, EQUATORIAL, Answer, IndiDevice, ProgramChoice
from plumbstar.web.indi.stream import BadStream, IndiCommand, IndiStream
from plumbstar.web.indi.vectors import DEVICE, IndiVector, State, gone, said
from plumbstar.web.programs.refused import Refused

log = logging.getLogger("plumbstar.web")

#: Bytes that a program has not taken; over that it is not told what changes meanwhile.
ENOUGH = 64 * 1024
#: Over that it asks faster than it reads, and the line is cut.
TOO_MUCH = 256 * 1024
WRITES = ("newTextVector", "newNumberVector", "newSwitchVector")
OUR_ERROR = (
    "Something went wrong in the program. The window where it was started tells more."  # as pages
)


class IndiSession:
    """Reads and answers; ``show`` tells it what has changed since."""

    def __init__(
        self,
        device: IndiDevice,
        reader: asyncio.StreamReader,
        writer: asyncio.StreamWriter,
        peer: str,
    ) -> None:
        self.device, self.peer = device, peer
        self.asked = False  # whether it has asked anything yet
        self.since = asyncio.get_running_loop().time()
        self._began = self.since  # when the unfinished element began
        self._reader, self._writer = reader, writer
        self._stream, self._chosen = IndiStream(), ProgramChoice()
        self._told: dict[str, IndiVector] = {}
        self._unsent = (0, self.since)  # what was not taken, and since when

    # ---- the line --------------------------------------------------------------------------

    def cut(self) -> None:
        self._writer.transport.abort()

    async def run(self) -> None:
        """Until the program, or one of the limits, ends it."""
        with contextlib.suppress(OSError, TimeoutError):
            try:
                while data := await self._heard():
                    received = self.device.station.clock.monotonic()
                    for command in self._stream.feed(data):
                        await self._do(command, received)
            except BadStream as e:
                await self.say_and_close(f"The line is closed: {e}.")
        self._writer.close()

    async def _heard(self) -> bytes:
        """What came. Raises TimeoutError: an element that does not end, or a program that asks
        nothing. One that has asked may be silent for ever: it is told where the tube points."""
        if self._stream.unfinished:
            left = self._began + connections.BODY_S - asyncio.get_running_loop().time()
        elif not self.asked:
            left = self.since + connections.HEAD_S - asyncio.get_running_loop().time()
        else:
            left = None
        whole = not self._stream.unfinished
        async with asyncio.timeout(None if left is None else max(left, 0.0)):
            data = await self._reader.read(4096)
        if whole:
            self._began = asyncio.get_running_loop().time()
        return data

    def look(self, now: float) -> None:
        """Whether anybody still takes what is sent."""
        left = self._writer.transport.get_write_buffer_size()
        if left == 0 or left != self._unsent[0]:
            self._unsent = (left, now)
        elif now - self._unsent[1] > connections.ANSWER_S:
            self.cut()

    def _send(self, text: str) -> None:
        if self._writer.transport.get_write_buffer_size() > TOO_MUCH:
            self.cut()
        elif not self._writer.transport.is_closing():
            self._writer.write(text.encode())

    def say(self, message: str) -> None:
        self._send(said(self.device.timestamp(), message))

    async def say_and_close(self, message: str) -> None:
        """The last word, for which a slow program is not waited for."""
        self.say(message)
        with contextlib.suppress(OSError):
            self._writer.write_eof()
            # What is still coming is not read: closed at once, it would take the word with it.
            async with asyncio.timeout(1.0):
                while await self._reader.read(4096):
                    pass

    # ---- what it is told -------------------------------------------------------------------

    @property
    def connected(self) -> bool:
        return self._chosen.connected

    def show(self, moving: Iterable[IndiVector]) -> None:
        """Tell what has changed. ``moving`` are the properties that change by themselves."""
        if not self.asked or self._writer.transport.get_write_buffer_size() > ENOUGH:
            return
        mine = self.device.always(self._chosen)
        if self.connected:
            mine += [self.device.choice(self._chosen), *moving]
        now = self.device.timestamp()
        there = {v.name for v in mine}
        out = [gone(name, now) for name in self._told if name not in there]
        for v in mine:
            if v.name not in self._told:
                out.append(v.defined(now))
            elif self._told[v.name] != v:
                out.append(v.told(now))
        self._told = {v.name: v for v in mine}
        if out:
            self._send("".join(out))

    def _show_now(self) -> None:
        self.show([*self.device.pointing(), *self.device.around()])

    # ---- what it asks ----------------------------------------------------------------------

    async def _do(self, c: IndiCommand, received: float) -> None:
        if c.tag == "getProperties":
            if c.given("device") in ("", DEVICE):
                self._forget(c.given("name"))
                await self.device.station.evening_ready()
                self.asked = True
                self._show_now()
            return
        if c.tag not in WRITES or c.given("device") != DEVICE:
            return  # the protocol: what is not known is passed over
        self.asked = True
        name = c.given("name")
        if name == CONNECTION:
            on = [part for part, value in c.parts if value == "On"]
            self._chosen = ProgramChoice(on == ["CONNECT"])
            await self.device.station.evening_ready()
            self._show_now()
            self._answer(name, Answer())
            return
        if not self.connected:
            self.say(f"Not connected: switch {CONNECTION} to CONNECT first.")
            return
        await self.device.station.evening_ready()
        try:
            done = await self.device.write(name, c, self._chosen, self.peer, received)
        except Refused as r:
            done = Answer(r.message, State.ALERT)
        except asyncio.CancelledError:
            raise
        except Exception as e:
            log.error("in what a program wrote to %s", name[:40], exc_info=e)
            done = Answer(OUR_ERROR, State.ALERT)
        self._show_now()
        self._answer(name, done)

    def _forget(self, name: str) -> None:
        """What is asked for is told anew."""
        if name:
            self._told.pop(name, None)
        else:
            self._told.clear()

    def _answer(self, name: str, done: Answer) -> None:
        """The property as it is now, with its state; a bare sentence where it is not there."""
        told = self._told.get(name)
        if told is None:
            if done.message:
                self.say(done.message)
            return
        state = done.state
        if name == EQUATORIAL and state is State.OK and told.state is State.BUSY:
            state = State.BUSY
        changed: Any = dict(vars(told)) | {"state": state}
        self._send(IndiVector(**changed).told(self.device.timestamp(), done.message))
