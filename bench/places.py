"""Observed places of every star to V 6.5, side by side with astropy's AltAz in the same run.

    python bench/places.py

Prints the processor time of each and the ratio; the goal is ten times faster than AltAz. Each has
its catalogue made beforehand (a SkyCoord; directions with their vectors kept) and is asked about
moments that it has not seen. Median of forty rounds taken in turn, so that a busy machine slows
both.
"""

from __future__ import annotations

import json
import statistics
import warnings
from functools import partial

import astropy.units as u
import numpy as np
from astropy.coordinates import AltAz, Distance, EarthLocation, SkyCoord
from astropy.time import Time
from astropy.utils import iers
from timing import seconds

from plumbstar.sky.angles import separation_rad
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import catalogue
from plumbstar.sky.places import Directions, in_frame
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

iers.conf.auto_download = False
iers.conf.auto_max_age = None

ROUNDS = 40
warnings.simplefilter("ignore")  # astropy speaks of each star without a parallax


def main() -> None:
    stars = catalogue.load()
    site = Site(47.2, 11.6, 940.0)
    fixed = SkyCoord(stars.ra_deg * u.deg, stars.dec_deg * u.deg)
    moving = SkyCoord(
        ra=stars.ra_deg * u.deg,
        dec=stars.dec_deg * u.deg,
        pm_ra_cosdec=stars.pm_ra_mas * u.mas / u.yr,
        pm_dec=stars.pm_dec_mas * u.mas / u.yr,
        distance=Distance(parallax=np.maximum(stars.parallax_mas, 0.01) * u.mas),
        radial_velocity=np.zeros(len(stars)) * u.km / u.s,
        obstime=Time("J2000.0", scale="tdb"),
    )
    place = EarthLocation.from_geodetic(site.lon_deg, site.lat_deg, site.elevation_m)
    zero = np.zeros(len(stars))
    unmoving = Directions(stars.ra_rad, stars.dec_rad, zero, zero, zero)

    def ours(k: int, moves: bool) -> tuple[np.ndarray, np.ndarray]:
        when = Instant.parse("2027-01-28T18:30:00Z").plus_seconds(60.0 * k)
        return in_frame(frame(when, site), stars if moves else unmoving)

    def theirs(k: int, moves: bool) -> tuple[np.ndarray, np.ndarray]:
        when = Time("2027-01-28T18:30:00", scale="utc") + k * u.min
        frame = AltAz(
            obstime=when,
            location=place,
            pressure=site.pressure * u.hPa,
            temperature=site.temperature_c * u.deg_C,
            relative_humidity=0.5,
            obswl=0.55 * u.micron,
        )
        stars_then = moving.apply_space_motion(new_obstime=when) if moves else fixed
        out = stars_then.transform_to(frame)
        return out.az.rad, out.alt.rad

    report: dict[str, object] = {"stars": len(stars), "rounds": ROUNDS}
    for moves in (False, True):
        a, b = ours(0, moves), theirs(0, moves)
        high = b[1] > np.radians(10.0)
        gap = float(np.degrees(separation_rad(*a, *b)[high].max())) * 3600.0
        pairs = [
            (seconds(partial(ours, k, moves), 1), seconds(partial(theirs, k, moves), 1))
            for k in range(1, ROUNDS + 1)
        ]
        mine, other = (statistics.median(of) for of in zip(*pairs, strict=True))
        report["with_proper_motion" if moves else "fixed_stars"] = {
            "ours_ms": round(mine * 1e3, 2),
            "altaz_ms": round(other * 1e3, 2),
            "times_faster": round(statistics.median(b / a for a, b in pairs), 1),
            "worst_gap_arcsec_above_10_deg": round(gap, 4),
        }
    print(json.dumps(report, indent=2))


if __name__ == "__main__":
    main()
