"""A telescope that does not exist: bearings, tube and base as turned bodies, by scipy's rotations.

Nothing of the program's kinematics is used: a base that leans, an azimuth axle, a bearing that is
not square, a tube that is not square to it and sags, and circles that are wrong in their own ways.
"""

import numpy as np
from numpy.random import Generator
from scipy.optimize import fsolve
from scipy.spatial.transform import Rotation as R

from .shapes import Array, Pair


def direction(az_deg: float, alt_deg: float) -> Array:
    a, e = np.radians(az_deg), np.radians(alt_deg)
    return np.array([np.sin(a) * np.cos(e), np.cos(a) * np.cos(e), np.sin(e)])


def apart_deg(a: Array, b: Array) -> float:
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)))


class Mount:
    def __init__(self, rng: Generator) -> None:
        self.base = R.from_rotvec([*rng.normal(0, 1.2, 2), 0], degrees=True)
        self.stop_deg = rng.normal(0, 0.9) * (2.5 if rng.random() < 0.04 else 1.0)
        self.az0_deg = rng.uniform(-180, 180)
        self.square_deg, self.cone_deg = rng.normal(0, 0.17), rng.normal(0, 0.25)
        self.sag_deg = abs(rng.normal(0, 0.06))
        self.scale = rng.normal(0, 0.0005, 2)
        # A disc out of centre, which the program does not look for unless told to.
        self.wobble_deg, self.wobble_at = abs(rng.normal(0, 0.015)), rng.uniform(0, 6.28)

    def tube(self, az: float, alt: float) -> Array:
        """Where it points: axles at those degrees. Also of a base knocked since."""
        alt = alt - self.sag_deg * np.cos(np.radians(alt))
        v = np.array([np.sin(np.radians(self.cone_deg)), np.cos(np.radians(self.cone_deg)), 0.0])
        v = R.from_euler("x", alt, degrees=True).apply(v)
        v = R.from_euler("y", self.square_deg, degrees=True).apply(v)
        v = R.from_euler("z", -az, degrees=True).apply(v)
        out: Array = self.base.apply(v)
        return out

    def axles_at(self, where: Array, near_az: float) -> Pair:
        """Axles at which the tube points there (a unit vector): near that azimuth's turn."""
        guess = [np.degrees(np.arctan2(where[0], where[1])), np.degrees(np.arcsin(where[2]))]

        def off(x: Array) -> list[float]:
            d = self.tube(*x) - where
            a = np.radians(guess[0])
            east = np.array([np.cos(a), -np.sin(a), 0.0])
            return [d @ east, d @ np.cross(east, where)]

        az, alt = fsolve(off, guess, xtol=1e-10)
        return az + 360.0 * round((near_az - az) / 360.0), alt

    def circles(self, az: float, alt: float) -> Pair:
        """What perfect circles on these axles show, degrees (before any slip)."""
        wobble = self.wobble_deg * np.sin(np.radians(az) + self.wobble_at)
        return (
            az * (1 - self.scale[0]) + wobble - self.az0_deg,
            alt * (1 - self.scale[1]) - self.stop_deg,
        )

    def knock(self, turn_deg: float, lean_deg: Array) -> None:
        self.base = R.from_rotvec([*lean_deg, turn_deg], degrees=True) * self.base
