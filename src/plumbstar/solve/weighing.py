"""Stories of the sightings, solved and weighed by Laplace evidence.

One linear step from the fix as written tells which stories may matter; those alone are solved on
the exact kinematics (:mod:`plumbstar.solve.descent`).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import N_TERMS
from plumbstar.solve.descent import DescentRule, Problems, descend, laplace
from plumbstar.solve.posterior import Data, Solution, near_belief
from plumbstar.solve.smallsample import chi_square_survival
from plumbstar.solve.stories import Story, after, double, single
from plumbstar.solve.suspects import likeliest_bad
from plumbstar.turns import half_turn
from plumbstar.units import Array

_RULE = DescentRule(steps=25, small=1e-6, last_step=True, shorter=4.0, tries=5, ridge=1e-13)
#: Held terms are given this sigma, radians: 0.002 arcsec, so that every matrix has one shape. The
#: determinants cancel in the evidence.
_HELD = 1e-8
#: The one linear step is trusted to tell a story's log evidence this well.
_WITHIN = 12.0
#: Beyond this, radians, residuals are too large for one linear step to tell anything.
_LINEAR = math.radians(1.0)
#: A second fault is thought of when the likeliest story leaves a misfit under this.
SECOND_FAULT = 1e-3
#: And when it is one of a hand so many times rougher than stated.
HARDLY_A_HAND = 3.0
#: A story is kept with at least this share; what is dropped is shared among the rest.
_KEPT = 1e-3


@dataclass(frozen=True, slots=True)
class Weighed:
    """A story with its share among all, and the mount now as it has it.

    ``mean`` (12,), ``covariance`` (12, 12), radians: the terms after the last sighting.
    ``residuals`` (n, 2), radians. ``cost``: chi-square of data and prior, with ``noise`` as the
    story has it. ``moved_by``: the numbers that its moves added, radians.
    ``first_mean``, ``first_covariance``: the terms at the first sighting, before anything moved.
    """

    story: Story
    share: float
    mean: Array
    covariance: Array
    noise: Noise
    residuals: Array
    cost: float
    moved_by: tuple[float, ...]
    first_mean: Array
    first_covariance: Array


def weigh(
    data: Data, prior: Priors, noise: Noise, clean: Solution, stories: Sequence[Story]
) -> tuple[Weighed, ...]:
    """The stories that matter, likeliest first; their shares sum to one."""
    batch, x = batch_of(data, prior, noise, clean, stories)
    rows = np.arange(len(stories))
    if not _far_apart(clean):
        promised = np.array([s.log_prior for s in stories]) + _one_step(batch, x)
        rows = np.flatnonzero(promised > promised.max() - _WITHIN)
    batch, x = batch.rows(rows), x[rows]
    found, log_p = solved(batch, x, [stories[int(i)] for i in rows])
    share = np.exp(log_p - log_p.max())
    share /= share.sum()
    kept = [int(k) for k in np.argsort(-share, kind="stable") if share[k] >= _KEPT]
    total = float(share[kept].sum())
    return tuple(
        _told(batch, found, k, stories[int(rows[k])], prior, noise, float(share[k]) / total)
        for k in kept
    )


def _far_apart(clean: Solution) -> bool:
    """Whether the fix as written leaves so much that nothing near it is linear."""
    return float((clean.residuals**2).sum(axis=1).max(initial=0.0)) >= _LINEAR**2


@dataclass(frozen=True, slots=True)
class SolvedBatch:
    """Stories solved: parameters x (k, P), cost (k,), residuals, covariance (k, P, P)."""

    x: Array
    cost: Array
    residuals: Array
    covariance: Array


def solved(batch: Problems, x: Array, stories: Sequence[Story]) -> tuple[SolvedBatch, Array]:
    """The stories on the exact kinematics, and log (k,) of prior times evidence."""
    run = descend(batch, x, _RULE)
    cost, r, jac = batch.evaluate(run.x)
    hessian, _ = batch.normal(run.x, r, jac)
    covariance, evidence = laplace(cost, hessian, batch.info, batch.weight, batch.linked)
    log_prior = np.array([s.log_prior for s in stories])
    return SolvedBatch(run.x, cost, r, covariance), log_prior + evidence


def _told(
    batch: Problems,
    found: SolvedBatch,
    k: int,
    story: Story,
    prior: Priors,
    noise: Noise,
    share: float,
) -> Weighed:
    """Row k as the mount is now, after all that moved."""
    assert batch.shift is not None
    now = np.concatenate([np.eye(N_TERMS), batch.shift[k, -1]], axis=1)
    mean = now @ found.x[k]
    mean[0] = half_turn(mean[0])
    free = (story.priors(prior).sigma > 0) | np.any(batch.shift[k, -1] != 0, axis=1)
    mean = np.where(free, mean, prior.mean)  # what is held, exactly
    cov = (now @ found.covariance[k] @ now.T) * np.outer(free, free)
    return Weighed(
        story=story,
        share=share,
        mean=mean,
        covariance=(cov + cov.T) / 2,
        noise=story.noise(noise),
        residuals=found.residuals[k].reshape(-1, 2),
        cost=float(found.cost[k]),
        moved_by=tuple(float(v) for v in found.x[k, N_TERMS:]),
        first_mean=found.x[k, :N_TERMS],
        first_covariance=found.covariance[k, :N_TERMS, :N_TERMS],
    )


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
    apart = _far_apart(clean)
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
    info = np.where(np.isinf(sigma), 0.0, 1.0 / np.maximum(sigma, _HELD) ** 2)
    if linked is not None:
        for j, story in enumerate(stories):
            believed = story.priors(prior)
            info[j, :N_TERMS] = np.minimum(believed.information, _HELD**-2)
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


def _one_step(batch: Problems, x: Array) -> Array:
    """The log evidence (k,) of each, to first order about ``x``."""
    cost, r, jac = batch.evaluate(x)
    hessian, right = batch.normal(x, r, jac)
    covariance, evidence = laplace(cost, hessian, batch.info, batch.weight, batch.linked)
    # One step to the minimum lowers the cost by g' C g.
    gain = (right[:, None] @ covariance @ right[..., None])[:, 0, 0]
    return np.asarray(evidence + 0.5 * gain)


def weigh_all(
    data: Data,
    prior: Priors,
    noise: Noise,
    clean: Solution,
    still: Collection[int] = (),
    doubted: Collection[int] = (),
) -> tuple[Weighed, ...]:
    """Every story of one fault, and of two where the likeliest leaves a misfit.

    ``still``: indices of sightings just before which nothing moved, as the observer knows.
    ``doubted``: of those that could not be what they said, and were, as the observer answered.
    """
    n = len(data.readings)
    tried = likeliest_bad(data, clean)
    plain = single(n, still, tried, doubted, noise.spread, prior.changed, prior.one_of)
    one = after(prior.either, plain)
    found = weigh(data, prior, noise, clean, one)
    dof = 2 * n - int(np.count_nonzero(np.isinf(prior.sigma)))
    lead = found[0]
    sound = lead.story.coarser < HARDLY_A_HAND and (
        dof <= 0 or chi_square_survival(lead.cost, dof) > SECOND_FAULT
    )
    if n > 2 and not sound:
        two = double(_leaders(data, prior, noise, clean, one), plain)
        found = weigh(data, prior, noise, clean, (*one, *two))
    return found


def _leaders(
    data: Data, prior: Priors, noise: Noise, clean: Solution, one: Sequence[Story]
) -> list[Story]:
    """The likeliest moves, of different places or things, and the likeliest bad sightings: where
    two faults meet, each alone may stand far behind "a rough hand"."""
    faults = [s for s in one if s.moves or s.bad]
    batch, x = batch_of(data, prior, noise, clean, faults)
    _, log_p = solved(batch, x, faults)
    told: dict[object, Story] = {}
    for k in np.argsort(-log_p, kind="stable"):
        told.setdefault(faults[k].what, faults[k])
    moves = [s for s in told.values() if s.moves][:MOVES_TRIED]
    return moves + [s for s in told.values() if s.bad][:BAD_TRIED]


#: So many moves and bad sightings are tried together with a second fault.
MOVES_TRIED, BAD_TRIED = 4, 2
#: A story of less than this part of its group's first is no part of the fix that is shown.
LEAST_OF_LEADING = 0.1
#: From this share on, what a group of stories says is taken as so.
SURE = 0.9


def leading(stories: Sequence[Weighed]) -> tuple[Weighed, ...]:
    """The stories that agree on what is bad and what moved, of the largest share together; those
    that hardly count beside the first of them are left out."""
    shares: dict[object, float] = {}
    for w in stories:
        shares[w.story.what] = shares.get(w.story.what, 0.0) + w.share
    most = max(shares, key=lambda what: shares[what])
    told = [w for w in stories if w.story.what == most]
    return tuple(w for w in told if w.share > LEAST_OF_LEADING * told[0].share)


def share_of(stories: Iterable[Weighed]) -> float:
    """Of all, together."""
    return sum(w.share for w in stories)


def covariance_about(mean: Array, stories: Sequence[Weighed]) -> Array:
    """Covariance (12, 12) about a mean (12,) that covers all of these stories."""
    out = np.zeros((N_TERMS, N_TERMS))
    for w in stories:
        gap = w.mean - mean
        gap[0] = half_turn(gap[0])  # azimuth zeros of 179 and -179 are 2 apart
        out += w.share * (w.covariance + np.outer(gap, gap))
    return out / share_of(stories)


def suspects_of(stories: Sequence[Weighed]) -> tuple[tuple[int, float], ...]:
    """(index, probability) of each sighting that may well be bad, likeliest first."""
    p: dict[int, float] = {}
    for w in stories:
        for i, _ in w.story.bad:
            p[i] = p.get(i, 0.0) + w.share
    return tuple(sorted(((i, q) for i, q in p.items() if q > 0.05), key=lambda row: -row[1]))
