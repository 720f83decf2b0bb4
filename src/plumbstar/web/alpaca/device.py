"""The telescope as the standard's Telescope interface, version 3: what each member answers."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, Any

from plumbstar import __version__
from plumbstar.web.alpaca import errors
from plumbstar.web.alpaca.errors import AlpacaError, not_implemented
from plumbstar.web.alpaca.parameters import AlpacaRequest
from plumbstar.web.programs.telescope import THERE, ProgramTelescope

if TYPE_CHECKING:
    from plumbstar.sky.site import Site
    from plumbstar.web.live.station import Station

ALT_AZ = 0  # AlignmentModes.algAltAz
OF_DATE = 1  # EquatorialCoordinateType.equTopocentric
SIDEREAL = 0  # DriveRates.driveSidereal
AXES = (0, 1, 2)

#: Programs that said they are connected; the oldest is forgotten.
MOST_CLIENTS = 200
#: A slew that was asked for by waiting is given up after this; how often it is looked at.
LONGEST_SLEW_S = 600.0
LOOK_S = 0.2

HAND = (
    "This telescope is pushed by hand and cannot slew. To send a target to the phone, start "
    "plumbstar serve with --alpaca-slew-sets-target."
)
SITE_HERE = "The site is set on the Prepare page"


class Device:
    """Telescope 0. Belongs to the event loop.

    ``slew_sets_target``: take a slew as a target to push to. Slewing is then true until the target
    is in the field, or another one was chosen on the phone.
    """

    def __init__(self, station: Station, slew_sets_target: bool = False) -> None:
        self.station = station
        self.telescope = ProgramTelescope(station)
        self.slew_sets_target = slew_sets_target
        self._clients: dict[int, None] = {}
        self._target: dict[str, float] = {}

    # ---- connection ------------------------------------------------------------------------

    @property
    def connected(self) -> bool:
        """Whether any program has connected and not let go."""
        return bool(self._clients)

    def connect(self, client: int, yes: bool) -> None:
        self._clients.pop(client, None)
        if yes:
            self._clients[client] = None
            if len(self._clients) > MOST_CLIENTS:
                del self._clients[next(iter(self._clients))]

    # ---- where it points -------------------------------------------------------------------

    @property
    def site(self) -> Site:
        from plumbstar.web.programs.pointing import need_site

        return need_site(self.station.present.site)

    # ---- target, sync, slew ----------------------------------------------------------------

    def target(self, name: str) -> float:
        if name not in self._target:
            raise AlpacaError(errors.INVALID_OPERATION, f"{name} was not set yet.")
        return self._target[name]

    def set_target(self, name: str, value: float) -> None:
        self._target[name] = _in_range(name, value)

    def given(self, a: AlpacaRequest) -> tuple[float, float]:
        """The coordinates of a request. Raises AlpacaError when they are none."""
        return (
            _in_range("RightAscension", a.number("RightAscension")),
            _in_range("Declination", a.number("Declination")),
        )

    def keep_target(self, place: tuple[float, float]) -> tuple[float, float]:
        """The coordinates of a slew become the target's, as the standard says."""
        self._target = {"TargetRightAscension": place[0], "TargetDeclination": place[1]}
        return place

    def kept(self) -> tuple[float, float]:
        return self.target("TargetRightAscension"), self.target("TargetDeclination")

    async def slew_and_wait(self, place: tuple[float, float]) -> None:
        """The standard's slew that answers when it is over. Raises AlpacaError if it never was,
        Refused if it cannot be."""
        sent = await self.telescope.slew(place)
        until = self.station.clock.monotonic() + LONGEST_SLEW_S
        while sent.end == "" and self.telescope.slewing:
            if self.station.clock.monotonic() > until:
                sent.end = "nobody pushed there in ten minutes"
            await asyncio.sleep(LOOK_S)
        if sent.end != THERE:
            raise AlpacaError(errors.CANCELLED, f"Not reached: {sent.end}.")


