"""A live source of readings: opens the port or socket, asks, listens, and never gives up.

All judgement is in tracker.py; here are only the port, the clock and the patience. Whatever goes
wrong (no such port, a cable pulled, a board switched off) becomes the ``problem`` of the reading,
and the source tries again, waiting a little longer each time up to two seconds.

    async with Source(kit) as source:
        async for reading in source.subscribe():
            ...
"""

from __future__ import annotations

import asyncio
import contextlib
import errno
import math
import socket
import sys
import time
from collections.abc import AsyncIterator, Callable
from typing import Any, Self

from plumbstar.encoders.counter import Snapshot
from plumbstar.encoders.limits import USUAL_LIMITS, Limits
from plumbstar.encoders.reading import Reading
from plumbstar.encoders.tracker import USUAL_TIMING, Timing, Tracker, place
from plumbstar.encoders.typed import from_circles
from plumbstar.errors import UserError
from plumbstar.kit import Connection, Kit
from plumbstar.mount.slips import CountSlip


def poll_bytes(connection: Connection) -> bytes:
    """The poll string as bytes. Raises :class:`UserError` if it cannot be sent or is missing."""
    if connection.heard and not connection.pushed and not connection.poll:
        raise UserError(
            "a connection with neither 'connection.poll' nor 'connection.pushed'",
            "one of them",
            "Say what to send to get a reply (poll), or that lines come by themselves (pushed)",
        )
    try:
        return connection.poll.encode("latin-1")
    except UnicodeEncodeError:
        raise UserError(
            f"kit key 'connection.poll' = {connection.poll!r}",
            "characters of one byte each",
            'Write other bytes as "\\u0005"',
        ) from None


class _Link(asyncio.Protocol):
    """One open connection. ``changed`` is set by bytes and by the end; ``ended`` by the end."""

    def __init__(self, heard: Callable[[bytes], int]) -> None:
        self._heard = heard
        self.transport: Any = None
        self.changed = asyncio.Event()
        self.ended = asyncio.Event()
        self.error: Exception | None = None
        self.lines = 0
        self.heard_at = -math.inf

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self.transport = transport

    def data_received(self, data: bytes) -> None:
        self.lines += self._heard(data)
        self.changed.set()

    def connection_lost(self, exc: Exception | None) -> None:
        self.error = exc
        self.ended.set()
        self.changed.set()


async def _wait(event: asyncio.Event, seconds: float) -> None:
    """Wait for the event, but no longer than that."""
    # asyncio.timeout, not wait_for: in Python 3.11 the latter can swallow a cancellation.
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(max(0.0, seconds)):
            await event.wait()


