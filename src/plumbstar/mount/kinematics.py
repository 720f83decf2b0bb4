"""The mount: from a reading to the direction the tube points, and back, as exact rotations.

Conventions, with a drawing, are in docs/conventions.md. In short: the ground frame is x east,
y north, z up; azimuth runs from north through east; every term is *true minus reading*.

The chain, from the tube outwards (each step a rotation, none of them linearised)::

    tube   v  = (sin c, cos c cos E", cos c sin E")      cone c: tube right of square
    bearings    turn about y by s                        squareness s: right-hand bearing low
    azimuth     turn clockwise by A'                     A' = A (1 + ka) + a0 + runout
    base        turn by the vector (-north, -west, 0)    lean: top of the axis north, west

    E' = E (1 + ke) + e0,   E" = E' - droop cos E' - r cot E'

To first order these are the terms of the classical pointing-error table (J. Mangum, ALMA pointing
slides of 2006-07-26, slide 12, whose signs run the other way); the rotations hold overhead, where
the tan and sec forms of that table do not. Dropped: once-per-turn error of the
altitude disc (it turns a quarter only: zero, scale and droop absorb all but a twentieth of it),
bearing wobble, and a lean that changes with azimuth. The refraction left over, r, is its size at
45 degrees; under :data:`LOWEST` of altitude it stays what it is there, for cot has no end.

All functions broadcast: ``readings`` (..., 2) against ``terms`` (..., 12), radians.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.mount.terms import N_TERMS
from plumbstar.turns import half_turn, one_turn
from plumbstar.units import Array

#: Altitude, radians, below which the refraction left over grows no more.
LOWEST = math.radians(5.0)
_SIN_LOWEST = math.sin(LOWEST)


def unit(az: Array, alt: Array) -> Array:
    """Unit vector (..., 3) in the ground frame for azimuth and altitude in radians."""
    cos_alt = np.cos(alt)
    x = cos_alt * np.sin(az)
    out = np.empty((*np.shape(x), 3))
    out[..., 0], out[..., 1], out[..., 2] = x, cos_alt * np.cos(az), np.sin(alt)
    return out


def az_alt(direction: Array) -> Array:
    """Azimuth in [0, 2 pi) and altitude (..., 2), radians, of vectors (..., 3)."""
    x, y, z = direction[..., 0], direction[..., 1], direction[..., 2]
    out = np.empty((*np.shape(x), 2))
    out[..., 0], out[..., 1] = one_turn(np.arctan2(x, y)), np.arctan2(z, np.hypot(x, y))
    return out


def tangent_basis(az: Array, alt: Array) -> Array:
    """Rows (..., 2, 3): one step to larger azimuth (on the sky), one step up. Valid overhead."""
    sa, ca, se, ce = np.sin(az), np.cos(az), np.sin(alt), np.cos(alt)
    east = -se * sa
    out = np.empty((*np.shape(east), 2, 3))
    out[..., 0, 0], out[..., 0, 1], out[..., 0, 2] = ca, -sa, 0.0
    out[..., 1, 0], out[..., 1, 1], out[..., 1, 2] = east, -se * ca, ce
    return out


def _lean_coefficients(theta2: Array) -> tuple[Array | float, Array | float, Array | float]:
    """sin(t)/t, (1 - cos t)/t^2, (t - sin t)/t^3 from t^2, safe at zero."""
    # Below this the next term of each series, t^4 / 5040 and less, is under 1e-13.
    small = theta2 < 1e-4
    if np.ndim(theta2) == 0:  # one mount: no branches to merge
        if small:
            return (
                1 - theta2 * (1 / 6 - theta2 / 120),
                0.5 - theta2 * (1 / 24 - theta2 / 720),
                1 / 6 - theta2 * (1 / 120 - theta2 / 5040),
            )
        angle = math.sqrt(theta2)
        sine = math.sin(angle) / angle
        return sine, (1 - math.cos(angle)) / theta2, (1 - sine) / theta2
    t2: Array = np.where(small, 1.0, theta2)
    t = np.sqrt(t2)
    ratio = np.sin(t) / t
    a = np.where(small, 1 - theta2 * (1 / 6 - theta2 / 120), ratio)
    b = np.where(small, 0.5 - theta2 * (1 / 24 - theta2 / 720), (1 - np.cos(t)) / t2)
    c = np.where(small, 1 / 6 - theta2 * (1 / 120 - theta2 / 5040), (1 - ratio) / t2)
    return a, b, c


def _lean_matrix(wx: Array, wy: Array, a: Array | float, b: Array | float) -> Array:
    """The rotation (..., 3, 3) by the vector w = (-north, -west, 0): 1 + a [w]x + b [w]x^2."""
    R = np.empty((*np.shape(wx), 3, 3))
    R[..., 0, 0] = 1 - b * wy * wy
    R[..., 1, 1] = 1 - b * wx * wx
    R[..., 2, 2] = 1 - b * (wx * wx + wy * wy)
    R[..., 0, 1] = R[..., 1, 0] = b * wx * wy
    R[..., 0, 2] = a * wy
    R[..., 2, 0] = -a * wy
    R[..., 1, 2] = -a * wx
    R[..., 2, 1] = a * wx
    return R


def direction(readings: Array, terms: Array) -> Array:
    """Where the tube points: unit vectors (..., 3), ground frame.

    ``readings`` (..., 2): azimuth and altitude as read, radians; ``terms`` (..., 12).
    """
    c = _chain(readings, terms)
    a, b, _ = _lean_coefficients(c.wx * c.wx + c.wy * c.wy)
    x = c.cos_a * c.x1 + c.sin_a * c.y1
    u = np.empty((*np.shape(x), 3))
    u[..., 0], u[..., 1], u[..., 2] = x, c.cos_a * c.y1 - c.sin_a * c.x1, c.z1
    out: Array = (_lean_matrix(c.wx, c.wy, a, b) @ u[..., None])[..., 0]
    return out


@dataclass(slots=True)
class _Chain:
    """The chain of the module's head up to the lean, with what its derivatives need."""

    wx: Array  # the lean as a rotation vector (wx, wy, 0)
    wy: Array
    x1: Array  # after the bearings: right, forward, up
    y1: Array
    z1: Array
    sin_read: Array  # of the azimuth reading
    cos_read: Array
    sin_e1: Array
    cos_e1: Array
    sin_e2: Array
    cos_e2: Array
    sin_a: Array
    cos_a: Array
    sin_s: Array
    cos_s: Array
    sin_c: Array
    cos_c: Array
    droop: Array
    refraction: Array | None  # left over; None where no mount has any


