"""When a telescope shows two stars as two: its own rings, the air, and the brighter one's halo."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from plumbstar.units import Array

#: Dawes's limit for two equal stars in still air, arcseconds times millimetres (116 / D;
#: astronomyassociation.org, otdl.html).
DAWES = 116.0
#: Lewis's equal bright pairs, by which the other factors count: 0.7 magnitudes apart, the fainter
#: of magnitude 6.4.
_EQUAL_MAG, _BRIGHT_MAG = 0.7, 6.4
#: Factors, as powers of ten, of a magnitude of difference and of a magnitude fainter. Fitted to the
#: four rows of Lewis's table, which they meet within a twelfth.
_DIFFERENCE, _FAINTNESS = 0.0940, 0.0965
#: The part of the seeing's width that counts: the eye catches the still moments. Judgement.
STILL = 0.4
#: The halo that the air spreads falls with the 11/3 power of the angle (the wing of Kolmogorov's
#: turbulence; Roddier 1981, Progress in Optics 19, 281; memory), here as (1 + (r / a)^2)^-11/6.
_WING = 11.0 / 6.0
#: Half its own width in units of ``a`` at which it is half as bright as in the middle.
_HALF = math.sqrt(2.0 ** (1.0 / _WING) - 1.0)
#: The fainter star shows when its middle is so much of the halo where it stands. Judgement, such
#: that the companion of Sirius stays hidden 26 degrees up in a usual night.
_ON_HALO = 0.75


def diffraction_arcsec(aperture_mm: float, mag_a: ArrayLike, mag_b: ArrayLike) -> Array:
    """Separation (...) at which the telescope parts the pair in still air.

    Lewis 1914, The Observatory 37, 378: 4.8, 8.5, 16.5 and 36 over the aperture in inches for pairs
    of magnitudes (5.7, 6.4), (8.5, 9.1), (6.2, 9.5) and (4.7, 10.4); from memory. The last two are
    unequal and their fainter stars faint: both have a part in it, so a bright companion of a bright
    star (Rigel's, of magnitude 6.8) is parted where the difference alone would say no.
    """
    a, b = np.asarray(mag_a, dtype=np.float64), np.asarray(mag_b, dtype=np.float64)
    unequal = np.maximum(np.abs(b - a) - _EQUAL_MAG, 0.0)
    faint = np.maximum(np.maximum(a, b) - _BRIGHT_MAG, 0.0)
    return np.asarray(
        DAWES / aperture_mm * np.power(10.0, _DIFFERENCE * unequal + _FAINTNESS * faint)
    )


def air_arcsec(seeing_arcsec: float, difference_mag: ArrayLike, air_mass: ArrayLike) -> Array:
    """Separation (...) at which the air parts two stars: its blur, or the halo of the brighter.

    Seeing grows as air mass to the 0.6 (Kolmogorov).
    """
    bright = _ON_HALO * np.power(10.0, 0.4 * np.abs(np.asarray(difference_mag)))
    halo = np.sqrt(np.maximum(np.power(bright, 1.0 / _WING) - 1.0, 0.0)) / (2.0 * _HALF)
    return np.asarray(
        STILL * seeing_arcsec * np.maximum(1.0, halo) * np.power(air_mass, 0.6), dtype=np.float64
    )


def split_need_arcsec(
    aperture_mm: float, seeing_arcsec: float, mag_a: ArrayLike, mag_b: ArrayLike,
    air_mass: ArrayLike,
) -> Array:  # fmt: skip
    """Separation (...) at which this telescope in this air parts two stars half the time.

    Telescope and air each by its own law; what the difference costs in the one does not multiply
    the other.
    """
    difference = np.asarray(mag_b, dtype=np.float64) - np.asarray(mag_a)
    return np.asarray(
        np.hypot(
            diffraction_arcsec(aperture_mm, mag_a, mag_b),
            air_arcsec(seeing_arcsec, difference, air_mass),
        )
    )
