"""The Moon and the planets in the field: the lit disc, Saturn's ring, Jupiter's moons."""

from __future__ import annotations

import math

import numpy as np

from plumbstar.eyeview.model import Disc, EyeMoon, Outline, Way
from plumbstar.eyeview.placing import Placing
from plumbstar.sky import bodies, jovian
from plumbstar.sky.angles import position_angle_rad
from plumbstar.sky.bodies import Body
from plumbstar.sky.times import Instant
from plumbstar.turns import line_deg
from plumbstar.units import Array

# The pole of Saturn, ICRS (IAU 2015 report on rotational elements), and the outer edge of ring A,
# 136,775 km, against the equator's radius. Both from memory.
_SATURN_POLE_DEG = (40.589, 83.537)
_RING_TO_DISC = 136775.0 / 60268.0
#: The inner edge of the bright ring (B, 91,975 km) against that outer edge. From memory.
RING_INNER = 91975.0 / 136775.0


def disc(picture: Placing, body: Body, instant: Instant) -> Disc:
    """The lit disc of the Moon or a planet, to scale."""
    half = float(bodies.semidiameter_rad(body, picture.f))
    sun_ra, sun_dec, _ = bodies.body_icrs(Body("Sun"), picture.f)
    pa = float(position_angle_rad(picture.ra, picture.dec, sun_ra, sun_dec))
    lit = bodies.illuminated_fraction(body, instant)
    radius, sunward = half / picture.radius, picture.toward(pa)
    if body.name != "Saturn":
        return Disc(radius, lit, sunward)
    ring, tilt_deg, near = _ring(picture, half)
    return Disc(radius, lit, sunward, ring, tilt_deg, near)


def _ring(picture: Placing, half: float) -> tuple[Outline, float, Way]:
    """Saturn's ring: tilted by the angle between its plane and the sight line, square to the pole.

    sin(tilt) = -pole . sight. Dropped: the change of direction while the light comes, 0.01 deg.
    The half that is nearer than the planet lies on the side of the pole that is turned away.
    """
    ra, dec = (math.radians(x) for x in _SATURN_POLE_DEG)
    pole = np.array([math.cos(ra) * math.cos(dec), math.sin(ra) * math.cos(dec), math.sin(dec)])
    tilt = math.asin(float(-pole @ picture.place))
    x, y = picture.toward(float(position_angle_rad(picture.ra, picture.dec, ra, dec)))
    length = half * _RING_TO_DISC / picture.radius
    angle = line_deg(math.degrees(math.atan2(y, x)) + 90.0)
    outer = Outline(0.0, 0.0, length, length * abs(math.sin(tilt)), angle)
    return outer, math.degrees(tilt), (-x, -y) if tilt > 0.0 else (x, y)


def _equator_pa(picture: Placing) -> float:
    """Position angle of Jupiter's west, radians."""
    west = jovian.axes(picture.place)[0]
    return math.atan2(float(west @ picture.east_axis), float(west @ picture.north_axis))


def equator(picture: Placing) -> Way:
    """The way of Jupiter's equator in the picture, toward its west."""
    return picture.toward(_equator_pa(picture))


def moons(picture: Placing) -> tuple[EyeMoon, ...]:
    """Jupiter's four bright moons and their shadows on it."""
    f = picture.f
    jupiter, sun = (_vector(Body(name), picture) for name in ("Jupiter", "Sun"))
    half = float(bodies.semidiameter_rad(Body("Jupiter"), f)) / picture.radius
    pa = _equator_pa(picture)
    w, n = picture.toward(pa), picture.toward(pa + math.pi / 2.0)

    def at(west: float, north: float) -> Way:
        return half * (west * w[0] + north * n[0]), half * (west * w[1] + north * n[1])

    return tuple(
        EyeMoon(
            m.name, *at(m.west, m.north), half * m.west, m.v_mag, m.hidden,
            None if m.shadow is None else at(*m.shadow),
        )
        for m in jovian.moons(float(f.tt1) + float(f.tt2), jupiter, sun)
    )  # fmt: skip


def _vector(body: Body, picture: Placing) -> Array:
    """From the observer, au, ICRS, shape (3,)."""
    ra, dec, far = (float(x) for x in bodies.body_icrs(body, picture.f))
    unit = (math.cos(ra) * math.cos(dec), math.sin(ra) * math.cos(dec), math.sin(dec))
    return far * np.array(unit)