def _chain(readings: Array, terms: Array) -> _Chain:
    A, E = readings[..., 0], readings[..., 1]
    a0, e0, north, west, s, c, droop, ka, ke, run_sin, run_cos, left = (
        terms[..., i] for i in range(N_TERMS)
    )
    sin_read, cos_read = np.sin(A), np.cos(A)
    A1 = A * (1 + ka) + a0 + run_sin * sin_read + run_cos * cos_read
    E1 = E * (1 + ke) + e0
    sin_e1, cos_e1 = np.sin(E1), np.cos(E1)
    some = left if left.any() else None  # hardly a kit has it: nothing is worked out for nought
    E2 = E1 - droop * cos_e1
    if some is not None:
        E2 = E2 - some * cos_e1 / np.maximum(sin_e1, _SIN_LOWEST)
    sin_c, cos_c, sin_s, cos_s = np.sin(c), np.cos(c), np.sin(s), np.cos(s)
    sin_e2, cos_e2, sin_a, cos_a = np.sin(E2), np.cos(E2), np.sin(A1), np.cos(A1)
    vz = cos_c * sin_e2
    x1, y1, z1 = cos_s * sin_c + sin_s * vz, cos_c * cos_e2, cos_s * vz - sin_s * sin_c
    return _Chain(
        -north, -west, x1, y1, z1, sin_read, cos_read, sin_e1, cos_e1, sin_e2, cos_e2,
        sin_a, cos_a, sin_s, cos_s, sin_c, cos_c, droop, some,
    )  # fmt: skip


