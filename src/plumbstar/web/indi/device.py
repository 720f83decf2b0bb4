"""The telescope's properties: what each one tells, and what becomes of what is written to it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from plumbstar import __version__
from plumbstar.turns import one_turn_deg
from plumbstar.web.indi.stream import IndiCommand, number
from plumbstar.web.indi.vectors import DEVICE, IndiMember, IndiVector, Kind, State, switches
from plumbstar.web.programs.refused import Refused, Why
from plumbstar.web.programs.telescope import ProgramTelescope

if TYPE_CHECKING:
    from plumbstar.web.live.station import Station

CONNECTION, EQUATORIAL, ON_COORD = "CONNECTION", "EQUATORIAL_EOD_COORD", "ON_COORD_SET"
TARGET, ABORT, SITE, TIME = (
    "TARGET_EOD_COORD", "TELESCOPE_ABORT_MOTION", "GEOGRAPHIC_COORD", "TIME_UTC",
)  # fmt: skip
SYNC = "SYNC"
#: Programs ask for either when they mean "go there"; the tube is pushed, and nothing tracks.
SLEWS = ("SLEW", "TRACK")
TELESCOPE = "1"  # the interface's bit in DRIVER_INTERFACE
MILLIARC = "%010.6m"  # how such a number is best shown: degrees or hours, minutes, seconds

HAND = (
    "This telescope is pushed by hand and cannot slew. To send a target to the phone, start "
    "plumbstar serve with --indi-slew-sets-target."
)
CHOOSE = f"Nothing was done: switch {ON_COORD} to {SYNC} first, for a sighting of what is centred."


@dataclass(frozen=True)
class Answer:
    """What came of a write: a sentence, and the property's state until it is told the next time."""

    message: str = ""
    state: State = State.OK


@dataclass
class ProgramChoice:
    """What one program has set, for itself alone: two programs that share a switch could make a
    sync of the other's slew."""

    connected: bool = False
    #: What coordinates that are written mean: SYNC, SLEW, TRACK; empty until it was said.
    coordinates: str = ""