class Source:
    """Readings of one telescope, as the kit describes its encoders or circles.

    ``monotonic`` and ``unix`` are clocks in seconds. Use as an async context manager, or call
    :meth:`start` and :meth:`stop`. Raises :class:`UserError` on a kit that cannot be asked.
    """

    def __init__(
        self,
        kit: Kit,
        *,
        timing: Timing = USUAL_TIMING,
        limits: Limits = USUAL_LIMITS,
        monotonic: Callable[[], float] = time.monotonic,
        unix: Callable[[], float] = time.time,
    ) -> None:
        self.kit = kit
        self._timing = timing
        self._now = monotonic
        self._unix = unix
        self._poll = poll_bytes(kit.connection)
        self._tracker = Tracker(kit, timing, limits)
        self._tasks: list[asyncio.Task[None]] = []
        self._waiting: set[asyncio.Event] = set()
        self._running = False
        self._link: _Link | None = None
        self._lines = 0
        self._shown = self._tracker.latest

    # ------------------------------------------------------------------ life

    async def start(self) -> None:
        """Begin; returns at once. The first reading is "absent" until the board has answered."""
        if self._running:
            return
        self._running = True
        if self.kit.connection.heard:
            self._tasks = [asyncio.create_task(self._run()), asyncio.create_task(self._age())]

    async def stop(self) -> None:
        """Close the connection and end every subscription. Safe to call twice."""
        self._running = False
        for task in self._tasks:
            task.cancel()
        for task in self._tasks:
            with contextlib.suppress(asyncio.CancelledError):
                await task
        self._tasks = []
        self._publish()

    async def __aenter__(self) -> Self:
        await self.start()
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.stop()

    # ------------------------------------------------------------------ readings

    @property
    def latest(self) -> Reading:
        """The present reading, fresh or not: look at its ``state``."""
        self._tracker.tick(self._now())
        return self._tracker.latest

    @property
    def slips(self) -> tuple[CountSlip, ...]:
        """The possible slips that are open, oldest first."""
        return self._tracker.counter.slips

    @property
    def slips_before(self) -> int:
        """The number of the last possible slip, open or not."""
        return self._tracker.counter.slips_before

    async def subscribe(self) -> AsyncIterator[Reading]:
        """The present reading, then each newer one, until the source stops.

        A slow reader misses those in between and always gets the newest: nothing piles up.
        """
        news = asyncio.Event()
        self._waiting.add(news)
        try:
            while True:
                yield self.latest
                await news.wait()
                news.clear()
                if not self._running:
                    return
        finally:
            self._waiting.discard(news)

    def reading_at(self, monotonic: float) -> Reading | None:
        """The reading at an instant of the monotonic clock in the last minutes, or None.

        For a tap: what the encoders said when the finger touched, not when the page was answered.
        """
        return self._tracker.history.at(monotonic)

    # ------------------------------------------------------------------ what the observer does

    def acknowledge(self, number: int) -> None:
        """A star has been sighted since: forget possible slips up to that number."""
        self._tracker.acknowledge(self._now(), number)
        self._publish()

    def set_reading(self, *, az_deg: float | None = None, alt_deg: float | None = None) -> None:
        """Call the present place by these values, as ``alt_deg=90`` on the upright stop. Raises
        :class:`UserError` when there is no live reading."""
        self._tracker.set_reading(self._now(), az_deg, alt_deg)
        self._publish()

    def type_reading(self, az_shown_deg: float, alt_shown_deg: float) -> Reading:
        """What the two circles show, degrees. Raises :class:`UserError` outside their range."""
        az, alt = from_circles(self.kit, az_shown_deg, alt_shown_deg)
        self._tracker.type_reading(az, alt, self._now(), self._unix())
        self._publish()
        return self._tracker.latest

    def snapshot(self) -> tuple[Snapshot, tuple[float, float]] | None:
        """What to keep so that :meth:`resume` can carry on after the program is started again."""
        return self._tracker.snapshot()

    def resume(self, old: tuple[Snapshot, tuple[float, float]]) -> None:
        """Carry on from an earlier run; call it before :meth:`start`."""
        self._tracker.resume(old)

    def count_slips_from(self, number: int) -> None:
        """So many slips came before; call it before :meth:`start`."""
        self._tracker.counter.count_slips_from(number)

    # ------------------------------------------------------------------ the work

    def _publish(self) -> None:
        self._shown = self._tracker.latest
        for event in self._waiting:
            event.set()

    def _publish_news(self) -> None:
        """Publish if the reading on show differs from the one last published."""
        # Compared here and not where it changes: looking at ``latest`` lets time pass as well, and
        # bytes without numbers change the words though no line came of them.
        if self._tracker.latest != self._shown:
            self._publish()

    async def _age(self) -> None:
        """Show that a reading has grown old, and for how long nothing has been heard."""
        while True:
            await asyncio.sleep(0.1)
            self._tracker.tick(self._now())
            self._publish_news()

    async def _run(self) -> None:
        retry = self._timing.first_retry_s
        while True:
            before = self._lines
            try:
                why = await self._session()
            except Exception as e:  # whatever a port, driver or network may throw
                why = explain(e, self.kit.connection)
            if self._lines > before:
                retry = self._timing.first_retry_s
            self._tracker.lost(self._now(), f"{why} Trying again by itself")
            self._publish()
            await asyncio.sleep(retry)
            retry = min(2.0 * retry, self._timing.last_retry_s)

    async def _session(self) -> str:
        """One connection from opening to its end; returns why it ended."""
        link = _Link(self._heard)
        self._link = link
        try:
            async with asyncio.timeout(self._timing.open_s):
                await self._open(link)
            self._tracker.opened(self._now())
            self._publish()
            if self.kit.connection.pushed:
                return await self._listen(link)
            return await self._ask(link)
        finally:
            self._link = None
            if link.transport is not None:
                # abort, not close: closing waits for a dead port to take what was last written
                if not link.transport.is_closing():
                    link.transport.abort()
                await _wait(link.ended, 1.0)  # the port must be free before it is opened again

    async def _open(self, link: _Link) -> None:
        c = self.kit.connection
        loop = asyncio.get_running_loop()
        if c.kind == "tcp":
            await loop.create_connection(lambda: link, c.host, c.port)
            return
        import serial_asyncio_fast

        # Exclusive: two programs reading one port would each get half of every line.
        options = {} if sys.platform == "win32" else {"exclusive": True}
        await serial_asyncio_fast.create_serial_connection(
            loop, lambda: link, c.device, baudrate=c.baud, **options
        )
        # This transport announces itself only on the next turn of the loop.
        while link.transport is None:
            await asyncio.sleep(0)

    def _send(self, link: _Link) -> None:
        if self.kit.connection.kind == "serial":
            # Past the transport's own buffer: a poll that cannot be sent now is not worth keeping,
            # and a port that has gone raises here, where it is expected.
            link.transport.serial.write(self._poll)
        else:
            link.transport.write(self._poll)

    def _heard(self, data: bytes) -> int:
        now = self._now()
        if self._link is not None:
            self._link.heard_at = now
        n = self._tracker.feed(data, now, self._unix())
        self._lines += n
        self._publish_news()
        return n

    async def _listen(self, link: _Link) -> str:
        """A board that sends by itself. A poll string, if given, is sent to wake it."""
        woken = self._now()
        if self._poll:
            self._send(link)
        while not link.ended.is_set():
            await _wait(link.ended, 0.5)
            now = self._now()
            if self._too_silent(now):
                return self._silent_words(now)
            if self._poll and min(now - woken, self._tracker.silent_s(now)) > 2.0:
                woken = now
                self._send(link)
        return self._ended_words(link)

    async def _ask(self, link: _Link) -> str:
        """A board that answers a poll: ask, wait for the answer, keep to the interval."""
        t, parser = self._timing, self._tracker.parser
        interval = self.kit.connection.interval_ms / 1000.0
        while not link.ended.is_set():
            sent = self._now()
            link.lines = 0
            self._send(link)
            while not link.ended.is_set() and not link.lines:
                link.changed.clear()
                now = self._now()
                wake = sent + t.reply_s
                if parser.pending:
                    quiet_at = link.heard_at + (t.quiet_bare_s if parser.bare else t.quiet_s)
                    if now >= quiet_at:
                        self._lines += self._tracker.flush(link.heard_at, now, self._unix())
                        self._publish()
                        break
                    wake = min(wake, quiet_at)
                if now >= sent + t.reply_s:
                    parser.clear()  # half an answer: the rest is not coming
                    break
                await _wait(link.changed, wake - now)
            now = self._now()
            if self._too_silent(now):
                return self._silent_words(now)
            await _wait(link.ended, sent + interval - now)
        return self._ended_words(link)

    def _too_silent(self, now: float) -> bool:
        tcp = self.kit.connection.kind == "tcp"
        limit = self._timing.silent_tcp_s if tcp else self._timing.silent_serial_s
        slow = max(self.kit.connection.interval_ms / 1000.0, self._tracker.counter.usual_s)
        limit = max(limit, 3.0 * slow)
        return self._tracker.silent_s(now) > limit

    def _silent_words(self, now: float) -> str:
        return (
            f"no bytes for {self._tracker.silent_s(now):.0f} s from {place(self.kit.connection)}: "
            "is the cable in and the board on?"
        )

    def _ended_words(self, link: _Link) -> str:
        if link.error is not None:
            return explain(link.error, self.kit.connection)
        if self.kit.connection.kind == "tcp":
            return f"{place(self.kit.connection)} closed the connection: is the board on?"
        return f"{place(self.kit.connection)} is gone: is the cable in?"


