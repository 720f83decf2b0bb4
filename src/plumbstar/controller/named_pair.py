"""A controller's two stars, from their names and moments to what its number is judged by."""

from __future__ import annotations

import math

import numpy as np

from plumbstar.controller.one import Candidates
from plumbstar.controller.pair import Pair, angle
from plumbstar.errors import UserError
from plumbstar.sky.bodies import BRIGHT_PLANETS, Body
from plumbstar.sky.lists import catalogue
from plumbstar.sky.local_time import iso_date, local
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import Target, magnitude_of, observed_many, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

#: Wrong stars are sought to this magnitude. Common practice, no source.
FAINTEST = 3.6


def pair_of(
    star_a: str,
    time_a: str,
    star_b: str,
    time_b: str,
    site: Site,
    upright_time: str | None = None,
) -> tuple[Pair, tuple[Target, Instant], tuple[Target, Instant]]:
    """Names and times to a pair, and what was found for each. Raises :class:`UserError`."""
    a = find_target(star_a), Instant.parse(time_a)
    b = find_target(star_b), Instant.parse(time_b)
    stop = Instant.parse(upright_time) if upright_time else None
    return pair_seen(a, b, site, stop), a, b


def _clock(at: Instant, site: Site) -> str:
    """By the site's own clock, with its zone; UTC where it has none."""
    return f"{iso_date(at, site.time_zone)} {local(at, site.time_zone, with_zone=True)}"


def pair_seen(
    star_a: tuple[Target, Instant],
    star_b: tuple[Target, Instant],
    site: Site,
    stop: Instant | None = None,
) -> Pair:
    """The pair of two stars, each with its moment. ``stop``: when the tube was on it.

    Raises :class:`UserError`.
    """
    (a, at_a), (b, at_b) = star_a, star_b
    upright = None
    if stop is not None:
        upright = at_a.minus(stop)
        if not -600 <= upright <= 12 * 3600:
            raise UserError(
                f"the stop set at {_clock(stop, site)}, star A at {_clock(at_a, site)}",
                "the stop before the first star, on the same evening",
                "Check the times",
            )
    seconds = at_b.minus(at_a)
    if abs(seconds) > 6 * 3600:
        raise UserError(
            f"{seconds / 3600:.1f} hours between the two stars",
            "both stars on one evening, minutes apart at most",
            "Check the dates and times",
        )
    bare = np.radians(
        [place_of(a, at_a, site, airless=True), place_of(b, at_a, site, airless=True)]
    )
    return Pair(
        a.label,
        b.label,
        a_deg=place_of(a, at_a, site),
        b_deg=place_of(b, at_b, site),
        b_early_deg=place_of(b, at_a, site),
        seconds=seconds,
        catalogue_deg=math.degrees(angle(bare)),
        upright_seconds=upright,
    )


def wrong_star_candidates(
    a: tuple[Target, Instant], b: tuple[Target, Instant], site: Site
) -> Candidates:
    """Bright stars and planets, where they stood at the two times."""
    stars = catalogue.load()
    things: list[Target] = [stars[int(i)] for i in stars.brighter_than(FAINTEST)]
    things += [Body(name) for name in BRIGHT_PLANETS]
    az, alt = observed_many(things, [a[1], b[1]], site, grid=True)
    where = np.degrees(np.stack([az, alt], axis=-1))

    return Candidates(
        tuple(t.label for t in things),
        np.array([magnitude_of(t, a[1]) for t in things]),
        where[0],
        where[1],
        magnitude_of(*a),
        magnitude_of(*b),
    )
