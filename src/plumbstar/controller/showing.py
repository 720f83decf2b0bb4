"""What a controller shows, from the mount's terms: its number, and what is left to push.

It believes its two readings, the stop and a perfect mount. Of the two stars in the sky (u1, u2) and
on the circles (v1, v2) it makes one rotation R: the pole of one pair goes onto that of the other,
and along the line between the stars the contradiction is shared. The share says how: 0 makes the
first star exact, 0.5 halves it, 1 makes the second exact. It then says zero where the circles read
R u (derived here; docs/controller.md).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.terms import N_TERMS
from plumbstar.sky.angles import between_rad
from plumbstar.turns import half_turn
from plumbstar.units import Array

#: The ways to share the contradiction, by name: the share, and how well it is known beforehand.
#: "between" is any other: a weighing of the two stars that nobody has written down.
WAYS: dict[str, tuple[float, float]] = {
    "first": (0.0, 0.0),
    "shared": (0.5, 0.0),
    "second": (1.0, 0.0),
    "between": (0.5, 0.2),
}
#: Parameters: the terms of the mount, how far off each star was centred (across, up), the share.
SHARE = N_TERMS + 4
N_SHOWN = N_TERMS + 5


@dataclass(frozen=True)
class ObjectPlaces:
    """Of objects (n, 2), azimuth and altitude in radians: as ``seen``, with the air; and as
    ``believed`` by the controller, which knows of no air."""

    seen: Array
    believed: Array


@dataclass(frozen=True)
class Taught:
    """The two stars: each ``seen`` at its own moment, and where the controller believes them with
    a clock (each at its own moment) or without (both at the second's)."""

    seen: Array
    with_clock: Array
    without_clock: Array

    def believed(self, clock: bool) -> Array:
        return self.with_clock if clock else self.without_clock


def _axes(first: Array, second: Array, share: Array) -> Array:
    """Rows (..., 3, 3): the direction that comes out exact, the pole, and what is left."""
    pole = np.cross(first, second)
    pole = pole / np.linalg.norm(pole, axis=-1, keepdims=True)
    apart = between_rad(first, second)
    across = np.cross(pole, first)
    angle = (share * apart)[..., None]
    along = first * np.cos(angle) + across * np.sin(angle)
    return np.stack([along, pole, np.cross(pole, along)], axis=-2)


def shown(
    x: Array, taught: Taught, objects: ObjectPlaces, clock: bool, looked_back: bool = False
) -> tuple[Array, Array]:
    """For parameters x (k, 17): the number (k,), measured less true, and how far each object lies
    beyond the controller's zero (k, n, 2), to the right and up on the circles. Radians.

    ``looked_back``: at the first object the tube still stood as the second star was told, so what
    is left there has that star's own centring in it, and no other.
    """
    terms, off = x[:, None, :N_TERMS], x[:, N_TERMS:SHARE].reshape(-1, 2, 2)
    d = kinematics.unit(taught.seen[:, 0], taught.seen[:, 1])
    basis = kinematics.tangent_basis(taught.seen[:, 0], taught.seen[:, 1])
    pointed = d + np.einsum("kij,ijl->kil", off, basis)
    pointed /= np.linalg.norm(pointed, axis=-1, keepdims=True)
    read = kinematics.reading_of(pointed, np.broadcast_to(terms, (len(x), 2, N_TERMS)))
    on = kinematics.unit(read[..., 0], read[..., 1])
    told = taught.believed(clock)
    sky = kinematics.unit(told[:, 0], told[:, 1])
    number = between_rad(on[:, 0], on[:, 1]) - between_rad(sky[0], sky[1])
    share = x[:, SHARE]
    both = np.broadcast_to(sky[:, None], (2, len(x), 3))
    turn = np.swapaxes(_axes(on[:, 0], on[:, 1], share), -1, -2) @ _axes(both[0], both[1], share)
    believed = kinematics.unit(objects.believed[:, 0], objects.believed[:, 1])
    zero = kinematics.az_alt(np.einsum("kij,nj->kni", turn, believed))
    true = kinematics.unit(objects.seen[:, 0], objects.seen[:, 1])
    wanted = kinematics.reading_of(
        np.broadcast_to(true, (len(x), *true.shape)),
        np.broadcast_to(terms, (len(x), len(true), N_TERMS)),
        zero[..., 0],
    )
    push = wanted - zero
    if looked_back:
        push[:, 0] = read[:, 1] - zero[:, 0]
        push[:, 0, 0] = half_turn(push[:, 0, 0])
    return number, push


def derivatives(
    x: Array,
    taught: Taught,
    objects: ObjectPlaces,
    clock: bool,
    looked_back: bool = False,
    step: float = 1e-5,
) -> tuple[float, Array, Array, Array]:
    """At parameters x (17,): number, pushes (n, 2), and their derivatives (17,) and (n, 2, 17)."""
    number, push, slope, slopes = derivatives_of_many(
        x[None], taught, objects, clock, looked_back, step
    )
    return float(number[0]), push[0], slope[0], slopes[0]


def derivatives_of_many(
    xs: Array,
    taught: Taught,
    objects: ObjectPlaces,
    clock: bool,
    looked_back: bool = False,
    step: float = 1e-5,
) -> tuple[Array, Array, Array, Array]:
    """At parameters xs (k, 17): numbers (k,), pushes (k, n, 2), and their derivatives (k, 17) and
    (k, n, 2, 17)."""
    eye = np.eye(N_SHOWN) * step
    moved = np.concatenate([np.zeros((1, N_SHOWN)), eye, -eye])
    many = (xs[:, None, :] + moved).reshape(-1, N_SHOWN)
    number, push = shown(many, taught, objects, clock, looked_back)
    number = number.reshape(len(xs), -1)
    push = push.reshape(len(xs), len(moved), -1, 2)
    n = N_SHOWN
    slope = (number[:, 1 : n + 1] - number[:, n + 1 :]) / (2 * step)
    slopes = np.moveaxis((push[:, 1 : n + 1] - push[:, n + 1 :]) / (2 * step), 1, -1)
    return number[:, 0], push[:, 0], slope, slopes