def explain(error: Exception, connection: Connection) -> str:
    """A plain sentence with what to do, for any error that a port or a network may give."""
    where = place(connection)
    code = getattr(error, "errno", None)
    words = str(error)
    if connection.kind == "serial":
        if code == errno.ENOENT or "FileNotFoundError" in words:
            return f"there is no port {where}: is the cable in, and the name right?"
        if code == errno.EACCES or "PermissionError" in words:
            return (
                f"this computer does not let you use {where}: another program may have it, "
                "or you must join the group that owns it."
            )
        if "exclusively lock" in words or code in (errno.EAGAIN, errno.EBUSY):
            return f"another program is using {where}: close it."
        if isinstance(error, TimeoutError):
            return f"{where} does not open: pull the cable and put it back."
        if isinstance(error, OSError):  # a serial error is one too
            return f"{where} is gone: is the cable in?"
        return f"{where} cannot be opened ({words}): check device and baud in the kit."
    if isinstance(error, socket.gaierror):
        return f"the name {connection.host} is not known on this network: check host in the kit."
    if isinstance(error, ConnectionRefusedError):
        return f"nothing answers at {where}: is the board ready, and the port number right?"
    if isinstance(error, ConnectionError):
        return f"{where} closed the connection: is the board on?"
    if isinstance(error, OSError | TimeoutError):
        return f"{where} cannot be reached: is the board on, and this computer on its network?"
    return f"{where} cannot be reached ({words}): check host and port in the kit."
