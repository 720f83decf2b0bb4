"""The sweep: where to look when the target is not in the field, most likely ground first."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.solve.fix import Fix
from plumbstar.solve.weighing import SURE, covariance_about, share_of
from plumbstar.units import Array, Bools


@dataclass(frozen=True, slots=True)
class Sweep:
    """A search path: offsets (n, 2) degrees (right on the sky, up) of successive field centres.

    ``found_by`` (n,) is the chance of having seen the target by each stop. Offsets are from the
    reading the push ended at; the first stop is that reading itself.
    """

    offsets_deg: Array
    found_by: Array


@functools.lru_cache(maxsize=4)
def _cloud(rings: int, spokes: int) -> Array:
    """Points (rings x spokes, 2) of equal weight that stand for a unit normal law.

    Quantile rings at equal angles. Made once, and not to be written to.
    """
    radii = np.sqrt(-2 * np.log1p(-(np.arange(rings) + 0.5) / rings))
    phi = 2 * np.pi * (np.arange(spokes) + 0.5) / spokes
    points = np.stack([np.outer(radii, f(phi)).ravel() for f in (np.cos, np.sin)], axis=-1)
    points.flags.writeable = False
    return points


#: Field centres weighed for a search: more would keep the observer waiting.
MOST_CENTRES = 6000


#: Of offsets (n, 2), degrees: which may be looked at.
Allowed = Callable[[Array], Bools]


def sweep(
    covariance: Array,
    field_deg: float,
    until: float = 0.95,
    most: int = 60,
    allowed: Allowed | None = None,
    cloud_deg: Array | None = None,
) -> Sweep:
    """Where to look next when the target is not in the field: the likeliest unseen ground first.

    ``covariance`` (2, 2), radians^2: of the target about the field's centre; ``cloud_deg`` (n, 2)
    points of equal weight where it may lie, where a normal law does not say it all. Stops lie on a
    hexagonal net whose circles leave no gap (spacing sqrt(3)/2 of the field) and which is turned to
    the ellipse. Every next stop is the one that newly shows most probability for the distance
    moved and the time it takes to look (the greedy rule of search theory: Stone 1975, Theory of
    Optimal Search, ch. 2). ``allowed`` tells which centres may be looked at (the Sun); the first is
    where the tube is already.
    """
    cov = np.asarray(covariance)
    values, vectors = np.linalg.eigh(cov)
    s_minor, s_major = np.degrees(np.sqrt(np.maximum(values, 1e-16)))
    r = field_deg / 2
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
    turn = np.stack([vectors[:, 1], vectors[:, 0]])
    if cloud_deg is None:
        cloud = _cloud(24, 48) * np.array([s_major, s_minor])
    else:
        cloud = cloud_deg @ turn.T
    may = np.ones(len(centres), dtype=bool) if allowed is None else allowed(centres @ turn)
    seen_from = np.hypot(*(centres[:, None, :] - cloud[None]).transpose(2, 0, 1)) <= r
    unseen = np.ones(len(cloud), dtype=bool)
    here = int(np.argmin(np.hypot(centres[:, 0], centres[:, 1])))
    path, found = [here], []
    unseen &= ~seen_from[here]
    found.append(1 - unseen.mean())
    while found[-1] < until and len(path) < most:
        gain = np.where(may, (seen_from & unseen).sum(axis=1) / len(cloud), 0.0)
        distance = np.hypot(*(centres - centres[path[-1]]).T)
        # Looking takes time as well as moving: one field's width of it.
        score = gain / (distance + field_deg)
        best = int(np.argmax(score))
        if gain[best] <= 0:
            break
        path.append(best)
        unseen &= ~seen_from[best]
        found.append(1 - unseen.mean())
    return Sweep(centres[path] @ turn, np.array(found))


#: The chance that an object in the field is seen there. A faint one can be missed: common
#: practice, no source.
SEEN_IF_THERE = 0.9


def not_in_field(
    fix: Fix, az_deg: float, alt_deg: float, field_deg: float, seen: float = SEEN_IF_THERE
) -> Fix:
    """What "not in the field" teaches: the fix with the ground just seen (nearly) taken out.

    In each story the target's offset was normal with mean m and covariance S in its tangent plane.
    The ground in the field keeps 1 - ``seen`` of its probability, for an object that was there and
    was missed; so mean and covariance become m' and S'. The whole mount follows by the linear
    update x' = x + K (m' - m), C' = C + K (S' - S) K^T with K = C J^T S^-1, which keeps everything
    the offset does not touch (the moment-matched Kalman update run backwards; derived in
    docs/method.md), and the story's share goes with what is left of its probability (Bayes). The
    fix still aims where it did.
    """
    az, alt = np.asarray(np.radians(az_deg)), np.asarray(np.radians(alt_deg))
    radius = math.radians(field_deg) / 2
    J = fix.jacobian_at(az, alt)
    if not fix.stories:
        S = fix.pointing_covariance(az, alt)
        cov = seen_past(np.zeros((1, 2)), S, J, fix.covariance, radius, seen)[1]
        return replace(fix, covariance=cov)
    stories, left = [], 0.0
    for told, offset, S in zip(fix.stories, *fix.landings(az, alt), strict=True):
        step, cov, share = seen_past(offset[None], S, J, told.covariance, radius, seen)
        stories.append(
            replace(told, mean=told.mean + step, covariance=cov, share=told.share * share)
        )
        left += stories[-1].share
    # Those that led still lead: the search goes on round the place where it began.
    stories = [replace(w, share=w.share / left) for w in stories]
    what = fix.stories[0].story.what
    lead = [w for w in stories if w.story.what == what]
    about = lead if share_of(lead) > SURE else stories
    return replace(fix, covariance=covariance_about(fix.mean, about), stories=tuple(stories))


def seen_past(
    offsets: Array,
    S: Array,
    J: Array,
    C: Array,
    radius: float,
    seen: float,
    cloud: tuple[int, int] = (200, 96),
) -> tuple[Array, Array, float]:
    """How the mean (m,) of terms moves, their covariance (m, m) then, and the share of the
    probability that is left, when the target is (nearly) not within ``radius`` of any of the
    middles looked at.

    ``offsets`` (n, 2) of the landing from each of these middles; ``S`` (2, 2): its covariance;
    ``J`` (2, m): how it moves with the terms. ``cloud``: rings and spokes of the points that stand
    for it.
    """
    values, vectors = np.linalg.eigh(S)
    u = _cloud(*cloud) @ (np.sqrt(np.maximum(values, 1e-16)) * vectors).T
    x, y = np.moveaxis(u[:, None, :] + offsets, -1, 0)
    inside = (x * x + y * y <= radius * radius).any(axis=1)
    weight = np.where(inside, 1.0 - seen, 1.0)
    share = float(weight.mean())
    if weight.sum() < 1e-3 * len(u):  # nothing of the belief is left: keep its far edge
        weight = (np.argsort(np.argsort(np.hypot(*(u + offsets[0]).T))) >= len(u) - 20) * 1.0
    mean = u.T @ weight / weight.sum()
    second = (u.T * weight) @ u / weight.sum() - np.outer(mean, mean)
    K = C @ J.T @ np.linalg.inv(S)
    cov = C + K @ (second - S) @ K.T
    return K @ mean, (cov + cov.T) / 2, share
