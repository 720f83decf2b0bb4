"""Where things truly stand, worked out apart from the program: within about half an arcminute.

Precession by Lieske's angles (IAU 1976) and mean sidereal time (IAU 1982), both as in Meeus,
Astronomical Algorithms, chapters 12 and 21; refraction by Saemundsson (chapter 16). Nutation and
aberration, under 30 arcsec together, are left out: a hand centres to some arcminutes.
"""

import math

import numpy as np

from plumbstar.sky.bodies import Body
from plumbstar.sky.naming import lookup

from .shapes import Array, Pair

LAT_DEG, LON_DEG = 47.2, 11.6


def _turn(axis: str, deg: float) -> Array:
    c, s = math.cos(math.radians(deg)), math.sin(math.radians(deg))
    if axis == "z":
        return np.array([[c, s, 0], [-s, c, 0], [0, 0, 1.0]])
    return np.array([[c, 0, -s], [0, 1.0, 0], [s, 0, c]])


def place(name: str, unix: float) -> Pair:
    """Observed (azimuth, altitude), degrees, of a star or object of the lists."""
    t = lookup.find_target(name)
    assert not isinstance(t, Body), "its place is not in a list"
    ra, dec = math.radians(t.ra_deg), math.radians(t.dec_deg)
    jd = unix / 86400.0 + 2440587.5
    c = (jd - 2451545.0) / 36525.0
    v = np.array([math.cos(dec) * math.cos(ra), math.cos(dec) * math.sin(ra), math.sin(dec)])
    zeta = (2306.2181 * c + 0.30188 * c * c) / 3600
    z = (2306.2181 * c + 1.09468 * c * c) / 3600
    theta = (2004.3109 * c - 0.42665 * c * c) / 3600
    v = _turn("z", -z) @ _turn("y", theta) @ _turn("z", -zeta) @ v
    return of_date(math.atan2(v[1], v[0]), math.asin(v[2]), unix)


def of_date(ra: float, dec: float, unix: float) -> Pair:
    """Observed (azimuth, altitude), degrees, of a place of date in radians."""
    jd = unix / 86400.0 + 2440587.5
    sidereal = 280.46061837 + 360.98564736629 * (jd - 2451545.0) + LON_DEG
    h, lat = math.radians(sidereal) - ra, math.radians(LAT_DEG)
    up = math.sin(lat) * math.sin(dec) + math.cos(lat) * math.cos(dec) * math.cos(h)
    east = -math.cos(dec) * math.sin(h)
    north = math.sin(dec) * math.cos(lat) - math.cos(dec) * math.cos(h) * math.sin(lat)
    alt = math.degrees(math.asin(up))
    if alt > -1:
        # 940 m up the air is thinner; the program's site has no temperature of its own here.
        alt += 0.89 * 1.02 / math.tan(math.radians(alt + 10.3 / (alt + 5.11))) / 60
    return math.degrees(math.atan2(east, north)) % 360, alt
