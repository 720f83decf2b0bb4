"""What the eye needs at a telescope: the faintest star, and the faintest glow of a given size.

*Glows.* The threshold contrast of a disc against an even background: Blackwell 1946, J. Opt. Soc.
Am. 36, 624, as arranged by Clark 1990, Visual Astronomy of the Deep Sky, appendix F, by background
(magnitudes a square arcsecond) and size (arcminutes). The numbers are from memory; the tests hold
them to Ricco's law (light adds up within small discs), to two published laws for stars (Schaefer
1990 and Crumey 2014, below) and to smoothness. Blackwell's observers were young, practised, knew
where to look, and were right half the time above guessing; at a telescope the eye needs more, by
the field factor F of Crumey 2014, MNRAS 442, 2600: F about 2, less with practice.

*Stars and discs.* One law for all, from full day to the darkest sky: a star is a disc so small that
its light adds up (Ricco 1877), so it is read from the same table, at its smallest disc, and takes
the same field factor. Held to published laws in tests/targets/test_eye.py: Crumey's for stars
within 0.25 magnitudes from 20.5 to 24 a square arcsecond and 0.45 from 18 on; Schaefer's of 1993
(Vistas in Astronomy 36, 311; after Hecht 1947 and Knoll, Tousey and Hulburt 1946; memory), by day
within 0.6. In between, from 13 to 18 (Sun 6 to 10 degrees down, or a city), the published laws
differ from one another by up to a magnitude and a half, and the table lies on the side of the
fainter star: so far is it to be trusted there.

A telescope gathers (aperture / pupil)^2 as much light, less what its glass keeps; and it dims the
sky and every glow alike by the square of exit pupil over pupil: contrast stays, size grows.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from plumbstar.sky.extinction import air_mass, extinction_mag
from plumbstar.targets.model import Conditions
from plumbstar.units import Array, Indices

#: What two mirrors and an eyepiece let through. Common practice, no source.
TRANSMISSION = 0.75
#: How much more than Blackwell's observers the eye at a telescope needs, for each practice.
#: Crumey 2014 finds 1.4 to 2.4 among stargazers (memory); "new" is judgement.
FIELD_FACTOR = {"new": 2.8, "some": 2.0, "much": 1.4}

#: Diameters of the table's columns, log10 of arcminutes, and backgrounds of its rows, mag/arcsec2.
LOG_SIZE = np.array([-0.2255, 0.5563, 0.9859, 1.2600, 1.7420, 2.0830, 2.5560])
BACKGROUND = np.arange(4.0, 28.0)
#: log10 of the threshold contrast, rows by background, columns by size.
LOG_CONTRAST = np.array(
    [
        [-0.3769, -1.8064, -2.3368, -2.4601, -2.5469, -2.5610, -2.5660],
        [-0.3315, -1.7747, -2.3337, -2.4608, -2.5465, -2.5607, -2.5658],
        [-0.2682, -1.7345, -2.3310, -2.4605, -2.5467, -2.5608, -2.5658],
        [-0.1982, -1.6851, -2.3140, -2.4572, -2.5481, -2.5615, -2.5665],
        [-0.1238, -1.6252, -2.2791, -2.4462, -2.5463, -2.5597, -2.5646],
        [-0.0424, -1.5529, -2.2297, -2.4214, -2.5343, -2.5501, -2.5552],
        [0.0498, -1.4655, -2.1659, -2.3763, -2.5047, -2.5269, -2.5333],
        [0.1596, -1.3581, -2.0810, -2.3036, -2.4499, -2.4823, -2.4937],
        [0.2934, -1.2256, -1.9674, -2.1965, -2.3631, -2.4092, -2.4318],
        [0.4557, -1.0673, -1.8186, -2.0531, -2.2445, -2.3083, -2.3491],
        [0.6500, -0.8841, -1.6292, -1.8741, -2.0989, -2.1848, -2.2505],
        [0.8808, -0.6687, -1.3967, -1.6611, -1.9284, -2.0411, -2.1375],
        [1.1558, -0.3952, -1.1264, -1.4176, -1.7300, -1.8727, -2.0034],
        [1.4822, -0.0419, -0.8243, -1.1475, -1.5021, -1.6768, -1.8420],
        [1.8559, 0.3458, -0.4924, -0.8561, -1.2661, -1.4721, -1.6624],
        [2.2669, 0.6960, -0.1315, -0.5510, -1.0562, -1.2892, -1.4827],
        [2.6760, 1.0880, 0.2060, -0.3210, -0.8800, -1.1370, -1.3620],
        [2.7766, 1.2065, 0.3467, -0.1377, -0.7361, -0.9964, -1.2439],
        [2.9304, 1.3821, 0.5353, 0.0328, -0.5605, -0.8606, -1.1187],
        [3.1634, 1.6107, 0.7708, 0.2531, -0.3895, -0.7030, -0.9681],
        [3.4643, 1.9034, 1.0338, 0.4943, -0.2033, -0.5259, -0.8288],
        [3.8211, 2.2564, 1.3265, 0.7605, 0.0172, -0.2992, -0.6394],
        [4.2210, 2.6320, 1.6990, 1.1320, 0.2860, -0.0510, -0.4080],
        [4.6100, 3.0660, 2.1320, 1.5850, 0.6520, 0.2410, -0.1210],
    ]
)


def threshold_contrast(log_size: ArrayLike, background_mag: ArrayLike) -> Array:
    """log10 threshold contrast (...) of discs so wide against backgrounds, broadcast together.

    ``log_size`` is log10 of the apparent diameter in arcminutes. Linear in the table. Below its
    smallest disc Ricco's law holds (contrast times area is constant); over its largest nothing more
    is gained, nor beyond its first and last background.
    """
    x = np.minimum(np.asarray(log_size, dtype=np.float64), LOG_SIZE[-1])
    j, u, inside = _between_sizes(x)
    mu = np.clip(np.asarray(background_mag, dtype=np.float64), BACKGROUND[0], BACKGROUND[-1])
    row = mu - BACKGROUND[0]
    i = np.minimum(row.astype(np.intp), len(BACKGROUND) - 2)
    at = i * len(LOG_SIZE) + j
    bright = _FLAT[at] * (1.0 - u) + _FLAT[at + 1] * u
    at = at + len(LOG_SIZE)
    dark = _FLAT[at] * (1.0 - u) + _FLAT[at + 1] * u
    return np.asarray(bright + (row - i) * (dark - bright) + 2.0 * (inside - x))


def at_backgrounds(log_size: ArrayLike) -> Array:
    """:func:`threshold_contrast` of sizes (n,) at each background of the table, (24, n)."""
    x = np.minimum(np.asarray(log_size, dtype=np.float64), LOG_SIZE[-1])
    j, u, inside = _between_sizes(x)
    left, right = LOG_CONTRAST.take(j, axis=1), LOG_CONTRAST.take(j + 1, axis=1)
    return np.asarray(left + u * (right - left) + 2.0 * (inside - x))


def _between_sizes(x: Array) -> tuple[Indices, Array, Array]:
    """The table's column before sizes (...), the way to the next, and the size held within it."""
    inside = np.maximum(x, LOG_SIZE[0])
    j = np.zeros(np.shape(x), dtype=np.intp)
    for size in LOG_SIZE[1:-1].tolist():  # faster than a search among so few
        j += inside >= size
    return j, (inside - LOG_SIZE.take(j)) / _COLUMN.take(j), inside


