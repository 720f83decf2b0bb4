"""Stories of the sightings as problems of one shape, and solved on the exact kinematics."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import N_TERMS
from plumbstar.solve.descent import DescentRule, Problems, descend, log_evidence
from plumbstar.solve.posterior import Data, Solution, near_belief
from plumbstar.solve.stories import Story
from plumbstar.turns import half_turn
from plumbstar.units import Array

_RULE = DescentRule(steps=25, small=1e-6, last_step=True, shorter=4.0, tries=5, ridge=1e-13)
#: Held terms are given this sigma, radians: 0.002 arcsec, so that every matrix has one shape. The
#: determinants cancel in the evidence.
HELD = 1e-8
#: Beyond this, radians, residuals are too large for one linear step to tell anything.
_LINEAR = math.radians(1.0)


def far_apart(clean: Solution) -> bool:
    """Whether the fix as written leaves so much that nothing near it is linear."""
    return float((clean.residuals**2).sum(axis=1).max(initial=0.0)) >= _LINEAR**2


@dataclass(frozen=True, slots=True)
class SolvedBatch:
    """Stories solved: parameters x (k, P), cost (k,), residuals (k, n, 2), and the Hessian
    (k, P, P) of half the cost."""

    x: Array
    cost: Array
    residuals: Array
    hessian: Array


def solved(batch: Problems, x: Array, stories: Sequence[Story]) -> tuple[SolvedBatch, Array]:
    """The stories on the exact kinematics, and log (k,) of prior times evidence."""
    run = descend(batch, x, _RULE)
    evidence = log_evidence(run.cost, run.hessian, batch.info, batch.weight, batch.linked)
    log_prior = np.array([s.log_prior for s in stories])
    return SolvedBatch(run.x, run.cost, run.residuals, run.hessian), log_prior + evidence


def batch_of(
    data: Data, prior: Priors, noise: Noise, clean: Solution, stories: Sequence[Story]
) -> tuple[Problems, Array]:
    """Every story as a problem of one shape, and where its descent begins."""
    n, k = len(data.readings), len(stories)
    extras = max(sum(len(m.sigmas) for m in s.moves) for s in stories)
    mean = np.zeros((k, N_TERMS + extras))
    sigma = np.zeros((k, N_TERMS + extras))
    weight = np.empty((k, n, 2))
    shift = np.zeros((k, n, N_TERMS, extras))
    x = np.zeros((k, N_TERMS + extras))
    # A fix of sightings that contradict each other is no place to begin at: the mount that was
    # expected is nearer to every story that explains them.
    x[:, :N_TERMS] = clean.mean
    apart = far_apart(clean)
    alt = data.true_az_alt[:, 1]
    variances = {1.0: 1.0 / data.weight}
    joint = prior.correlation is not None
    linked = np.zeros((k, *(N_TERMS + extras,) * 2)) if joint else None
    for j, story in enumerate(stories):
        believed = story.priors(prior)
        mean[j, :N_TERMS], sigma[j, :N_TERMS] = believed.mean, believed.sigma
        if apart:
            x[j, :N_TERMS] = believed.mean if prior.either else prior.mean
        x[j, 0] = near_belief(float(clean.mean[0]), believed)
        if story.coarser not in variances:
            variances[story.coarser] = story.noise(noise).variances(alt)
        variance = variances[story.coarser].copy()
        for i, off in story.bad:
            variance[i] += off * off
        weight[j] = 1.0 / variance
        e = 0
        for move in story.moves:
            for term, by in zip(move.terms, move.sigmas, strict=True):
                sigma[j, N_TERMS + e] = by
                shift[j, move.first :, term, e] = 1.0
                e += 1
    info = np.where(np.isinf(sigma), 0.0, 1.0 / np.maximum(sigma, HELD) ** 2)
    if linked is not None:
        for j, story in enumerate(stories):
            believed = story.priors(prior)
            info[j, :N_TERMS] = np.minimum(believed.information, HELD**-2)
            linked[j, :N_TERMS, :N_TERMS] = believed.linked
    problems = Problems(
        readings=np.broadcast_to(data.readings, (k, n, 2)),
        basis=np.broadcast_to(data.basis, (k, n, 2, 3)),
        toward=np.broadcast_to(data.toward, (k, n, 3)),
        weight=weight.reshape(k, -1),
        anchor=mean,
        info=info,
        free=slice(None),
        shift=shift,
        linked=linked,
        alike=True,
    )
    _begin_at_agreeing_zeros(data, prior, stories, x)
    return problems, x


def _begin_at_agreeing_zeros(data: Data, prior: Priors, stories: Sequence[Story], x: Array) -> None:
    """Where the sightings suggest different azimuth zeros, begin a story at those that it makes
    agree: the descent would have to go round the sky otherwise."""
    if not np.isinf(prior.sigma[0]):
        return
    arrows = data.zero_arrows
    if abs(arrows.sum()) > 0.998 * np.abs(arrows).sum():
        return
    for j, story in enumerate(stories):
        good = np.ones(len(arrows))
        good[[i for i, _ in story.bad]] = 1e-3
        edges = [0, *(m.first for m in story.moves if 0 in m.terms), len(arrows)]
        parts = [float(np.angle((good * arrows)[a:b].sum())) for a, b in itertools.pairwise(edges)]
        x[j, 0] = parts[0]
        e, last = N_TERMS, 0
        for move in story.moves:
            if 0 in move.terms:
                x[j, e + move.terms.index(0)] = half_turn(parts[last + 1] - parts[last])
                last += 1
            e += len(move.terms)
