"""A simulated telescope: a hand, a mount with hidden faults, and an encoder board to talk to.

It is driven as a real one is: pushed, or pointed at a direction in the sky as an observer would
centre a star (not quite in the middle). Its board speaks over TCP and over a pseudo-terminal, in
the form the kit describes, and can be unplugged, garbled, reset or made to slip on demand.
``docs/encoders.md`` lists the control commands. In a test or a program::

    async with SimulatedTelescope(kit) as sim, Source(sim.kit("tcp")) as source:
        sim.push(az_deg=10.0)
        await sim.settled()
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import math
import os
import random
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal, Self

import msgspec
import numpy as np
from numpy.typing import NDArray

from plumbstar.errors import UserError
from plumbstar.kit import Connection, Kit
from plumbstar.mount import kinematics
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.simulate import hidden

Array = NDArray[np.float64]

DEFAULT_POLL: Final = "?\r"


@dataclass(frozen=True, slots=True)
class Shape:
    """How the simulated board counts and speaks, beyond what the kit says."""

    line_end: str = "\r\n"
    between: str = " "
    bits: Literal[0, 16, 24, 32] = 0
    """Counter size; 0 never wraps."""
    signed: bool = True
    """The counter runs from minus a half to plus a half, not from zero to all."""
    wraps_each_turn: bool = False
    """The count goes back to zero after each turn (then ``bits`` is not used)."""
    zero_at_power_on: bool = False
    """Count from zero wherever the tube stands at the start; otherwise upright counts as 90 deg."""

    def wrapped(self, count: int, ticks_per_turn: int) -> int:
        """The count as the board would show it."""
        modulus = ticks_per_turn if self.wraps_each_turn else (1 << self.bits if self.bits else 0)
        if not modulus:
            return count
        count %= modulus
        return count - modulus if self.signed and count >= (modulus + 1) // 2 else count


class Hand:
    """Smooth movement of both axes, degrees of reading: slow, fast, slow, as an arm moves a tube.

    The minimum-jerk path, 10 s^3 - 15 s^4 + 6 s^5 (Flash and Hogan, J. Neurosci. 5, 1688 (1985);
    from memory); its greatest speed is 1.875 times the mean.
    """

    def __init__(self, start: tuple[float, float], peak_deg_s: float, now: float) -> None:
        self._from = self._to = start
        self._peak = peak_deg_s
        self._began = now
        self._lasts = 0.0

    def at(self, now: float) -> tuple[float, float]:
        """Where the tube is, degrees."""
        s = 1.0 if self._lasts == 0.0 else min(1.0, max(0.0, (now - self._began) / self._lasts))
        f = s * s * s * (10.0 - 15.0 * s + 6.0 * s * s)
        (a0, e0), (a1, e1) = self._from, self._to
        return a0 + f * (a1 - a0), e0 + f * (e1 - e0)

    @property
    def goal(self) -> tuple[float, float]:
        """Where it will come to rest."""
        return self._to

    def go(self, goal: tuple[float, float], now: float) -> float:
        """Set out for a new goal from wherever it is; returns how long that takes, seconds."""
        here = self.at(now)
        far = max(abs(goal[0] - here[0]), abs(goal[1] - here[1]))
        self._from, self._to, self._began = here, goal, now
        self._lasts = max(0.25, 1.875 * far / self._peak) if far else 0.0
        return self._lasts

    def left_s(self, now: float) -> float:
        """Seconds until it is at rest."""
        return max(0.0, self._began + self._lasts - now)


class SimulatedTelescope:
    """One telescope with its board. ``terms`` (11,), radians, is what the observer must
    find out; none means a mount without fault.

    ``port`` and ``control_port`` 0 take any free one; None leaves that door shut. ``link`` is a
    path at which the pseudo-terminal appears, as a serial port does, and from which it vanishes
    when unplugged. ``host`` is this computer alone unless told otherwise; the control port always
    is.
    """

    def __init__(
        self,
        kit: Kit,
        terms: Array | None = None,
        *,
        shape: Shape = Shape(),
        host: str = "127.0.0.1",
        port: int | None = 0,
        control_port: int | None = None,
        pty: bool = False,
        link: Path | None = None,
        hand_deg_s: float = 15.0,
        centring_arcmin: float | None = None,
        seed: int = 1,
    ) -> None:
        c = kit.connection
        self._kit = kit
        self._shape = shape
        self.terms = np.zeros(N_TERMS) if terms is None else terms
        self._poll = c.poll if c.poll or c.pushed else DEFAULT_POLL
        self._pushed = c.pushed
        self._interval_s = c.interval_ms / 1000.0
        # A degree circle has no ticks; the simulated board then has the demo's.
        self._ticks = (kit.azimuth.ticks_per_turn or 9216, kit.altitude.ticks_per_turn or 9216)
        self._signs = (-1 if kit.azimuth.reversed else 1, -1 if kit.altitude.reversed else 1)
        self._host = host
        self.port = port
        self.control_port = control_port
        self._want_pty = pty or link is not None
        self._link = link
        self.device = ""
        self._hand_deg_s = hand_deg_s
        self._centring = math.radians(
            (kit.centring_arcmin if centring_arcmin is None else centring_arcmin) / 60.0
        )
        self._random = random.Random(seed)
        self._alt_limits = (kit.telescope.min_alt_deg - 1.0, kit.telescope.max_alt_deg + 1.0)
        self._hand: Hand | None = None
        self._zero = [0, 0]  # what the board takes off its own count
        self._slip_ticks = [0, 0]
        self._frozen: list[int | None] = [None, None]
        self._garbage = 0
        self._half_lines = False
        self._halves = 0
        self._unplugged = False
        self._silent_until = 0.0
        self._servers: list[asyncio.Server] = []
        self._board_server: asyncio.Server | None = None
        self._clients: set[asyncio.StreamWriter] = set()
        self._masters: set[asyncio.StreamWriter] = set()
        self._talks: set[asyncio.Task[Any]] = set()
        self._closing = False
        self._master = self._slave = -1
        self._tasks: set[asyncio.Task[None]] = set()

    # ------------------------------------------------------------------ life

    async def __aenter__(self) -> Self:
        # The observer starts with the tube on the upright stop.
        self._hand = Hand((0.0, 90.0), self._hand_deg_s, self._now())
        if self._shape.zero_at_power_on:
            self._restart_count()
        await self._plug_in()
        if self.control_port is not None:
            server = await self._serve(self._controlled, "127.0.0.1", self.control_port)
            self.control_port = server.sockets[0].getsockname()[1]
            self._servers.append(server)
        if self._pushed:
            self._spawn(self._push_lines())
        return self

    async def __aexit__(self, *_: object) -> None:
        tasks = list(self._tasks)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        self._pull_out()
        self._close_pty()
        for server in self._servers:
            server.close()
        for writer in list(self._masters):
            writer.transport.abort()
        # Conversations end by themselves once cut off, but for one that waits for a push to end.
        # Left to be cancelled with the event loop it would print a traceback (Python 3.11): so it
        # is told here, and takes that for its end.
        self._closing = True
        for talk in self._talks:
            talk.cancel()
        if self._talks:
            await asyncio.wait(self._talks, timeout=2.0)

    def kit(self, kind: Literal["tcp", "serial"] = "tcp") -> Kit:
        """The kit with its connection set to this telescope; the rest as it was given."""
        c = self.connection(kind)
        with_ticks = {
            axis: msgspec.structs.replace(circle, ticks_per_turn=ticks)
            for axis, circle, ticks in zip(
                ("azimuth", "altitude"),
                (self._kit.azimuth, self._kit.altitude),
                self._ticks,
                strict=True,
            )
        }
        return msgspec.structs.replace(self._kit, connection=c, **with_ticks)

    def connection(self, kind: Literal["tcp", "serial"] = "tcp") -> Connection:
        """The kit's [connection] table that reaches this telescope."""
        return msgspec.structs.replace(
            self._kit.connection,
            kind=kind,
            poll=self._poll,
            host=self._host if kind == "tcp" else "",
            port=(self.port or 0) if kind == "tcp" else 0,
            device=self.device if kind == "serial" else "",
        )

    # ------------------------------------------------------------------ the hand

    def push(self, az_deg: float = 0.0, alt_deg: float = 0.0) -> float:
        """Push the tube to the right and up by that much reading. Returns seconds until at rest."""
        hand = self._ready()
        az, alt = hand.goal
        low, high = self._alt_limits
        return hand.go((az + az_deg, min(high, max(low, alt + alt_deg))), self._now())

    def point(self, az_deg: float, alt_deg: float) -> float:
        """Centre what stands at that observed azimuth and altitude, with an observer's care.

        Off by ``centring_arcmin`` (1 sigma, each way on the sky). Returns seconds until at rest.
        Raises :class:`UserError` where the tube cannot go.
        """
        hand = self._ready()
        az, alt = np.radians(az_deg), np.radians(alt_deg)
        across, up = kinematics.tangent_basis(az, alt)
        off = [self._random.gauss(0.0, self._centring) for _ in range(2)]
        aim = kinematics.unit(az, alt) + off[0] * across + off[1] * up
        aim /= np.linalg.norm(aim)
        near = math.radians(hand.at(self._now())[0])
        goal = np.degrees(kinematics.reading_of(aim, self.terms, near))
        low, high = self._alt_limits
        if not low <= goal[1] <= high:
            raise UserError(
                f"a direction {alt_deg:.1f} deg up",
                f"one the tube can reach (readings {low:g} to {high:g} deg)",
                "Point elsewhere",
            )
        return hand.go((float(goal[0]), float(goal[1])), self._now())

    async def settled(self) -> None:
        """Wait until the tube is at rest."""
        hand = self._ready()
        while (left := hand.left_s(self._now())) > 0.0:
            await asyncio.sleep(left)

    def where(self) -> dict[str, float | int | bool]:
        """All that can be known: reading, counts, and the true direction that no observer sees."""
        hand = self._ready()
        now = self._now()
        az, alt = hand.at(now)
        true = kinematics.az_alt(kinematics.direction(np.radians([az, alt]), self.terms))
        counts = self._counts()
        return {
            "az_reading_deg": az,
            "alt_reading_deg": alt,
            "true_az_deg": math.degrees(float(true[0])),
            "true_alt_deg": math.degrees(float(true[1])),
            "az_count": counts[0],
            "alt_count": counts[1],
            "moving": hand.left_s(now) > 0.0,
        }

    # ------------------------------------------------------------------ the control commands

    def command(self, order: Mapping[str, Any]) -> dict[str, Any]:
        """Do what one JSON object asks and answer with one. Raises :class:`UserError`."""
        answer: dict[str, Any] = {"ok": True}
        known = {
            "push_az_deg", "push_alt_deg", "point_az_deg", "point_alt_deg", "wait", "where",
            "hidden", "unplug", "lose_power", "silent", "garbage", "half_lines", "stuck",
            "reset_counter", "slip_deg", "base_moved_deg",
        }  # fmt: skip
        unknown = set(order) - known
        if unknown or not order:
            raise UserError(
                f"the command {sorted(unknown) or 'of nothing'}",
                f"any of {', '.join(sorted(known))}",
                "See docs/encoders.md",
            )
        if "push_az_deg" in order or "push_alt_deg" in order:
            answer["seconds"] = self.push(
                _number(order, "push_az_deg"), _number(order, "push_alt_deg")
            )
        if "point_az_deg" in order or "point_alt_deg" in order:
            answer["seconds"] = self.point(
                _number(order, "point_az_deg", None), _number(order, "point_alt_deg", None)
            )
        if "slip_deg" in order:
            for i, deg in enumerate(_numbers(order, "slip_deg", 2)):
                self._slip_ticks[i] += round(deg * self._ticks[i] / 360.0)
        if "base_moved_deg" in order:
            north, west, turned = _numbers(order, "base_moved_deg", 3)
            self.terms = self.terms.copy()
            for term, deg in (("lean_north", north), ("lean_west", west), ("azimuth_zero", turned)):
                self.terms[INDEX[term]] += math.radians(deg)
        if order.get("reset_counter"):
            self._restart_count()
        if "stuck" in order:
            self._freeze(order["stuck"])
        if "garbage" in order:
            self._garbage = int(_number(order, "garbage")) if order["garbage"] is not True else 5
        if "half_lines" in order:
            self._half_lines = bool(order["half_lines"])
        if "silent" in order:
            self._silent_until = self._now() + _number(order, "silent")
        if "unplug" in order:
            self._spawn(
                self._unplug(_number(order, "unplug"), lose_power=bool(order.get("lose_power")))
            )
        if order.get("hidden"):
            answer["hidden"] = hidden.to_mapping(self.terms)
        if order.get("where"):
            answer["where"] = self.where()
        return answer

    def _freeze(self, which: Any) -> None:
        if which not in (False, True, "az", "alt"):
            raise UserError(f"stuck = {which!r}", 'true, false, "az" or "alt"', "Correct it")
        self._frozen = [None, None]
        az, alt = self._counts()
        self._frozen = [
            az if which in (True, "az") else None,
            alt if which in (True, "alt") else None,
        ]

    def _restart_count(self) -> None:
        self._zero = [0, 0]
        self._zero = list(self._true_counts())

    # ------------------------------------------------------------------ the board

    def _true_counts(self) -> tuple[int, int]:
        """Counts before the counter's size is felt, less what the board started from."""
        az, alt = self._ready().at(self._now())
        a, e = (
            round(s * deg * n / 360.0) + slip - zero
            for s, deg, n, slip, zero in zip(
                self._signs, (az, alt), self._ticks, self._slip_ticks, self._zero, strict=True
            )
        )
        return a, e

    def _counts(self) -> tuple[int, int]:
        az, alt = (
            self._shape.wrapped(count, ticks) if frozen is None else frozen
            for count, ticks, frozen in zip(
                self._true_counts(), self._ticks, self._frozen, strict=True
            )
        )
        return az, alt

    def _pieces(self) -> list[tuple[float, bytes]]:
        """The next line as it goes down the wire: (seconds to wait, bytes), with its faults."""
        if self._garbage > 0:
            self._garbage -= 1
            return [(0.0, self._random.randbytes(self._random.randint(1, 60)))]
        counts = self._counts()
        first, second = reversed(counts) if self._kit.connection.altitude_first else counts
        form = "X" if self._kit.connection.base == 16 else "d"
        text = f"{first:{form}}{self._shape.between}{second:{form}}{self._shape.line_end}"
        line = text.encode("latin-1")
        if not self._half_lines:
            return [(0.0, line)]
        # By turns: a line in two halves, a line whose end is lost, a whole line, ...
        self._halves += 1
        cut = self._random.randint(1, max(1, len(line) - 1))
        if self._halves % 3 == 0:
            return [(0.0, line[:cut])]
        return [(0.0, line[:cut]), (0.03, line[cut:])]

    async def _push_lines(self) -> None:
        while True:
            await asyncio.sleep(self._interval_s)
            async for piece in self._line():
                for writer in list(self._clients):
                    writer.write(piece)
                self._write_pty(piece)

    async def _line(self) -> AsyncIterator[bytes]:
        """The next line as it is heard: piece by piece, nothing while the board is mute."""
        for pause, piece in self._pieces():
            await asyncio.sleep(pause)
            if not self._unplugged and self._now() >= self._silent_until:
                yield piece

    async def _spoken_to(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """One TCP client of the board."""
        heard = b""
        async with self._talking(writer, self._clients):
            while data := await reader.read(1024):
                heard, asked = self._asked(heard + data)
                for _ in range(asked):
                    async for piece in self._line():
                        writer.write(piece)
                await writer.drain()

    @contextlib.asynccontextmanager
    async def _talking(
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

    def _asked(self, heard: bytes) -> tuple[bytes, int]:
        """How many polls are in what was heard, and what is left of it."""
        if self._pushed:
            return b"", 0
        poll = self._poll.encode("latin-1")
        *asked, rest = heard.split(poll)
        return rest[-len(poll) :], len(asked)

    # ------------------------------------------------------------------ the plug

    async def _plug_in(self) -> None:
        self._unplugged = False
        if self.port is not None and self._board_server is None:
            self._board_server = await self._serve(self._spoken_to, self._host, self.port)
            self.port = self._board_server.sockets[0].getsockname()[1]
        if self._want_pty and self._master < 0:
            self._open_pty()

    @staticmethod
    async def _serve(client: Any, host: str, port: int) -> asyncio.Server:
        try:
            return await asyncio.start_server(client, host, port)
        except OSError as e:
            raise UserError(
                f"port {port} on {host} ({e.strerror})", "a free port", "Give another, or 0 for any"
            ) from None

    def _pull_out(self) -> None:
        self._unplugged = True
        if self._board_server is not None:
            self._board_server.close()
            self._board_server = None
        for writer in list(self._clients):
            writer.transport.abort()

    async def _unplug(self, seconds: float, *, lose_power: bool) -> None:
        self._pull_out()
        # Without a link the pseudo-terminal would come back under another name, where nobody would
        # look for it; then the port stays and only falls silent.
        if self._link is not None:
            self._close_pty()
        await asyncio.sleep(seconds)
        if lose_power:
            self._restart_count()
        await self._plug_in()

    def _open_pty(self) -> None:
        try:
            import termios  # noqa: F401 - its absence means there are no pseudo-terminals
            import tty
        except ImportError:
            raise UserError(
                "a pseudo-terminal on this system", "Linux or macOS", "Use the TCP port"
            ) from None
        # The slave is held open here too: otherwise the master fails whenever no one listens.
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.device = os.ttyname(self._slave)
        if self._link is not None:
            if self._link.exists() and not self._link.is_symlink():
                raise UserError(f"{self._link} exists", "a free path", "Give another path")
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

    # ------------------------------------------------------------------ the control port

    async def _controlled(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        # ValueError: a line beyond all bounds.
        async with self._talking(writer, self._masters):
            with contextlib.suppress(ValueError):
                while line := await reader.readline():
                    writer.write(json.dumps(await self._answer(line)).encode() + b"\n")
                    await writer.drain()

    async def _answer(self, line: bytes) -> dict[str, Any]:
        try:
            order = json.loads(line)
            if not isinstance(order, dict):
                raise UserError(f"{order!r}", "a JSON object on one line", "Send one")
            answer = self.command(order)
            if order.get("wait"):
                await self.settled()
        except UserError as e:
            return {"ok": False, "error": str(e)}
        except (ValueError, RecursionError) as e:
            return {"ok": False, "error": f"not JSON: {e}"}
        return answer

    # ------------------------------------------------------------------ small things

    @staticmethod
    def _now() -> float:
        return asyncio.get_running_loop().time()

    def _ready(self) -> Hand:
        if self._hand is None:
            raise RuntimeError("use the simulated telescope inside 'async with'")
        return self._hand

    def _spawn(self, work: Any) -> None:
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)


def _number(order: Mapping[str, Any], key: str, default: float | None = 0.0) -> float:
    return hidden.number(key, order.get(key, default))


def _numbers(order: Mapping[str, Any], key: str, n: int) -> list[float]:
    value = order[key]
    if not isinstance(value, list) or len(value) != n:
        raise UserError(f"{key} = {value!r}", f"a list of {n} numbers", "Correct it")
    return [hidden.number(key, v) for v in value]
