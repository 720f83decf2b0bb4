"""The push: how far left or right, up or down, from here; and the sweep when it is not there."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from plumbstar.errors import UserError
from plumbstar.fix import Fix
from plumbstar.mount import Array
from plumbstar.skyline import Skyline
from plumbstar.sunlight import SUN_KEEP_OUT_DEG, apart_deg, check_sun

#: A place in the sky against time: seconds from now -> true azimuth and altitude, degrees.
Path = Callable[[float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Push:
    """One instruction. Positive ``push_az_deg`` is to the right (clockwise seen from above)."""

    target: str
    to_az_deg: float
    to_alt_deg: float
    push_az_deg: float
    push_alt_deg: float
    target_az_deg: float
    target_alt_deg: float
    hit_chance: float
    field_deg: float
    patch_major_deg: float
    patch_minor_deg: float
    patch_angle_deg: float
    seconds: float
    warnings: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """What to do, in one line."""
        side = "right" if self.push_az_deg >= 0 else "left"
        way = "up" if self.push_alt_deg >= 0 else "down"
        return (
            f"{self.target}: push {abs(self.push_az_deg):.1f}° {side} "
            f"and {abs(self.push_alt_deg):.1f}° {way}."
        )

    def to_dict(self) -> dict[str, Any]:
        """By name, degrees."""
        out = {n: getattr(self, n) for n in self.__slots__}
        return {**out, "warnings": list(self.warnings), "sentence": self.sentence}


def push(
    fix: Fix,
    target: str,
    path: Path,
    reading_az_deg: float,
    reading_alt_deg: float,
    field_deg: float,
    *,
    sun: Path,
    filter_confirmed: bool = False,
    seconds: float = 20.0,
    skyline: Skyline | None = None,
    min_alt_deg: float = 0.0,
    max_alt_deg: float = 90.0,
) -> Push:
    """From a reading to a target's reading at the moment the push will end, the shorter way round.

    ``path`` and ``sun`` give true places (degrees) at a number of seconds from now. Raises
    :class:`SunRefusal` near the Sun or by day, and UserError for a target below the horizon.
    """
    # A long push at sunset or sunrise: the Sun may be up at one end of it only.
    for moment in (0.0, seconds):
        check_sun(*path(moment), *sun(moment), filter_confirmed)
    az, alt = path(seconds)
    if alt < -1.0:
        raise UserError(
            f"{target}, which is {-alt:.0f} degrees below the horizon",
            "a target that is up",
            # "Come back when it has risen" is no advice for the Sun, or for what stands near it.
            "Choose another"
            if apart_deg(az, alt, *sun(seconds)) < SUN_KEEP_OUT_DEG
            else "Choose another, or come back when it has risen",
        )
    to_az, to_alt = fix.reading_for(az, alt, near_az_deg=reading_az_deg)
    cov = fix.pointing_covariance(np.radians(az), np.radians(alt), reading_az_deg)
    chance = float(fix.hit_chance(az, alt, field_deg, reading_az_deg))
    values, vectors = np.linalg.eigh(cov)
    major = vectors[:, 1]
    warnings = []
    if alt > 80.0:
        warnings.append(
            f"Close to overhead ({alt:.0f}° up): the azimuth runs fast and the tube is hard to "
            "turn. Come at it from below, or wait."
        )
    if skyline is not None and alt < float(skyline.altitude_deg(az)):
        warnings.append(
            f"Behind your skyline: it is {alt:.0f}° up and the skyline there is "
            f"{float(skyline.altitude_deg(az)):.0f}°."
        )
    elif alt < 10.0:
        warnings.append(f"Low, {alt:.0f}° up: dimmed and shaken by the air.")
    if not min_alt_deg <= alt <= max_alt_deg:
        warnings.append(
            f"Your kit says the tube moves from {min_alt_deg:.0f}° to {max_alt_deg:.0f}° up."
        )
    return Push(
        target=target,
        to_az_deg=float(to_az),
        to_alt_deg=float(to_alt),
        push_az_deg=float(to_az - reading_az_deg),
        push_alt_deg=float(to_alt - reading_alt_deg),
        target_az_deg=az,
        target_alt_deg=alt,
        hit_chance=chance,
        field_deg=field_deg,
        patch_major_deg=math.degrees(math.sqrt(values[1])),
        patch_minor_deg=math.degrees(math.sqrt(max(values[0], 0.0))),
        patch_angle_deg=math.degrees(math.atan2(major[1], major[0])) % 180.0,
        seconds=seconds,
        warnings=tuple(warnings),
    )


@dataclass(frozen=True, slots=True)
class Sweep:
    """A search path: offsets (n, 2) degrees (right on the sky, up) of successive field centres.

    ``found_by`` (n,) is the chance of having seen the target by each stop. Offsets are from the
    reading the push ended at; the first stop is that reading itself.
    """

    offsets_deg: Array
    found_by: Array


def _cloud(rings: int, spokes: int) -> Array:
    """Points (rings x spokes, 2) of equal weight that stand for a unit normal law.

    Quantile rings at equal angles.
    """
    radii = np.sqrt(-2 * np.log1p(-(np.arange(rings) + 0.5) / rings))
    phi = 2 * np.pi * (np.arange(spokes) + 0.5) / spokes
    return np.stack([np.outer(radii, f(phi)).ravel() for f in (np.cos, np.sin)], axis=-1)


#: Field centres weighed for a search: more would keep the observer waiting.
MOST_CENTRES = 6000


def sweep(covariance: Array, field_deg: float, until: float = 0.95, most: int = 60) -> Sweep:
    """Where to look next when the target is not in the field: the likeliest unseen ground first.

    ``covariance`` (2, 2), radians^2: of the target about the field's centre. Stops lie on a
    hexagonal net whose circles leave no gap (spacing sqrt(3)/2 of the field) and which is turned to
    the ellipse. Every next stop is the one that newly shows most probability for the distance
    moved and the time it takes to look (the greedy rule of search theory: Stone 1975, Theory of
    Optimal Search, ch. 2).
    """
    cov = np.asarray(covariance)
    values, vectors = np.linalg.eigh(cov)
    s_minor, s_major = np.degrees(np.sqrt(np.maximum(values, 1e-16)))
    r = field_deg / 2
    cloud = _cloud(24, 48) * np.array([s_major, s_minor])
    step = field_deg * math.sqrt(3) / 2
    # A fix that knows hardly anything would ask for a net of millions of fields. The path is of
    # ``most`` stops, so it stays within that many of the start, and near the ellipse's long axis.
    n_u = min(math.ceil(3.0 * s_major / step) + 1, most)
    n_v = min(math.ceil(3.0 * s_minor / step) + 1, max(1, MOST_CENTRES // (4 * n_u + 2)))
    net = [
        (step * (i + 0.5 * (j % 2)), step * j * math.sqrt(3) / 2)
        for j in range(-n_v, n_v + 1)
        for i in range(-n_u, n_u + 1)
    ]
    centres = np.array(net)
    seen_from = np.hypot(*(centres[:, None, :] - cloud[None]).transpose(2, 0, 1)) <= r
    unseen = np.ones(len(cloud), dtype=bool)
    here = int(np.argmin(np.hypot(centres[:, 0], centres[:, 1])))
    path, found = [here], []
    unseen &= ~seen_from[here]
    found.append(1 - unseen.mean())
    while found[-1] < until and len(path) < most:
        gain = (seen_from & unseen).sum(axis=1) / len(cloud)
        distance = np.hypot(*(centres - centres[path[-1]]).T)
        # Looking takes time as well as moving: one field's width of it.
        score = gain / (distance + field_deg)
        best = int(np.argmax(score))
        if gain[best] <= 0:
            break
        path.append(best)
        unseen &= ~seen_from[best]
        found.append(1 - unseen.mean())
    turned = centres[path] @ np.stack([vectors[:, 1], vectors[:, 0]])
    return Sweep(turned, np.array(found))


#: The chance that an object in the field is seen there. A faint one can be missed: common
#: practice, no source.
SEEN_IF_THERE = 0.9


def not_in_field(
    fix: Fix, az_deg: float, alt_deg: float, field_deg: float, seen: float = SEEN_IF_THERE
) -> Fix:
    """What "not in the field" teaches: the fix with the ground just seen (nearly) taken out.

    The target's offset was normal with covariance S in its tangent plane. The ground in the field
    keeps 1 - ``seen`` of its probability, for an object that was there and was missed; so the
    covariance grows to S'. The whole fix follows by the linear update
    C' = C + K (S' - S) K^T with K = C J^T S^-1, which keeps everything the offset does not
    touch (the moment-matched Kalman update run backwards; derived in docs/method.md). The mean
    stays: the field was centred, so nothing says which way to go.
    """
    az, alt = np.radians(az_deg), np.radians(alt_deg)
    S = fix.pointing_covariance(az, alt)
    values, vectors = np.linalg.eigh(S)
    u = _cloud(200, 96) * np.sqrt(np.maximum(values, 1e-16))
    inside = np.hypot(u[:, 0], u[:, 1]) <= math.radians(field_deg) / 2
    weight = np.where(inside, 1.0 - seen, 1.0)
    if weight.sum() < 1e-3 * len(u):  # nothing of the belief is left: keep its far edge
        weight = (np.argsort(np.argsort(np.hypot(u[:, 0], u[:, 1]))) >= len(u) - 20) * 1.0
    second = vectors @ ((u.T * weight) @ u / weight.sum()) @ vectors.T
    J = fix.jacobian_at(np.asarray(az), np.asarray(alt))
    K = fix.covariance @ J.T @ np.linalg.inv(S)
    cov = fix.covariance + K @ (second - S) @ K.T
    return replace(fix, covariance=(cov + cov.T) / 2)
