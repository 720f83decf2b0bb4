"""Where the telescope points, from a reading and the fix: on the sky and over the ground."""

from __future__ import annotations

import math

from plumbstar.encoders.reading import Reading
from plumbstar.sky import ofdate
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.turns import one_turn_deg
from plumbstar.web.programs.refused import Refused, Why


def need_site(site: Site | None) -> Site:
    """The site. Raises Refused while there is none."""
    if site is None:
        raise Refused(Why.IMPOSSIBLE, "No site yet: set it on the Prepare page.")
    return site


def horizontal(reading: Reading, fix: Fix | None, doubtful: bool = False) -> tuple[float, float]:
    """(azimuth 0 to 360, observed altitude) of the tube, degrees. Refused while unknown, and where
    it is ``doubtful`` whether the reading still goes with the fix."""
    if not reading.usable or reading.az_deg is None or reading.alt_deg is None:
        why = reading.problem or "nothing was heard from the encoders, or typed"
        raise Refused(Why.IMPOSSIBLE, f"No reading now: {why}.")
    if fix is None:
        raise Refused(
            Why.UNKNOWN,
            "Where the telescope points is not known before the first sighting: centre a bright "
            "star, then sync on it here, or press Centred on the phone.",
        )
    if doubtful:
        raise Refused(
            Why.IMPOSSIBLE,
            "Something may have slipped or moved, so where the telescope points is not known: "
            "centre a bright star, then sync on it here, or see the phone.",
        )
    az, alt = fix.pointing_of(reading.az_deg, reading.alt_deg)
    return one_turn_deg(float(az)), float(alt)


def equatorial(
    reading: Reading, fix: Fix | None, site: Site | None, now: Instant, doubtful: bool = False
) -> tuple[float, float]:
    """(right ascension in hours, declination in degrees), topocentric and of date."""
    az, alt = horizontal(reading, fix, doubtful)
    ra, dec = ofdate.from_horizon(az, alt, now, need_site(site))
    return math.degrees(ra) / 15.0 % 24.0, math.degrees(dec)
