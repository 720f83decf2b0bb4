"""How bright the sky itself is: the dark sky, moonlight and twilight, V magnitudes a square arcsec.

Each light is a surface brightness in nanolamberts; they add. Sources:

* scale: B = 34.08 exp(20.7233 - 0.92104 mu) nL (Garstang 1989; Krisciunas and Schaefer 1991,
  PASP 103, 1033, eq. 1);
* dark sky away from the zenith: eq. 2 of the same, after Garstang: the glow of the air is a shell,
  seen through more of it toward the horizon, and dimmed by the air before it;
* moonlight: eqs. 9, 15 (with 21), 20, good to 23 % there; within 10 degrees of the Moon its eq. 19;
* twilight: zenith brightness over a dark site by Patat, Ugolnikov and Postylyakov 2006, A&A 455,
  385: V = 11.84 + 1.518 p - 0.057 p^2 for a Sun p degrees below -5, p from 0 to 13.3.

All constants from memory; tests/sky/test_glow.py checks the scale against the equation above and
the moonlight against a published value. Left out: the glow of the Milky Way and zodiac, and lamps
that light one side of the sky.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from plumbstar.units import Array

#: Magnitudes over 20.7233: the scale between them and nanolamberts is 0.4 ln 10 = 0.92103.
_SCALE = 0.92104
# Where Patat's parabola turns over: no more twilight from there on.
_NIGHT_P = 1.518 / (2.0 * 0.057)
#: Two magnitudes, as a natural logarithm.
_BRIGHT_SIDE = 0.4 * 2.0 * math.log(10.0)
_PATAT_NIGHT_MAG = 11.84 + 1.518 * _NIGHT_P - 0.057 * _NIGHT_P**2


def nanolamberts(mag: ArrayLike) -> Array:
    """Surface brightness in nanolamberts (...) from V magnitudes a square arcsecond (...)."""
    return np.asarray(34.08 * np.exp(20.7233 - _SCALE * np.asarray(mag, dtype=np.float64)))


def mag_arcsec2(nl: ArrayLike) -> Array:
    """The inverse of :func:`nanolamberts`; single precision stays single."""
    return np.asarray((20.7233 - np.log(np.asarray(nl) / 34.08)) / _SCALE)


def shell_path(alt_rad: ArrayLike) -> Array:
    """Path (...) through the glowing and scattering shell: eq. 3 of the 1991 paper, 5 at most."""
    return np.asarray(1.0 / np.sqrt(1.0 - 0.96 * np.cos(np.asarray(alt_rad)) ** 2))


def dark_sky(zenith_mag: float, alt_rad: ArrayLike, k: float) -> Array:
    """Nanolamberts (...) of the moonless night sky at altitudes (...): eq. 2.

    ``zenith_mag`` is what the site has overhead; ``k`` magnitudes an air mass.
    """
    path = shell_path(alt_rad)
    return np.asarray(nanolamberts(zenith_mag) * path * np.power(10.0, -0.4 * k * (path - 1.0)))


def moonlight(
    moon_alt_rad: ArrayLike,
    phase_angle_rad: ArrayLike,
    alt_rad: ArrayLike,
    separation_rad: ArrayLike,
    k: float,
) -> Array:
    """Nanolamberts (...) that the Moon adds at altitudes (...) so far from it; 0 when it is down.

    ``phase_angle_rad`` is Sun-Moon-Earth: 0 at full Moon. All arguments broadcast together.
    """
    return np.asarray(
        moon_strength(moon_alt_rad, phase_angle_rad, k)
        * moon_halo(separation_rad)
        * scattered(alt_rad, k)
    )


def moon_strength(moon_alt_rad: ArrayLike, phase_angle_rad: ArrayLike, k: float) -> Array:
    """How strongly the Moon shines (...) on the air, whatever it lights there; 0 when it is down.

    The first of the three factors of :func:`moonlight`: eq. 9 and the way through the air.
    """
    moon_alt = np.asarray(moon_alt_rad, dtype=np.float64)
    a = np.degrees(np.abs(phase_angle_rad))
    lit = np.power(10.0, -0.4 * (3.84 + 0.026 * a + 4e-9 * a**4))
    there = shell_path(np.maximum(moon_alt, 0.0))
    return np.asarray(np.where(moon_alt > 0.0, lit * np.power(10.0, -0.4 * k * there), 0.0))


def moon_halo(separation_rad: ArrayLike) -> Array:
    """How much of its light the air turns our way (...), so far from the Moon: eqs. 19 and 21."""
    rho = np.degrees(np.asarray(separation_rad, dtype=np.float64))
    rayleigh = 10**5.36 * (1.06 + np.cos(np.radians(rho)) ** 2)
    # Close to the Moon the two laws of the paper meet at 10 degrees to within a fifth.
    mie = np.where(
        rho >= 10.0,
        np.power(10.0, 6.15 - rho / 40.0),
        6.2e7 / np.maximum(rho, 0.25) ** 2,  # its disc ends at a quarter of a degree
    )
    return np.asarray(rayleigh + mie)


def scattered(alt_rad: ArrayLike, k: float) -> Array:
    """The part (...) of a light that the air at altitudes (...) scatters: of eq. 15."""
    return np.asarray(1.0 - np.power(10.0, -0.4 * k * shell_path(alt_rad)))


def twilight(
    sun_alt_rad: ArrayLike, alt_rad: ArrayLike = math.pi / 2, side: ArrayLike = 0.0
) -> Array:
    """Nanolamberts (...) that the sunken Sun adds; 0 once it is 18.3 degrees down.

    What Patat's zenith has above his darkest. A Sun higher than -5 degrees carries the first slope
    on, which is good to a magnitude (memory: some 1,000 cd/m2 overhead at sunset); only Moon,
    planets and bright stars are judged in such light. ``side`` is the cosine of the azimuth from
    the Sun's: low over the sunken Sun the sky is taken as two magnitudes brighter than overhead
    (judgement), on the far side as bright as overhead.
    """
    toward = np.maximum(np.asarray(side, dtype=np.float64), 0.0) * np.cos(alt_rad) ** 2
    return np.asarray(twilight_overhead(sun_alt_rad) * twilight_side(toward))


def twilight_overhead(sun_alt_rad: ArrayLike) -> Array:
    """:func:`twilight` in the zenith, (...)."""
    p = -5.0 - np.degrees(np.asarray(sun_alt_rad, dtype=np.float64))
    mag = 11.84 + 1.518 * p - 0.057 * np.clip(p, 0.0, _NIGHT_P) ** 2
    extra = nanolamberts(mag) - nanolamberts(_PATAT_NIGHT_MAG)
    return np.asarray(np.where(p < _NIGHT_P, np.maximum(extra, 0.0), 0.0))


def twilight_side(toward: Array) -> Array:
    """How many times brighter than overhead, (...); ``toward`` is 1 under the sunken Sun."""
    return np.asarray(np.exp(_BRIGHT_SIDE * toward))


def moon_phase_angle(illuminated: float) -> float:
    """Phase angle, rad, from the lit part of the disc: cos i = 2 k - 1 (Meeus, eq. 48.1)."""
    return math.acos(min(1.0, max(-1.0, 2.0 * illuminated - 1.0)))