def _in_range(name: str, value: float) -> float:
    """A right ascension in hours or a declination in degrees. Raises AlpacaError."""
    ra = name.endswith("RightAscension")
    good = 0.0 <= value < 24.0 if ra else -90.0 <= value <= 90.0
    if not good:
        wanted = "0 to less than 24 hours" if ra else "-90 to 90 degrees"
        raise AlpacaError(errors.INVALID_VALUE, f"{name} {value:g}: wanted is {wanted}.")
    return value


Get = Callable[[Device, AlpacaRequest], Any]
Put = Callable[[Device, AlpacaRequest, float], Awaitable[None]]


def _fixed(value: Any) -> Get:
    return lambda d, a: value


def _no(what: str) -> Get:
    def get(d: Device, a: AlpacaRequest) -> Any:
        raise not_implemented(what)

    return get


def _axis(value: Any) -> Get:
    def get(d: Device, a: AlpacaRequest) -> Any:
        if a.integer("Axis") not in AXES:
            raise AlpacaError(errors.INVALID_VALUE, "Axis: wanted is 0, 1 or 2.")
        return value

    return get


def _kit_metres(name: str) -> Get:
    return lambda d, a: getattr(d.station.present.kit.telescope, name) / 1000.0


def _description(d: Device, a: AlpacaRequest) -> str:
    return f"{d.station.present.kit.name}, pushed by hand; where it points, by Plumbstar"


COMMON: dict[str, Get] = {
    "connected": lambda d, a: d.connected,
    "description": _description,
    "driverinfo": _fixed("Plumbstar: sightings of stars tell where a hand-moved telescope points."),
    "driverversion": _fixed(".".join(__version__.split(".")[:2])),
    "interfaceversion": _fixed(3),
    "name": _fixed("Plumbstar"),
    "supportedactions": _fixed([]),
}
"""What is answered whether connected or not."""

_CANNOT = (
    "CanFindHome", "CanPark", "CanPulseGuide", "CanSetDeclinationRate", "CanSetGuideRates",
    "CanSetPark", "CanSetPierSide", "CanSetRightAscensionRate", "CanSetTracking", "CanSlewAltAz",
    "CanSlewAltAzAsync", "CanSyncAltAz", "CanUnpark", "AtHome", "AtPark", "Tracking",
)  # fmt: skip
_NO_GET = (
    "ApertureArea", "DestinationSideOfPier", "GuideRateDeclination", "GuideRateRightAscension",
    "IsPulseGuiding", "SideOfPier", "SlewSettleTime",
)  # fmt: skip

GETS: dict[str, Get] = {
    **{name.lower(): _fixed(False) for name in _CANNOT},
    **{name.lower(): _no(name) for name in _NO_GET},
    "alignmentmode": _fixed(ALT_AZ),
    "altitude": lambda d, a: d.telescope.horizontal()[1],
    "aperturediameter": _kit_metres("aperture_mm"),
    "axisrates": _axis([]),
    "azimuth": lambda d, a: d.telescope.horizontal()[0],
    "canmoveaxis": _axis(False),
    "canslew": lambda d, a: d.slew_sets_target,
    "canslewasync": lambda d, a: d.slew_sets_target,
    "cansync": _fixed(True),
    "declination": lambda d, a: d.telescope.equatorial()[1],
    "declinationrate": _fixed(0.0),
    "doesrefraction": _fixed(True),
    "equatorialsystem": _fixed(OF_DATE),
    "focallength": _kit_metres("focal_length_mm"),
    "rightascension": lambda d, a: d.telescope.equatorial()[0],
    "rightascensionrate": _fixed(0.0),
    "siderealtime": lambda d, a: d.telescope.sidereal_hours(),
    "siteelevation": lambda d, a: d.site.elevation_m,
    "sitelatitude": lambda d, a: d.site.lat_deg,
    "sitelongitude": lambda d, a: d.site.lon_deg - 360.0 * (d.site.lon_deg > 180.0),
    "slewing": lambda d, a: d.telescope.slewing,
    "targetdeclination": lambda d, a: d.target("TargetDeclination"),
    "targetrightascension": lambda d, a: d.target("TargetRightAscension"),
    "trackingrate": _fixed(SIDEREAL),
    "trackingrates": _fixed([SIDEREAL]),
    "utcdate": lambda d, a: d.station.clock.now().iso(3),
}


