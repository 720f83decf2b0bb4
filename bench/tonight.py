"""The evening's list over the whole catalogue, beside the mere places by astropy in the same run.

    python bench/tonight.py

Plumbstar judges every object at every five minutes of one night: place, skyline, air, Moon,
twilight, threshold, eyepiece. astropy is asked for the places alone (AltAz, the same objects at the
same moments, one frame a step), so the ratio flatters it. Goals: twenty times faster, under 2 s.
"""

from __future__ import annotations

import resource
import time
import warnings
from collections.abc import Callable

import astropy.units as u
import numpy as np
from astropy.coordinates import AltAz, EarthLocation, SkyCoord
from astropy.time import Time
from astropy.utils import iers

from plumbstar import scenario
from plumbstar.sky import deepsky, doubles
from plumbstar.sky.times import Instant
from plumbstar.targets.model import Conditions
from plumbstar.targets.order import plan
from plumbstar.targets.tonight import prospects, survey

iers.conf.auto_download = False
iers.conf.auto_max_age = None
warnings.simplefilter("ignore")

START, END = Instant.parse("2027-01-28T16:30:00Z"), Instant.parse("2027-01-29T06:00:00Z")
ROUNDS = 5


def seconds(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Processor time of the best round."""
    found = []
    for _ in range(rounds):
        begin = time.process_time()
        work()
        found.append(time.process_time() - begin)
    return min(found)


def main() -> None:
    s = scenario.thornback_ridge()
    objects, pairs, sky = deepsky.load(), doubles.load(), Conditions(zenith_mag=21.5)

    night = survey(objects, pairs, START, END, s.site, s.kit, sky, s.skyline)
    found = prospects(night)
    ours = seconds(lambda: survey(objects, pairs, START, END, s.site, s.kit, sky, s.skyline))
    words = seconds(lambda: prospects(night))
    route = seconds(lambda: plan(night, found, START, START.plus_seconds(3 * 3600.0)))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0

    place = EarthLocation.from_geodetic(s.site.lon_deg, s.site.lat_deg, s.site.elevation_m)
    coords = SkyCoord(objects.ra_rad * u.rad, objects.dec_rad * u.rad)
    moments = [Time(t.iso().rstrip("Z"), scale="utc") for t in night.light.instants]

    def theirs() -> object:
        return [
            np.asarray(coords.transform_to(AltAz(obstime=t, location=place)).alt.rad)
            for t in moments
        ]

    reference = seconds(theirs, 1)
    print(f"{len(objects):,} objects, {len(moments)} steps")
    print(f"judged: {ours:.2f} s; their places alone by astropy: {reference:.1f} s")
    print(f"{reference / ours:.0f} times faster (goal 20)")
    print(f"{len(found):,} put into words: {words:.2f} s; an order for three hours: {route:.2f} s")
    print(f"peak memory {peak:.0f} MB, astropy's import among it")


if __name__ == "__main__":
    main()
