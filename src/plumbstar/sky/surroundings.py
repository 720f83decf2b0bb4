"""The sky round a star as the eye sees it, zenith up: what tells it from its look-alikes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.sky.angles import offset_rad
from plumbstar.sky.frame import frame
from plumbstar.sky.lists.catalogue import Catalogue, Star
from plumbstar.sky.places import Directions, in_frame, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

#: How far about a star its surroundings are drawn, degrees: a hand's breadth and some more.
AROUND_DEG = 12.0


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A star near another: so far to the right along azimuth and up along altitude, degrees.

    Angles from the middle are kept: the two are the legs of the true distance.
    """

    star: Star
    right_deg: float
    up_deg: float


def around(
    star: Star,
    catalogue: Catalogue,
    instant: Instant,
    site: Site,
    *,
    limit_mag: float,
    radius_deg: float = AROUND_DEG,
) -> tuple[Neighbour, ...]:
    """The stars to ``limit_mag`` within ``radius_deg`` of one, itself included, brightest first."""
    index = catalogue.brighter_than(limit_mag)
    az, alt = in_frame(frame(instant, site), Directions.take(catalogue, index))
    az0, alt0 = (math.radians(x) for x in place_of(star, instant, site))
    offset = np.degrees(offset_rad(az0, alt0, az, alt))
    near = np.flatnonzero(np.hypot(*offset.T) < radius_deg)
    near = near[np.argsort(catalogue.v_mag[index[near]], kind="stable")]
    return tuple(
        Neighbour(catalogue[int(index[k])], float(offset[k, 0]), float(offset[k, 1])) for k in near
    )