_COLUMN: Array = np.diff(LOG_SIZE)
_FLAT: Array = LOG_CONTRAST.ravel()


def dimming_mag(aperture_mm: float, magnification: ArrayLike, pupil_mm: float) -> Array:
    """Magnitudes (...) by which the telescope dims the sky and every glow, for each magnification.

    The image is as bright as the naked eye's while the exit pupil fills the pupil, and fades as its
    square below.
    """
    exit_pupil = aperture_mm / np.asarray(magnification, dtype=np.float64)
    filled = np.minimum(exit_pupil / pupil_mm, 1.0)
    return np.asarray(-5.0 * np.log10(filled) - 2.5 * math.log10(TRANSMISSION))


def star_threshold(background_mag: ArrayLike) -> Array:
    """Faintest star (...) of Blackwell's observers against a background (...), at the eye.

    The table's smallest disc as a point. Brighter than its first row the contrast stays (Weber).
    """
    mu = np.asarray(background_mag, dtype=np.float64)
    return np.asarray(np.interp(mu, BACKGROUND, _STAR) + np.minimum(mu - BACKGROUND[0], 0.0))


#: A disc of the smallest size that is seen half the time, as a star, by background.
_STAR: Array = (
    BACKGROUND
    - 2.5 * LOG_CONTRAST[:, 0]
    - 2.5 * math.log10(math.pi / 4.0 * (60.0 * 10.0 ** LOG_SIZE[0]) ** 2)
)


