"""The actions by which the telescope is described: as text, by questions, by ticks."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import msgspec

from plumbstar import kit as kits
from plumbstar.contract.done import Done
from plumbstar.kit import Kit
from plumbstar.web.live import describing
from plumbstar.web.live.bodies import (
    CheckBody,
    CirclesTurned,
    ControllerTicked,
    Nothing,
    StopWay,
    TelescopeAnswers,
    TelescopeTyped,
    Toml,
)
from plumbstar.web.live.station import Station

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening


async def set_kit(station: Station, b: Toml, received: float) -> Done:
    station.readings.check(kits.loads(b.toml))
    counts = station.readings.counts()

    def act(e: Evening) -> tuple[Kit, bool]:
        e.preparing.set_kit(b.toml)
        return e.kit, e.upright.told is not None

    (kit, told), version = await station.do(act)
    # Another port for the same encoders: what the stop was told to be holds on.
    await station.readings.use(kit, counts if told else None)
    return Done(version=version)


async def describe(station: Station, b: TelescopeAnswers, received: float) -> Done:
    return await set_kit(station, await describing.new_text(station, b), received)


async def _new_kit(station: Station, change: Callable[[Evening], None]) -> Done:
    """A kit changed by ticks: the readings then come as it says."""

    def act(e: Evening) -> Kit:
        change(e)
        return e.kit

    kit, version = await station.do(act)
    await station.readings.use(kit)
    return Done(version=version)


async def turn_circles(station: Station, b: CirclesTurned, received: float) -> Done:
    return await _new_kit(station, lambda e: e.preparing.turn_circles(b.axes))


async def turn_stop(station: Station, b: StopWay, received: float) -> Done:
    """Which way adding thickness tips the tube, as outings after a mend told."""
    keys = (("[stop]", "adding", b.adding),)
    return await _new_kit(station, lambda e: e.preparing.write_keys(keys))


async def take_check(station: Station, b: CheckBody, received: float) -> Done:
    """What a bench check found goes into the kit, judged here once more."""

    def act(e: Evening) -> None:
        from plumbstar.web.views.bench_checks import keys_of

        e.preparing.write_keys(keys_of(b.id, b.inputs, e.kit))

    return await _new_kit(station, act)


async def set_controller(station: Station, b: ControllerTicked, received: float) -> Done:
    return await _new_kit(
        station,
        lambda e: e.beside.set_controller(b.stars, b.clock, b.sign, b.decimals, b.catalogues),
    )


async def leave_controller(station: Station, b: Nothing, received: float) -> Done:
    return await _new_kit(station, lambda e: e.beside.leave_controller())


async def set_telescope(station: Station, b: TelescopeTyped, received: float) -> Done:
    pieces = [kits.Eyepiece(**msgspec.structs.asdict(p)) for p in b.eyepieces]
    return await _new_kit(
        station, lambda e: e.beside.set_telescope(b.aperture_mm, b.focal_length_mm, pieces)
    )
