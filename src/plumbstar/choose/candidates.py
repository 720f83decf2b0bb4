"""The stars that could be sighted: up, bright enough, clear of skyline and Sun, and from when."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.choose.lookalikes import ALIKE_MAG, LookAlike, lookalikes_among
from plumbstar.errors import UserError
from plumbstar.guide.sun import SUN_UP_DEG, SunRefusal, may_be_sighted
from plumbstar.kit import Telescope
from plumbstar.mount import kinematics
from plumbstar.sky.bodies import Body, sun_altitude
from plumbstar.sky.events import sun_crossings
from plumbstar.sky.frame import frame
from plumbstar.sky.lists.catalogue import Catalogue, Star
from plumbstar.sky.places import Directions, in_frame, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.turns import one_turn_deg
from plumbstar.units import Array, Indices

#: Between these heights a star is sighted well, degrees. Common practice, no source.
LOW_DEG, HIGH_DEG = 15.0, 80.0
#: Sun depression, degrees, at which a star of that magnitude is first seen by eye. The ends are the
#: usual definitions (civil twilight ends when the brightest stars show, astronomical when the
#: sixth magnitude does); between them a straight line. Common practice, no source.
_DEPRESSION = (1.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.5, 18.0)
_MAGNITUDE = (-1.5, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A star that could be sighted: where it stands, from when it shows, and its look-alikes."""

    star: Star
    az_deg: float
    alt_deg: float
    visible_from: Instant | None
    lookalikes: tuple[LookAlike, ...]


def candidates(
    catalogue: Catalogue,
    instant: Instant,
    site: Site,
    *,
    skyline: Skyline | None = None,
    telescope: Telescope | None = None,
    max_mag: float = 3.0,
    clearance_deg: float = 2.0,
    most: int = 60,
) -> tuple[Candidate, ...]:
    """The brightest usable stars, at most ``most``: clear of the skyline, neither too low nor too
    high, and within the telescope's reach.

    None within 20 degrees of the Sun unless it is well down, and none that a white night never
    shows. Raises :class:`SunRefusal` while the Sun is up, and :class:`UserError` when fewer than
    two are left.
    """
    sun_az, sun_alt = place_of(Body("Sun"), instant, site)
    if sun_alt > SUN_UP_DEG:
        raise SunRefusal(
            f"The Sun is up then ({instant}), so no stars show, and a sweep across it blinds at "
            "once and for good",
            "",
            "Choose a time when it is dark",
        )
    low, high = LOW_DEG, HIGH_DEG
    if telescope is not None:
        low, high = max(low, telescope.min_alt_deg), min(high, telescope.max_alt_deg)
    bright = catalogue.brighter_than(max_mag + ALIKE_MAG)
    f = frame(instant, site)
    az, alt = in_frame(f, Directions.take(catalogue, bright))
    az_deg, alt_deg = np.degrees(az), np.degrees(alt)
    floor = np.full_like(alt_deg, low)
    if skyline is not None:
        floor = np.maximum(floor, skyline.altitude_deg(az_deg) + clearance_deg)
    mag = catalogue.v_mag[bright]
    places = kinematics.unit(az, alt)
    usable = (alt_deg >= floor) & (alt_deg <= high) & (mag <= max_mag)
    usable &= may_be_sighted(az, alt, sun_az, sun_alt)
    rows = np.flatnonzero(usable)
    rows = rows[np.argsort(mag[rows], kind="stable")]
    rows = _one_of_each_double(places, rows)[:most]
    shows = _first_visible(mag[rows], instant, site)
    dark = -sun_alt >= depression_needed(mag[rows])
    keep = [k for k, when in enumerate(shows) if dark[k] or when is not None]
    rows, shows = rows[keep], [shows[k] for k in keep]
    if len(rows) < 2:
        raise UserError(
            f"{'Only one star is' if len(rows) else 'No star is'} brighter than magnitude "
            f"{max_mag:g}, between {low:.0f}° and {high:.0f}° up, above the skyline, and to be "
            "seen at that time. Two are needed",
            "",
            "Allow fainter stars, or check the skyline, the site and the time (UTC)",
        )
    alike = lookalikes_among(catalogue, bright, mag, az, alt, rows)
    return tuple(
        Candidate(
            catalogue[int(bright[row])],
            one_turn_deg(float(az_deg[row])),
            float(alt_deg[row]),
            shows[k],
            alike[k],
        )
        for k, row in enumerate(rows)
    )


