"""What is listed at a place in the sky: the thing that somebody who sends coordinates means."""

from __future__ import annotations

import math

import numpy as np

from plumbstar.sky import bodies
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.bodies import Body, body_place
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import catalogue, deepsky
from plumbstar.sky.lists.catalogue import Catalogue, Star
from plumbstar.sky.lists.deepsky import DeepSky, DeepSkyList
from plumbstar.sky.naming import own_source
from plumbstar.sky.naming.lookup import parse_coordinates
from plumbstar.sky.places import Directions, Target, in_frame
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.turns import rounded_deg

#: Nothing further off is taken for the thing meant. Common practice, no source: programs that
#: reduce places with less care differ by the aberration (20 arcsec), and this program's planets are
#: up to 89 arcsec off.
WITHIN_ARCMIN = 2.0
#: A star for the naked eye is looked for this far off: coordinates of J2000 sent as if they were of
#: date are 0.4 degrees off in these years, those with the refraction left in 5 arcmin at 12 degrees
#: up, the middle of a chart's view more.
STAR_WITHIN_DEG = 1.0
#: It must be so bright, and so much brighter than every star this far from the coordinates that
#: nobody would have centred another instead. Common practice, no source.
STAR_MAG = 4.0
RIVAL_WITHIN_DEG = 2.0
OUTSHINES_MAG = 1.5


def place_at(ra_deg: float, dec_deg: float) -> DeepSky:
    """A plain place in the sky, ICRS degrees, kept to 0.04 arcsec."""
    found = parse_coordinates(f"{rounded_deg(ra_deg, 5):.5f} {dec_deg:+.5f}")
    assert found is not None
    return found


def at_place(
    ra_deg: float, dec_deg: float, instant: Instant, site: Site, within: float = WITHIN_ARCMIN
) -> Target | None:
    """What is listed nearest to an ICRS place at that moment, or None within ``within`` arcmin.

    Stars with their proper motions, deep-sky objects, objects of one's own, Sun, Moon and planets;
    all compared where they stand over the site without air, so that the Moon's parallax counts.
    """
    f = frame(instant, site)
    here = in_frame(f, Directions.of([place_at(ra_deg, dec_deg)]), airless=True)
    nearest = math.radians(within / 60.0)
    best: Target | None = None
    own = own_source.listed()
    lists: tuple[Catalogue | DeepSkyList | None, ...] = (catalogue.load(), deepsky.load(), own)
    for listed in lists:
        if listed is None or not len(listed):
            continue
        away = separation_rad(*here, *in_frame(f, listed, airless=True))
        i = int(np.argmin(away))
        if away[i] < nearest:
            nearest, best = float(away[i]), listed[i]
    for name in bodies.NAMES:
        apart = float(separation_rad(*here, *body_place(Body(name), f, airless=True))[0])
        if apart < nearest:
            nearest, best = apart, Body(name)
    return best


def bright_stars(ra_deg: float, dec_deg: float) -> tuple[Star | None, list[tuple[Star, float]]]:
    """(the one star that plainly fits ICRS coordinates a little off, or None; who is near).

    Near are the three brightest within a degree, each with its distance in degrees. Proper motions
    are left out: 0.05 degrees for the fastest bright star since J2000.
    """
    stars = catalogue.load()
    ra, dec = np.radians(ra_deg), np.radians(dec_deg)
    away = np.degrees(separation_rad(ra, dec, stars.ra_rad, stars.dec_rad))
    # Brightest first, as the catalogue is.
    near = np.flatnonzero(away <= STAR_WITHIN_DEG)
    told = [(stars[int(i)], float(away[i])) for i in near[:3]]
    if not told or told[0][0].v_mag > STAR_MAG:
        return None, told
    rivals = np.flatnonzero(away <= RIVAL_WITHIN_DEG)
    others = stars.v_mag[rivals[rivals != near[0]]]
    plain = not len(others) or float(others.min()) - told[0][0].v_mag >= OUTSHINES_MAG
    return told[0][0] if plain else None, told
