"""Sun, Moon and planets, as seen from the site: good for finding, not for sightings.

Sources: Earth and Sun ``erfa.epv00``; Moon ``erfa.moon98`` (Meeus 1998, chapter 47, with
corrections); planets ``erfa.plan94`` (Simon et al. 1994, Astron. Astrophys. 282, 663).

Measured against JPL DE421 on 3,000 dates from 1960 to 2050, geocentric, arcsec, worst and median:
Saturn 89 and 17, Uranus 73 and 25, Jupiter 54 and 13, Mars 51 and 3, Moon 18 and 2, Neptune 10 and
5, Venus 10 and 1, Mercury 2 and 0.2, Sun 0.05. Pluto goes by its mean orbit (orbits.py): 58 and 21,
on 200 dates from 1990 to 2049, seen from the Sun. So the goal of one arcminute is missed for Saturn
on 5 % of dates and for Uranus on 9 %.

Light time, parallax of the observer, aberration and light deflection are included. Dropped: the
frame bias between plan94's J2000 equator and ICRS, 0.02 arcsec; the deflection formula treats a
planet as if it were behind the Sun, under 2 arcsec and only beside the Sun.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import erfa
import numpy as np

from plumbstar.errors import UserError
from plumbstar.sky.frame import Frame, frame, horizontal
from plumbstar.sky.naming.names import fold
from plumbstar.sky.orbits import pluto
from plumbstar.sky.series import earth_and_sun, many_of_one_night, over_moving
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import one_turn
from plumbstar.units import Array

PLANETS = {
    "Mercury": 1, "Venus": 2, "Mars": 4, "Jupiter": 5, "Saturn": 6, "Uranus": 7, "Neptune": 8,
}  # fmt: skip
#: Those that are taken for stars by eye.
BRIGHT_PLANETS = ("Venus", "Jupiter", "Mars", "Saturn", "Mercury")
NAMES = ("Sun", "Moon", *PLANETS, "Pluto")

_LIGHT_DAYS_PER_AU = 499.004783836 / 86400.0  # IAU 2012 au and c
_AU_KM = 149597870.7
# The Sun's nominal radius, the Moon's mean one, the planets' equatorial ones: IAU 2015 (memory).
_RADIUS_KM = {
    "Sun": 695700.0, "Moon": 1737.4, "Mercury": 2440.5, "Venus": 6051.8, "Mars": 3396.2,
    "Jupiter": 71492.0, "Saturn": 60268.0, "Uranus": 25559.0, "Neptune": 24764.0,
    "Pluto": 1188.3,
}  # fmt: skip

#: V at 1 au from both, and what each degree of phase angle adds, by its powers.
_MAGNITUDE = {
    "Mercury": (-0.42, 0.0380, -0.000273, 0.000002),
    "Venus": (-4.40, 0.0009, 0.000239, -0.00000065),
    "Mars": (-1.52, 0.016),
    "Jupiter": (-9.40, 0.005),
    "Saturn": (-8.88, 0.044),
    "Uranus": (-7.19,),
    "Neptune": (-6.87,),
    "Pluto": (-1.00,),
}


@dataclass(frozen=True, slots=True)
class Body:
    """The Sun, the Moon or a planet, by its name: ``Body("Moon")``. Raises UserError for others."""

    name: str

    def __post_init__(self) -> None:
        for known in NAMES:
            if fold(self.name) == fold(known):
                object.__setattr__(self, "name", known)
                return
        raise UserError(
            f"'{self.name}' is not a body known here",
            "one of " + ", ".join(NAMES),
            "Check the name",
        )

    @property
    def key(self) -> str:
        return self.name

    @property
    def label(self) -> str:
        return self.name

    @property
    def kind(self) -> str:
        if self.name == "Pluto":
            return "dwarf planet"
        return "planet" if self.name in PLANETS else self.name

    def heliocentric(self, tt1: Array, tt2: Array) -> Array:
        """Of a planet: from the Sun, au, ICRS axes, shape ``(..., 3)``."""
        if self.name == "Pluto":
            mid = float(np.mean(np.asarray(tt1) + np.asarray(tt2)))
            return pluto(mid).place(tt1, tt2)
        return np.asarray(erfa.ufunc.plan94(tt1, tt2, PLANETS[self.name])[0]["p"])

    def half_size_rad(self, distance_au: Array) -> Array:
        """Half the angular size at that distance; of a flattened planet, at its equator."""
        return np.arcsin(_RADIUS_KM[self.name] / (distance_au * _AU_KM))

    def brightness(self, phase_rad: float, from_earth_au: float, from_sun_au: float) -> float:
        """Apparent V of the Moon or a planet: see :func:`magnitude`."""
        i = math.degrees(phase_rad)
        if self.name == "Moon":
            far = 5.0 * math.log10(from_earth_au * _AU_KM / 384400.0)
            return -12.73 + 0.026 * i + 4e-9 * i**4 + far
        zero, *slopes = _MAGNITUDE[self.name]
        phase = sum(c * i ** (k + 1) for k, c in enumerate(slopes))
        return zero + phase + 5.0 * math.log10(from_sun_au * from_earth_au)


def match(text: str) -> Body | None:
    """The body of that name ("the Moon", "jupiter"), or None."""
    key = fold(text).removeprefix("the")
    return next((Body(n) for n in NAMES if fold(n) == key), None)


def _vector(body: Body, f: Frame, geocentric: bool) -> Array:
    """Vector (au, ICRS axes, shape ``(..., 3)``) from the observer to where the light left."""
    earth, earth_moves, sun = earth_and_sun(f.tt1, f.tt2)
    observer = earth if geocentric else f.astrom["eb"]
    if body.name == "Sun":
        # The Sun moves 0.01 arcsec about the barycentre while its light comes here: dropped.
        return np.asarray(sun - observer)

    def orbit(tt1: Array, tt2: Array) -> Array:
        """From the Earth for the Moon, from the Sun for a planet, (1, ..., 3)."""
        if body.name == "Moon":
            return np.asarray(erfa.ufunc.moon98(tt1, tt2)["p"])[None]
        return body.heliocentric(tt1, tt2)[None]

    many = many_of_one_night(f.tt1, f.tt2)
    if many:
        place, moves, bends = over_moving(orbit, f.tt1, f.tt2)[:, 0]
    tau = np.zeros_like(f.tt1)
    centre, v = sun, sun - observer
    # Light time: the second pass changes it by under 1 ms for the fastest, Mercury.
    for _ in range(3):
        if body.name == "Moon":
            centre = earth - earth_moves * tau[..., None]
        if many:  # back along the motion, in place of the whole series once more: 1e-11 au
            ago = -tau[..., None]
            there = place + ago * (moves + 0.5 * ago * bends)
        else:
            there = orbit(f.tt1, f.tt2 - tau)[0]
        v = centre + there - observer
        tau = np.linalg.norm(v, axis=-1) * _LIGHT_DAYS_PER_AU
    return np.asarray(v)


def body_icrs(body: Body, f: Frame, geocentric: bool = False) -> tuple[Array, Array, Array]:
    """Astrometric place from the site: (ra_rad, dec_rad, distance_au), shapes as the frame's.

    ``geocentric`` gives it from the Earth's centre, as almanacs do.
    """
    ra, dec, distance = erfa.ufunc.p2s(_vector(body, f, geocentric))
    return one_turn(np.asarray(ra)), np.asarray(dec), np.asarray(distance)


def body_place(body: Body, f: Frame, airless: bool = False) -> tuple[Array, Array]:
    """Observed (az_rad, alt_rad) of the centre of a body; shapes as the frame's."""
    ra, dec, _ = body_icrs(body, f)
    ri, di = erfa.ufunc.atciqz(ra, dec, f.astrom)
    return horizontal(f, ri, di, airless)