@dataclass
class IndiDevice:
    """Belongs to the event loop; all programs share it."""

    station: Station
    slew_sets_target: bool
    telescope: ProgramTelescope = field(init=False)
    _target: tuple[float, float] | None = None
    _last: tuple[tuple[float, float], tuple[float, float]] | None = None

    def __post_init__(self) -> None:
        self.telescope = ProgramTelescope(self.station)

    def timestamp(self) -> str:
        """The evening's clock, as the protocol writes it: UTC without a letter."""
        return self.station.clock.now().iso(1).rstrip("Z")

    # ---- what is told ----------------------------------------------------------------------

    def always(self, chosen: ProgramChoice) -> list[IndiVector]:
        """Properties of a telescope that nobody has connected to."""
        names = {"CONNECT": "Connect", "DISCONNECT": "Disconnect"}
        on = "CONNECT" if chosen.connected else "DISCONNECT"
        return [
            IndiVector(
                *(Kind.SWITCH, CONNECTION, "Connection", switches(names, on)),
                perm="rw",
                state=State.OK if chosen.connected else State.IDLE,
                rule="OneOfMany",
            ),
            IndiVector(
                *(Kind.TEXT, "DRIVER_INFO", "Program"),
                (
                    IndiMember("DRIVER_NAME", "Name", DEVICE),
                    IndiMember("DRIVER_EXEC", "Command", "plumbstar"),
                    IndiMember("DRIVER_VERSION", "Version", __version__),
                    IndiMember("DRIVER_INTERFACE", "Interface", TELESCOPE),
                ),
            ),
        ]

    def pointing(self) -> list[IndiVector]:
        """Where it points. Empty while nobody knows: a place that was made up would be drawn."""
        try:
            self._last = self.telescope.equatorial(), self.telescope.horizontal()
            state = State.BUSY if self.telescope.slewing else State.OK
        except Refused as r:
            if r.why is Why.UNKNOWN or self.telescope.fix is None:
                self._last = None
            state = State.ALERT  # the board is silent: what was told last, and marked
        if self._last is None:
            return []
        (ra, dec), (az, alt) = self._last
        return [
            IndiVector(
                *(Kind.NUMBER, EQUATORIAL, "Where it points, of date", _equatorial(ra, dec)),
                perm="rw",
                state=state,
            ),
            IndiVector(
                *(Kind.NUMBER, "HORIZONTAL_COORD", "Over the ground, observed"),
                (
                    IndiMember("AZ", "Azimuth, degrees", f"{az:.5f}", MILLIARC, (0.0, 360.0)),
                    IndiMember("ALT", "Altitude, degrees", f"{alt:.5f}", MILLIARC, (-90.0, 90.0)),
                ),
                state=state,
            ),
        ]

    def around(self) -> list[IndiVector]:
        """What stands around it: kit, site, time, and the target that was sent."""
        present, kit = self.station.present, self.station.present.kit.telescope
        out = [
            IndiVector(
                *(Kind.TEXT, TIME, "The evening's clock"),
                (
                    IndiMember("UTC", "UTC", self.station.clock.now().iso(0).rstrip("Z")),
                    IndiMember("OFFSET", "Offset, hours", "0"),
                ),
                # It is heard, though it sets nothing: it may put the Sun up.
                perm="rw",
            ),
            IndiVector(
                *(Kind.NUMBER, "TELESCOPE_INFO", "From the kit"),
                (
                    IndiMember("TELESCOPE_APERTURE", "Aperture, mm", f"{kit.aperture_mm:g}"),
                    IndiMember(
                        "TELESCOPE_FOCAL_LENGTH", "Focal length, mm", f"{kit.focal_length_mm:g}"
                    ),
                ),
            ),
        ]
        if (site := present.site) is not None:
            out.append(
                IndiVector(
                    *(Kind.NUMBER, SITE, "Site"),
                    (
                        IndiMember("LAT", "Latitude", f"{site.lat_deg:.6f}", MILLIARC, (-90, 90)),
                        IndiMember(
                            *("LONG", "Longitude, eastward", f"{one_turn_deg(site.lon_deg):.6f}"),
                            *(MILLIARC, (0, 360)),
                        ),
                        IndiMember(
                            "ELEV", "Elevation, m", f"{site.elevation_m:.0f}", span=(-500, 9000)
                        ),
                    ),
                )
            )
        if self.slew_sets_target:
            out.append(
                IndiVector(
                    *(Kind.SWITCH, ABORT, "Not there any more", switches({"ABORT": "Abort"}, "")),
                    perm="rw",
                    rule="AtMostOne",
                )
            )
        if self._target is not None:
            out.append(
                IndiVector(
                    *(Kind.NUMBER, TARGET, "Target that was sent", _equatorial(*self._target)),
                    state=State.BUSY if self.telescope.slewing else State.IDLE,
                )
            )
        return out

    def choice(self, chosen: ProgramChoice) -> IndiVector:
        """What coordinates mean that this program writes."""
        names = {SYNC: "A sighting of what is centred"}
        if self.slew_sets_target:
            names |= dict.fromkeys(SLEWS, "The target to push to")
        return IndiVector(
            *(Kind.SWITCH, ON_COORD, "Coordinates are", switches(names, chosen.coordinates)),
            perm="rw",
            rule="AtMostOne",
        )

    # ---- what is written -------------------------------------------------------------------

    async def write(
        self, name: str, c: IndiCommand, chosen: ProgramChoice, peer: str, received: float
    ) -> Answer:
        """Do it. Raises Refused."""
        if name == ON_COORD:
            return self._choose(c, chosen)
        if name == EQUATORIAL:
            return await self._coordinates(_place(c), chosen, received)
        if name == ABORT and self.slew_sets_target:
            if "On" in dict(c.parts).values():
                self.telescope.abort()
            return Answer("The target stays on the phone.")
        if name == TIME:
            # The clock is not set by it; but it is a clock known, and may put the Sun up.
            utc = dict(c.parts).get("UTC", "")[:40]
            await self.telescope.hear_time(utc, f"INDI {peer}", received)
            return Answer("The time is that of the computer that runs Plumbstar.", State.ALERT)
        if name == SITE:
            raise Refused(Why.NOT_TAKEN, "The site is set on the Prepare page.")
        raise Refused(Why.NOT_TAKEN, f"There is nothing called {name[:40]} that could be written.")

    def _choose(self, c: IndiCommand, chosen: ProgramChoice) -> Answer:
        on = [part for part, value in c.parts if value == "On"]
        # Nothing is chosen until it is known what: a program that was refused may write its
        # coordinates all the same, and a slew must not become a sighting.
        chosen.coordinates = ""
        if len(on) > 1:
            raise Refused(Why.NOT_TAKEN, f"Of {ON_COORD} one at the most can be on.")
        if on and on[0] in SLEWS and not self.slew_sets_target:
            raise Refused(Why.IMPOSSIBLE, HAND)
        if on and on[0] not in (SYNC, *SLEWS):
            raise Refused(Why.NOT_TAKEN, f"There is no {on[0][:40]} in {ON_COORD}.")
        chosen.coordinates = on[0] if on else ""
        return Answer()

    async def _coordinates(
        self, place: tuple[float, float], chosen: ProgramChoice, received: float
    ) -> Answer:
        if chosen.coordinates == SYNC:
            await self.telescope.sync(place, received)
            return Answer("It is recorded as a sighting.")
        if chosen.coordinates in SLEWS and self.slew_sets_target:
            await self.telescope.slew(place)
            self._target = place
            return Answer("It is the target on the phone now: push there by hand.", State.BUSY)
        raise Refused(Why.IMPOSSIBLE, CHOOSE)


def _equatorial(ra_hours: float, dec_deg: float) -> tuple[IndiMember, ...]:
    return (
        IndiMember("RA", "Right ascension, hours", f"{ra_hours:.7f}", MILLIARC, (0.0, 24.0)),
        IndiMember("DEC", "Declination, degrees", f"{dec_deg:.6f}", MILLIARC, (-90.0, 90.0)),
    )


def _place(c: IndiCommand) -> tuple[float, float]:
    """(hours, degrees). Raises Refused for what is no place."""
    given = dict(c.parts)
    ra, dec = number(given.get("RA", "")), number(given.get("DEC", ""))
    if ra is None or dec is None or not (0.0 <= ra <= 24.0 and -90.0 <= dec <= 90.0):
        came = f"RA '{given.get('RA', '')[:40]}', DEC '{given.get('DEC', '')[:40]}'"
        raise Refused(
            Why.NOT_TAKEN, f"{came}: wanted are RA of 0 to 24 hours and DEC of -90 to 90 degrees."
        )
    return ra % 24.0, dec
