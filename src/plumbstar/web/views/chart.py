"""The sky as it stands now, for the map and for the small field round a star."""

from __future__ import annotations

import itertools
import math

import numpy as np

from plumbstar.choose.candidates import when_to_sight
from plumbstar.contract.asked import (
    AroundAnswer,
    MapAnswer,
    MapBody,
    MapCell,
    MapFigure,
    MapHours,
    MapSighting,
    MapStar,
    StarAround,
)
from plumbstar.guide.course import Course
from plumbstar.guide.sun import Ban
from plumbstar.mount import kinematics
from plumbstar.mount.sighting import Sighting
from plumbstar.sky import bodies, surroundings
from plumbstar.sky.bodies import sun_altitude
from plumbstar.sky.events import sun_crossings
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import asterisms, catalogue
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.places import Directions, in_frame, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix, solve
from plumbstar.text import words
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.plan import star_named
from plumbstar.web.views.numbers import rounded

#: The Sun is so far down when the first stars can be sighted (`choose.candidates.when_to_sight`).
SUN_DOWN_DEG = -6.0
#: Where nothing says when the night ends, so much of it is shown.
LONGEST_S = 12 * 3600.0
#: Nearer than this it is now.
A_MOMENT_S = 300.0
#: Stars fainter than this are left out of the map.
FAINTEST_MAG = 2.6
#: Patches lower than this say little of the sky; they are not in the sentence.
SAID_FROM_DEG = 15.0
#: Less than this between the best and the weakest patch is the same all over.
EVEN = 0.03


def around(e: Evening, name: str) -> AroundAnswer:
    """The stars about one, as the eye sees them: right along azimuth, up along altitude."""
    star = star_named(name)
    limit = min(max(star.v_mag + 2.5, 4.0), 5.5)
    near = surroundings.around(
        star, catalogue.load(), e.now(), e.ground.need_site(), limit_mag=limit
    )
    return AroundAnswer(
        star=star.label,
        stars=tuple(
            StarAround(
                name=n.star.label if n.star.name or n.star.v_mag < 4.0 else "",
                right_deg=rounded(n.right_deg, 3),
                up_deg=rounded(n.up_deg, 3),
                v_mag=rounded(n.star.v_mag, 2),
                colour=words.colour(n.star.bv),
            )
            for n in near
        ),
        radius_deg=surroundings.AROUND_DEG,
    )


def sky_map(e: Evening, asked: Instant | None = None) -> MapAnswer:
    """The whole sky: hit chance, bright stars and figures, skyline, Moon and Sun.

    ``asked``: the hour; without one it is that at which the stars can be sighted, until the first
    is, and then now.
    """
    now, site = e.now(), e.ground.need_site()
    hours = hours_of(now, site)
    at = asked if asked is not None else now if e.sightings.all or not hours else hours[0]
    later = abs(at.minus(now)) > A_MOMENT_S
    fix = e.fix or predicted(e, at)
    known = fix is not None and (e.fix is None or e.fix_holds)  # else any chance would be a guess
    cells = cells_of(fix, e.instrument.field_deg, e.still_chance()) if fix and known else ()
    return MapAnswer(
        at_utc=at.iso(),
        later=later,
        hours=MapHours(from_utc=hours[0].iso(), until_utc=hours[1].iso()) if hours else None,
        chosen=_chosen(e, at, site, later),
        figures=figures_of(at, site),
        cells=cells,
        predicted=e.fix is None,
        stars=stars_of(at, site),
        skyline_deg=tuple(e.ground.skyline.points),
        moon=_body("Moon", at, site),
        sun=_body("Sun", at, site),
        sightings=tuple(
            MapSighting(
                star=s.sighting.star,
                az_deg=rounded(s.sighting.true_az_deg, 1),
                alt_deg=rounded(s.sighting.true_alt_deg, 1),
                set_aside=not s.active,
            )
            for s in e.sightings.all
        ),
        words=in_words(cells),
    )


def hours_of(now: Instant, site: Site) -> tuple[Instant, Instant] | None:
    """From when to when stars can be sighted: dusk, or now, to dawn. None where the Sun does not
    sink so far."""
    begin = when_to_sight(now, site)
    if math.degrees(float(sun_altitude(begin, site))) > SUN_DOWN_DEG + 0.1:
        return None
    dawn = sun_crossings(begin, site, SUN_DOWN_DEG)[1].instant
    return begin, dawn if dawn is not None else begin.plus_seconds(LONGEST_S)


def _chosen(e: Evening, at: Instant, site: Site, later: bool) -> tuple[MapStar, ...]:
    """The stars of the plan, else the pair that is offered. Now none is named whose place is not
    told on account of the Sun, and at any hour none while the Sun's place is in doubt."""
    if e.guidance.unsure() is not None:
        return ()
    out = []
    for star in (star_named(n) for n in _names(e)):
        ban = e.guidance.forbidden(Course(star, site)) if not later else None
        az, alt = place_of(star, at, site)
        if alt > 0.0 and (ban is None or ban.ban not in (Ban.TARGET, Ban.CLOCKS, Ban.CLOCK)):
            out.append(_map_star(star, az, alt))
    return tuple(out)