def needs_mag(practice: str) -> float:
    """Magnitudes that an eye of that practice needs more than Blackwell's observers."""
    return 2.5 * math.log10(FIELD_FACTOR[practice])


def needs_of(sky: Conditions) -> float:
    """The same of this observer: by practice, with what was learnt."""
    return needs_mag(sky.practice) + sky.eye_mag


def naked_eye_limit(sky_mag: ArrayLike) -> Array:
    """Faintest star (...), at the eye, without a telescope, for some practice."""
    return np.asarray(star_threshold(sky_mag) - needs_mag("some"))


def star_limit(
    sky_mag: ArrayLike, aperture_mm: float, magnification: ArrayLike, sky: Conditions
) -> Array:
    """Faintest star (...) that shows, as bright as it arrives below the air.

    ``sky_mag`` is the sky's brightness where it stands.
    """
    m = np.asarray(magnification, dtype=np.float64)
    dimming = dimming_mag(aperture_mm, m, sky.pupil_mm)
    # What the glass keeps dims star and sky alike; more than the pupil holds is lost.
    used_mm = np.minimum(aperture_mm, sky.pupil_mm * m)
    gain = 5.0 * np.log10(used_mm / sky.pupil_mm) + 2.5 * math.log10(TRANSMISSION)
    return np.asarray(star_threshold(np.asarray(sky_mag) + dimming) + gain - needs_of(sky))


def disc_limit(
    sky_mag: ArrayLike,
    diameter_arcsec: ArrayLike,
    aperture_mm: float,
    magnification: ArrayLike,
    sky: Conditions,
) -> Array:
    """Magnitudes (...) of the faintest even discs that show, arriving below the air.

    All broadcast together; ``sky_mag`` where each stands. The same as a star's while the disc looks
    like one.
    """
    mu, size = np.asarray(sky_mag), np.asarray(diameter_arcsec, dtype=np.float64)
    power = np.asarray(magnification, dtype=np.float64)
    behind = mu + dimming_mag(aperture_mm, power, sky.pupil_mm)
    need = threshold_contrast(np.log10(size * power / 60.0), behind)
    faintest = mu - 2.5 * need - needs_of(sky)
    return np.asarray(faintest - 2.5 * np.log10(math.pi / 4.0 * size * size))


def air_toll(sky: Conditions, elevation_m: float) -> float:
    """Magnitudes an air mass: as stated, or by the site's elevation."""
    return sky.extinction_mag if sky.extinction_mag is not None else extinction_mag(elevation_m)


def telescope_limit(
    aperture_mm: float, magnification: float, alt_rad: float, elevation_m: float, sky: Conditions
) -> float:
    """Faintest V that shows in the eyepiece at that altitude; nothing is taken for the Moon."""
    k = air_toll(sky, elevation_m)
    arriving = float(star_limit(sky.zenith_mag, aperture_mm, magnification, sky))
    return arriving - k * float(air_mass(alt_rad))
