"""Many competing models of one outing, solved together: mode, covariance and Laplace evidence.

Each model has the eleven terms of the mount and up to three extra numbers; an extra number shifts
the terms from some sighting on (a slip, a moved base). The same mathematics as
:func:`plumbstar.solve.posterior.gauss_newton`, over a batch: one explanation weighs some three
hundred.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import N_TERMS
from plumbstar.turns import half_turn
from plumbstar.units import Array, Bools, Indices

Index = Indices | Bools

EXTRAS = 3
SIZE = N_TERMS + EXTRAS
#: Held terms are given this sigma, radians: 0.002 arcsec, so that every matrix has one shape. The
#: determinants cancel in the evidence.
_HELD = 1e-8
#: A model whose cost (chi-square) exceeds the best by this much is not polished further.
_HOPELESS = 200.0


@dataclass(frozen=True, slots=True)
class Variant:
    """One fully stated model: a kind of cause in one of its forms.

    ``log_prior``: of this form within its kind. ``readings`` (n, 2) and ``true`` (n, 2), radians;
    ``weight`` (n, 2) inverse variances, 0 for a sighting left out; ``mean`` and ``sigma`` (14,) of
    terms and extra numbers; ``shift`` (n, 11, 3): terms of sighting i are terms + shift[i] @ extra.
    ``detail``: what the form says, for the words.
    """

    kind: str
    log_prior: float
    readings: Array
    true: Array
    weight: Array
    mean: Array
    sigma: Array
    shift: Array
    detail: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Solved:
    """Solutions of B variants: mean (B, 14), covariance (B, 14, 14), residuals (B, n, 2), cost and
    log_evidence (B,)."""

    mean: Array
    covariance: Array
    residuals: Array
    cost: Array
    log_evidence: Array


def blank_shift(n: int) -> Array:
    """No extra number does anything."""
    return np.zeros((n, N_TERMS, EXTRAS))


def with_extras(prior: Priors, *sigmas: float) -> tuple[Array, Array]:
    """Mean and sigma (14,) of terms and extra numbers; unused extras are held at zero."""
    mean = np.concatenate([prior.mean, np.zeros(EXTRAS)])
    sigma = np.concatenate([prior.sigma, np.zeros(EXTRAS)])
    sigma[N_TERMS : N_TERMS + len(sigmas)] = sigmas
    return mean, sigma


@dataclass(frozen=True, slots=True)
class _Batch:
    readings: Array
    basis: Array
    weight: Array
    anchor: Array
    info: Array
    shift: Array

    def rows(self, index: Index) -> _Batch:
        return _Batch(*(getattr(self, name)[index] for name in self.__slots__))

    def evaluate(self, x: Array) -> tuple[Array, Array, Array]:
        """Cost (B,), residuals (B, n, 2) and Jacobian (B, n, 2, 14) at parameters x (B, 14)."""
        terms = x[:, None, :N_TERMS] + np.einsum("bnij,bj->bni", self.shift, x[:, N_TERMS:])
        d, jac = kinematics.direction_jacobian(self.readings, terms)
        r = -np.einsum("bnij,bnj->bni", self.basis, d)
        # Behind the observer the tangent plane folds back: push such residuals out to a turn.
        toward = np.cross(self.basis[..., 1, :], self.basis[..., 0, :])
        behind = np.einsum("bni,bni->bn", d, toward) < 0
        if np.any(behind):
            size = np.maximum(np.linalg.norm(r[behind], axis=-1), 1e-9)
            r[behind] *= (np.pi / size)[:, None]
        flat = self.basis @ jac
        full = np.concatenate([flat, flat @ self.shift], axis=-1)
        gap = np.where(self.info > 0, x - self.anchor, 0.0)
        cost = np.sum(self.weight * r * r, axis=(1, 2)) + np.sum(self.info * gap * gap, axis=1)
        return cost, r, full

    def normal(self, x: Array, r: Array, jac: Array) -> tuple[Array, Array]:
        """Hessian of cost/2 and the downhill gradient."""
        b = len(x)
        flat = jac.reshape(b, -1, SIZE)
        w = self.weight.reshape(b, -1)
        weighted = (flat * w[..., None]).swapaxes(1, 2)
        hessian = weighted @ flat
        hessian[:, np.arange(SIZE), np.arange(SIZE)] += self.info
        gap = np.where(self.info > 0, x - self.anchor, 0.0)
        right = (weighted @ r.reshape(b, -1, 1))[..., 0] - self.info * gap
        return hessian, right


def _scaled_solve(hessian: Array, right: Array) -> Array:
    d = np.sqrt(np.maximum(np.diagonal(hessian, axis1=1, axis2=2), 1e-30))
    scaled = hessian / (d[:, :, None] * d[:, None, :])
    scaled[:, np.arange(SIZE), np.arange(SIZE)] += 1e-13
    out: Array = np.linalg.solve(scaled, (right / d)[..., None])[..., 0] / d
    return out


def solve(variants: Sequence[Variant]) -> Solved:
    """All variants at once. Every variant has the same number of sightings.

    Evidence: log p(data) ~ log p(data, mode) + 1/2 log det(2 pi C) (MacKay 2003, eq. 27.3), with an
    unknown azimuth zero uniform on the turn, as in plumbstar.solve.posterior. Up to three starts
    for the azimuth zero where the sightings disagree about it.
    """
    sigma = np.array([v.sigma for v in variants])
    info = np.where(np.isinf(sigma), 0.0, 1.0 / np.maximum(sigma, _HELD) ** 2)
    true = np.array([v.true for v in variants])
    batch = _Batch(
        readings=np.array([v.readings for v in variants]),
        basis=kinematics.tangent_basis(true[..., 0], true[..., 1]),
        weight=np.array([v.weight for v in variants]),
        anchor=np.array([v.mean for v in variants]),
        info=info,
        shift=np.array([v.shift for v in variants]),
    )
    owner, start = _starts(batch, true)
    run = batch.rows(owner)
    x, cost = _descend(run, start)
    order = np.lexsort((cost, owner))
    first = order[np.unique(owner[order], return_index=True)[1]]
    best = x[first]
    cost, r, jac = batch.evaluate(best)
    hessian, _ = batch.normal(best, r, jac)
    d = np.sqrt(np.maximum(np.diagonal(hessian, axis1=1, axis2=2), 1e-30))
    scaled = hessian / (d[:, :, None] * d[:, None, :])
    covariance = np.linalg.inv(scaled) / (d[:, :, None] * d[:, None, :])
    logdet = np.linalg.slogdet(scaled)[1] + 2 * np.sum(np.log(d), axis=1)
    known = info > 0
    density = 0.5 * np.sum(np.log(np.where(known, info, 2 * np.pi) / (2 * np.pi)), axis=1)
    density -= np.sum(~known, axis=1) * math.log(2 * np.pi)
    used = batch.weight > 0
    noise = 0.5 * np.sum(np.log(np.where(used, batch.weight, 2 * np.pi) / (2 * np.pi)), axis=(1, 2))
    volume = 0.5 * (SIZE * math.log(2 * np.pi) - logdet)
    return Solved(best, covariance, r, cost, -0.5 * cost + density + noise + volume)


def _starts(batch: _Batch, true: Array) -> tuple[Index, Array]:
    """(owner, parameters): starting points at the azimuth zeros that the sightings suggest."""
    at_zero = batch.anchor[:, None, :N_TERMS].copy()
    free = batch.info[:, 0] == 0
    at_zero[free, :, 0] = 0.0
    wanted = kinematics.reading_of(kinematics.unit(true[..., 0], true[..., 1]), at_zero)[..., 0]
    zeros = wanted - batch.readings[..., 0]
    votes = (np.cos(true[..., 1]) ** 2 + 1e-3) * (batch.weight[..., 0] > 0)
    resultant = np.sum(votes * np.exp(1j * zeros), axis=1)
    owner = [np.arange(len(true))]
    zero = [np.angle(resultant)]
    torn = np.flatnonzero(free & (np.abs(resultant) < 0.985 * np.sum(votes, axis=1)))
    if len(torn):
        z = zeros[torn]
        apart = np.abs(half_turn(z[:, :, None] - z[:, None, :]))
        support = np.sum(votes[torn][:, None, :] * np.exp(-((apart / 0.1) ** 2)), axis=2)
        support = np.where(votes[torn] > 0, support, -1.0)
        rows = np.arange(len(torn))
        most = np.argmax(support, axis=1)
        far = apart[rows, most] > 0.15
        second = np.argmax(np.where(far, support, -2.0), axis=1)
        for pick in (most, second):
            owner.append(torn)
            zero.append(z[rows, pick])
    who = np.concatenate(owner)
    start = batch.anchor[who].copy()
    start[:, 0] = np.where(free[who], np.concatenate(zero), start[:, 0])
    return who, start


def _descend(batch: _Batch, x: Array) -> tuple[Array, Array]:
    """Gauss-Newton with halved steps on every row; rows drop out as they settle."""
    x = x.copy()
    cost, r, jac = batch.evaluate(x)
    alive = np.arange(len(x))
    for turn in range(20):
        if turn >= 3:  # far behind every rival: its share is under e^-100 and may stay rough
            alive = alive[cost[alive] < cost.min() + _HOPELESS]
        if not len(alive):
            break
        part = batch.rows(alive)
        hessian, right = part.normal(x[alive], r[alive], jac[alive])
        step = _scaled_solve(hessian, right)
        # What a full step promises; rows that promise nothing have arrived.
        worth = np.einsum("bi,bi->b", step, right) > 1e-6 * (1 + 1e-3 * cost[alive])
        if not np.all(worth):
            alive, step, part = alive[worth], step[worth], part.rows(worth)
        moved = np.zeros(len(alive), dtype=bool)
        before = cost[alive].copy()
        scale = 1.0
        todo = np.arange(len(alive))
        for _ in range(5):
            if not len(todo):
                break
            rows = alive[todo]
            trial = x[rows] + scale * step[todo]
            sub = part if len(todo) == len(alive) else batch.rows(rows)
            new_cost, new_r, new_jac = sub.evaluate(trial)
            good = new_cost <= before[todo] * (1 + 1e-12) + 1e-12
            took = rows[good]
            x[took], cost[took] = trial[good], new_cost[good]
            r[took], jac[took] = new_r[good], new_jac[good]
            moved[todo[good]] = True
            todo = todo[~good]
            scale /= 4
        alive = alive[moved & (before - cost[alive] > 1e-6 * (1 + 1e-3 * before))]
    x[:, 0] = half_turn(x[:, 0])
    return x, cost


def log_sum(values: Array) -> float:
    """log of the sum of exponentials, safe for any sizes."""
    top = float(np.max(values))
    if not math.isfinite(top):
        return top
    return top + math.log(float(np.sum(np.exp(values - top))))
