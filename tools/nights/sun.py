"""Evenings that are none: the Sun is up, whatever the computer's clock says.

The Sun's place is worked out apart from the program: low accuracy, 0.01 degree (Meeus, Astronomical
Algorithms, chapter 25).
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from numpy.random import Generator

from plumbstar.sky.times import Instant

from . import sky
from .mount import apart_deg, direction
from .scene import START
from .shapes import Pair

if TYPE_CHECKING:
    from .night import Night

#: The program keeps so far from it, filter or not.
NEAR_DEG = 20.0


def sun_place(unix: float) -> Pair:
    """Azimuth and altitude, degrees, refraction left out."""
    c = (unix / 86400.0 + 2440587.5 - 2451545.0) / 36525.0
    mean = 280.46646 + 36000.76983 * c
    anomaly = math.radians(357.52911 + 35999.05029 * c)
    centre = (1.914602 - 0.004817 * c) * math.sin(anomaly) + 0.019993 * math.sin(2 * anomaly)
    lon, tilt = math.radians(mean + centre), math.radians(23.4393 - 0.0130 * c)
    ra = math.atan2(math.cos(tilt) * math.sin(lon), math.cos(lon))
    return sky.of_date(ra, math.asin(math.sin(tilt) * math.sin(lon)), unix)


@dataclass(frozen=True)
class SunClaim:
    """A push that was asked for by day. ``told``: a clock that the program knows says day."""

    target: str
    sun_alt_deg: float
    apart_deg: float
    guided: bool
    filtered: bool
    told: bool

    @property
    def wrong(self) -> bool:
        """A way was shown with the Sun up: without a filter, or to near it."""
        return self.guided and (not self.filtered or self.apart_deg < NEAR_DEG)


@dataclass
class Day:
    """A true time of day; how far the computer's clock is off (half of them by so much that it
    says night); whether a phone tells the true time; whether a filter is on."""

    unix: float
    computer_off_s: float
    phone: bool
    filtered: bool
    answers: bool

    @classmethod
    def draw(cls, rng: Generator) -> "Day":
        unix = START + rng.uniform(-9.5, -4.0) * 3600
        off = (START + rng.uniform(0, 5) * 3600 - unix) if rng.random() < 0.6 else 0.0
        return cls(unix, off, *(bool(rng.random() < p) for p in (0.7, 0.4, 0.7)))

    async def prepare(self, night: "Night") -> None:
        """What is known when it begins: the phone's clock, the filter, and what somebody sees."""
        if self.phone:
            now = night.now_s
            await night.station.ask(
                lambda e: e.sun_question.hear("phone", "a", night.unix(now), now)
            )
        if self.filtered:
            await night.act("confirm_filter", confirmed=True)
        if self.answers and (await night.picture())["sun_question"]:
            await night.act("answer_sun", below=False, screen="a")
            night.note("asked about the Sun: it is up")

    def judged(self, target: str, unix: float, guided: bool, shown: Instant) -> SunClaim:
        """The push to it, now; ``shown``: what the evening's clock says."""
        there = sun_place(unix)
        far = apart_deg(direction(*there), direction(*sky.place(target, unix)))
        by_computer = sun_place(shown.to_unix())[1] > 0.0
        return SunClaim(target, there[1], far, guided, self.filtered, self.phone or by_computer)
