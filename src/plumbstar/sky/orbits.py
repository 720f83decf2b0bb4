"""Where something on an undisturbed orbit round the Sun stands: ellipse, parabola or hyperbola.

Two bodies only: the planets' pull is not counted. What that costs grows with the age of the
elements (docs/moving.md has the figures, design/old_elements.py measured them).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from plumbstar.units import Array

#: Gauss's constant: au to the power 1.5 a day (IAU 1938; in the Minor Planet Center's elements).
_K = 0.01720209895
#: The ecliptic of J2000 against the equator, arcseconds (IAU 1976, as the elements are given).
_OBLIQUITY = math.radians(84381.448 / 3600.0)


@dataclass(frozen=True, slots=True)
class SunOrbit:
    """Six elements and their date, for the ecliptic and equinox of J2000.

    ``perihelion_tt_jd`` is when it is nearest the Sun, ``epoch_tt_jd`` the date that the elements
    are good for.
    """

    perihelion_au: float
    eccentricity: float
    argument_deg: float
    node_deg: float
    inclination_deg: float
    perihelion_tt_jd: float
    epoch_tt_jd: float

    def place(self, tt1: ArrayLike, tt2: ArrayLike) -> Array:
        """From the Sun, au, ICRS axes, shape ``(..., 3)``, at Julian dates (TT) in two parts.

        The frame bias between the equator of J2000 and ICRS, 0.02 arcsec, is dropped.
        """
        days = (np.asarray(tt1) - self.perihelion_tt_jd) + np.asarray(tt2)
        x, y = in_plane(days, self.perihelion_au, self.eccentricity)
        return np.asarray(np.stack([x, y], axis=-1) @ self._axes())

    def _axes(self) -> Array:
        """Rows (2, 3): toward perihelion, and square to it along the motion."""
        w, n, i = (
            math.radians(a) for a in (self.argument_deg, self.node_deg, self.inclination_deg)
        )
        cw, sw, cn, sn, ci, si = (f(a) for a in (w, n, i) for f in (math.cos, math.sin))
        ecliptic = np.array(
            [
                [cn * cw - sn * sw * ci, sn * cw + cn * sw * ci, sw * si],
                [-cn * sw - sn * cw * ci, -sn * sw + cn * cw * ci, cw * si],
            ]
        )
        c, s = math.cos(_OBLIQUITY), math.sin(_OBLIQUITY)
        return np.asarray(ecliptic @ np.array([[1.0, 0.0, 0.0], [0.0, c, s], [0.0, -s, c]]))


def in_plane(days: ArrayLike, q: float, e: float) -> tuple[Array, Array]:
    """Place (x toward perihelion, y along the motion there), au, so many days after perihelion.

    Kepler's equation by universal variables from perihelion, so that near-parabolic orbits are no
    matter (Danby, Fundamentals of Celestial Mechanics, 1988, section 6.9; from memory):
    k t = q s + e s^3 S(a s^2), with a = (1 - e) / q. It is convex for s > 0 up to half a turn, so
    Newton's method from above never overshoots.
    """
    t = _K * np.asarray(days, dtype=np.float64)
    a = (1.0 - e) / q
    if a > 0.0:  # within half a turn of perihelion
        half = math.pi / a**1.5
        t = np.where(np.abs(t) <= half, t, np.mod(t + half, 2.0 * half) - half)
    sign, t = np.sign(t), np.abs(t)
    s = np.minimum(t / q, np.cbrt(t / (0.1 * e)) if e > 1e-3 else np.inf)
    if a > 0.0:
        s = np.minimum(s, math.pi / math.sqrt(a))
    for _ in range(400):  # a handful, but for steep hyperbolas
        c2, c3 = stumpff(a * s * s)
        step = (q * s + e * s**3 * c3 - t) / (q + e * s * s * c2)
        s = s - step
        if np.all(np.abs(step) <= 1e-14 * (1.0 + s)):
            break
    c2, c3 = stumpff(a * s * s)
    x = q - s * s * c2
    y = math.sqrt(q * (1.0 + e)) * s * (1.0 - a * s * s * c3)
    return np.asarray(x), np.asarray(sign * y)


def stumpff(z: Array) -> tuple[Array, Array]:
    """(1 - cos sqrt z) / z and (sqrt z - sin sqrt z) / sqrt(z)^3, for z of any sign."""
    z = np.asarray(z, dtype=np.float64)
    small = np.abs(z) < 1e-3
    w = np.where(small, 1.0, z)
    r = np.sqrt(np.abs(w))
    big = np.minimum(r, 700.0)
    c2 = np.where(w > 0.0, 1.0 - np.cos(r), 1.0 - np.cosh(big)) / w
    c3 = np.where(w > 0.0, r - np.sin(r), np.sinh(big) - r) / r**3
    near2 = 0.5 - z / 24.0 + z * z / 720.0
    near3 = 1.0 / 6.0 - z / 120.0 + z * z / 5040.0
    return np.where(small, near2, c2), np.where(small, near3, c3)


def pluto(tt_jd: float) -> SunOrbit:
    """Pluto's mean orbit: Standish, "Keplerian elements for approximate positions of the major
    planets" (JPL), for 1800 to 2050; the elements from memory.
    """
    t = (tt_jd - 2451545.0) / 36525.0
    axis = 39.48211675 - 0.00031596 * t
    e = 0.24882730 + 0.00005170 * t
    node = 110.30393684 - 0.01183482 * t
    perihelion = 224.06891629 - 0.04062942 * t
    mean = math.radians(238.92903833 + 145.20780515 * t - perihelion)
    return SunOrbit(
        perihelion_au=axis * (1.0 - e),
        eccentricity=e,
        argument_deg=perihelion - node,
        node_deg=node,
        inclination_deg=17.14001206 + 0.00004818 * t,
        perihelion_tt_jd=tt_jd - mean / (_K / axis**1.5),
        epoch_tt_jd=tt_jd,
    )
