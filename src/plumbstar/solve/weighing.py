"""Stories of the sightings, solved and weighed by Laplace evidence.

One linear step from the fix as written tells which stories may matter; those alone are solved on
the exact kinematics (:mod:`plumbstar.solve.descent`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import N_TERMS
from plumbstar.solve.batches import SolvedBatch, batch_of, far_apart, solved
from plumbstar.solve.descent import Problems, covariance_at, log_evidence, promised
from plumbstar.solve.exploring import Exploring
from plumbstar.solve.posterior import Data, Solution
from plumbstar.solve.smallsample import chi_square_survival
from plumbstar.solve.stories import Story, after, double, single
from plumbstar.solve.suspects import likeliest_bad
from plumbstar.turns import half_turn
from plumbstar.units import Array

#: The one linear step is trusted to tell a story's log evidence this well.
_WITHIN = 12.0
#: Of more sightings than this the stories are explored, not all solved.
FEW = 24
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
    if not far_apart(clean):
        likely = np.array([s.log_prior for s in stories]) + _one_step(batch, x)
        rows = np.flatnonzero(likely > likely.max() - _WITHIN)
    batch, x = batch.rows(rows), x[rows]
    stories = [stories[i] for i in rows.tolist()]
    found, log_p = solved(batch, x, stories)
    return _told(batch, found, *_shares(log_p), stories, prior, noise)


def _shares(log_p: Array) -> tuple[list[int], list[float]]:
    """Of stories with log prior times evidence (k,) those that matter, likeliest first, and the
    share of each; they sum to one."""
    share = np.exp(log_p - log_p.max())
    share /= share.sum()
    kept = [int(k) for k in np.argsort(-share, kind="stable") if share[k] >= _KEPT]
    total = float(share[kept].sum())
    return kept, [float(share[k]) / total for k in kept]


def _told_of(seen: Exploring) -> tuple[Weighed, ...]:
    """The same of stories that were explored."""
    rows = seen.best()
    kept, shares = _shares(seen.log_p[rows])
    stories = [seen.stories[rows[k]] for k in kept]
    batch, x = batch_of(seen.data, seen.prior, seen.noise, seen.clean, stories)
    for j, k in enumerate(kept):  # where its own descent ended
        was = seen.x[rows[k]]
        x[j] = 0.0
        x[j, : len(was)] = was
    found, _ = solved(batch, x, stories)
    return _told(batch, found, range(len(kept)), shares, stories, seen.prior, seen.noise)


def _told(
    batch: Problems,
    found: SolvedBatch,
    kept: Sequence[int],
    shares: Sequence[float],
    stories: Sequence[Story],
    prior: Priors,
    noise: Noise,
) -> tuple[Weighed, ...]:
    """The rows that are kept, with their shares, as the mount is now, after all that moved."""
    assert batch.shift is not None
    moves, x = batch.shift[kept, -1], found.x[kept]  # (k, 12, extras)
    now = np.concatenate(
        [np.broadcast_to(np.eye(N_TERMS), (len(kept), N_TERMS, N_TERMS)), moves], axis=2
    )
    sigma = np.array([stories[k].priors(prior).sigma for k in kept])
    free = (sigma > 0) | np.any(moves != 0, axis=2)
    mean = (now @ x[..., None])[..., 0]
    mean[:, :2] = half_turn(mean[:, :2])
    mean = np.where(free, mean, prior.mean)  # what is held, exactly
    first = covariance_at(found.hessian[kept])
    cov = now @ first @ now.swapaxes(1, 2)
    cov = np.where(free[:, :, None] & free[:, None, :], (cov + cov.swapaxes(1, 2)) / 2, 0.0)
    return tuple(
        Weighed(
            story=stories[k],
            share=share,
            mean=mean[j],
            covariance=cov[j],
            noise=stories[k].noise(noise),
            residuals=found.residuals[k],
            cost=float(found.cost[k]),
            moved_by=tuple(x[j, N_TERMS:].tolist()),
            first_mean=x[j, :N_TERMS],
            first_covariance=first[j, :N_TERMS, :N_TERMS],
        )
        for j, (k, share) in enumerate(zip(kept, shares, strict=True))
    )


def _one_step(batch: Problems, x: Array) -> Array:
    """The log evidence (k,) of each, to first order about ``x``."""
    cost, r, jac = batch.evaluate(x)
    hessian, right = batch.normal(x, r, jac)
    least = cost - promised(hessian, right)
    return log_evidence(least, hessian, batch.info, batch.weight, batch.linked)


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
    plain = single(n, still, tried, doubted, noise.spread, prior.changed, prior.one_of, prior.told)
    one = after(prior.either, plain)
    dof = 2 * n - int(np.count_nonzero(np.isinf(prior.sigma)))
    if n > FEW:
        return _weigh_many(Exploring(data, prior, noise, clean), one, plain, dof)
    found = weigh(data, prior, noise, clean, one)
    if n > 2 and not _sound(found[0], dof):
        two = double(_leaders(data, prior, noise, clean, one), plain)
        found = weigh(data, prior, noise, clean, (*one, *two))
    return found


def _weigh_many(
    seen: Exploring, one: Sequence[Story], plain: Sequence[Story], dof: int
) -> tuple[Weighed, ...]:
    """The same for so many sightings that the stories cannot all be solved."""
    seen.single(one)
    found = _told_of(seen)
    if not _sound(found[0], dof):
        seen.double(seen.leaders(_first_of), plain)
        found = _told_of(seen)
    return found


def _sound(lead: Weighed, dof: int) -> bool:
    """Whether the likeliest story of one fault leaves nothing to explain."""
    return lead.story.coarser < HARDLY_A_HAND and (
        dof <= 0 or chi_square_survival(lead.cost, dof) > SECOND_FAULT
    )


def _leaders(
    data: Data, prior: Priors, noise: Noise, clean: Solution, one: Sequence[Story]
) -> list[Story]:
    """The likeliest moves and bad sightings: where two faults meet, each alone may stand far behind
    "a rough hand"."""
    faults = [s for s in one if s.moves or s.bad]
    batch, x = batch_of(data, prior, noise, clean, faults)
    _, log_p = solved(batch, x, faults)
    return _first_of(faults[k] for k in np.argsort(-log_p, kind="stable"))


def _first_of(faults: Iterable[Story]) -> list[Story]:
    """The first moves, of different places or things, and the first bad sightings."""
    told: dict[object, Story] = {}
    for s in faults:
        told.setdefault(s.what, s)
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
    groups: dict[object, list[Weighed]] = {}
    for w in stories:
        groups.setdefault(w.story.what, []).append(w)
    told = max(groups.values(), key=share_of)
    return tuple(w for w in told if w.share > LEAST_OF_LEADING * told[0].share)


def share_of(stories: Iterable[Weighed]) -> float:
    """Of all, together."""
    return sum(w.share for w in stories)


def covariance_about(mean: Array, stories: Sequence[Weighed]) -> Array:
    """Covariance (12, 12) about a mean (12,) that covers all of these stories."""
    out = np.zeros((N_TERMS, N_TERMS))
    for w in stories:
        gap = w.mean - mean
        gap[:2] = half_turn(gap[:2])  # zeros of 179 and -179 are 2 apart
        out += w.share * (w.covariance + np.outer(gap, gap))
    return out / share_of(stories)


def suspects_of(stories: Sequence[Weighed]) -> tuple[tuple[int, float], ...]:
    """(index, probability) of each sighting that may well be bad, likeliest first."""
    p: dict[int, float] = {}
    for w in stories:
        for i, _ in w.story.bad:
            p[i] = p.get(i, 0.0) + w.share
    return tuple(sorted(((i, q) for i, q in p.items() if q > 0.05), key=lambda row: -row[1]))
