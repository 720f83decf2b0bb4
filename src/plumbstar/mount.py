"""The mount: from a reading to the direction the tube points, and back, as exact rotations.

Conventions, with a drawing, are in docs/conventions.md. In short: the ground frame is x east,
y north, z up; azimuth runs from north through east; every term is *true minus reading*.

The chain, from the tube outwards (each step a rotation, none of them linearised)::

    tube   v  = (sin c, cos c cos E", cos c sin E")      cone c: tube right of square
    bearings    turn about y by s                        squareness s: right-hand bearing low
    azimuth     turn clockwise by A'                     A' = A (1 + ka) + a0 + runout
    base        turn by the vector (-north, -west, 0)    lean: top of the axis north, west

    E' = E (1 + ke) + e0,   E" = E' - droop cos E'

To first order these are the rows P0 to P5 of the classical pointing-error table; the rotations hold
overhead, where the tan and sec forms of that table do not. Dropped: once-per-turn error of the
altitude disc (it turns a quarter only, so zero and scale absorb it), bearing wobble, and a lean
that changes with azimuth.

All functions broadcast: ``readings`` (..., 2) against ``terms`` (..., 11), radians.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: The order of every vector of terms and every covariance in Plumbstar.
TERMS = (
    "azimuth_zero",
    "altitude_zero",
    "lean_north",
    "lean_west",
    "squareness",
    "cone",
    "droop",
    "azimuth_scale",
    "altitude_scale",
    "azimuth_runout_sin",
    "azimuth_runout_cos",
)
N_TERMS = len(TERMS)
INDEX = {name: i for i, name in enumerate(TERMS)}

#: Terms that belong to the telescope; the others change each time the base is set down.
PERSISTENT = tuple(t for t in TERMS if t not in ("azimuth_zero", "lean_north", "lean_west"))

#: The pure numbers among the terms: radians of error for each radian turned.
SCALES = ("azimuth_scale", "altitude_scale")


def unit(az: Array, alt: Array) -> Array:
    """Unit vector (..., 3) in the ground frame for azimuth and altitude in radians."""
    cos_alt = np.cos(alt)
    return np.stack([cos_alt * np.sin(az), cos_alt * np.cos(az), np.sin(alt)], axis=-1)


def az_alt(direction: Array) -> Array:
    """Azimuth in [0, 2 pi) and altitude (..., 2), radians, of vectors (..., 3)."""
    x, y, z = direction[..., 0], direction[..., 1], direction[..., 2]
    return np.stack([np.arctan2(x, y) % (2 * np.pi), np.arctan2(z, np.hypot(x, y))], axis=-1)


def tangent_basis(az: Array, alt: Array) -> Array:
    """Rows (..., 2, 3): one step to larger azimuth (on the sky), one step up. Valid overhead."""
    sa, ca, se, ce = np.sin(az), np.cos(az), np.sin(alt), np.cos(alt)
    zero = np.zeros_like(sa * se)
    return np.stack(
        [
            np.stack([ca + zero, -sa + zero, zero], axis=-1),
            np.stack([-se * sa, -se * ca, ce + zero], axis=-1),
        ],
        axis=-2,
    )


def _lean_coefficients(theta2: Array) -> tuple[Array, Array, Array]:
    """sin(t)/t, (1 - cos t)/t^2, (t - sin t)/t^3 from t^2, safe at zero."""
    theta = np.sqrt(theta2)
    small = theta2 < 1e-8
    safe = np.where(small, 1.0, theta)
    a = np.where(small, 1 - theta2 / 6, np.sin(safe) / safe)
    b = np.where(small, 0.5 - theta2 / 24, (1 - np.cos(safe)) / safe**2)
    c = np.where(small, 1 / 6 - theta2 / 120, (safe - np.sin(safe)) / safe**3)
    return a, b, c


def _lean(vector: Array, north: Array, west: Array, sign: float = 1.0) -> Array:
    """Rotate vectors by the rotation vector ``sign * (-north, -west, 0)`` (Rodrigues)."""
    wx, wy = -sign * north, -sign * west
    a, b, _ = _lean_coefficients(wx * wx + wy * wy)
    x, y, z = vector[..., 0], vector[..., 1], vector[..., 2]
    cx, cy, cz = wy * z, -wx * z, wx * y - wy * x  # w cross v, with w in the horizontal plane
    ddx, ddy, ddz = wy * cz, -wx * cz, wx * cy - wy * cx
    return np.stack([x + a * cx + b * ddx, y + a * cy + b * ddy, z + a * cz + b * ddz], axis=-1)


def direction(readings: Array, terms: Array) -> Array:
    """Where the tube points: unit vectors (..., 3), ground frame.

    ``readings`` (..., 2): azimuth and altitude as read, radians; ``terms`` (..., 11).
    """
    return _chain(readings, terms)[0]


def _chain(readings: Array, terms: Array) -> tuple[Array, ...]:
    """The chain of the module's head, with the intermediate values the Jacobian needs."""
    A, E = readings[..., 0], readings[..., 1]
    t = np.moveaxis(terms, -1, 0)
    a0, e0, north, west, s, c, droop, ka, ke, run_sin, run_cos = t
    A1 = A * (1 + ka) + a0 + run_sin * np.sin(A) + run_cos * np.cos(A)
    E1 = E * (1 + ke) + e0
    E2 = E1 - droop * np.cos(E1)
    sin_c, cos_c = np.sin(c), np.cos(c)
    sin_s, cos_s = np.sin(s), np.cos(s)
    vy, vz = cos_c * np.cos(E2), cos_c * np.sin(E2)
    x1 = cos_s * sin_c + sin_s * vz
    z1 = -sin_s * sin_c + cos_s * vz
    sin_a, cos_a = np.sin(A1), np.cos(A1)
    u = np.stack(np.broadcast_arrays(cos_a * x1 + sin_a * vy, cos_a * vy - sin_a * x1, z1), axis=-1)
    return _lean(u, north, west), u, x1, vy, vz, z1, A1, E1, E2


