"""A comet or minor planet in the field: a pale glow, or a point among the stars; its motion."""

from __future__ import annotations

import math

from plumbstar.eyeview.model import EyeStar, Motion, Outline
from plumbstar.eyeview.placing import Placing
from plumbstar.sky import bodies
from plumbstar.sky.angles import position_angle_rad, separation_rad
from plumbstar.sky.bodies import Body
from plumbstar.sky.frame import frame
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

_HOUR_S = 3600.0


def motion(picture: Placing, target: MinorBody, instant: Instant, site: Site) -> Motion:
    """From its places an hour apart, and of a comet the way its tail points: away from the Sun."""
    ra, dec, _ = bodies.body_icrs(target, frame(instant.plus_seconds(_HOUR_S), site))
    to = (float(ra), float(dec))
    moved = float(separation_rad(picture.ra, picture.dec, *to))
    way = picture.toward(float(position_angle_rad(picture.ra, picture.dec, *to)))
    if target.sort != "comet":
        return Motion(way, math.degrees(moved) * 3600.0, None)
    sun_ra, sun_dec, _ = bodies.body_icrs(Body("Sun"), picture.f)
    sunward = float(position_angle_rad(picture.ra, picture.dec, float(sun_ra), float(sun_dec)))
    return Motion(way, math.degrees(moved) * 3600.0, picture.toward(sunward + math.pi))


def head(picture: Placing, target: MinorBody) -> Outline | None:
    """A comet's head as a round outline: how wide is a guess (sky/minor.py)."""
    if target.sort != "comet":
        return None
    half = float(bodies.semidiameter_rad(target, picture.f)) / picture.radius
    return Outline(0.0, 0.0, half, half, math.nan)


def point(target: MinorBody, instant: Instant, reach_mag: float) -> EyeStar | None:
    """A minor planet as a star in the middle; None for what that glass does not show."""
    if target.sort == "comet" or math.isnan(target.h_mag):
        return None
    v = bodies.magnitude(target, instant)
    return EyeStar(0.0, 0.0, v, "", target.name) if v <= reach_mag else None
