"""What the pages ask for beside the state: search, map, surroundings.

Each function reads the evening (in its own thread) and gives plain values.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.sighting import Sighting
from plumbstar.sky import bodies, surroundings
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import Directions, Target, in_frame, observed_many, place_of
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix, solve
from plumbstar.text import words
from plumbstar.turns import one_turn_deg
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.plan import star_named
from plumbstar.web.views.picture import chances, describe, map_of, number


def rows(e: Evening, targets: Sequence[Target], now: Instant) -> list[dict[str, Any]]:
    """Targets with their places now and their chance of being hit."""
    if not targets:
        return []
    out = [describe(t, now) for t in targets]
    if e.site is None:
        blank = {"az_deg": None, "alt_deg": None, "up": None, "hit_chance": None, "where": ""}
        return [r | blank for r in out]
    az, alt = observed_many(list(targets), [now] * len(targets), e.site)
    for r, a, h, p in zip(out, az, alt, chances(e, az, alt), strict=True):
        az_deg, alt_deg = one_turn_deg(math.degrees(a)), math.degrees(h)
        up = alt_deg > max(0.0, float(e.ground.skyline.altitude_deg(az_deg)))
        r |= {
            "az_deg": number(az_deg, 2),
            "alt_deg": number(alt_deg, 2),
            "up": up,
            "where": words.where(az_deg, alt_deg),
            "hit_chance": p if alt_deg > 0.0 else None,
        }
    return out


def search(e: Evening, text: str, kind: str) -> list[dict[str, Any]]:
    """For a search box: best match first."""
    text = text.strip()[:60]
    found: Sequence[Target]
    if kind == "star":
        found = catalogue.load().search(text, 12)
    else:
        found = [t for t in lookup.search_targets(text, 13) if t.label != "Sun"][:12]
    out = rows(e, found, e.now())
    # What can be seen comes before what is down, unless it was named in full.
    return sorted(out, key=lambda r: text.casefold() != r["label"].casefold() and not r["up"])


def around(e: Evening, name: str) -> dict[str, Any]:
    """The stars about one, as the eye sees them: right along azimuth, up along altitude."""
    star = star_named(name)
    limit = min(max(star.v_mag + 2.5, 4.0), 5.5)
    near = surroundings.around(
        star, catalogue.load(), e.now(), e.ground.need_site(), limit_mag=limit
    )
    out = [
        {
            "name": n.star.label if n.star.name or n.star.v_mag < 4.0 else "",
            "right_deg": number(n.right_deg, 3),
            "up_deg": number(n.up_deg, 3),
            "v_mag": number(n.star.v_mag, 2),
            "colour": words.colour(n.star.bv),
        }
        for n in near
    ]
    return {"star": star.label, "stars": out, "radius_deg": surroundings.AROUND_DEG}


def sky_map(e: Evening) -> dict[str, Any]:
    """The whole sky as it stands now: hit chance, bright stars, skyline, Moon and Sun."""
    now, site = e.now(), e.ground.need_site()
    fix = e.fix or predicted(e, now)
    stars = catalogue.load()
    index = stars.brighter_than(2.6)
    az, alt = in_frame(frame(now, site), Directions.take(stars, index))
    shown: list[dict[str, Any]] = []
    for k in np.flatnonzero(alt > 0.0):
        s = stars[int(index[k])]
        shown.append(
            {
                "name": s.label,
                "az_deg": number(math.degrees(az[k]), 1),
                "alt_deg": number(math.degrees(alt[k]), 1),
                "v_mag": number(s.v_mag, 2),
            }
        )
    moon = place_of(bodies.Body("Moon"), now, site)
    sun = place_of(bodies.Body("Sun"), now, site)
    return {
        "cells": map_of(fix, e.instrument.field_deg) if fix is not None else [],
        "predicted": e.fix is None,
        "stars": shown,
        "skyline": [list(p) for p in e.ground.skyline.points],
        "moon": {
            "az_deg": number(moon[0], 1),
            "alt_deg": number(moon[1], 1),
            "lit": number(bodies.illuminated_fraction(bodies.Body("Moon"), now), 2),
        },
        "sun": {"az_deg": number(sun[0], 1), "alt_deg": number(sun[1], 1)},
        "sightings": [
            {
                "star": s.sighting.star,
                "az_deg": number(s.sighting.true_az_deg, 1),
                "alt_deg": number(s.sighting.true_alt_deg, 1),
                "set_aside": not s.active,
            }
            for s in e.sightings.all
        ],
    }


def predicted(e: Evening, now: Instant) -> Fix | None:
    """The fix that the planned stars would give (else the best pair), with an expected mount.

    Its covariance is what counts, and that does not depend on what the circles will say.
    """
    ranked = e.plan.choice.pairs if e.plan.choice is not None else ()
    names = e.plan.names or (ranked[0].stars if ranked else ())
    places = [place_of(star_named(name), now, e.ground.need_site()) for name in names]
    terms = np.where(np.isinf(e.instrument.priors.sigma), 0.0, e.instrument.priors.mean)
    made = []
    for name, (az, alt) in zip(names, places, strict=True):
        if alt > 5.0:
            direction = kinematics.unit(np.radians(az), np.radians(alt))
            reading = np.degrees(kinematics.reading_of(direction, terms, math.radians(az)))
            made.append(Sighting(name, az, alt, float(reading[0]), float(reading[1])))
    return solve(made, e.instrument.priors, e.instrument.noise) if made else None
