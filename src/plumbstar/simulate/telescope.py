"""A simulated telescope: a hand, a mount with hidden faults, and an encoder board to talk to.

It is driven as a real one is: pushed, or pointed at a direction in the sky as an observer would
centre a star (not quite in the middle). Its board speaks over TCP and over a pseudo-terminal, in
the form the kit describes, and can be unplugged, garbled, reset or made to slip on demand.
``docs/encoders.md`` lists the orders. In a test or a program::

    async with SimulatedTelescope(kit) as sim, Source(sim.kit("tcp")) as source:
        sim.push(az_deg=10.0)
        await sim.settled()
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import math
import random
from collections.abc import AsyncIterator, Coroutine, Mapping
from pathlib import Path
from typing import Any, Literal, Self

import msgspec
import numpy as np

from plumbstar.errors import UserError
from plumbstar.kit import Connection, Kit
from plumbstar.mount import kinematics
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.simulate import hidden
from plumbstar.simulate.board import PLAIN, STUCK, Board, Shape
from plumbstar.simulate.conversations import Conversations, port_of, serve
from plumbstar.simulate.motion import Hand
from plumbstar.simulate.mounts import centred
from plumbstar.simulate.wire import Wire
from plumbstar.units import Array


class SimulatedTelescope:
    """One telescope with its board. ``terms`` (12,), radians, is what the observer must
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
        shape: Shape = PLAIN,
        host: str = "127.0.0.1",
        port: int | None = 0,
        control_port: int | None = None,
        pty: bool = False,
        link: Path | None = None,
        hand_deg_s: float = 15.0,
        centring_arcmin: float | None = None,
        seed: int = 1,
    ) -> None:
        self._kit = kit
        self.terms = np.zeros(N_TERMS) if terms is None else terms
        self._random = random.Random(seed)
        self._board = Board(kit, shape, self._random)
        self._pushed = kit.connection.pushed
        self._interval_s = kit.connection.interval_ms / 1000.0
        self._host = host
        self.control_port = control_port
        self._hand_deg_s = hand_deg_s
        self._centring = math.radians(
            (kit.centring_arcmin if centring_arcmin is None else centring_arcmin) / 60.0
        )
        self._alt_limits = (kit.telescope.min_alt_deg - 1.0, kit.telescope.max_alt_deg + 1.0)
        self._hand: Hand | None = None
        self._off: Array = np.zeros(2)
        self._silent_until = 0.0
        self._conversations = Conversations()
        self._wire = Wire(
            b"" if self._pushed else self._board.poll.encode("latin-1"),
            self._line,
            self._spawn,
            self._conversations,
            host=host,
            port=port,
            pty=pty,
            link=link,
        )
        self._control_server: asyncio.Server | None = None
        self._masters: set[asyncio.StreamWriter] = set()
        self._tasks: set[asyncio.Task[None]] = set()

    # ---- life ------------------------------------------------------------------------------

    async def __aenter__(self) -> Self:
        # The observer starts with the tube on the upright stop.
        self._hand = Hand((0.0, 90.0), self._hand_deg_s, self._now())
        self._board.power_on(self._tube())
        await self._wire.plug_in()
        if self.control_port is not None:
            self._control_server = await serve(self._controlled, "127.0.0.1", self.control_port)
            self.control_port = port_of(self._control_server)
        if self._pushed:
            self._spawn(self._push_lines())
        return self

    async def __aexit__(self, *_: object) -> None:
        tasks = list(self._tasks)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        self._wire.close()
        if self._control_server is not None:
            self._control_server.close()
        for writer in list(self._masters):
            writer.transport.abort()
        await self._conversations.end()

    @property
    def port(self) -> int | None:
        """Where the board listens."""
        return self._wire.port

    @property
    def device(self) -> str:
        """The path of the pseudo-terminal; "" for none."""
        return self._wire.device

    def kit(self, kind: Literal["tcp", "serial"] = "tcp") -> Kit:
        """The kit with its connection set to this telescope; the rest as it was given."""
        c = self.connection(kind)
        with_ticks = {
            axis: msgspec.structs.replace(circle, ticks_per_turn=ticks)
            for axis, circle, ticks in zip(
                ("azimuth", "altitude"),
                (self._kit.azimuth, self._kit.altitude),
                self._board.ticks,
                strict=True,
            )
        }
        return msgspec.structs.replace(self._kit, connection=c, **with_ticks)

    def connection(self, kind: Literal["tcp", "serial"] = "tcp") -> Connection:
        """The kit's [connection] table that reaches this telescope."""
        return msgspec.structs.replace(
            self._kit.connection,
            kind=kind,
            poll=self._board.poll,
            host=self._host if kind == "tcp" else "",
            port=(self.port or 0) if kind == "tcp" else 0,
            device=self.device if kind == "serial" else "",
        )

    # ---- the hand --------------------------------------------------------------------------

    def push(self, az_deg: float = 0.0, alt_deg: float = 0.0) -> float:
        """Push the tube to the right and up by that much reading. Returns seconds until at rest."""
        hand = self._ready()
        az, alt = hand.goal
        low, high = self._alt_limits
        return hand.go((az + az_deg, min(high, max(low, alt + alt_deg))), self._now())

    def point(self, az_deg: float, alt_deg: float, *, follow: bool = False) -> float:
        """Centre what stands at that observed azimuth and altitude, with an observer's care.

        Off by ``centring_arcmin`` (1 sigma, each way on the sky); to ``follow`` what was centred
        before, by as much as it was. Returns seconds until at rest. Raises :class:`UserError`
        where the tube cannot go.
        """
        hand = self._ready()
        az, alt = np.radians(az_deg), np.radians(alt_deg)
        if not follow:
            self._off = np.array([self._random.gauss(0.0, self._centring) for _ in range(2)])
        aim = centred(np.array([az, alt]), self._off)
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
        counts = self._board.counts((az, alt))
        return {
            "az_reading_deg": az,
            "alt_reading_deg": alt,
            "true_az_deg": math.degrees(float(true[0])),
            "true_alt_deg": math.degrees(float(true[1])),
            "az_count": counts[0],
            "alt_count": counts[1],
            "moving": hand.left_s(now) > 0.0,
        }

    # ---- orders ----------------------------------------------------------------------------

    def command(self, order: Mapping[str, object]) -> dict[str, object]:
        """Do what one JSON object asks and answer with one. Raises :class:`UserError`."""
        answer: dict[str, object] = {"ok": True}
        known = {
            "push_az_deg", "push_alt_deg", "point_az_deg", "point_alt_deg", "follow", "wait",
            "where", "hidden", "unplug", "lose_power", "silent", "garbage", "half_lines", "stuck",
            "reset_counter", "slip_deg", "base_moved_deg",
        }  # fmt: skip
        unknown = set(order) - known
        if unknown or not order:
            raise UserError(
                f"the command {', '.join(sorted(unknown))}"
                if unknown
                else "a command without a key",
                f"any of {', '.join(sorted(known))}",
                "See docs/encoders.md",
            )
        if "push_az_deg" in order or "push_alt_deg" in order:
            answer["seconds"] = self.push(
                _number(order, "push_az_deg"), _number(order, "push_alt_deg")
            )
        if "point_az_deg" in order or "point_alt_deg" in order:
            answer["seconds"] = self.point(
                _number(order, "point_az_deg", None),
                _number(order, "point_alt_deg", None),
                follow=bool(order.get("follow")),
            )
        if "slip_deg" in order:
            for i, deg in enumerate(_numbers(order, "slip_deg", 2)):
                self._board.slip(i, deg)
        if "base_moved_deg" in order:
            north, west, turned = _numbers(order, "base_moved_deg", 3)
            self.terms = self.terms.copy()
            for term, deg in (("lean_north", north), ("lean_west", west), ("azimuth_zero", turned)):
                self.terms[INDEX[term]] += math.radians(deg)
        if order.get("reset_counter"):
            self._board.restart(self._tube())
        if "stuck" in order:
            self._freeze(order["stuck"])
        if "garbage" in order:
            self._board.garbage = (
                int(_number(order, "garbage")) if order["garbage"] is not True else 5
            )
        if "half_lines" in order:
            self._board.half_lines = bool(order["half_lines"])
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

    def _freeze(self, which: object) -> None:
        if which not in (False, True, "az", "alt"):
            raise UserError(f"stuck = {which!r}", 'true, false, "az" or "alt"', "Correct it")
        self._board.freeze(STUCK[which], self._tube())

    # ---- the board -------------------------------------------------------------------------

    async def _push_lines(self) -> None:
        while True:
            await asyncio.sleep(self._interval_s)
            async for piece in self._line():
                self._wire.write(piece)

    async def _line(self) -> AsyncIterator[bytes]:
        """The next line as it is heard: piece by piece, nothing while the board is mute."""
        for pause, piece in self._board.pieces(self._tube()):
            await asyncio.sleep(pause)
            if self._wire.connected and self._now() >= self._silent_until:
                yield piece

    async def _unplug(self, seconds: float, *, lose_power: bool) -> None:
        self._wire.pull_out()
        await asyncio.sleep(seconds)
        if lose_power:
            self._board.restart(self._tube())
        await self._wire.plug_in()

    # ---- the control port ------------------------------------------------------------------

    async def _controlled(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        # ValueError: a line beyond all bounds.
        async with self._conversations.talking(writer, self._masters):
            with contextlib.suppress(ValueError):
                while line := await reader.readline():
                    writer.write(json.dumps(await self._answer(line)).encode() + b"\n")
                    await writer.drain()

    async def _answer(self, line: bytes) -> dict[str, object]:
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

    # ---- small things ----------------------------------------------------------------------

    @staticmethod
    def _now() -> float:
        return asyncio.get_running_loop().time()

    def _ready(self) -> Hand:
        if self._hand is None:
            raise RuntimeError("use the simulated telescope inside 'async with'")
        return self._hand

    def _tube(self) -> tuple[float, float]:
        """The reading where the tube is now, degrees."""
        return self._ready().at(self._now())

    def _spawn(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)


def _number(order: Mapping[str, object], key: str, default: float | None = 0.0) -> float:
    return hidden.number(key, order.get(key, default))


def _numbers(order: Mapping[str, object], key: str, n: int) -> list[float]:
    value = order[key]
    if not isinstance(value, list) or len(value) != n:
        raise UserError(f"{key} = {value!r}", f"a list of {n} numbers", "Correct it")
    return [hidden.number(key, v) for v in value]