def direction_jacobian(readings: Array, terms: Array) -> tuple[Array, Array]:
    """Directions (..., 3) and their derivatives by each term (..., 3, 11). Analytic."""
    d, u, x1, _vy, _vz, z1, A1, E1, E2 = _chain(readings, terms)
    A, E = readings[..., 0], readings[..., 1]
    t = np.moveaxis(terms, -1, 0)
    _a0, _e0, north, west, s, c, droop, _ka, _ke, _rs, _rc = t
    sin_c, cos_c, sin_s, cos_s = np.sin(c), np.cos(c), np.sin(s), np.cos(s)
    sin_a, cos_a = np.sin(A1), np.cos(A1)

    def through(vx: Array, vy: Array, vz: Array, squared: bool = True) -> Array:
        """Carry a tube-frame vector through bearings (unless done), azimuth and lean."""
        if squared:
            vx, vz = cos_s * vx + sin_s * vz, cos_s * vz - sin_s * vx
        w = np.broadcast_arrays(cos_a * vx + sin_a * vy, cos_a * vy - sin_a * vx, vz)
        return _lean(np.stack(w, axis=-1), north, west)

    zero = np.zeros_like(E2)
    by_az = _lean(np.stack([u[..., 1], -u[..., 0], np.zeros_like(u[..., 0])], -1), north, west)
    by_e2 = through(zero, -cos_c * np.sin(E2), cos_c * np.cos(E2))
    by_cone = through(cos_c + zero, -sin_c * np.cos(E2), -sin_c * np.sin(E2))
    by_square = through(z1, zero, -x1, squared=False)
    by_e1 = by_e2 * (1 + droop * np.sin(E1))[..., None]

    out = np.empty((*d.shape, N_TERMS))
    out[..., 0] = by_az
    out[..., 1] = by_e1
    out[..., 2], out[..., 3] = _by_lean(d, north, west)
    out[..., 4] = by_square
    out[..., 5] = by_cone
    out[..., 6] = by_e2 * -np.cos(E1)[..., None]
    out[..., 7] = by_az * A[..., None]
    out[..., 8] = by_e1 * E[..., None]
    out[..., 9] = by_az * np.sin(A)[..., None]
    out[..., 10] = by_az * np.cos(A)[..., None]
    return d, out


def _by_lean(d: Array, north: Array, west: Array) -> tuple[Array, Array]:
    """Derivative of a leaned direction by north and west lean: the left Jacobian of SO(3).

    d(R u) = (J dw) x (R u), J = I + b [w]x + c [w]x^2 (Sola, Deray, Atchuthan 2018, eq. 145).
    """
    wx, wy = -north, -west
    _, b, c = _lean_coefficients(wx * wx + wy * wy)
    zero = np.zeros_like(wx)
    # Columns of J times dw for dw = (-1, 0, 0) and (0, -1, 0); [w]x with w = (wx, wy, 0).
    j_north = np.stack([-(1 - c * wy * wy), -(c * wx * wy), b * wy + zero], axis=-1)
    j_west = np.stack([-(c * wx * wy), -(1 - c * wx * wx), -b * wx + zero], axis=-1)
    return np.cross(j_north, d), np.cross(j_west, d)


def reading_of(directions: Array, terms: Array, near_az: float | Array = np.pi) -> Array:
    """The reading (..., 2) at which the tube points along ``directions`` (..., 3).

    The azimuth reading returned is the one within half a turn of ``near_az`` (radians), so that
    the caller chooses the side of the wrap; the default gives 0 to 2 pi. The altitude reading is
    the one on the near side of the zenith. Inside the small cap overhead that cone and squareness
    keep the tube out of, the reading that comes closest is returned.
    """
    t = np.moveaxis(terms, -1, 0)
    a0, e0, north, west, s, c, droop, ka, ke, run_sin, run_cos = t
    m = _lean(directions, north, west, sign=-1.0)
    sin_c, cos_c, sin_s, cos_s = np.sin(c), np.cos(c), np.sin(s), np.cos(s)
    sin_e2 = np.clip((m[..., 2] + sin_s * sin_c) / (cos_s * cos_c), -1.0, 1.0)
    E2 = np.arcsin(sin_e2)
    x1 = cos_s * sin_c + sin_s * cos_c * sin_e2
    A1 = np.arctan2(m[..., 0], m[..., 1]) - np.arctan2(x1, cos_c * np.cos(E2))
    E1 = E2
    for _ in range(4):  # Newton on E1 - droop cos E1 = E2; droop is small, so this is ample
        E1 = E1 - (E1 - droop * np.cos(E1) - E2) / (1 + droop * np.sin(E1))
    E = (E1 - e0) / (1 + ke)

    # Bring A' into the turn that makes the reading fall within half a turn of near_az.
    centre = near_az * (1 + ka) + a0
    A1 = centre + np.remainder(A1 - centre + np.pi, 2 * np.pi) - np.pi
    A = (A1 - a0) / (1 + ka)
    if np.any(run_sin) or np.any(run_cos):
        for _ in range(6):
            f = A * (1 + ka) + a0 + run_sin * np.sin(A) + run_cos * np.cos(A) - A1
            A = A - f / (1 + ka + run_sin * np.cos(A) - run_cos * np.sin(A))
    return np.stack(np.broadcast_arrays(A, E), axis=-1)