def body_at(
    body: Body, instant: Instant | Sequence[Instant], site: Site, airless: bool = False
) -> tuple[Array, Array]:
    """As :func:`body_place`, for one moment or ``(n,)`` moments."""
    return body_place(body, frame(instant, site), airless)


def semidiameter_rad(body: Body, f: Frame) -> Array:
    """Half the angular size from the site; of a flattened planet, at its equator."""
    _, _, distance = body_icrs(body, f)
    return body.half_size_rad(distance)


def sun_altitude(instant: Instant | Sequence[Instant], site: Site, airless: bool = True) -> Array:
    """Altitude (rad) of the Sun's centre, without air unless asked: what twilight is counted by."""
    return body_at(Body("Sun"), instant, site, airless)[1]


def sun_direction(instant: Instant, site: Site) -> tuple[float, float]:
    """Observed (az_rad, alt_rad) of the Sun's centre: for keeping a telescope away from it."""
    az, alt = body_at(Body("Sun"), instant, site)
    return float(az), float(alt)


def _phase(body: Body, instant: Instant) -> tuple[float, float, float]:
    """(phase angle in rad, distance from Earth, distance from the Sun, both au), geocentric."""
    f = frame(instant, Site(0.0, 0.0))
    helio = erfa.ufunc.epv00(f.tt1, f.tt2)[0]["p"]
    if body.name == "Moon":
        to_body = erfa.ufunc.moon98(f.tt1, f.tt2)["p"]
    else:
        to_body = body.heliocentric(f.tt1, f.tt2) - helio
    from_sun = helio + to_body
    delta, r = float(np.linalg.norm(to_body)), float(np.linalg.norm(from_sun))
    cos = float(np.dot(to_body, from_sun)) / (delta * r)
    return math.acos(min(1.0, max(-1.0, cos))), delta, r


def illuminated_fraction(body: Body, instant: Instant) -> float:
    """Lit part of the disc of the Moon or a planet, 0 to 1: (1 + cos i) / 2, i the phase angle.

    Meeus, Astronomical Algorithms, 2nd ed., eq. 48.1 (memory); seen from the Earth's centre:
    parallax is dropped, under 0.01.
    """
    if body.name == "Sun":
        return 1.0
    return (1.0 + math.cos(_phase(body, instant)[0])) / 2.0


def magnitude(body: Body, instant: Instant) -> float:
    """Apparent V, to about 0.2 (Saturn's rings are left out: up to 1 brighter when wide open).

    Planets: Astronomical Almanac 1984 formulae as in Meeus, 2nd ed., chapter 41; Pluto -1.00. Moon:
    Allen, Astrophysical Quantities: -12.73 + 0.026 a + 4e-9 a^4. All from memory.
    """
    if body.name == "Sun":
        return -26.74
    return body.brightness(*_phase(body, instant))
