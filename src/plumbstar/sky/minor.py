"""Comets and minor planets: bodies on orbits of their own, with the usual laws of brightness."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import erfa
import numpy as np
from numpy.typing import ArrayLike

from plumbstar.sky.bodies import Body
from plumbstar.sky.orbits import SunOrbit
from plumbstar.sky.times import Instant
from plumbstar.units import Array

Sort = Literal["comet", "minor planet"]
#: Of elements, by their age.
Freshness = Literal["fresh", "old", "too old"]
#: How far a stated brightness is usually off, magnitudes, one sigma. Common practice, no source.
DOUBT_MAG: dict[Sort, float] = {"comet": 1.0, "minor planet": 0.3}
#: A comet's head is taken to be so wide at 1 au, arcseconds (110,000 km). Judgement: heads of
#: bright comets are 50,000 to a million km wide, and the eye sees the middle.
_HEAD_ARCSEC = 150.0
#: Days by which the epoch of elements may be off before they are called old, and too old. The
#: planets' pull is within a few arcminutes for 400 days, and up to half a degree after 800
#: (design/old_elements.py); comets, for their jets and for orbits found from few weeks, sooner:
#: judgement.
OLD_DAYS: dict[Sort, float] = {"comet": 100.0, "minor planet": 400.0}
TOO_OLD_DAYS: dict[Sort, float] = {"comet": 400.0, "minor planet": 800.0}


@dataclass(frozen=True, slots=True)
class MinorBody(Body):
    """A comet or minor planet with its orbit.

    ``h_mag`` and ``slope``: of a minor planet H and G; of a comet the magnitude at 1 au from both,
    and n in 2.5 n log r. nan where nobody has stated it. ``also`` are other names.
    """

    sort: Sort
    orbit: SunOrbit
    h_mag: float
    slope: float
    also: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Any name will do."""

    @property
    def kind(self) -> str:
        return self.sort

    def heliocentric(self, tt1: ArrayLike, tt2: ArrayLike) -> Array:
        """From the Sun, au, ICRS axes, shape ``(..., 3)``."""
        return self.orbit.place(tt1, tt2)

    def brightness(self, phase_rad: float, from_earth_au: float, from_sun_au: float) -> float:
        """Apparent V, to about :data:`DOUBT_MAG`.

        Comets: H + 5 log d + 2.5 n log r, as the Minor Planet Center's elements mean it. Minor
        planets: H and G of Bowell et al. 1989 (Asteroids II, 524; constants from memory).
        """
        if self.sort == "comet":
            far = 5.0 * math.log10(from_earth_au)
            return self.h_mag + far + 2.5 * self.slope * math.log10(from_sun_au)
        half = math.tan(min(phase_rad, math.radians(150.0)) / 2.0)
        one, two = math.exp(-3.33 * half**0.63), math.exp(-1.87 * half**1.22)
        light = (1.0 - self.slope) * one + self.slope * two
        return self.h_mag + 5.0 * math.log10(from_earth_au * from_sun_au) - 2.5 * math.log10(light)

    def half_size_rad(self, distance_au: ArrayLike) -> Array:
        """Half of what is seen: of a comet its head, of a minor planet next to nothing."""
        wide = _HEAD_ARCSEC if self.sort == "comet" else 0.2
        return np.asarray(math.radians(wide / 7200.0) / np.asarray(distance_au))

    def age_days(self, at: Instant) -> float:
        """How long before (or after) a moment its elements were good, days."""
        return abs((at.jd1 - self.orbit.epoch_tt_jd) + at.jd2)

    def freshness(self, at: Instant) -> Freshness:
        """Whether its elements are still good at a moment."""
        days = self.age_days(at)
        if days > TOO_OLD_DAYS[self.sort]:
            return "too old"
        return "old" if days > OLD_DAYS[self.sort] else "fresh"

    @property
    def epoch(self) -> Instant:
        """The day that its elements are good for."""
        day = math.floor(self.orbit.epoch_tt_jd - 0.5) + 0.5
        return Instant(day, 0.0)


def rough_magnitudes(minors: Sequence[MinorBody], at: Instant) -> Array:
    """V (n,) of many, seen from the Earth's centre without light time: to leave out the faint."""
    earth = erfa.epv00(at.jd1, at.jd2)[0]["p"]
    out = np.empty(len(minors))
    for i, m in enumerate(minors):
        sun = m.heliocentric(at.jd1, at.jd2)
        here = sun - earth
        r, d = float(np.linalg.norm(sun)), float(np.linalg.norm(here))
        cos = float(sun @ here) / (r * d)
        out[i] = m.brightness(math.acos(min(1.0, max(-1.0, cos))), d, r)
    return out
