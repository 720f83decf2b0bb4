"""Where the named stars of sightings truly stood."""

from __future__ import annotations

import math
from collections.abc import Sequence

from plumbstar.errors import UserError
from plumbstar.mount.sightings_file import Place
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import Target, observed_many, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import one_turn_deg

#: Lower than this no star was sighted. Refraction and a distant horizon allow a little.
LOWEST_DEG = -2.0


def placing(site: Site | None) -> Place | None:
    """Gives a star's name and observed place from there; refuses one that was not up."""
    if site is None:
        return None

    def place(name: str, utc: Instant) -> tuple[str, float, float]:
        target = find_target(name)
        az, alt = place_of(target, utc, site)
        if alt < LOWEST_DEG:
            raise UserError(
                f"{target.label} was {-alt:.0f} degrees below the horizon at {utc}",
                "",
                "Check the star, the time (UTC, not local) and the site (east is positive)",
            )
        return target.label, az, alt

    return place


def true_places(
    targets: Sequence[Target], instants: Sequence[Instant], site: Site
) -> list[tuple[float, float]]:
    """Observed azimuth and altitude, degrees, of each target at its own moment."""
    az, alt = observed_many(list(targets), list(instants), site)
    deg = 180.0 / math.pi
    return [(one_turn_deg(float(a) * deg), float(h) * deg) for a, h in zip(az, alt, strict=True)]
