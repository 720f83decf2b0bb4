"""The evening's list over the whole catalogue, beside the same by astropy and scipy.

    python bench/tonight.py

Plumbstar judges every object at every five minutes of one night: place, skyline, air, Moon,
twilight, threshold, eyepiece. The reference does the same in the plain way: astropy's AltAz and
Moon at each step, scipy's interpolation of the threshold table in every eyepiece, no skyline, no
clusters' stars, no words. astropy's places alone are timed too. Goals: twenty times faster than the
list, under 2 s.
"""

from __future__ import annotations

import resource
import warnings

import astropy.units as u
import numpy as np
from astropy.coordinates import AltAz, EarthLocation, SkyCoord, get_body
from astropy.time import Time
from astropy.utils import iers
from scipy.interpolate import RegularGridInterpolator
from timing import seconds

from plumbstar.simulate import scenario
from plumbstar.sky import glow
from plumbstar.sky.extinction import air_mass
from plumbstar.sky.lists import deepsky, doubles
from plumbstar.sky.times import Instant
from plumbstar.targets.eye import BACKGROUND, LOG_CONTRAST, LOG_SIZE, dimming_mag
from plumbstar.targets.looks import looks_of
from plumbstar.targets.model import Conditions
from plumbstar.targets.night_view import SUN_DOWN_DEG
from plumbstar.targets.order import plan
from plumbstar.targets.prospects import prospects
from plumbstar.targets.tonight import survey
from plumbstar.targets.verdict import TelescopeAndEye

iers.conf.auto_download = False
iers.conf.auto_max_age = None
warnings.simplefilter("ignore")

START, END = Instant.parse("2027-01-28T16:30:00Z"), Instant.parse("2027-01-29T06:00:00Z")
ROUNDS = 5


def main() -> None:
    s = scenario.thornback_ridge()
    objects, pairs, sky = deepsky.load(), doubles.load(), Conditions(zenith_mag=21.5)

    night = survey(objects, pairs, START, END, s.site, s.kit, sky, s.skyline)
    found = prospects(night)
    ours = seconds(
        lambda: survey(objects, pairs, START, END, s.site, s.kit, sky, s.skyline), ROUNDS
    )
    words = seconds(lambda: prospects(night), ROUNDS)
    route = seconds(lambda: plan(night, found, START, START.plus_seconds(3 * 3600.0)), ROUNDS)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0

    place = EarthLocation.from_geodetic(s.site.lon_deg, s.site.lat_deg, s.site.elevation_m)
    coords = SkyCoord(objects.ra_rad * u.rad, objects.dec_rad * u.rad)
    moments = [Time(t.iso().rstrip("Z"), scale="utc") for t in night.light.instants]

    def their_places(t: Time) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        frame = AltAz(obstime=t, location=place)
        seen = coords.transform_to(frame)
        moon = get_body("moon", t, place).transform_to(frame)
        return seen.alt.rad, moon.alt.rad, seen.separation(moon).rad

    def their_list() -> np.ndarray:
        """Every object at every step in every eyepiece, with library parts and no short cut."""
        eye = TelescopeAndEye(s.kit, sky, night.light.k)
        looks = looks_of(objects)
        table = RegularGridInterpolator(
            (BACKGROUND, LOG_SIZE), LOG_CONTRAST, bounds_error=False, fill_value=None
        )
        best = np.full(len(objects), -np.inf)
        for k, t in enumerate(moments):
            if night.light.sun_alt[k] > np.radians(SUN_DOWN_DEG):
                continue
            alt, moon_alt, apart = their_places(t)
            light = glow.dark_sky(21.5, np.maximum(alt, 0.02), night.light.k)
            light = (
                light
                + glow.twilight(night.light.sun_alt[k])
                + glow.moonlight(
                    moon_alt,
                    night.light.moon_phase_angle,
                    np.maximum(alt, 0.02),
                    apart,
                    night.light.k,
                )
            )
            mu, toll = glow.mag_arcsec2(light), night.light.k * air_mass(alt)
            for lens in eye.eyepieces:
                dim = dimming_mag(eye.aperture_mm, lens.magnification, sky.pupil_mm)
                for part in range(3):
                    size = np.clip(
                        looks.log_size[:, part] + np.log10(lens.magnification), LOG_SIZE[0], 2.556
                    )
                    need = table(np.stack([np.clip(mu + dim, 4.0, 27.0), size], axis=1))
                    margin = mu - looks.brightness[:, part] - toll - 2.5 * need
                    best = np.maximum(best, np.where(alt > 0.21, margin, -np.inf))
        return best

    places = seconds(lambda: [their_places(t) for t in moments], 1)
    whole = seconds(their_list, 1)
    print(f"{len(objects):,} objects, {len(moments)} steps")
    print(f"judged: {ours:.2f} s")
    print(
        f"the same list step by step with astropy and scipy: {whole:.1f} s,"
        f" {whole / ours:.0f} times as long (goal 20)"
    )
    print(f"astropy's places alone: {places:.1f} s, {places / ours:.0f} times as long")
    print(f"{len(found):,} put into words: {words:.2f} s; an order for three hours: {route:.2f} s")
    print(f"peak memory {peak:.0f} MB, astropy's import among it")


if __name__ == "__main__":
    main()
