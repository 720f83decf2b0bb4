"""The picture worked out: every place by exact rotation, so the zenith and the poles are no matter.

Each star is put where it stands in azimuth and altitude, refraction and all, and so is a point a
little north of the object: the turn of the sky in the field (the parallactic angle) comes out of
that without a formula of its own, and overhead too. Then orientation.py turns it for the eye.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from plumbstar.errors import UserError
from plumbstar.eyeview.model import Disc, EyeStar, EyeView, Outline, Way
from plumbstar.eyeview.orientation import ViewKind, turn
from plumbstar.kit import Eyepiece, EyepieceAt, Kit
from plumbstar.mount import kinematics
from plumbstar.sky import bodies
from plumbstar.sky.angles import offset_rad, position_angle_rad
from plumbstar.sky.bodies import Body
from plumbstar.sky.frame import Frame, frame
from plumbstar.sky.lists import catalogue, faint
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.places import Directions, Target, in_frame, place_in_frame
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.sky.vectors import Vectors, to_horizon
from plumbstar.targets.eye import telescope_limit
from plumbstar.targets.model import conditions_of
from plumbstar.text import words
from plumbstar.turns import line_deg, one_turn_deg
from plumbstar.units import Array

#: How wide the picture for the finder or the naked eye is, and its faintest star.
FINDER_FIELD_DEG, FINDER_MAG = 8.0, 6.5
#: A star's colour shows to the eye when it is this much brighter than the faintest in view.
_COLOUR_SHOWS_MAG = 4.0
#: How far off a point is taken to find a way in the picture: 20 arcsec.
_STEP = 1e-4
_NOTHING = np.zeros(())
# The pole of Saturn, ICRS (IAU 2015 report on rotational elements), and the outer edge of ring A,
# 136,775 km, against the equator's radius. Both from memory.
_SATURN_POLE_DEG = (40.589, 83.537)
_RING_TO_DISC = 136775.0 / 60268.0


class _Picture:
    """Where things come to lie: the frame, the middle of the field, and the turn of the eye."""

    def __init__(self, target: Target, f: Frame, seen: ViewKind, at: EyepieceAt, radius: float):
        if isinstance(target, Body) and target.name == "Sun":
            raise UserError(
                "What the Sun looks like in an eyepiece is not shown",
                "",
                "Never look at the Sun through a telescope: it blinds at once and for good",
            )
        az, alt = place_in_frame(target, f)
        self.f, self.radius = f, radius
        self.az, self.alt = float(az), float(alt)
        self._basis = kinematics.tangent_basis(np.asarray(self.az), np.asarray(self.alt))
        self._turn = turn(seen, at, self.alt)
        if isinstance(target, Body):
            ra, dec, _ = bodies.body_icrs(target, f)
        else:
            ra, dec = np.radians(target.ra_deg), np.radians(target.dec_deg)
        self.ra, self.dec = float(ra), float(dec)
        sa, ca, sd, cd = (
            math.sin(self.ra),
            math.cos(self.ra),
            math.sin(self.dec),
            math.cos(self.dec),
        )
        self.place = np.array([ca * cd, sa * cd, sd])
        self._east = np.array([-sa, ca, 0.0])  # both hold at the poles, with this right ascension
        self._north = np.array([-sd * ca, -sd * sa, cd])
        # The place the ways are measured from: without proper motion, as their end points are.
        self._base = self._sky(self.place)

    def put(self, az: Array, alt: Array) -> Array:
        """(n, 2) in field radii, for azimuths and altitudes (n,): angles from the middle kept."""
        return np.asarray(offset_rad(self.az, self.alt, az, alt) @ self._turn.T / self.radius)

    def put_stars(self, stars: Directions) -> Array:
        return self.put(*in_frame(self.f, stars))

    def _sky(self, direction: Array) -> Array:
        v = Vectors(direction / np.linalg.norm(direction), _NOTHING, _NOTHING, True)
        az, alt = to_horizon(v, self.f.astrom)
        return kinematics.unit(np.asarray(az), np.asarray(self.f.air.apparent_altitude(alt)))

    def toward(self, position_angle_rad: float) -> Way:
        """The way in the picture of a position angle, from north through east (ICRS)."""
        c, s = math.cos(position_angle_rad), math.sin(position_angle_rad)
        there = self._sky(self.place + _STEP * (c * self._north + s * self._east))
        return self.way(self._basis @ (there - self._base))

    def way(self, right_up: Array) -> Way:
        """A (right, up) on the sky as a way in the picture."""
        x, y = self._turn @ right_up
        n = math.hypot(x, y)
        return float(x / n), float(y / n)

    def parallactic_deg(self) -> float:
        """Position angle of the zenith, -180 to 180: from where north and east lie."""
        upright = np.linalg.inv(self._turn)
        north, east = (upright @ self.toward(p) for p in (0.0, math.pi / 2))
        return math.degrees(math.atan2(east[1], north[1]))


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
    picture = _Picture(target, f, seen, scope.eyepiece_at, math.radians(field_deg / 2.0))
    reach = telescope_limit(
        scope.aperture_mm, magnification, picture.alt, site.elevation_m, conditions_of(site, kit)
    )
    drawn = _finish(
        picture, target, instant, site, field_deg, eyepiece.name, magnification, seen, reach
    )
    return drawn if shows else replace(drawn, shows=False)


def finder_view(
    star: Target, instant: Instant, site: Site, *, field_deg: float = FINDER_FIELD_DEG
) -> EyeView:
    """The sky about a star as the eye sees it: 8 degrees across, upright, stars to V 6.5."""
    picture = _Picture(star, frame(instant, site), "upright", "end", math.radians(field_deg / 2.0))
    return _finish(picture, star, instant, site, field_deg, "", 1.0, "upright", FINDER_MAG)


def _finish(
    picture: _Picture,
    target: Target,
    instant: Instant,
    site: Site,
    field_deg: float,
    eyepiece: str,
    magnification: float,
    seen: ViewKind,
    reach: float,
) -> EyeView:
    """What the eyepiece's and the finder's picture have in common."""
    limit = min(reach, faint.V_LIMIT)
    stars = _stars(picture, instant, limit, reach)
    outline = _outline(picture, target)
    disc = _disc(picture, target, instant) if isinstance(target, Body) else None
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
    )


def _stars(picture: _Picture, instant: Instant, limit: float, reach: float) -> tuple[EyeStar, ...]:
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


def _outline(picture: _Picture, target: Target) -> Outline | None:
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


def _disc(picture: _Picture, body: Body, instant: Instant) -> Disc:
    """The lit disc of the Moon or a planet, to scale."""
    half = float(bodies.semidiameter_rad(body, picture.f))
    sun_ra, sun_dec, _ = bodies.body_icrs(Body("Sun"), picture.f)
    pa = float(position_angle_rad(picture.ra, picture.dec, sun_ra, sun_dec))
    lit = bodies.illuminated_fraction(body, instant)
    ring = _ring(picture, half) if body.name == "Saturn" else None
    return Disc(half / picture.radius, lit, picture.toward(pa), ring)


def _ring(picture: _Picture, half: float) -> Outline:
    """Saturn's ring: tilted by the angle between its plane and the sight line, square to the pole.

    sin(tilt) = -pole . sight. Dropped: the change of direction while the light comes, 0.01 deg.
    """
    ra, dec = (math.radians(x) for x in _SATURN_POLE_DEG)
    pole = np.array([math.cos(ra) * math.cos(dec), math.sin(ra) * math.cos(dec), math.sin(dec)])
    tilt = math.asin(float(-pole @ picture.place))
    x, y = picture.toward(float(position_angle_rad(picture.ra, picture.dec, ra, dec)))
    length = half * _RING_TO_DISC / picture.radius
    angle = line_deg(math.degrees(math.atan2(y, x)) + 90.0)
    return Outline(0.0, 0.0, length, length * abs(math.sin(tilt)), angle)


def _drift(
    picture: _Picture, target: Target, instant: Instant, site: Site
) -> tuple[Way | None, float]:
    """Which way it drifts out of a telescope that stands still, and in how many minutes."""
    seconds = 10.0
    az, alt = place_in_frame(target, frame(instant.plus_seconds(seconds), site))
    (x, y) = picture.put(np.asarray(az)[None], np.asarray(alt)[None])[0]
    moved = math.hypot(x, y)
    if moved * picture.radius < math.radians(1.0 / 3600.0):
        return None, math.inf
    return (float(x / moved), float(y / moved)), seconds / moved / 60.0