async def _connected(d: Device, a: AlpacaRequest, received: float) -> None:
    d.connect(a.client, a.flag("Connected"))


async def _does_refraction(d: Device, a: AlpacaRequest, received: float) -> None:
    if not a.flag("DoesRefraction"):
        raise not_implemented("Refraction left out")


async def _set_ra(d: Device, a: AlpacaRequest, received: float) -> None:
    d.set_target("TargetRightAscension", a.number("TargetRightAscension"))


async def _set_dec(d: Device, a: AlpacaRequest, received: float) -> None:
    d.set_target("TargetDeclination", a.number("TargetDeclination"))


async def _sync_to_coordinates(d: Device, a: AlpacaRequest, received: float) -> None:
    await d.telescope.sync(d.given(a), received)


async def _sync_to_target(d: Device, a: AlpacaRequest, received: float) -> None:
    await d.telescope.sync(d.kept(), received)


async def _abort(d: Device, a: AlpacaRequest, received: float) -> None:
    d.telescope.abort()


def _slew(kept: bool, wait: bool) -> Put:
    async def put(d: Device, a: AlpacaRequest, received: float) -> None:
        if not d.slew_sets_target:
            raise AlpacaError(errors.NOT_IMPLEMENTED, HAND)
        place = d.kept() if kept else d.keep_target(d.given(a))
        await (d.slew_and_wait(place) if wait else d.telescope.slew(place))

    return put


def _cannot(what: str, why: str = "") -> Put:
    async def put(d: Device, a: AlpacaRequest, received: float) -> None:
        raise AlpacaError(errors.NOT_IMPLEMENTED, f"{why}.") if why else not_implemented(what)

    return put


async def _utc_date(d: Device, a: AlpacaRequest, received: float) -> None:
    # The clock is not set by it; but it is a clock known, and may put the Sun up.
    await d.telescope.hear_time(a.text("UTCDate"), str(a.client), received)
    raise AlpacaError(
        errors.NOT_IMPLEMENTED, "The time is that of the computer that runs Plumbstar."
    )


_NO_PUT = (
    "Action", "CommandBlind", "CommandBool", "CommandString", "DeclinationRate", "FindHome",
    "GuideRateDeclination", "GuideRateRightAscension", "MoveAxis", "Park", "PulseGuide",
    "RightAscensionRate", "SetPark", "SideOfPier", "SlewSettleTime", "SlewToAltAz",
    "SlewToAltAzAsync", "SyncToAltAz", "Tracking", "TrackingRate", "Unpark",
)  # fmt: skip

PUTS: dict[str, Put] = {
    **{name.lower(): _cannot(name) for name in _NO_PUT},
    **{f"site{x}": _cannot("", SITE_HERE) for x in ("elevation", "latitude", "longitude")},
    "utcdate": _utc_date,
    "abortslew": _abort,
    "connected": _connected,
    "doesrefraction": _does_refraction,
    "slewtocoordinates": _slew(False, True),
    "slewtocoordinatesasync": _slew(False, False),
    "slewtotarget": _slew(True, True),
    "slewtotargetasync": _slew(True, False),
    "synctocoordinates": _sync_to_coordinates,
    "synctotarget": _sync_to_target,
    "targetdeclination": _set_dec,
    "targetrightascension": _set_ra,
}
#: Done whether connected or not.
ALWAYS = frozenset({"connected", "action", "commandblind", "commandbool", "commandstring"})


def answer(d: Device, member: str, a: AlpacaRequest) -> Any:
    """A member's value. Raises AlpacaError, Refused, and KeyError for what nobody has."""
    if member in COMMON:
        return COMMON[member](d, a)
    get = GETS[member]
    _need_connection(d)
    return get(d, a)


async def act(d: Device, member: str, a: AlpacaRequest, received: float) -> None:
    """Set a member or call a method. Raises as above."""
    put = PUTS[member]
    if member not in ALWAYS:
        _need_connection(d)
    await put(d, a, received)


def _need_connection(d: Device) -> None:
    if not d.connected:
        raise AlpacaError(errors.NOT_CONNECTED, "Not connected: set Connected to True first.")