def _bend(sin_e1: Array, droop: Array, left: Array | None) -> Array:
    """By how much E" changes with E': what droop and the refraction left over add to 1."""
    by_droop: Array = 1 + droop * sin_e1
    if left is None:
        return by_droop
    steep = 1 / np.maximum(sin_e1, _SIN_LOWEST) ** 2
    return by_droop + left * np.where(sin_e1 < _SIN_LOWEST, sin_e1 / _SIN_LOWEST, steep)


def direction_jacobian(readings: Array, terms: Array) -> tuple[Array, Array]:
    """Directions (..., 3) and their derivatives by each term (..., 3, 12). Analytic."""
    c = _chain(readings, terms)
    # On the azimuth platform (right, forward, up): the direction, then its change with altitude,
    # squareness and cone.
    shape = np.shape(c.cos_a + c.z1)
    platform = np.empty((*shape, 3, 4))
    platform[..., 0, 0], platform[..., 1, 0], platform[..., 2, 0] = c.x1, c.y1, c.z1
    up = c.cos_c * c.cos_e2
    platform[..., 0, 1] = c.sin_s * up
    platform[..., 1, 1] = -c.cos_c * c.sin_e2
    platform[..., 2, 1] = c.cos_s * up
    platform[..., 0, 2], platform[..., 1, 2], platform[..., 2, 2] = c.z1, 0.0, -c.x1
    down = -c.sin_c * c.sin_e2
    platform[..., 0, 3] = c.cos_s * c.cos_c + c.sin_s * down
    platform[..., 1, 3] = -c.sin_c * c.cos_e2
    platform[..., 2, 3] = c.cos_s * down - c.sin_s * c.cos_c
    # Through the azimuth; the last column is the direction's change with it.
    cos_a, sin_a = c.cos_a[..., None], c.sin_a[..., None]
    right, forward = platform[..., 0, :], platform[..., 1, :]
    before = np.empty((*shape, 3, 5))
    before[..., 0, :4] = cos_a * right + sin_a * forward
    before[..., 1, :4] = cos_a * forward - sin_a * right
    before[..., 2, :4] = platform[..., 2, :]
    before[..., 0, 4] = before[..., 1, 0]
    before[..., 1, 4] = -before[..., 0, 0]
    before[..., 2, 4] = 0.0
    a, b, b3 = _lean_coefficients(c.wx * c.wx + c.wy * c.wy)
    after = _lean_matrix(c.wx, c.wy, a, b) @ before
    d, by_az = after[..., 0], after[..., 4]
    by_e1 = after[..., 1] * _bend(c.sin_e1, c.droop, c.refraction)[..., None]

    A, E = readings[..., 0, None], readings[..., 1, None]
    out = np.empty((*d.shape, N_TERMS))
    out[..., 0] = by_az
    out[..., 1] = by_e1
    _by_lean(d, c.wx, c.wy, b, b3, out)
    out[..., 4] = after[..., 2]
    out[..., 5] = after[..., 3]
    out[..., 6] = after[..., 1] * -c.cos_e1[..., None]
    out[..., 7] = by_az * A
    out[..., 8] = by_e1 * E
    out[..., 9] = by_az * c.sin_read[..., None]
    out[..., 10] = by_az * c.cos_read[..., None]
    cot_e1 = c.cos_e1 / np.maximum(c.sin_e1, _SIN_LOWEST)
    out[..., 11] = after[..., 1] * -cot_e1[..., None]
    return d, out


