"""The sky as an explanation needs it: neighbours of each star, and the same stars at other times.

A sighting's true place, with its time and the site, gives back the direction among the stars, and
from there its place at any other time or site. So nothing here depends on how the star was named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.sighting import Sighting
from plumbstar.sky import places
from plumbstar.sky.bodies import BRIGHT_PLANETS, Body, body_place, magnitude
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import catalogue
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.units import Array

#: Stars to this magnitude are offered for the next check: everybody can find these.
CHECK_MAGNITUDE = 2.1
_DAY_S = 86400.0
#: Radians a second by which the sky turns (IERS Conventions 2010, eq. 5.15: 1.00273781191135448
#: turns a day).
_SIDEREAL = 2.0 * np.pi * 1.00273781191135448 / _DAY_S


@dataclass(frozen=True)
class SkyAtSightings:
    """What stood where. ``others_*``: K bright stars and planets; places (n, K, 2), radians."""

    site: Site
    instants: tuple[Instant, ...]
    directions: places.Directions
    named_v: Array
    others_names: tuple[str, ...]
    others_v: Array
    others_places: Array
    check_columns: places.Directions
    check_names: tuple[str, ...]
    # A third of an explanation's time: kept for who weighs several outings under one sky, as
    # design/confusion.py does.
    _later: dict[bytes, Array] = field(default_factory=dict, compare=False, repr=False)
    # Every cause is asked for a star that would check it, mostly at one moment from one site.
    _checked: dict[tuple[Instant, Site], Array] = field(
        default_factory=dict, compare=False, repr=False
    )

    @staticmethod
    def of(sightings: Sequence[Sighting], site: Site | None) -> SkyAtSightings | None:
        """None when the site or any time is missing: then hypotheses about them are left out."""
        if site is None or any(s.utc is None for s in sightings):
            return None
        instants = tuple(s.utc for s in sightings if s.utc is not None)
        radec = np.array(
            [
                places.icrs_of(s.true_az_deg, s.true_alt_deg, t, site)
                for s, t in zip(sightings, instants, strict=True)
            ]
        )
        zero = np.zeros(len(radec))
        # Already the place at this date; over the hours in question that is exact enough.
        directions = places.Directions(radec[:, 0], radec[:, 1], zero, zero, zero)
        stars = catalogue.load()
        named_v = _magnitudes(radec, stars)
        limit = max(4.0, float(np.nanmax(named_v)) + 2.0) if np.any(np.isfinite(named_v)) else 4.0
        index = stars.brighter_than(min(limit, 5.5))
        columns = places.Directions.take(stars, index)
        az, alt = places.observed_many(columns, instants, site, grid=True)
        names = [stars[int(i)].label for i in index]
        v = list(stars.v_mag[index])
        moments = frame(list(instants), site)
        for name in BRIGHT_PLANETS:
            body = Body(name)
            p_az, p_alt = body_place(body, moments)
            az, alt = np.column_stack([az, p_az]), np.column_stack([alt, p_alt])
            names.append(name)
            v.append(magnitude(body, instants[0]))
        bright = index[: int(np.searchsorted(stars.v_mag[index], CHECK_MAGNITUDE, side="right"))]
        return SkyAtSightings(
            site,
            instants,
            directions,
            np.where(np.isfinite(named_v), named_v, 1.5),
            tuple(names),
            np.array(v),
            np.stack([az, alt], axis=-1),
            places.Directions.take(stars, bright),
            tuple(names[: len(bright)]),
        )

    def later(self, seconds: Array) -> Array:
        """True places (B, n, 2) of the sighted directions with a clock slow by (B,) seconds."""
        key = seconds.tobytes()
        if key in self._later:
            return self._later[key]
        # Those of one night by themselves: their long series are worked out at a few moments
        # (sky/series.py), and a whole day either way would make it three nights.
        same_night = np.abs(seconds) < _DAY_S
        out = np.empty((len(seconds), len(self.instants), 2))
        for part in (same_night, ~same_night):
            out[part] = self._at_once(seconds[part])
        self._later[key] = out
        return out

    def _at_once(self, seconds: Array) -> Array:
        n, b = len(self.instants), len(seconds)
        when = [t.plus_seconds(float(s)) for s in seconds for t in self.instants]
        if not when:
            return np.empty((0, n, 2))
        pick = np.tile(np.arange(n), b)
        az, alt = places.observed_many(
            places.Directions.take(self.directions, pick), when, self.site
        )
        return np.stack([az, alt], axis=-1).reshape(b, n, 2)

    def others_later(self, i: int, seconds: float) -> Array:
        """Places (K, 2) of the others at sighting i with a clock slow by so much.

        The sky turned about its pole by the sidereal angle; that refraction changes meanwhile is
        left out: under 2 arcmin from 20 deg up over two hours.
        """
        here: Array = self.others_places[i]
        if seconds == 0.0:
            return here
        lat = np.radians(self.site.lat_deg)
        pole = np.array([0.0, np.cos(lat), np.sin(lat)])
        d = kinematics.unit(here[:, 0], here[:, 1])
        turn = -seconds * _SIDEREAL
        turned = (
            d * np.cos(turn)
            + np.cross(pole, d) * np.sin(turn)
            + np.outer(d @ pole, pole) * (1.0 - np.cos(turn))
        )
        return kinematics.az_alt(turned)

    def elsewhere(self, site: Site) -> Array:
        """True places (n, 2) of the sighted directions seen from another site."""
        az, alt = places.observed_many(self.directions, self.instants, site)
        return np.stack([az, alt], axis=-1)

    def check_places(self, instant: Instant, site: Site | None = None) -> Array:
        """Places (m, 2) of the stars of ``check_names`` at one moment, to be read only."""
        key = (instant, self.site if site is None else site)
        if key not in self._checked:
            az, alt = places.observed_many(self.check_columns, [instant], key[1], grid=True)
            out = np.stack([az[0], alt[0]], axis=-1)
            out.flags.writeable = False
            self._checked[key] = out
        return self._checked[key]


def _magnitudes(radec: Array, stars: catalogue.Catalogue) -> Array:
    """V (n,) of the catalogue's brightest star within 0.3 deg of each direction; nan for none."""
    out = np.full(len(radec), np.nan)
    ra, dec = stars.ra_rad, stars.dec_rad
    for i, (a, d) in enumerate(radec):
        cos = np.sin(dec) * np.sin(d) + np.cos(dec) * np.cos(d) * np.cos(ra - a)
        near = np.flatnonzero(cos > np.cos(np.radians(0.3)))
        if len(near):
            out[i] = stars.v_mag[near[0]]
    return out