def _map_star(star: Star, az_deg: float, alt_deg: float) -> MapStar:
    return MapStar(
        name=star.label,
        az_deg=rounded(az_deg, 1),
        alt_deg=rounded(alt_deg, 1),
        v_mag=rounded(star.v_mag, 2),
    )


def figures_of(at: Instant, site: Site) -> tuple[MapFigure, ...]:
    """The lines of the figures that everybody knows, as far as both ends are up."""
    out = []
    for figure in asterisms.load():
        lines: list[tuple[float, float, float, float]] = []
        for chain in figure.chains:
            places = [place_of(s, at, site) for s in chain]
            lines += [
                (rounded(a[0], 1), rounded(a[1], 1), rounded(b[0], 1), rounded(b[1], 1))
                for a, b in itertools.pairwise(places)
                if a[1] > 0.0 and b[1] > 0.0
            ]
        if lines:
            out.append(MapFigure(name=figure.name, lines_deg=tuple(lines)))
    return tuple(out)


def stars_of(now: Instant, site: Site) -> tuple[MapStar, ...]:
    """The bright stars that are up."""
    stars = catalogue.load()
    index = stars.brighter_than(FAINTEST_MAG)
    az, alt = in_frame(frame(now, site), Directions.take(stars, index))
    out = []
    for k in np.flatnonzero(alt > 0.0):
        s = stars[int(index[k])]
        out.append(_map_star(s, math.degrees(az[k]), math.degrees(alt[k])))
    return tuple(out)


def _body(name: str, now: Instant, site: Site) -> MapBody:
    az, alt = place_of(bodies.Body(name), now, site)
    return MapBody(az_deg=rounded(az, 1), alt_deg=rounded(alt, 1))


def cells_of(fix: Fix, field_deg: float, still: float, rings: int = 9) -> tuple[MapCell, ...]:
    """Hit chance over the sky, as cells of about equal size: (ring, cell) from 10 degrees up.
    ``still``: the probability that nothing will have moved since the last sighting."""
    cells: list[tuple[float, float, float, float]] = []
    edges = np.linspace(10.0, 90.0, rings + 1)
    for low, high in itertools.pairwise(edges.tolist()):
        mid = (low + high) / 2.0
        n = max(4, round(48 * math.cos(math.radians(mid))))
        cells += [((k + 0.5) * 360.0 / n, mid, 360.0 / n, high - low) for k in range(n)]
    az, alt = np.array([c[0] for c in cells]), np.array([c[1] for c in cells])
    chance = still * fix.hit_chance(az, alt, field_deg)
    return tuple(
        MapCell(
            az_deg=rounded(c[0], 2),
            alt_deg=rounded(c[1], 2),
            d_az_deg=rounded(c[2], 2),
            d_alt_deg=rounded(c[3], 2),
            hit_chance=rounded(float(p), 3),
        )
        for c, p in zip(cells, chance, strict=True)
    )


def in_words(cells: tuple[MapCell, ...]) -> str:
    """The map in a sentence, for those who cannot see it."""
    said = [(c.hit_chance, c.az_deg, c.alt_deg) for c in cells if c.alt_deg >= SAID_FROM_DEG]
    if not said:
        return "Map of the sky; no hit chances yet."
    best, weakest = max(said), min(said)
    if best[0] - weakest[0] < EVEN:
        mean = sum(p for p, _, _ in said) / len(said)
        return f"{words.upper_first(words.about_chance(mean))} all over the sky."
    return (
        f"Best {words.where(best[1], best[2])}, {words.chance(best[0])}; "
        f"weakest {words.where(weakest[1], weakest[2])}, {words.chance(weakest[0])}."
    )


def _names(e: Evening) -> tuple[str, ...]:
    """The plan, else the best pair."""
    choice = e.plan.choice
    return e.desk.plan or (choice.pairs[0].stars if choice and choice.pairs else ())


def predicted(e: Evening, now: Instant) -> Fix | None:
    """The fix that the planned stars would give (else the best pair), with an expected mount.

    Its covariance is what counts, and that does not depend on what the circles will say.
    """
    names = _names(e)
    places = [place_of(star_named(name), now, e.ground.need_site()) for name in names]
    terms = np.where(np.isinf(e.instrument.priors.sigma), 0.0, e.instrument.priors.mean)
    made = []
    for name, (az, alt) in zip(names, places, strict=True):
        if alt > 5.0:
            direction = kinematics.unit(np.radians(az), np.radians(alt))
            reading = np.degrees(kinematics.reading_of(direction, terms, math.radians(az)))
            made.append(Sighting(name, az, alt, float(reading[0]), float(reading[1])))
    return solve(made, e.instrument.priors, e.instrument.noise) if made else None
