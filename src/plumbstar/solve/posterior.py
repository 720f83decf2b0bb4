"""From sightings and priors to the terms: Gauss-Newton on the exact kinematics of the mount.

Maximum a posteriori with Gaussian priors and the analytic Jacobian of
:mod:`plumbstar.mount.kinematics`. The covariance is that of all eleven terms jointly and includes
the prior. See docs/method.md for the derivation and the sources.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import N_TERMS
from plumbstar.turns import half_turn
from plumbstar.units import Array, Indices


def continuous_readings(sightings: Sequence[Sighting]) -> Array:
    """Readings (n, 2), radians, as the tube went; an altitude of 180 to 360 deg is below level."""
    read = np.radians([[s.az_reading_deg, s.alt_reading_deg] for s in sightings])
    read[:, 1] -= 2 * np.pi * (read[:, 1] > np.pi)
    if np.all((read[:, 0] >= 0) & (read[:, 0] <= 2 * np.pi)):
        # A display that folds into one turn: between sightings the tube went the shorter way.
        # It matters to the azimuth scale only. A counter that runs on is taken at its word.
        read[:, 0] = np.unwrap(read[:, 0])
    return read


@dataclass(frozen=True)
class Data:
    """The sightings as arrays: readings, tangent bases of the true places, inverse variances."""

    readings: Array
    true_az_alt: Array
    basis: Array
    weight: Array

    @staticmethod
    def of(sightings: Sequence[Sighting], noise: Noise) -> Data:
        read = continuous_readings(sightings)
        true = np.radians([[s.true_az_deg, s.true_alt_deg] for s in sightings])
        basis = kinematics.tangent_basis(true[:, 0], true[:, 1])
        return Data(read, true, basis, 1.0 / noise.variances(true[:, 1]))

    def discount(self, index: int, sigma: float) -> Data:
        """The same with one sighting believed only to ``sigma``, radians."""
        weight = self.weight.copy()
        weight[index] = 1.0 / (1.0 / weight[index] + sigma**2)
        return replace(self, weight=weight)


@dataclass(frozen=True)
class Solution:
    """What one run of the solver gives: see :func:`gauss_newton`."""

    mean: Array
    covariance: Array
    residuals: Array
    cost: float
    log_evidence: float


def gauss_newton(data: Data, prior: Priors) -> Solution:
    """Posterior mode and covariance of the terms, and the Laplace evidence of the whole model.

    ``cost`` is the sum of squared normalised residuals of data and prior at the mode: for a linear
    model chi-square with 2 n - (unknown terms) degrees of freedom. The evidence is
    log p(data) ~ log p(data, mode) + 1/2 log det(2 pi C) (MacKay 2003, ch. 27), with an unknown
    azimuth zero uniform on the turn. Starts from more than one azimuth zero when the sightings
    disagree about it. Raises :class:`numpy.linalg.LinAlgError` where nothing settles a free term.
    """
    free = np.flatnonzero(prior.sigma > 0)
    info = prior.information[free]
    best: tuple[float, Array, Array, Array] | None = None
    for start in starts(data, prior):
        run = _descend(data, prior, free, info, start)
        if best is None or run[0] < best[0] - 1e-9:
            best = run
    assert best is not None  # starts yields at least one
    cost, mean, residuals, hessian = best
    cov_free = np.linalg.inv(hessian)
    cov = np.zeros((N_TERMS, N_TERMS))
    cov[np.ix_(free, free)] = (cov_free + cov_free.T) / 2
    known = info > 0
    log_density = 0.5 * float(np.sum(np.log(info[known] / (2 * np.pi))))
    log_density -= np.count_nonzero(~known) * math.log(2 * np.pi)  # uniform on a turn
    log_noise = 0.5 * float(np.sum(np.log(data.weight / (2 * np.pi))))
    _, logdet = np.linalg.slogdet(hessian)
    volume = 0.5 * (len(free) * math.log(2 * np.pi) - logdet)
    return Solution(mean, cov, residuals, cost, -0.5 * cost + log_density + log_noise + volume)


def starts(data: Data, prior: Priors) -> list[Array]:
    """Starting points: the azimuth zeros that the sightings suggest, most agreed first."""
    if prior.sigma[0] == 0:
        return [prior.mean.copy()]
    # To first order the tube's azimuth is reading + zero, so zero is what is left over.
    zeros = data.true_az_alt[:, 0] - data.readings[:, 0]
    votes = np.cos(data.true_az_alt[:, 1]) ** 2 + 1e-3  # overhead an azimuth means little
    resultant = complex(np.sum(votes * np.exp(1j * zeros)))
    candidates = [float(np.angle(resultant))]
    if abs(resultant) < 0.97 * float(np.sum(votes)):
        # Each sighting's own zero, those most others agree with first; no two nearly the same,
        # and no more than four, so that a table of nonsense does not take seconds.
        near = np.cos(zeros[:, None] - zeros[None]) > math.cos(math.radians(5.0))
        for i in np.argsort(-(near @ votes), kind="stable"):
            z = half_turn(float(zeros[i]))
            if len(candidates) < 5 and all(math.cos(z - c) < 0.996 for c in candidates[1:]):
                candidates.append(z)
    out = []
    for z in candidates:
        start = prior.mean.copy()
        start[0] = z
        out.append(start)
    return out


def _descend(
    data: Data, prior: Priors, free: Indices, info: Array, x: Array
) -> tuple[float, Array, Array, Array]:
    """Gauss-Newton with halved steps. Returns (cost, mode, residuals, Hessian of cost / 2)."""
    anchor = prior.mean[free]
    true = kinematics.unit(data.true_az_alt[:, 0], data.true_az_alt[:, 1])
    risky = int(np.count_nonzero(info == 0)) > 1  # one unknown alone, sightings always settle

    weight = data.weight.reshape(-1)

    def evaluate(terms: Array) -> tuple[float, Array, Array, Array]:
        """Cost, residuals and Jacobian one row for each number read, and the gap to the prior."""
        d, J = kinematics.direction_jacobian(data.readings, terms)
        r = -(data.basis @ d[..., None])[..., 0]
        # Behind the observer the tangent plane folds back: push such residuals out to a turn.
        behind = np.einsum("ni,ni->n", d, true) < 0
        if behind.any():
            r[behind] *= (np.pi / np.maximum(np.linalg.norm(r[behind], axis=1), 1e-9))[:, None]
        r = r.reshape(-1)
        jac = (data.basis @ J).reshape(-1, N_TERMS)[:, free]
        gap = np.where(info > 0, terms[free] - anchor, 0.0)
        return float((weight * r) @ r + info @ (gap * gap)), r, jac, gap

    x = x.copy()
    cost, r, jac, gap = evaluate(x)
    for _ in range(60):
        weighted = jac.T * weight
        hessian = weighted @ jac
        hessian.flat[:: len(free) + 1] += info
        downhill = weighted @ r - info * gap
        step = _careful_solve(hessian, downhill) if risky else np.linalg.solve(hessian, downhill)
        if float(step @ downhill) < 1e-9 * (1 + cost):
            x[free] += step  # so small that the linear model is exact: no need to look again
            r = r - jac @ step
            break
        for halving in range(12):
            trial = x.copy()
            trial[free] += step * 0.5**halving
            new = evaluate(trial)
            if new[0] <= cost * (1 + 1e-12):
                break
        else:
            break
        x, (cost, r, jac, gap) = trial, new
    x[0] = half_turn(x[0])
    return cost, x, r.reshape(-1, 2), hessian


def _careful_solve(hessian: Array, right: Array) -> Array:
    """Solve after scaling to unit diagonal; refuses a matrix that nothing made definite."""
    d = np.sqrt(np.diag(hessian))
    if not np.all(d > 0):
        raise np.linalg.LinAlgError("a term is in no sighting and no prior")
    scaled = hessian / np.outer(d, d)
    if np.linalg.cond(scaled) > 1e11:
        raise np.linalg.LinAlgError("the sightings do not separate the terms")
    out: Array = np.linalg.solve(scaled, right / d) / d
    return out