def _by_lean(
    d: Array, wx: Array, wy: Array, b: Array | float, c: Array | float, out: Array
) -> None:
    """Fill columns 2 and 3: a leaned direction's change with north and west lean.

    d(R u) = (J dw) x (R u), with J = 1 + b [w]x + c [w]x^2 the left Jacobian of SO(3)
    (Sola, Deray, Atchuthan 2018, eq. 145) and dw = (-1, 0, 0) or (0, -1, 0); so it is
    (R u) x J (1, 0, 0) and (R u) x J (0, 1, 0).
    """
    turn = np.empty((*np.shape(wx), 3, 2))
    turn[..., 0, 0], turn[..., 0, 1] = 1 - c * wy * wy, c * wx * wy
    turn[..., 1, 0], turn[..., 1, 1] = c * wx * wy, 1 - c * wx * wx
    turn[..., 2, 0], turn[..., 2, 1] = -b * wy, b * wx
    cross = np.zeros((*d.shape, 3))
    cross[..., 1, 2], cross[..., 2, 0], cross[..., 0, 1] = -d[..., 0], -d[..., 1], -d[..., 2]
    cross[..., 2, 1], cross[..., 0, 2], cross[..., 1, 0] = d[..., 0], d[..., 1], d[..., 2]
    out[..., 2:4] = cross @ turn


def _rounds(size: float, most: int) -> int:
    """How many rounds of Newton leave less than 1e-13 of x + f(x) = y, where neither f nor its
    derivatives exceed ``size``: it begins off by that, and an error e becomes size e^2 / (2 - 2
    size) at most. Four suffice up to 0.4."""
    rounds, error = 0, size
    while error > 1e-13 and rounds < most:
        rounds, error = rounds + 1, 0.5 * size * error * error / max(1.0 - size, 0.1)
    return rounds


def reading_of(directions: Array, terms: Array, near_az: float | Array = np.pi) -> Array:
    """The reading (..., 2) at which the tube points along ``directions`` (..., 3).

    The azimuth reading returned is the one within half a turn of ``near_az`` (radians), so that
    the caller chooses the side of the wrap; the default gives 0 to 2 pi. The altitude reading is
    the one on the near side of the zenith. Inside the small cap overhead that cone and squareness
    keep the tube out of, the reading that comes closest is returned.
    """
    a0, e0, north, west, s, c, droop, ka, ke, run_sin, run_cos, left = (
        terms[..., i] for i in range(N_TERMS)
    )
    lean_a, lean_b, _ = _lean_coefficients(north * north + west * west)
    lean = _lean_matrix(-north, -west, lean_a, lean_b)
    m = (directions[..., None, :] @ lean)[..., 0, :]  # by the transpose
    sin_c, cos_c, sin_s, cos_s = np.sin(c), np.cos(c), np.sin(s), np.cos(s)
    sin_e2 = np.clip((m[..., 2] + sin_s * sin_c) / (cos_s * cos_c), -1.0, 1.0)
    E2 = np.arcsin(sin_e2)
    x1 = cos_s * sin_c + sin_s * cos_c * sin_e2
    A1 = np.arctan2(m[..., 0], m[..., 1]) - np.arctan2(x1, cos_c * np.cos(E2))
    E1 = E2
    # Newton on E1 - droop cos E1 - left cot E1 = E2; both are small, so four rounds are ample.
    some = left if left.any() else None
    for _ in range(_rounds(float(np.abs(droop).max(initial=0.0)), 4) if some is None else 4):
        sin_e1, cos_e1 = np.sin(E1), np.cos(E1)
        bent = droop * cos_e1
        if some is not None:
            bent = bent + some * cos_e1 / np.maximum(sin_e1, _SIN_LOWEST)
        E1 = E1 - (E1 - bent - E2) / _bend(sin_e1, droop, some)
    E = (E1 - e0) / (1 + ke)

    # Bring A' into the turn that makes the reading fall within half a turn of near_az.
    centre = near_az * (1 + ka) + a0
    A1 = centre + half_turn(A1 - centre)
    A = (A1 - a0) / (1 + ka)
    runout = float(np.abs(run_sin).max(initial=0.0) + np.abs(run_cos).max(initial=0.0))
    if runout:
        for _ in range(_rounds(runout, 6)):
            f = A * (1 + ka) + a0 + run_sin * np.sin(A) + run_cos * np.cos(A) - A1
            A = A - f / (1 + ka + run_sin * np.cos(A) - run_cos * np.sin(A))
    out = np.empty((*np.broadcast_shapes(np.shape(A), np.shape(E)), 2))
    out[..., 0], out[..., 1] = A, E
    return out
