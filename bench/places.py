"""Observed places of every star to V 6.5, side by side with astropy's AltAz in the same run.

    python bench/places.py

Prints the time of each and the ratio; the goal is ten times faster than AltAz. Best of several
rounds, taken in turn, so that a busy machine slows both.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable

import astropy.units as u
import numpy as np
from astropy.coordinates import AltAz, EarthLocation, SkyCoord
from astropy.time import Time
from astropy.utils import iers

from plumbstar.sky import catalogue
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.places import observed
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

iers.conf.auto_download = False
iers.conf.auto_max_age = None

ROUNDS = 15


def main() -> None:
    stars = catalogue.load()
    site = Site(47.2, 11.6, 940.0)
    coords = SkyCoord(stars.ra_deg * u.deg, stars.dec_deg * u.deg)
    place = EarthLocation.from_geodetic(site.lon_deg, site.lat_deg, site.elevation_m)

    def ours(k: int, airless: bool) -> tuple[np.ndarray, np.ndarray]:
        when = Instant.parse("2027-01-28T18:30:00Z").plus_seconds(60.0 * k)
        zero = np.zeros(len(stars))
        return observed(stars.ra_rad, stars.dec_rad, zero, zero, zero, when, site, airless)

    def theirs(k: int, airless: bool) -> tuple[np.ndarray, np.ndarray]:
        frame = AltAz(
            obstime=Time("2027-01-28T18:30:00", scale="utc") + k * u.min,
            location=place,
            pressure=(0.0 if airless else site.pressure) * u.hPa,
            temperature=site.temperature_c * u.deg_C,
            relative_humidity=0.5,
            obswl=0.55 * u.micron,
        )
        out = coords.transform_to(frame)
        return out.az.rad, out.alt.rad

    def timed(f: Callable[[int, bool], object], k: int, airless: bool) -> float:
        start = time.perf_counter()
        f(k, airless)
        return time.perf_counter() - start

    report = {"stars": len(stars), "rounds": ROUNDS}
    for airless in (False, True):
        a, b = ours(0, airless), theirs(0, airless)
        high = b[1] > np.radians(10.0)
        gap = float(np.degrees(separation_rad(*a, *b)[high].max())) * 3600.0
        mine = min(timed(ours, k, airless) for k in range(ROUNDS))
        other = min(timed(theirs, k, airless) for k in range(ROUNDS))
        report["airless" if airless else "with_air"] = {
            "ours_ms": round(mine * 1e3, 2),
            "altaz_ms": round(other * 1e3, 2),
            "times_faster": round(other / mine, 1),
            "worst_gap_arcsec_above_10_deg": round(gap, 4),
        }
    print(json.dumps(report, indent=2))


if __name__ == "__main__":
    main()
