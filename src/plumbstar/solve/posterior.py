"""From sightings and priors to the terms: Gauss-Newton on the exact kinematics of the mount.

Maximum a posteriori with Gaussian priors and the analytic Jacobian of
:mod:`plumbstar.mount.kinematics`. The covariance is that of all twelve terms jointly and includes
the prior. See docs/method.md for the derivation and the sources.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting, Unnamed
from plumbstar.mount.terms import N_TERMS
from plumbstar.solve.descent import DescentRule, Problems, covariance_at, descend, log_evidence
from plumbstar.units import Array


def continuous_readings(sightings: Sequence[Sighting | Unnamed]) -> Array:
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
    """The sightings as arrays: readings, true places, their directions and tangent planes, inverse
    variances."""

    readings: Array
    true_az_alt: Array
    toward: Array
    basis: Array
    weight: Array

    @staticmethod
    def of(sightings: Sequence[Sighting], noise: Noise) -> Data:
        read = continuous_readings(sightings)
        true = np.radians([[s.true_az_deg, s.true_alt_deg] for s in sightings])
        basis = kinematics.tangent_basis(true[:, 0], true[:, 1])
        toward = kinematics.unit(true[:, 0], true[:, 1])
        return Data(read, true, toward, basis, 1.0 / noise.variances(true[:, 1]))

    @property
    def zero_arrows(self) -> NDArray[np.complex128]:
        """The azimuth zero that each sighting suggests, (n,) complex: to first order the tube's
        azimuth is reading + zero, so it is what is left over; overhead it means little."""
        zeros = self.true_az_alt[:, 0] - self.readings[:, 0]
        votes: Array = np.cos(self.true_az_alt[:, 1]) ** 2 + 1e-3
        out: NDArray[np.complex128] = votes * np.exp(1j * zeros)
        return out

    def discount(self, index: int, sigma: float) -> Data:
        """The same with one sighting believed only to ``sigma``, radians."""
        weight = self.weight.copy()
        weight[index] = 1.0 / (1.0 / weight[index] + sigma**2)
        return replace(self, weight=weight)


#: A fix goes on until a step promises nothing, and takes that one too.
_RULE = DescentRule(steps=60, small=1e-6, last_step=True)
_CAREFUL = replace(_RULE, careful=True)


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
    model chi-square with 2 n - (unknown terms) degrees of freedom. Starts from more than one
    azimuth zero when the sightings disagree about it. Raises :class:`numpy.linalg.LinAlgError`
    where nothing settles a free term.
    """
    return gauss_newton_weighed(data, prior, data.weight[None])[0]


def gauss_newton_weighed(data: Data, prior: Priors, weights: Array) -> list[Solution]:
    """The same for the same sightings weighed in k ways, ``weights`` (k, n, 2), all at once."""
    free = np.flatnonzero(prior.sigma > 0)
    info = prior.information[free]
    begin = np.array(starts(data, prior))
    k, s = len(weights), len(begin)

    def each(value: Array) -> Array:
        """The same for each row: k ways to weigh, s starts of each."""
        return value[None] if k * s == 1 else np.repeat(value[None], k * s, axis=0)

    problems = Problems(
        readings=each(data.readings),
        basis=each(data.basis),
        toward=each(data.toward),
        weight=np.repeat(weights.reshape(k, -1), s, axis=0),
        anchor=each(prior.mean[free]),
        info=each(info),
        free=free,
        linked=None if prior.linked is None else each(prior.linked[np.ix_(free, free)]),
    )
    # One unknown alone, sightings always settle.
    rule = _CAREFUL if int(np.count_nonzero(info == 0)) > 1 else _RULE
    run = descend(problems, np.tile(begin, (k, 1)) if k > 1 else begin, rule)
    best = []
    for low in range(0, k * s, s):
        row = low
        for other in range(low + 1, low + s):
            if run.cost[other] < run.cost[row] - 1e-9:
                row = other
        best.append(row)
    rows = np.array(best)
    chosen = problems.rows(rows)
    found = covariance_at(run.hessian[rows])
    evidence = log_evidence(
        run.cost[rows], run.hessian[rows], chosen.info, chosen.weight, chosen.linked
    )
    covariance = np.zeros((k, N_TERMS, N_TERMS))
    covariance[:, free[:, None], free] = (found + found.swapaxes(1, 2)) / 2
    return [
        Solution(run.x[r], covariance[i], run.residuals[r], float(run.cost[r]), float(evidence[i]))
        for i, r in enumerate(rows)
    ]


def near_belief(zero: float, prior: Priors) -> float:
    """That azimuth zero in the turn in which it is believed to be: a belief about 179 deg is not
    358 deg away from one of -179 deg."""
    if math.isinf(prior.sigma[0]):
        return zero
    return float(prior.mean[0]) + math.remainder(zero - float(prior.mean[0]), 2.0 * math.pi)


def starts(data: Data, prior: Priors) -> list[Array]:
    """Starting points: the azimuth zeros that the sightings suggest, most agreed first."""
    if prior.sigma[0] == 0:
        return [prior.mean.copy()]
    arrows = data.zero_arrows
    zeros: Array = np.angle(arrows)
    votes: Array = np.abs(arrows)
    resultant = complex(arrows.sum())
    candidates = [float(np.angle(resultant))]
    if abs(resultant) < 0.97 * float(np.sum(votes)):
        # Each sighting's own zero, those most others agree with first; no two nearly the same,
        # and no more than four, so that a table of nonsense does not take seconds.
        near = np.cos(zeros[:, None] - zeros[None]) > math.cos(math.radians(5.0))
        for i in np.argsort(-(near @ votes), kind="stable"):
            z = float(zeros[i])
            if len(candidates) < 5 and all(math.cos(z - c) < 0.996 for c in candidates[1:]):
                candidates.append(z)
    out = []
    for z in candidates:
        start = prior.mean.copy()
        start[0] = near_belief(z, prior)
        out.append(start)
    return out
