"""The four bright moons of Jupiter: where each stands beside it, and what hides it.

Meeus, Astronomical Algorithms, 2nd ed., chapter 44, the low-accuracy method (coefficients from
memory; the chapter's worked example comes out to its last digit). Its formulae give the longitudes
round Jupiter; how the plane lies comes from Jupiter's pole (IAU 2015 report on rotational elements,
from memory), so that the picture needs no angle of its own.

Measured against the theory L1.2 (Lainey et al. 2006; 1,500 dates from 2009 to 2052, design run, raw
answers of some in tests/authorities/jovian_l12.csv), in radii of Jupiter, along the equator, root
mean square and worst: Io 0.01 and 0.03, Europa 0.01 and 0.05, Ganymede 0.03 and 0.08, Callisto 0.05
and 0.17. A radius of Jupiter is 15 to 25 arcsec. Dropped: how the orbits lean out of the equator,
under 0.17 radii across it (Europa 0.08).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np

from plumbstar.units import Array

#: Magnitudes at the mean opposition (5.203 au from the Sun, 4.203 from here), from memory.
_MAGS = {"Io": 5.0, "Europa": 5.3, "Ganymede": 4.6, "Callisto": 5.7}
NAMES = tuple(_MAGS)
_POLE_DEG = (268.057, 64.495)
#: The equator's radius over the pole's: IAU 2015, from memory.
_FLATTENED = 71492.0 / 66854.0
_LIGHT_AU_PER_DAY = 173.0  # as in the book


class Hidden(Enum):
    """Where a moon is beside being in the open."""

    NOT = auto()
    IN_FRONT = auto()
    BEHIND = auto()
    IN_SHADOW = auto()


@dataclass(frozen=True, slots=True)
class JovianMoon:
    """One moon as seen from here, in radii of Jupiter's equator from its middle.

    ``west`` along its equator (the way the sky drifts), ``north`` toward its pole, ``toward`` us.
    ``shadow`` is where its shadow lies on the disc (west, north), None where it does not.
    """

    name: str
    v_mag: float
    west: float
    north: float
    toward: float
    hidden: Hidden
    shadow: tuple[float, float] | None


def axes(to_jupiter: Array) -> Array:
    """Rows (3, 3): west along its equator, north along its pole, and toward us, ICRS, as seen
    along ``to_jupiter`` (3,)."""
    ra, dec = (math.radians(x) for x in _POLE_DEG)
    pole = np.array([math.cos(ra) * math.cos(dec), math.sin(ra) * math.cos(dec), math.sin(dec)])
    sight = to_jupiter / np.linalg.norm(to_jupiter)
    west = np.cross(sight, pole)
    west /= np.linalg.norm(west)
    return np.array([west, np.cross(west, sight), -sight])


def moons(tt_jd: float, to_jupiter: Array, to_sun: Array) -> tuple[JovianMoon, ...]:
    """All four at a Julian date (TT), for vectors (3,) in au to Jupiter and to the Sun, ICRS."""
    frame = axes(to_jupiter)
    distance, from_sun = float(np.linalg.norm(to_jupiter)), to_jupiter - to_sun
    r = float(np.linalg.norm(from_sun))
    fainter = 5.0 * math.log10(distance * r / (4.203 * 5.203))
    ra, dec = (math.radians(x) for x in _POLE_DEG)
    pole = np.array([math.cos(ra) * math.cos(dec), math.sin(ra) * math.cos(dec), math.sin(dec)])
    tilt = float(pole @ frame[2])  # sine of the Earth's height over its equator
    level = math.sqrt(1.0 - tilt * tilt)
    sunward = frame @ (-from_sun / r)
    out = []
    for (name, mag), (angle, far) in zip(_MAGS.items(), _longitudes(tt_jd, distance), strict=True):
        x, down = far * math.sin(angle), far * math.cos(angle)
        place = np.array([x, -down * tilt, down * level])
        west, north, toward = (float(v) for v in place)
        hidden, shadow = _hidden(place, sunward), _shadow(place, sunward)
        out.append(JovianMoon(name, mag + fainter, west, north, toward, hidden, shadow))
    return tuple(out)


def _over_disc(place: Array, viewer: Array) -> float:
    """How far off the middle it is seen from a direction (3,), squared; under 1 on the disc."""
    # Stretched along the pole the planet is a ball: the pole is square to our sight to within 3.4
    # degrees, which changes a hundredth of a radius.
    stretch = np.array([1.0, _FLATTENED, 1.0])
    p, v = place * stretch, viewer * stretch
    v = v / np.linalg.norm(v)
    across = p - (p @ v) * v
    return float(across @ across)


def _hidden(place: Array, sunward: Array) -> Hidden:
    here = np.array([0.0, 0.0, 1.0])
    if _over_disc(place, here) < 1.0:
        return Hidden.IN_FRONT if place[2] > 0.0 else Hidden.BEHIND
    if place @ sunward < 0.0 and _over_disc(place, sunward) < 1.0:
        return Hidden.IN_SHADOW
    return Hidden.NOT


def _shadow(place: Array, sunward: Array) -> tuple[float, float] | None:
    """Where the line from the Sun through a moon meets the planet, if we see that side."""
    if place @ sunward <= 0.0 or _over_disc(place, sunward) >= 1.0:
        return None
    stretch = np.array([1.0, _FLATTENED, 1.0])
    p, v = place * stretch, sunward * stretch
    v = v / np.linalg.norm(v)
    along = float(p @ v)
    meets = p - (along - math.sqrt(max(0.0, along**2 - float(p @ p) + 1.0))) * v
    return (float(meets[0]), float(meets[1]) / _FLATTENED) if meets[2] > 0.0 else None


def _longitudes(tt_jd: float, distance_au: float) -> list[tuple[float, float]]:
    """Angles from the near side of each orbit (rad) and distances (radii), Io first."""
    d = tt_jd - 2451545.0

    def s(x: float) -> float:
        return math.sin(math.radians(x))

    def c(x: float) -> float:
        return math.cos(math.radians(x))

    long_term = 0.329 * s(172.74 + 0.00111588 * d)
    m, n = 357.529 + 0.9856003 * d, 20.020 + 0.0830853 * d + long_term
    a = 1.915 * s(m) + 0.020 * s(2 * m)
    b = 5.555 * s(n) + 0.168 * s(2 * n)
    k = 66.115 + 0.9025179 * d - long_term + a - b
    earth = 1.00014 - 0.01671 * c(m) - 0.00014 * c(2 * m)
    r = 5.20872 - 0.25208 * c(n) - 0.00611 * c(2 * n)
    far = math.sqrt(r * r + earth * earth - 2.0 * r * earth * c(k))
    turn = math.degrees(math.asin(earth / far * s(k))) - b
    t = d - distance_au / _LIGHT_AU_PER_DAY
    u1 = 163.8069 + 203.4058646 * t + turn
    u2 = 358.4140 + 101.2916335 * t + turn
    u3 = 5.7176 + 50.2345180 * t + turn
    u4 = 224.8092 + 21.4879800 * t + turn
    g, h = 331.18 + 50.310482 * t, 87.45 + 21.569231 * t
    return [
        (math.radians(u1 + 0.473 * s(2 * (u1 - u2))), 5.9057 - 0.0244 * c(2 * (u1 - u2))),
        (math.radians(u2 + 1.065 * s(2 * (u2 - u3))), 9.3966 - 0.0882 * c(2 * (u2 - u3))),
        (math.radians(u3 + 0.165 * s(g)), 14.9883 - 0.0216 * c(g)),
        (math.radians(u4 + 0.843 * s(h)), 26.3627 - 0.1939 * c(h)),
    ]
