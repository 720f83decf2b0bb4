"""What all stars share at one moment and place: where the observer is, how the sky is turned.

One ``erfa.apco13`` a moment serves any number of stars (SOFA Astrometry Tools, section 4.3):
precession and nutation (IAU 2006/2000A), the Earth's place and velocity, Earth rotation, polar
motion, the site. For the many moments of one night its long series are worked out at a few
(series.py), and ``erfa.apco`` puts the rest together. Refraction is left out of it and is put on
afterwards (refraction.py), because SOFA's form stops at 3 deg up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import erfa
import numpy as np
from numpy.typing import NDArray

from plumbstar.sky.earth import EarthOrientation, orientation, use_leap_seconds
from plumbstar.sky.refraction import WAVELENGTH_UM, Air, air_of
from plumbstar.sky.series import earth_and_sun, many_of_one_night, over, pole
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import one_turn
from plumbstar.units import Array


@dataclass(frozen=True, slots=True)
class Frame:
    """The moment and place, ready for stars: shapes ``()`` for one moment or ``(n,)`` for several.

    ``astrom`` is SOFA's star-independent block (no refraction in it); ``tt1 + tt2`` is TT, the
    moment's Julian date; ``origins`` the equation of the origins (rad), which leads from the CIRS
    right ascension to the equinox's; ``earth`` what was used for UT1 and the pole.
    """

    astrom: NDArray[Any]
    origins: Array
    tt1: Array
    tt2: Array
    site: Site
    earth: EarthOrientation

    @property
    def air(self) -> Air:
        return air_of(self.site.pressure, self.site.temperature_c)

    def expand(self) -> Frame:
        """The same moments with an axis added, shape ``(n, 1)``, to make a grid with stars."""
        return Frame(
            self.astrom[..., None],
            self.origins[..., None],
            self.tt1[..., None],
            self.tt2[..., None],
            self.site,
            self.earth,
        )

    def sidereal_time_rad(self) -> Array:
        """Local apparent sidereal time, 0 to 2 pi: Earth rotation angle less the origins.

        Good to the polar motion left in SOFA's local angle, under 1 arcsec.
        """
        return one_turn(np.asarray(self.astrom["eral"] - self.origins))


def frame(
    instants: Instant | Sequence[Instant], site: Site, earth: EarthOrientation | None = None
) -> Frame:
    """The frame at one moment, or at ``n`` of them. ``earth`` overrides the packaged table.

    The same moments are asked for again and again (every object of a night, every look at the
    list), and nutation alone has 1,365 terms: the last ones are kept, to be read only.
    """
    if earth is not None:
        return _made(instants, site, earth)
    return _kept(instants if isinstance(instants, Instant) else tuple(instants), site)


@lru_cache(maxsize=128)
def _kept(instants: Instant | tuple[Instant, ...], site: Site) -> Frame:
    made = _made(instants, site, None)
    for part in (made.astrom, made.origins, made.tt1, made.tt2):
        part.flags.writeable = False
    return made


def _made(
    instants: Instant | Sequence[Instant], site: Site, earth: EarthOrientation | None
) -> Frame:
    use_leap_seconds()
    if earth is None:
        earth = orientation(instants)
    utc1: Array | float
    utc2: Array | float
    if isinstance(instants, Instant):
        utc1, utc2 = instants.jd1, instants.jd2
    else:
        utc1 = np.array([t.jd1 for t in instants])
        utc2 = np.array([t.jd2 for t in instants])
    tai1, tai2, _ = erfa.ufunc.utctai(utc1, utc2)
    tt1, tt2, _ = erfa.ufunc.taitt(tai1, tai2)
    lon, lat = np.radians(site.lon_deg), np.radians(site.lat_deg)
    # The ufuncs and not their wrappers: they return their status instead of warning about years
    # whose leap seconds nobody knows yet, which is no error here.
    if many_of_one_night(tt1, tt2):
        here, moves, sun = earth_and_sun(tt1, tt2)
        earth_pv = np.empty(len(tt1), dtype=erfa.dt_pv)
        earth_pv["p"], earth_pv["v"] = here, moves
        (x, y, s), (origins, *_) = over(pole, tt1, tt2).swapaxes(1, 2)
        ut1, ut2, _ = erfa.ufunc.utcut1(utc1, utc2, earth.dut1_s)
        astrom = erfa.ufunc.apco(
            tt1, tt2, earth_pv, here - sun, x, y, s, erfa.ufunc.era00(ut1, ut2), lon, lat,
            site.elevation_m, earth.xp_rad, earth.yp_rad, erfa.ufunc.sp00(tt1, tt2), 0.0, 0.0,
        )  # fmt: skip
    else:
        astrom, origins, _ = erfa.ufunc.apco13(
            utc1, utc2, earth.dut1_s, lon, lat, site.elevation_m, earth.xp_rad, earth.yp_rad,
            0.0, 0.0, 0.0, WAVELENGTH_UM,
        )  # fmt: skip
    return Frame(
        np.asarray(astrom), np.asarray(origins), np.asarray(tt1), np.asarray(tt2), site, earth
    )


def horizontal(
    f: Frame, ri: Array, di: Array, airless: bool, air: Air | None = None
) -> tuple[Array, Array]:
    """CIRS right ascension and declination (rad) to azimuth (0 to 2 pi) and altitude (rad)."""
    az, zd, *_ = erfa.ufunc.atioq(ri, di, f.astrom)
    alt = np.asarray(np.pi / 2.0 - zd)
    if not airless:
        alt = (air or f.air).apparent_altitude(alt)
    return np.asarray(az), alt
