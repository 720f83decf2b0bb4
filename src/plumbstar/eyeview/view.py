"""The picture worked out: every place by exact rotation, so the zenith and the poles are no matter.

Each star is put where it stands in azimuth and altitude, refraction and all, and so is a point a
little north of the object: the turn of the sky in the field (the parallactic angle) comes out of
that without a formula of its own, and overhead too. Then orientation.py turns it for the eye.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from plumbstar.eyeview import minor, planets
from plumbstar.eyeview.model import EyeStar, EyeView, Outline, Way
from plumbstar.eyeview.orientation import ViewKind
from plumbstar.eyeview.pair import two_stars, with_companion
from plumbstar.eyeview.placing import Placing
from plumbstar.kit import Eyepiece, Kit
from plumbstar.sky.bodies import Body, magnitude
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import catalogue, faint
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.places import Directions, Target, place_in_frame
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.targets.eye import telescope_limit
from plumbstar.targets.model import conditions_of
from plumbstar.text import words
from plumbstar.turns import line_deg, one_turn_deg

#: How wide the picture for the finder or the naked eye is, and its faintest star.
FINDER_FIELD_DEG, FINDER_MAG = 8.0, 6.5
#: A finder with a lens shows more; drawn is what one can compare star by star. Judgement.
FINDER_GLASS_MAG = 8.0
#: A star's colour shows to the eye when it is this much brighter than the faintest in view.
_COLOUR_SHOWS_MAG = 4.0


def eye_view(
    target: Target,
    instant: Instant,
    site: Site,
    kit: Kit,
    eyepiece: Eyepiece,
    *,
    view: ViewKind | None = None,
    shows: bool = True,
) -> EyeView:
    """The field with the target in its middle. ``view`` goes before what the kit says; ``shows``
    is the verdict (targets/asked.py).
    """
    scope = kit.telescope
    seen: ViewKind = view or scope.view
    field_deg = kit.true_field_deg(eyepiece)
    magnification = kit.magnification(eyepiece)
    f = frame(instant, site)
    picture = Placing(target, f, seen, scope.eyepiece_at, math.radians(field_deg / 2.0))
    reach = telescope_limit(
        scope.aperture_mm, magnification, picture.alt, site.elevation_m, conditions_of(site, kit)
    )
    drawn = _finish(
        picture, target, instant, site, field_deg, eyepiece.name, magnification, seen, reach
    )
    return drawn if shows else replace(drawn, shows=False)


def finder_view(
    star: Target,
    instant: Instant,
    site: Site,
    *,
    field_deg: float = FINDER_FIELD_DEG,
    kit: Kit | None = None,
) -> EyeView:
    """The sky about a star as the kit's finder shows it, stars to V 8.

    Without a finder, as the eye sees it: 8 degrees across, upright, stars to V 6.5. Whether the
    finder shows the object is not judged.
    """
    if kit is not None and kit.finder.field_deg > 0.0:
        return _in_finder(star, instant, site, kit)
    picture = Placing(star, frame(instant, site), "upright", "end", math.radians(field_deg / 2.0))
    return _finish(picture, star, instant, site, field_deg, "", 1.0, "upright", FINDER_MAG, True)


def _in_finder(star: Target, instant: Instant, site: Site, kit: Kit) -> EyeView:
    finder = kit.finder
    half = math.radians(finder.field_deg / 2.0)
    picture = Placing(star, frame(instant, site), finder.view, "end", half)
    reach = FINDER_MAG
    if finder.aperture_mm > 0.0:
        sky = conditions_of(site, kit)
        alt = max(picture.alt, 0.1)  # below the horizon the air would leave no star
        reach = telescope_limit(
            finder.aperture_mm, finder.magnification, alt, site.elevation_m, sky
        )
    return _finish(
        picture, star, instant, site, finder.field_deg, "finder", finder.magnification,
        finder.view, min(reach, FINDER_GLASS_MAG), by_finder=True,
    )  # fmt: skip


def _finish(
    picture: Placing,
    target: Target,
    instant: Instant,
    site: Site,
    field_deg: float,
    eyepiece: str,
    magnification: float,
    seen: ViewKind,
    reach: float,
    by_finder: bool = False,
) -> EyeView:
    """What the eyepiece's and the finder's picture have in common."""
    limit = min(reach, faint.V_LIMIT)
    stars = _stars(picture, instant, limit, reach)
    pair = two_stars(picture, target, instant.julian_year, reach) if not by_finder else None
    if pair is not None:
        pair, stars = with_companion(pair, stars, picture.radius)
    outline, disc, moves = _outline(picture, target), None, None
    if isinstance(target, MinorBody):
        outline, moves = minor.head(picture, target), minor.motion(picture, target, instant, site)
        own = minor.point(target, instant, reach)
        stars = tuple(sorted([*stars, own], key=lambda s: s.v_mag)) if own is not None else stars
    elif by_finder and isinstance(target, Body) and target.name != "Moon":
        v = magnitude(target, instant)  # a finder shows a planet as a star
        own = EyeStar(0.0, 0.0, v, "", target.name)
        stars = tuple(sorted([*stars, own], key=lambda s: s.v_mag)) if v <= reach else stars
    elif isinstance(target, Body):
        disc = planets.disc(picture, target, instant)
    near_jupiter = target == Body("Jupiter") and not by_finder
    drift, minutes = _drift(picture, target, instant, site)
    return EyeView(
        target=target,
        utc=instant.iso(),
        az_deg=one_turn_deg(math.degrees(picture.az)),
        alt_deg=math.degrees(picture.alt),
        field_deg=field_deg,
        eyepiece=eyepiece,
        magnification=magnification,
        view=seen,
        stars=stars,
        outline=outline,
        disc=disc,
        north=picture.toward(0.0),
        east=picture.toward(math.pi / 2.0),
        zenith=picture.way(np.array([0.0, 1.0])),
        drift=drift,
        minutes_to_edge=minutes,
        parallactic_deg=picture.parallactic_deg(),
        limit_mag=limit,
        telescope_limit_mag=reach,
        list_is_limit=reach > faint.V_LIMIT,
        pair=pair,
        moves=moves,
        by_finder=by_finder,
        moons=planets.moons(picture) if near_jupiter else (),
        equator=planets.equator(picture) if near_jupiter else (1.0, 0.0),
    )


def _stars(picture: Placing, instant: Instant, limit: float, reach: float) -> tuple[EyeStar, ...]:
    """All stars in the field to the limit, brightest first: named ones and the faint."""
    radius = picture.radius
    named = catalogue.load()
    # A quarter of a degree more: proper motion and aberration move nothing by so much.
    margin = radius + math.radians(0.25)
    near = np.flatnonzero(
        (named.vectors.unit.T @ picture.place > math.cos(min(margin, math.pi)))
        & (named.v_mag <= limit)
    )
    xy = picture.put_stars(Directions.take(named, near))
    found = []
    for k, (x, y) in zip(near, xy, strict=True):
        s = named[int(k)]
        found.append((float(x), float(y), s.v_mag, s.bv, s.label if s.name else s.designation))
    patch = faint.load().near(
        math.degrees(picture.ra),
        math.degrees(picture.dec),
        math.degrees(radius) + 0.05,
        instant.julian_year,
    )
    wanted = ~patch.bright & (patch.v_mag <= limit)
    zero = np.zeros(int(wanted.sum()))
    xy = picture.put_stars(
        Directions(
            np.radians(patch.ra_deg[wanted]), np.radians(patch.dec_deg[wanted]), zero, zero, zero
        )
    )
    for (x, y), v, bv in zip(xy, patch.v_mag[wanted], patch.bv[wanted], strict=True):
        found.append((float(x), float(y), float(v), float(bv), ""))
    shows = reach - _COLOUR_SHOWS_MAG
    stars = [
        EyeStar(x, y, v, words.colour(bv) if v <= shows else "", name)
        for x, y, v, bv, name in found
        if math.hypot(x, y) <= 1.0
    ]
    return tuple(sorted(stars, key=lambda s: s.v_mag))  # stable: no view changes their order


def _outline(picture: Placing, target: Target) -> Outline | None:
    """The object's ellipse. Its middle is the field's: the middle is what was pointed at."""
    if not isinstance(target, DeepSky) or math.isnan(target.size_arcmin):
        return None
    half = math.radians(target.size_arcmin / 120.0) / picture.radius
    minor, pa = target.minor_arcmin, target.position_angle_deg
    if math.isnan(minor) or math.isnan(pa) or minor >= target.size_arcmin:
        return Outline(0.0, 0.0, half, half, math.nan)
    x, y = picture.toward(math.radians(pa))
    angle = line_deg(math.degrees(math.atan2(y, x)))
    return Outline(0.0, 0.0, half, half * minor / target.size_arcmin, angle)


def _drift(
    picture: Placing, target: Target, instant: Instant, site: Site
) -> tuple[Way | None, float]:
    """Which way it drifts out of a telescope that stands still, and in how many minutes."""
    seconds = 10.0
    az, alt = place_in_frame(target, frame(instant.plus_seconds(seconds), site))
    (x, y) = picture.put(np.asarray(az)[None], np.asarray(alt)[None])[0]
    moved = math.hypot(x, y)
    if moved * picture.radius < math.radians(1.0 / 3600.0):
        return None, math.inf
    return (float(x / moved), float(y / moved)), seconds / moved / 60.0
