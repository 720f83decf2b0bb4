"""Many competing models of one outing, solved together: mode, covariance and Laplace evidence.

Each model has the twelve terms of the mount and up to three extra numbers (of two causes at once
up to six, in a batch of their own); an extra number shifts the terms from some sighting on (a
slip, a moved base). The descent is that of every fix,
:mod:`plumbstar.solve.descent`: one explanation weighs some three hundred.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain import tails
from plumbstar.diagnose.explain.forms import Variant
from plumbstar.mount import kinematics
from plumbstar.mount.terms import N_TERMS
from plumbstar.solve.descent import DescentRule, Problems, covariance_at, descend, log_evidence
from plumbstar.turns import half_turn
from plumbstar.units import Array, Indices

#: Held terms are given this sigma, radians: 0.002 arcsec, so that every matrix has one shape. The
#: determinants cancel in the evidence.
_HELD = 1e-8
#: Some three hundred models at once: none is polished further than its share of the evidence
#: needs, and none that stands 200 in cost (chi-square) behind the best.
_RULE = DescentRule(
    steps=20, small=1e-6, last_step=False, least_gain=1e-6, shorter=4.0, tries=5, ridge=1e-13,
    hopeless=200.0,
)  # fmt: skip
#: Models so far behind in the log of their evidence are not weighed a second time.
_FAR = 40.0


@dataclass(frozen=True, slots=True)
class SolvedModels:
    """Solutions of B variants of P numbers: mean (B, P), covariance (B, P, P), residuals (B, n, 2),
    cost and log_evidence (B,)."""

    mean: Array
    covariance: Array
    residuals: Array
    cost: Array
    log_evidence: Array


@dataclass(frozen=True, slots=True)
class WeighedForm:
    """One variant, solved: its row of :class:`SolvedModels`."""

    variant: Variant
    mean: Array
    covariance: Array
    residuals: Array
    cost: float
    log_evidence: float

    @property
    def joint(self) -> float:
        """Log of the form's probability within its kind times its evidence."""
        return self.variant.log_prior + self.log_evidence


def weigh(variants: Sequence[Variant], hand: float | None = None) -> list[WeighedForm]:
    """Each of them solved, all at once. With the stated centring ``hand``, radians, the evidence
    is that of :mod:`.tails`."""
    if not variants:
        return []
    s = solve(variants, hand)
    rows = zip(variants, s.mean, s.covariance, s.residuals, s.cost, s.log_evidence, strict=True)
    return [WeighedForm(v, m, c, r, float(x), float(e)) for v, m, c, r, x, e in rows]


def solve(variants: Sequence[Variant], hand: float | None = None) -> SolvedModels:
    """All variants at once. Every variant has the same number of sightings; ``hand``: see weigh.

    Up to three starts for the azimuth zero where the sightings disagree about it.
    """
    sigma = np.array([v.sigma for v in variants])
    true = np.array([v.true for v in variants])
    batch = Problems(
        readings=np.array([v.readings for v in variants]),
        basis=kinematics.tangent_basis(true[..., 0], true[..., 1]),
        toward=kinematics.unit(true[..., 0], true[..., 1]),
        weight=np.array([v.weight.reshape(-1) for v in variants]),
        anchor=np.array([v.mean for v in variants]),
        info=np.where(np.isinf(sigma), 0.0, 1.0 / np.maximum(sigma, _HELD) ** 2),
        free=slice(None),
        shift=np.array([v.shift for v in variants]),
    )
    owner, start = _starts(batch, true)
    run = descend(batch.rows(owner), start, _RULE)
    order = np.lexsort((run.cost, owner))
    first = order[np.unique(owner[order], return_index=True)[1]]
    best = run.x[first]
    cost, r, jac = batch.evaluate(best)
    hessian, _ = batch.normal(best, r, jac)
    evidence = log_evidence(cost, hessian, batch.info, batch.weight)
    if hand is not None:
        near = evidence > evidence.max() - _FAR
        part, gap = batch.rows(near), batch.gap(best)[near]
        evidence[near] = tails.evidence(r[near], jac[near], part.weight, part.info, gap, hand)
    return SolvedModels(best, covariance_at(hessian), r.reshape(len(best), -1, 2), cost, evidence)


def _starts(batch: Problems, true: Array) -> tuple[Indices, Array]:
    """(owner, parameters): starting points at the azimuth zeros that the sightings suggest."""
    at_zero = batch.anchor[:, None, :N_TERMS].copy()
    free = batch.info[:, 0] == 0
    at_zero[free, :, 0] = 0.0
    wanted = kinematics.reading_of(kinematics.unit(true[..., 0], true[..., 1]), at_zero)[..., 0]
    zeros = wanted - batch.readings[..., 0]
    votes = (np.cos(true[..., 1]) ** 2 + 1e-3) * (batch.weight[:, ::2] > 0)
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


def log_sum(values: Array | Sequence[float]) -> float:
    """log of the sum of exponentials, safe for any sizes."""
    values = np.asarray(values)
    top = float(np.max(values))
    if not math.isfinite(top):
        return top
    return top + math.log(float(np.sum(np.exp(values - top))))
