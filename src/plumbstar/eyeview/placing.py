"""Where things come to lie in the picture: the frame, the middle of the field, the eye's turn.

Each thing is put where it stands in azimuth and altitude, refraction and all; a way in the picture
is that to a point a little off the middle. So the zenith and the poles are no matter.
"""

from __future__ import annotations

import math

import numpy as np

from plumbstar.errors import UserError
from plumbstar.eyeview.model import Way
from plumbstar.eyeview.orientation import ViewKind, turn
from plumbstar.kit import EyepieceAt
from plumbstar.mount import kinematics
from plumbstar.sky import bodies
from plumbstar.sky.angles import offset_rad
from plumbstar.sky.bodies import Body
from plumbstar.sky.frame import Frame
from plumbstar.sky.places import Directions, Target, in_frame, place_in_frame
from plumbstar.sky.vectors import Vectors, to_horizon
from plumbstar.units import Array

#: How far off a point is taken to find a way in the picture: 20 arcsec.
_STEP = 1e-4
_NOTHING = np.zeros(())


class Placing:
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
        # Both hold at the poles, with this right ascension.
        self.east_axis = np.array([-sa, ca, 0.0])
        self.north_axis = np.array([-sd * ca, -sd * sa, cd])
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
        there = self._sky(self.place + _STEP * (c * self.north_axis + s * self.east_axis))
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