def _one_of_each_double(places: Array, rows: Indices) -> Indices:
    """Of stars within a quarter of a degree (components of one) keep the first, the brightest."""
    one = places[rows] @ places[rows].T >= math.cos(math.radians(0.25))
    kept: list[int] = []
    for k in range(len(rows)):
        if not one[k, kept].any():
            kept.append(k)
    return rows[kept]


def when_to_sight(instant: Instant, site: Site) -> Instant:
    """The given moment, or, if the Sun is too high then, the next dusk (Sun 6 degrees down).

    Where it does not sink so far in the next day, the moment it is lowest, if it is then down at
    all, and else the given moment.
    """
    if float(np.degrees(sun_altitude(instant, site))) <= -6.0:
        return instant
    dusk = sun_crossings(instant, site, -6.0)[0].instant
    if dusk is not None:
        return dusk
    moments = [instant.plus_seconds(s) for s in range(0, 86400, 600)]
    heights = np.degrees(sun_altitude(moments, site))
    lowest = int(np.argmin(heights))
    return moments[lowest] if heights[lowest] <= SUN_UP_DEG else instant


def depression_needed(mag: Array) -> Array:
    """How far down (degrees) the Sun must be for stars of these magnitudes to show."""
    out: Array = np.interp(mag, _MAGNITUDE, _DEPRESSION)
    return out


#: The Sun's height is reckoned at every so many steps, and between them by a cubic: 20 minutes
#: apart it is off by less than 1 arcsec (tests/choose/test_choose.py, from pole to pole).
_SUN_EVERY = 10


def _between(values: Array, parts: int) -> Array:
    """Values at equal steps with ``parts`` steps in each, from the second to the last but one.

    Lagrange's cubic through four neighbours (Abramowitz and Stegun 1964, 25.2.13, from memory).
    """
    t = np.arange(parts) / parts
    weights = (
        -t * (t - 1) * (t - 2) / 6,
        (t + 1) * (t - 1) * (t - 2) / 2,
        -(t + 1) * t * (t - 2) / 2,
        (t + 1) * t * (t - 1) / 6,
    )
    n = len(values) - 3
    rows = sum(np.outer(values[j : j + n], w) for j, w in enumerate(weights))
    return np.asarray(rows).reshape(-1)


def _first_visible(mag: Array, instant: Instant, site: Site) -> list[Instant | None]:
    """When each magnitude first shows on the evening of ``instant``, or of the night it is in.

    None if the Sun is never low enough, or if it was low enough for all of the day before.
    """
    step, first, last = 120, -18 * 3600, 24 * 3600
    apart = _SUN_EVERY * step
    each = [instant.plus_seconds(s) for s in range(first - apart, last + 2 * apart, apart)]
    sun = np.degrees(sun_altitude(each, site))
    depression = _between(-sun, _SUN_EVERY)[: (last - first) // step]
    # Back from the given moment to the last full daylight; from there on to dark.
    now = 18 * 3600 // step
    light = np.flatnonzero(depression[: now + 1] < _DEPRESSION[0])
    start = int(light[-1]) if len(light) else 0
    out: list[Instant | None] = []
    for need in depression_needed(mag):
        dark = np.flatnonzero(depression[start:] >= need)
        found = len(dark) and len(light)
        out.append(instant.plus_seconds(first + (start + int(dark[0])) * step) if found else None)
    return out
