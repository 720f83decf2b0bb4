"""The Sun's part of the evening: where it is, what light it leaves, and when it will be dark."""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.guide.course import Course
from plumbstar.guide.sun import SUN_UP_DEG
from plumbstar.sky.bodies import Body
from plumbstar.sky.events import TWILIGHTS, darkness, sun_crossings
from plumbstar.sky.local_time import local
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

#: Twilight counts the Sun's centre without air; at its edges refraction is under 0.02 degrees
#: wrong either way, two seconds of time, so the observed altitude serves for the words.
_DARK_DEG = TWILIGHTS["astronomical"]


@dataclass(frozen=True)
class SunNow:
    """The Sun at one moment, with a sentence for the screen."""

    az_deg: float
    alt_deg: float
    up: bool
    sentence: str


class Almanac:
    """The Sun over one site; dusk and dawn are worked out once and kept until they are past."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.sun = Course(Body("Sun"), site)
        self._turns: tuple[Instant | None, Instant | None, Instant] | None = None

    def _dusk_and_dawn(self, now: Instant) -> tuple[Instant | None, Instant | None]:
        t = self._turns
        # Looked for anew every hour, or once one of them is over.
        if t is None or now.minus(t[2]) > 3600.0 or any(x is not None and x < now for x in t[:2]):
            dusk, dawn = sun_crossings(now, self.site, _DARK_DEG)
            t = self._turns = (dusk.instant, dawn.instant, now)
        return t[0], t[1]

    def _clock(self, t: Instant) -> str:
        return local(t, self.site.time_zone, with_zone=True)

    def now(self, now: Instant) -> SunNow:
        """The Sun at that moment."""
        az, alt = self.sun.az_alt_deg(now)
        dusk, dawn = self._dusk_and_dawn(now)
        side = f"{abs(alt):.0f}° {'up' if alt > SUN_UP_DEG else 'down'}"
        light = darkness(alt)
        # The next turn of the two says what comes: dusk first means that it is not dark yet.
        if light == "dark":
            then = f" until {self._clock(dawn)}" if dawn is not None else ", and stays so"
        elif dusk is None:
            then = "; it does not get fully dark tonight"
        elif dawn is not None and dawn < dusk and alt < 0.0:
            then = "; day is coming"
        else:
            then = f"; dark at {self._clock(dusk)}"
        return SunNow(az, alt, alt > SUN_UP_DEG, f"Sun {side}: {light}{then}")
