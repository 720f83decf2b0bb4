"""The actions that begin and end a rehearsal (rehearsing.py)."""

from __future__ import annotations

import asyncio
import urllib.request
from typing import TYPE_CHECKING

import msgspec

from plumbstar.contract.done import ControllerShown, Done, RehearsalDone
from plumbstar.errors import UserError
from plumbstar.web.live.bodies import HandOrders, Nothing
from plumbstar.web.live.rehearsing import OwnEvening
from plumbstar.web.live.station import Station

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening


async def begin(station: Station, b: Nothing, received: float) -> RehearsalDone:
    """The observer's own evening with a simulated telescope. Raises :class:`UserError`."""
    if station.rehearsing is None or station.hidden is not None:
        raise UserError(
            "A rehearsal cannot be begun from here",
            "",
            "Start the demo on the telescope's computer",
        )
    port = await station.rehearsing.begin(await station.ask(_own_evening))
    return RehearsalDone(version=station.version, port=port)


async def end(station: Station, b: Nothing, received: float) -> Done:
    """Away with it."""
    if station.rehearsing is not None:
        await station.rehearsing.end()
    return Done(version=station.version)


def _own_evening(e: Evening) -> OwnEvening:
    s = e.ground.need_site()
    place = f"{s.lat_deg},{s.lon_deg},{s.elevation_m}"
    return OwnEvening(
        *(e.instrument.kit_text, place, e.ground.skyline.text(), s.time_zone),
        zenith_mag=s.zenith_mag,
        controller=e.beside.in_use,
    )


async def hand(station: Station, b: HandOrders, received: float) -> ControllerShown:
    """What a hand does at the simulated closed controller, one order after another, and what its
    display then shows. Raises :class:`UserError` where there is none."""
    told = station.hidden
    if told is None or told.controller_port is None:
        raise UserError("There is no simulated controller here", "", "Use the real one")
    port = told.controller_port

    def obeyed() -> ControllerShown:
        for order in b.orders:
            sent = msgspec.json.encode(order)
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/order", sent, 10.0) as answer:
                shown = msgspec.json.decode(answer.read())
            if shown["error"]:
                break
        return ControllerShown(
            version=station.version, **{k: shown[k] for k in ("top", "bottom", "eye", "error")}
        )

    return await asyncio.to_thread(obeyed)
