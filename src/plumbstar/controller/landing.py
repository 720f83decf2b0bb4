"""Where objects lie beyond a controller's zero, by many hypotheses together.

Each hypothesis is a normal law. Where something was looked for in vain that is no longer so: the
ground looked at is gone from each, and the likeliest place of the same object is beside it. Then
points drawn from each law stand for it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.controller.searched import Searched, moved_at
from plumbstar.controller.showing import N_SHOWN, ObjectPlaces, Taught, derivatives_of_many
from plumbstar.guide.sweep import SEEN_IF_THERE
from plumbstar.solve.chance import hit_chance
from plumbstar.units import Array

#: Points that stand for all hypotheses together where something was looked for in vain.
POINTS = 4000
#: From so many places the likeliest aim is sought; for a mean over the sky, where no single aim
#: counts, from few (after searches of 1 to 17 fields mostly within 0.002 of the mean from 120,
#: in eight draws of the points after two fields within 0.011; in a tenth of the time).
STARTS, FEW_STARTS = 120, 6
#: So many of them are handed on, for the way of a search.
HANDED_ON = 1000
#: Less of the belief than this is left beside the ground looked at: it tells no place.
LEFT = 0.15
#: A hypothesis so much less likely than the likeliest does not widen the patch.
_ASIDE = 0.05


@dataclass(frozen=True)
class Law:
    """One hypothesis: its weight, and the normal law (19,), (19, 19) of all parameters that it
    gives, the last two of a slip. ``before``: that law before anything was looked for in vain.
    ``slipped_at``: before which find something slipped, None where nothing did."""

    weight: float
    clock: bool
    mean: Array
    cov: Array
    before: tuple[Array, Array]
    slipped_at: int | None


@dataclass(frozen=True)
class Lies:
    """Where one object lies beyond the zero: the push (2,) on the circles, and its covariance on
    the sky (right, up), radians; the chances of a hit there and at the zero itself.

    ``cloud``: after a search in vain, points (n, 2) of equal weight about that push, on the sky,
    radians, that say more than the covariance.
    """

    push: Array
    cov: Array
    hit_chance: float
    hit_chance_at_zero: float
    cloud: Array | None = None


def landings(laws: Sequence[Law], taught: Taught, objects: ObjectPlaces) -> tuple[Array, Array]:
    """By each law where each object lies at its mean, (k, n, 2), and how that moves with all its
    parameters, (k, n, 2, 19); a slip, as one of now, in it. On the circles, radians."""
    n = len(objects.seen)
    push, slopes = np.zeros((len(laws), n, 2)), np.zeros((len(laws), n, 2, N_SHOWN))
    for clock in (True, False):
        rows = [k for k, law in enumerate(laws) if law.clock is clock]
        if rows:
            xs = np.array([laws[k].mean[:N_SHOWN] for k in rows])
            _, push[rows], _, slopes[rows] = derivatives_of_many(xs, taught, objects, clock)
    push += np.array([law.mean[N_SHOWN:] for law in laws])[:, None, :]
    eye = np.broadcast_to(np.eye(2), (len(laws), n, 2, 2))
    return push, np.concatenate([slopes, eye], axis=-1)


def on_sky(objects: ObjectPlaces) -> Array:
    """Factors (n, 2) from pushes on the circles to the sky."""
    return np.stack([np.cos(objects.seen[:, 1]), np.ones(len(objects.seen))], axis=-1)


def lies_of(
    laws: Sequence[Law],
    taught: Taught,
    objects: ObjectPlaces,
    field_deg: float,
    grain: float,
    searched: Sequence[Searched] = (),
    starts: int = STARTS,
) -> list[Lies]:
    """Each object: where to push on to, by all laws together. ``grain``: variance of a push told
    and made to the last figure, radians squared. ``starts``: after a search in vain, from how many
    places the likeliest aim is sought."""
    radius = math.radians(field_deg / 2.0)
    push, J = landings(laws, taught, objects)
    scale = on_sky(objects)
    w = np.array([law.weight for law in laws])
    covs = np.array([law.cov for law in laws])
    C = J @ covs[:, None] @ np.swapaxes(J, -1, -2) + grain * np.eye(2)
    m, C = push * scale, C * scale[:, :, None] * scale[:, None, :]
    # Candidates (n, 4, 2): the mean of all, and those of the three likeliest.
    aims = np.stack([np.tensordot(w, m, 1), *(m[k] for k in np.argsort(-w)[:3])], axis=1)
    aims = np.concatenate([aims, np.zeros((len(scale), 1, 2))], axis=1)
    hits = hit_chance(m[:, :, None] - aims[None], C[:, :, None], radius)
    total = np.tensordot(w, hits, 1)
    likely = w >= _ASIDE * w.max()
    share = w[likely] / w[likely].sum()
    out = []
    drawn = _drawn(laws, taught, grain, searched) if searched else None
    for i in range(len(scale)):
        best = int(np.argmax(total[i, :-1]))
        aim = aims[i, best]
        d = m[likely, i] - aim
        cov = np.einsum("k,kij->ij", share, C[likely, i] + d[:, :, None] * d[:, None, :])
        it = Lies(aim / scale[i], cov, float(total[i, best]), float(total[i, -1]))
        if drawn is not None:
            it = _beside_searched(it, drawn, push[:, i], J[:, i], scale[i], laws, radius, starts)
        out.append(it)
    return out


@dataclass(frozen=True)
class _Drawn:
    """Points: of which law (p,), off its mean (p, 19), a grain of each push (p, 2), and the weight
    of each (p,), adding up to 1."""

    of: Array
    off: Array
    grain: Array
    weight: Array


def _drawn(
    laws: Sequence[Law], taught: Taught, grain: float, searched: Sequence[Searched]
) -> _Drawn | None:
    """Points of all laws, the ground looked at nearly taken out; None where hardly any is left."""
    rng = np.random.default_rng(20270128)  # the same points each time, so that an aim stands still
    of, off, weights = [], [], []
    left = 0.0
    for k, law in enumerate(laws):
        n = round(POINTS * law.weight)
        if n < 8:
            continue
        mean, cov = law.before
        values, vectors = np.linalg.eigh(cov)
        z = rng.standard_normal((n, len(mean))) * np.sqrt(np.maximum(values, 0.0))
        d = z @ vectors.T
        unseen = np.ones(n)
        for s in searched:
            there, J = _searched_at(law, mean, taught, s)
            lands = there + d @ J.T + math.sqrt(grain) * rng.standard_normal((n, 2))
            beside = (lands[:, None, :] - s.looked) * on_sky(s.place)
            inside = (np.einsum("pfi,pfi->pf", beside, beside) < s.radius**2).any(axis=1)
            unseen *= np.where(inside, 1.0 - SEEN_IF_THERE, 1.0)
        left += law.weight * float(unseen.mean())
        of.append(np.full(n, k))
        off.append(d + mean - law.mean)
        weights.append(unseen / unseen.sum() * law.weight)
    if left < LEFT:
        return None
    w = np.concatenate(weights)
    jitter = math.sqrt(grain) * rng.standard_normal((len(w), 2))
    return _Drawn(np.concatenate(of), np.concatenate(off), jitter, w / w.sum())


def _searched_at(law: Law, mean: Array, taught: Taught, s: Searched) -> tuple[Array, Array]:
    """Where the object of a search lay by that mean, (2,), and how that moves, (2, 19)."""
    was = Law(law.weight, law.clock, mean, law.cov, law.before, law.slipped_at)
    push, J = landings([was], taught, s.place)
    if moved_at(s, law.slipped_at):
        return push[0, 0], J[0, 0]
    J = J.copy()
    J[..., N_SHOWN:] = 0.0
    return push[0, 0] - mean[N_SHOWN:], J[0, 0]


def _beside_searched(
    it: Lies,
    drawn: _Drawn,
    push: Array,
    J: Array,
    scale: Array,
    laws: Sequence[Law],
    radius: float,
    n_starts: int,
) -> Lies:
    """The same by the points: the likeliest place is where most of their weight is in the field."""
    points = push[drawn.of] + np.einsum("pij,pj->pi", J[drawn.of], drawn.off) + drawn.grain
    points = points * scale
    w = drawn.weight

    # Half of the points choose the aim, the others tell its chance: the best of many counts of the
    # same points would promise too much.
    choose = np.arange(len(w)) % 2 == 0

    def share(aim: Array, by: Array) -> float:
        inside = ((points - aim) ** 2).sum(axis=1) < radius**2
        return float(w[inside & by].sum() / w[by].sum())

    starts = points[np.searchsorted(np.cumsum(w), (np.arange(n_starts) + 0.5) / n_starts)]
    aims = [it.push * scale, *starts]
    for _ in range(6):  # to where the weight in the field has its middle
        inside = ((points[None] - np.array(aims)[:, None]) ** 2).sum(axis=2) < radius**2
        mass = inside * np.where(choose, w, 0.0)
        total = mass.sum(axis=1, keepdims=True)
        aims = list(np.where(total > 0, mass @ points / np.maximum(total, 1e-12), aims))
    aim = max([it.push * scale, *aims], key=lambda a: share(a, choose))
    best = max(law.weight for law in laws)
    likely = np.array([law.weight >= _ASIDE * best for law in laws])[drawn.of]
    d = points - aim
    cov = (d[likely].T * w[likely]) @ d[likely] / w[likely].sum()
    own = np.searchsorted(np.cumsum(w), (np.arange(HANDED_ON) + 0.5) / HANDED_ON)
    return Lies(aim / scale, cov, share(aim, ~choose), share(np.zeros(2), ~choose), d[own])
