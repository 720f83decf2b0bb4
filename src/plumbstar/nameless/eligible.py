"""What a bright star in the field may have been: the stars and planets that stood up then."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

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
#: How people choose "a bright star": (share, by how many e the chance falls with each magnitude,
#: where the choice ends). Some take whatever shines, some the brighter the rather, a few avoid the
#: brightest; and whose sky or eye shows fainter ones takes fainter ones each time, so each star
#: tells of the others. Common practice, no source.
_HABITS = tuple(
    (share * part, per_mag, faintest)
    for part, per_mag in ((0.45, 0.0), (0.45, 0.8), (0.1, -0.5))
    for share, faintest in ((0.1, 1.5), (0.2, 2.0), (0.3, 2.5), (0.32, 3.0), (0.08, 3.5))
)
#: Whatever the habit, so often it is any star to this magnitude: the bright ones stood behind a
#: tree.
_ANY, _ANY_MAG = 0.05, 3.45
#: The choice ends within so much, magnitudes; and lower than this, degrees, a star is the less
#: chosen, by e for each so many degrees.
_SOFT_MAG = 0.12
_LOW_DEG, _PER_LOW_DEG = 14.0, 3.0
#: The log of each habit's share.
HABITS = np.log([share for share, _, _ in _HABITS])


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

    def habits(self, i: int) -> Array:
        """Probability (h, K) with which each of the :data:`HABITS` chooses each star at moment i;
        nought for what may not be sighted then."""
        low = np.maximum(_LOW_DEG - np.degrees(self.places[i, :, 1]), 0.0) / _PER_LOW_DEG
        v = np.maximum(self.v, -1.0)
        laws = [*((per_mag, end) for _, per_mag, end in _HABITS), (0.0, _ANY_MAG)]
        log = np.array([-a * v - np.logaddexp(0.0, (v - end) / _SOFT_MAG) for a, end in laws])
        log = np.where(self.up[i], log - low, -np.inf)
        weight = np.exp(log - log.max(axis=1, keepdims=True))
        weight /= weight.sum(axis=1, keepdims=True)
        out: Array = (1.0 - _ANY) * weight[:-1] + _ANY * weight[-1]
        return out

    @property
    def chosen(self) -> Array:
        """Probability (K,) with which people choose one as "a bright star", at the last moment."""
        out: Array = np.exp(HABITS) @ self.habits(len(self.places) - 1)
        return out


def eligible(instants: Sequence[Instant], site: Site) -> Eligible:
    """All that may have been sighted at these moments; nothing by day or beside the Sun.

    Raises :class:`UserError` where at one of them the Sun was up.
    """
    moments = frame(list(instants), site)
    sun_az, sun_alt = _sun(instants, site)
    for i, at in enumerate(instants):
        if math.degrees(float(sun_alt[i])) > SUN_UP_DEG:
            raise UserError(
                f"At {at} the Sun was up there, so no star can be named from its reading",
                "",
                "Check the time (UTC, not local) and the site (east is positive)",
            )
    stars = catalogue.load()
    index = list(_one_of_each())
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


def by_night(instants: Sequence[Instant], site: Site) -> bool:
    """Whether the Sun was down at each of these moments."""
    return not (np.degrees(_sun(instants, site)[1]) > SUN_UP_DEG).any()


def _sun(instants: Sequence[Instant], site: Site) -> tuple[Array, Array]:
    az, alt = body_place(Body("Sun"), frame(list(instants), site))
    return np.atleast_1d(az), np.atleast_1d(alt)


@cache
def _one_of_each() -> tuple[int, ...]:
    """Rows of the bright stars; of the components of a double, the brightest: the catalogue has it
    first. The same always, and three quarters of the time of it all."""
    stars = catalogue.load()
    kept: list[int] = []
    for i in map(int, stars.brighter_than(FAINTEST)):
        apart = separation_rad(
            stars.ra_rad[kept], stars.dec_rad[kept], stars.ra_rad[i], stars.dec_rad[i]
        )
        if not (apart < math.radians(_ONE_DEG)).any():
            kept.append(i)
    return tuple(kept)
