"""A telescope walked from star to star by a hand, in geometry of its own.

Nothing of ``plumbstar.mount`` is used here: rotations are 3 x 3 matrices made of axis and angle,
multiplied in the order in which the parts of the mount sit on each other, and a reading is found by
turning the circles until the tube points there (Newton's steps by differences). Where the program
and this disagree, one of the two is wrong. For many mounts at once, radians throughout.

    python design/walked.py      compares it with the program's kinematics
"""

from __future__ import annotations

import math

import numpy as np

Array = np.ndarray

#: The order of ``plumbstar.mount.terms.TERMS``, written again.
A0, E0, NORTH, WEST, SQUARE, CONE, DROOP, KA, KE, RUN_SIN, RUN_COS, AIR = range(12)
N_TERMS = 12


def _turn(axis: int, angle: Array) -> Array:
    """Rotation (..., 3, 3) by the right-hand rule about x, y or z."""
    c, s = np.cos(angle), np.sin(angle)
    out = np.zeros((*np.shape(angle), 3, 3))
    i, j = (axis + 1) % 3, (axis + 2) % 3
    out[..., axis, axis] = 1.0
    out[..., i, i] = out[..., j, j] = c
    out[..., i, j], out[..., j, i] = -s, s
    return out


def _tipped(north: Array, west: Array) -> Array:
    """The base with the top of its axis toward north and west: turned by hypot(north, west) about
    the level line square to that direction."""
    by, toward = np.hypot(north, west), np.arctan2(west, north)
    # Bring the way of the lean to y, turn about x, and back.
    out: Array = _turn(2, toward) @ _turn(0, -by) @ _turn(2, -toward)
    return out


def points(az: Array, alt: Array, mount: Array) -> Array:
    """Where the tube points (..., 3), x east, y north, z up, at readings (...) of mounts
    (..., 12)."""
    m = np.moveaxis(mount, -1, 0)
    raised = alt + alt * m[KE] + m[E0]
    cot = np.cos(raised) / np.maximum(np.sin(raised), math.sin(math.radians(5)))
    raised = raised - m[DROOP] * np.cos(raised) - m[AIR] * cot
    swung = az + az * m[KA] + m[A0] + m[RUN_SIN] * np.sin(az) + m[RUN_COS] * np.cos(az)
    tube = np.stack([np.sin(m[CONE]), np.cos(m[CONE]), np.zeros_like(m[CONE])], axis=-1)
    whole = _tipped(m[NORTH], m[WEST]) @ _turn(2, -swung) @ _turn(1, m[SQUARE]) @ _turn(0, raised)
    out: Array = (whole @ tube[..., None])[..., 0]
    return out


def drawn(mean: Array, sigma: Array, count: int, rng: np.random.Generator) -> Array:
    """Mounts (count, 12) drawn from means and sigmas (12,), the azimuth zero anywhere.

    The last term stays at its mean where it has no sigma, and then nothing is drawn for it.
    """
    free = slice(None) if sigma[AIR] > 0 else slice(AIR)
    out = np.tile(mean, (count, 1))
    out[:, free] += sigma[free] * rng.standard_normal((count, len(mean[free])))
    out[:, A0] = rng.uniform(-np.pi, np.pi, count)
    return out


def place(az: Array, alt: Array) -> Array:
    """The direction (..., 3) of a place in the sky."""
    return np.stack([np.cos(alt) * np.sin(az), np.cos(alt) * np.cos(az), np.sin(alt)], axis=-1)


def circles_at(goal: Array, mount: Array, before: Array) -> tuple[Array, Array]:
    """The readings at which the tube points to ``goal`` (..., 3), when the azimuth is turned the
    shorter way from the reading ``before`` (...)."""
    m = np.moveaxis(mount, -1, 0)
    alt = np.arcsin(np.clip(goal[..., 2], -1, 1)) - m[E0]
    az = np.arctan2(goal[..., 0], goal[..., 1]) - m[A0]
    for k in range(12):
        if k in (0, 6):  # the shorter way, once with the first guess and once when it is right
            az = before + np.remainder(az - before + math.pi, 2 * math.pi) - math.pi
        here, tiny = points(az, alt, mount), 1e-6
        by_az = (points(az + tiny, alt, mount) - here) / tiny
        by_alt = (points(az, alt + tiny, mount) - here) / tiny
        # Least squares in the plane of the two ways to turn.
        gap = goal - here
        aa, ee, ae = (np.sum(x * y, -1) for x, y in
                      ((by_az, by_az), (by_alt, by_alt), (by_az, by_alt)))  # fmt: skip
        ga, ge = np.sum(by_az * gap, -1), np.sum(by_alt * gap, -1)
        det = np.maximum(aa * ee - ae * ae, 1e-12)
        az = az + np.clip((ee * ga - ae * ge) / det, -0.5, 0.5)
        alt = alt + np.clip((aa * ge - ae * ga) / det, -0.5, 0.5)
    return az, alt


def nudged(direction: Array, off: Array) -> Array:
    """A direction (..., 3) moved by ``off`` (..., 2), radians: to the right, and up."""
    right = np.cross(direction, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right, axis=-1, keepdims=True)
    up = np.cross(right, direction)
    moved = direction + off[..., :1] * right + off[..., 1:] * up
    out: Array = moved / np.linalg.norm(moved, axis=-1, keepdims=True)
    return out


def apart(a: Array, b: Array) -> Array:
    """The angle between directions (..., 3)."""
    out: Array = 2 * np.arcsin(np.clip(np.linalg.norm(a - b, axis=-1) / 2, 0, 1))
    return out


def walk(stars: Array, mounts: Array, off: Array, start: Array) -> tuple[Array, Array]:
    """Readings of azimuth and altitude, (m, k) each: mounts (m, 12) pushed from star to star.

    ``stars`` (k, 2) or (m, k, 2) are azimuths and altitudes, ``off`` (m, k, 2) how far from each
    the hand left the tube, ``start`` (m,) the azimuth reading before the first.
    """
    goal = nudged(place(stars[..., 0], stars[..., 1]) + np.zeros((*off.shape[:2], 3)), off)
    az, alt = np.empty(off.shape[:2]), np.empty(off.shape[:2])
    before = start
    for i in range(off.shape[1]):
        az[:, i], alt[:, i] = circles_at(goal[:, i], mounts, before)
        before = az[:, i]
    return az, alt


def main() -> None:
    """How far it is from the program's kinematics: they were written apart."""
    from plumbstar.mount import kinematics

    rng = np.random.default_rng(1)
    mounts = rng.normal(0, 0.03, (2000, N_TERMS))
    mounts[:, AIR] /= 30  # a larger one bends a low altitude back on itself
    az, alt = rng.uniform(-9, 9, 2000), rng.uniform(-0.1, 1.5, 2000)
    readings = np.stack([az, alt], axis=-1)
    gap = apart(points(az, alt, mounts), kinematics.direction(readings, mounts))
    print(f"pointing: at most {np.max(gap):.1e} rad apart")
    goal = place(rng.uniform(0, 6.28, 2000), rng.uniform(0.2, 1.35, 2000))
    ours = np.stack(circles_at(goal, mounts, az), axis=-1)
    theirs = kinematics.reading_of(goal, mounts, az)
    sure = np.abs(ours[:, 0] - az) < 2.6  # about half a turn off either way is the shorter
    print(f"readings: at most {np.max(np.abs(ours - theirs)[sure]):.1e} rad apart")


if __name__ == "__main__":
    main()
