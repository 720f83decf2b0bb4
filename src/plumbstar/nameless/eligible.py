"""What a bright star in the field may have been: the stars and planets that stood up then."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.errors import UserError
from plumbstar.guide.sun import SUN_UP_DEG, may_be_sighted
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.bodies import BRIGHT_PLANETS, Body, body_place, magnitude
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import catalogue
from plumbstar.sky.places import Directions, observed_many
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.units import Array, Bools

#: Fainter ones nobody calls a bright star.
FAINTEST = 3.6
#: Lower than this no star is sighted, radians.
_LOWEST = math.radians(3.0)
#: Closer than this two are one star to the eye, degrees.
_ONE_DEG = 0.25
#: A planet shines steadily and mostly pale; their colours, B-V (Allen's tables, from memory).
_PLANET_BV = {"Mercury": 0.9, "Venus": 0.8, "Mars": 1.4, "Jupiter": 0.8, "Saturn": 1.0}
#: By how many e the chance to be chosen falls with each magnitude; and beyond :data:`_BRIGHT`, on
#: top of that. Common practice, no source: people choose the bright ones, not always the brightest.
_PER_MAG, _BRIGHT, _PER_FAINT_MAG = 0.4, 2.4, 4.0


@dataclass(frozen=True, slots=True)
class Eligible:
    """K stars and planets. ``v``, ``bv`` (K,), nan where unknown; ``places`` (n, K, 2): observed
    azimuth and altitude, radians, at the moment of each of n sightings; ``up`` (n, K): whether it
    may have been sighted then."""

    names: tuple[str, ...]
    v: Array
    bv: Array
    places: Array
    up: Bools

    @property
    def chosen(self) -> Array:
        """Weight (K,) with which people choose one as "a bright star", the largest 1."""
        faint = np.maximum(self.v - _BRIGHT, 0.0)
        log = -_PER_MAG * np.maximum(self.v, -1.0) - _PER_FAINT_MAG * faint
        out: Array = np.exp(log - log.max())
        return out


def eligible(instants: Sequence[Instant], site: Site) -> Eligible:
    """All that may have been sighted at these moments; nothing by day or beside the Sun.

    Raises :class:`UserError` where at one of them the Sun was up.
    """
    moments = frame(list(instants), site)
    sun_az, sun_alt = (np.atleast_1d(x) for x in body_place(Body("Sun"), moments))
    for i, at in enumerate(instants):
        if math.degrees(float(sun_alt[i])) > SUN_UP_DEG:
            raise UserError(
                f"At {at} the Sun was up there, so no star can be named from its reading",
                "",
                "Check the time (UTC, not local) and the site (east is positive)",
            )
    stars = catalogue.load()
    index = [int(i) for i in stars.brighter_than(FAINTEST)]
    index = _one_of_each(stars, index)
    az, alt = observed_many(Directions.take(stars, index), list(instants), site, grid=True)
    names = [stars[i].label for i in index]
    v, bv = list(stars.v_mag[index]), list(stars.bv[index])
    for name in BRIGHT_PLANETS:
        body = Body(name)
        if (bright := magnitude(body, instants[0])) > FAINTEST:
            continue
        p_az, p_alt = body_place(body, moments)
        az = np.column_stack([az, np.atleast_1d(p_az)])
        alt = np.column_stack([alt, np.atleast_1d(p_alt)])
        names.append(name)
        v.append(bright)
        bv.append(_PLANET_BV[name])
    clear = np.array(
        [
            may_be_sighted(az[i], alt[i], *np.degrees((sun_az[i], sun_alt[i])))
            for i in range(len(instants))
        ]
    )
    up = clear & (alt > _LOWEST)
    return Eligible(tuple(names), np.array(v), np.array(bv), np.stack([az, alt], axis=-1), up)


def _one_of_each(stars: catalogue.Catalogue, index: list[int]) -> list[int]:
    """Of the components of a double, the brightest: the catalogue has it first."""
    kept: list[int] = []
    for i in index:
        apart = separation_rad(
            stars.ra_rad[kept], stars.dec_rad[kept], stars.ra_rad[i], stars.dec_rad[i]
        )
        if not (apart < math.radians(_ONE_DEG)).any():
            kept.append(i)
    return kept
