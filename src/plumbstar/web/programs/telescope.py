"""The telescope as programs see it, whatever they speak: its place, and a push asked of a hand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from plumbstar.encoders.reading import Reading
    from plumbstar.solve.fix import Fix
    from plumbstar.web.live.station import Station

THERE = "there"


@dataclass
class Sent:
    """A target that was sent: its key, and how the push to it ended; empty while it goes on."""

    key: str
    end: str = ""


class ProgramTelescope:
    """Belongs to the event loop; each protocol has one."""

    def __init__(self, station: Station) -> None:
        self.station = station
        self._sent: Sent | None = None

    @property
    def reading(self) -> Reading:
        return self.station.readings.latest

    @property
    def fix(self) -> Fix | None:
        return self.station.present.aim.fix

    @property
    def doubtful(self) -> bool:
        """Whether there is a fix, and what the circles read may not go with it any more."""
        return self.fix is not None and (self.reading.slip or not self.station.present.fix_holds)

    def horizontal(self) -> tuple[float, float]:
        """(azimuth, observed altitude), degrees. Raises Refused while nobody knows."""
        from plumbstar.web.programs import pointing

        return pointing.horizontal(self.reading, self.fix, self.doubtful)

    def equatorial(self) -> tuple[float, float]:
        """(hours, degrees), topocentric and of date. Raises Refused while nobody knows."""
        from plumbstar.web.programs import pointing

        site, now = self.station.present.site, self.station.clock.now()
        return pointing.equatorial(self.reading, self.fix, site, now, self.doubtful)

    def sidereal_hours(self) -> float:
        """Local apparent. Raises Refused without a site."""
        from plumbstar.sky import ofdate
        from plumbstar.web.programs.pointing import need_site

        return ofdate.sidereal_hours(self.station.clock.now(), need_site(self.station.present.site))

    async def hear_time(self, utc: str, client: str, received: float) -> None:
        """What a program says the time is. Raises Refused for what is no time."""
        from plumbstar.web.programs import sending

        await sending.hear_time(self.station, utc, client, received)

    async def sync(self, place: tuple[float, float], received: float) -> None:
        """A sighting of what is centred at (hours, degrees) of date. Raises Refused."""
        from plumbstar.web.programs import sending

        await sending.sync(self.station, *place, received)

    async def slew(self, place: tuple[float, float]) -> Sent:
        """What is there is the target from now on. Raises Refused when it cannot be."""
        from plumbstar.web.programs import sending

        self.abort()
        self._sent = sent = Sent(await sending.send_target(self.station, *place))
        return sent

    @property
    def slewing(self) -> bool:
        """Whether a target that was sent is still to be pushed to."""
        if self._sent is None or self._sent.end != "":
            return False
        from plumbstar.guide.aim import left_from

        present, reading = self.station.present, self.reading
        if present.target != self._sent.key:
            self._sent.end = "another target was chosen"
        elif (
            not self.doubtful
            and reading.usable
            and reading.az_deg is not None
            and reading.alt_deg is not None
        ):
            now = self.station.clock.now()
            left = left_from(present.aim, reading.az_deg, reading.alt_deg, now)
            if left is not None and left.in_field:
                self._sent.end = THERE
        return self._sent.end == ""

    def abort(self) -> None:
        """No slew is under way any more; the target stays on the phone."""
        if self._sent is not None and self._sent.end == "":
            self._sent.end = "it was cancelled"
