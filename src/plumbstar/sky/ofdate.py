"""Right ascension and declination of date, as charts and telescope standards use them.

Apparent topocentric place on the true equator and equinox of date (IAU 2006/2000A): precession,
nutation, aberration and the Sun's deflection of light are in it, as seen by an observer whom the
Earth carries round (diurnal aberration, the Moon's parallax); refraction is not. Source: SOFA
Astrometry Tools, sections 2.2 and 4.3: ``aticq``, ``atciq``, ``atoiq`` after ``apco13``, which puts
the observer's own velocity into the aberration; the right ascension counted from the equinox is the
CIRS one less the equation of the origins.
"""

from __future__ import annotations

import erfa
import numpy as np

from plumbstar.sky.frame import Frame, frame
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import one_turn


def from_horizon(
    az_deg: float, alt_deg: float, instant: Instant, site: Site
) -> tuple[float, float]:
    """(ra_rad, dec_rad) of date seen at that azimuth and *observed* altitude; RA 0 to 2 pi."""
    f = frame(instant, site)
    alt = float(f.air.true_altitude(np.radians(alt_deg)))
    ri, di = erfa.ufunc.atoiq(b"A", np.radians(az_deg), np.pi / 2.0 - alt, f.astrom)
    return _from_cirs(f, ri, di)


def from_icrs(ra_rad: float, dec_rad: float, instant: Instant, site: Site) -> tuple[float, float]:
    """ICRS to (ra_rad, dec_rad) of date, for something without proper motion or parallax."""
    f = frame(instant, site)
    return _from_cirs(f, *erfa.ufunc.atciqz(ra_rad, dec_rad, f.astrom))


def to_icrs(ra_rad: float, dec_rad: float, instant: Instant, site: Site) -> tuple[float, float]:
    """Of date to ICRS (ra_rad, dec_rad): the inverse of :func:`from_icrs`."""
    f = frame(instant, site)
    ra, dec = erfa.ufunc.aticq(one_turn(ra_rad + float(f.origins)), dec_rad, f.astrom)
    return one_turn(float(ra)), float(dec)


def sidereal_hours(instant: Instant, site: Site) -> float:
    """Local apparent sidereal time, 0 to 24 h."""
    return float(np.degrees(frame(instant, site).sidereal_time_rad())) / 15.0 % 24.0


def _from_cirs(f: Frame, ri: float, di: float) -> tuple[float, float]:
    return one_turn(float(ri - f.origins)), float(di)
