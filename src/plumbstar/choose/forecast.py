"""The linear forecast: what a fix of stated sightings will not know, before any star is sighted.

To first order a fix is a linear estimator, so its error depends on where the stars are, not on what
the circles will say. With T the true terms, m and P the mean and information that the fix assumes,
H how the sightings move with the terms, and W the inverse variances of centring and reading n::

    T - T^ = (I - K H)(T - m) - K n,     K = (H'WH + P)^-1 H'W

(Kalman 1960, J. Basic Eng. 82, 35, from memory; derived again in docs/mount.md). Dropped: second
order, terms times terms; with terms of 2 deg that is 0.07 deg at most where the sightings do not
see it, and tests/choose/test_worth.py measures what it does to the chance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from plumbstar.choose.routes import walked
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX, N_TERMS, SET_DOWN
from plumbstar.solve.chance import centred_hit_chance, hit_chance
from plumbstar.turns import half_turn
from plumbstar.units import Array, Indices

#: Sets handled at one go, so that the work stays in the processor's cache.
_BLOCK = 128


def trusting_stop(priors: Priors) -> Priors:
    """The classical recipe: the stop is taken at its word and only the azimuth zero and the lean
    are solved."""
    return Priors(np.zeros(N_TERMS), priors.only(SET_DOWN).sigma)


@dataclass(frozen=True)
class Belief:
    """Where the mount's terms really are: ``mean`` (12,) and ``covariance`` (12, 12), radians.

    The azimuth zero may hold anything: every fix finds it, and it cancels.
    """

    mean: Array
    covariance: Array

    @staticmethod
    def from_priors(priors: Priors) -> Belief:
        """The same as the priors say; an unknown azimuth zero is put at zero."""
        sigma = np.where(np.isinf(priors.sigma), 0.0, priors.sigma)
        return Belief(priors.mean.copy(), np.diag(sigma**2))

    def with_term(self, name: str, mean: float, sigma: float) -> Belief:
        """One term replaced, independent of the others; (0, 0) is "mended"."""
        i = INDEX[name]
        m, cov = self.mean.copy(), self.covariance.copy()
        m[i] = mean
        cov[i, :] = cov[:, i] = 0.0
        cov[i, i] = sigma**2
        return Belief(m, cov)


@dataclass(frozen=True)
class Places:
    """How the landing at places moves with the terms, (n, 2, 12), in their tangent planes.

    ``az`` (n,) and ``variances`` (n, 2) belong to them. The azimuth scale's factor is left open: a
    scale error acts on what was turned, and that depends on the way there (:meth:`counted`).
    """

    az: Array
    jacobian: Array
    variances: Array

    @staticmethod
    def at(az: Array, alt: Array, noise: Noise, terms: Array | None = None) -> Places:
        """Of true places, radians (n,), on a mount with those terms (12,); by default a true one.

        ``variances`` are those of centring and reading there.
        """
        terms = np.zeros(N_TERMS) if terms is None else terms
        reading = kinematics.reading_of(kinematics.unit(az, alt), terms)
        _, J = kinematics.direction_jacobian(reading, terms)
        J = kinematics.tangent_basis(az, alt) @ J
        J[..., INDEX["azimuth_scale"]] = J[..., INDEX["azimuth_zero"]]
        return Places(az, J, noise.variances(alt))

    def some(self, rows: slice) -> Places:
        """Only those."""
        return Places(self.az[rows], self.jacobian[rows], self.variances[rows])

    def counted(self, az: Array) -> Array:
        """The Jacobians with the scale acting on azimuths ``az`` (n,), their turns counted."""
        J = self.jacobian.copy()
        J[..., INDEX["azimuth_scale"]] *= az[:, None]
        return J

    def walked(self) -> Array:
        """The same where a hand goes from each to the next, the shorter way."""
        return self.counted(walked(self.az))

    def seen_from(self, az: float) -> Array:
        """The same where a hand goes to each from ``az``, its turns counted, the shorter way."""
        return self.counted(az + half_turn(self.az - az))


def leftover(belief: Belief, assumed: Priors, stars: Places) -> tuple[Array, Array]:
    """Mean (12,) and covariance (12, 12) of true minus fixed terms after sighting the stars.

    The hand goes from star to star in their order. Where fewer numbers are read than
    terms are unknown, the least change is taken, as a hand would make it. Raises
    :class:`numpy.linalg.LinAlgError` when the sightings and ``assumed`` leave a term open
    otherwise.
    """
    free = np.flatnonzero(assumed.sigma > 0)
    H = stars.walked().reshape(-1, N_TERMS)
    w = (1.0 / stars.variances).reshape(-1)
    Hf = H[:, free]
    K = np.zeros((N_TERMS, len(w)))
    if np.all(np.isinf(assumed.sigma[free])) and len(w) < len(free):
        K[free] = np.linalg.pinv(Hf * np.sqrt(w)[:, None], rcond=1e-6) * np.sqrt(w)
    else:
        normal = (Hf * w[:, None]).T @ Hf + np.diag(assumed.information[free])
        K[free] = np.linalg.solve(normal, (Hf * w[:, None]).T)
    left = np.eye(N_TERMS) - K @ H
    gap = belief.mean - assumed.mean
    gap[0] = 0.0  # an unknown azimuth zero cancels whatever it is
    return left @ gap, left @ belief.covariance @ left.T + (K / w) @ K.T


def mean_chance(
    offset: Array, covariance: Array, J: Array, variances: Array, radius: float
) -> float:
    """Mean hit chance over targets (t): terms off by ``offset`` (f,), known to ``covariance``.

    ``J`` (t, 2, f) carries them there; ``variances`` (t, 2) of the hand and the circles are added.
    """
    sky = J @ covariance @ np.swapaxes(J, -1, -2)
    sky[:, 0, 0] += variances[:, 0]
    sky[:, 1, 1] += variances[:, 1]
    return float(np.mean(hit_chance(J @ offset, sky, radius)))


@cache
def _pairs(terms: int) -> tuple[Indices, Indices]:
    """The places of the upper triangle."""
    p, q = np.triu_indices(terms)
    return p, q


def packed(covs: Array) -> Array:
    """The upper triangles of covariances (m, f, f), (m, f (f + 1) / 2), single precision."""
    p, q = _pairs(covs.shape[-1])
    twice = np.where(p == q, 1.0, 2.0)
    return (covs[:, p, q] * twice).astype(np.float32)


class Carrier:
    """Carries packed covariances of the terms to the targets, and on to the chance there.

    The three numbers of each target's 2 x 2 covariance are linear in the covariance of the terms,
    so one matrix product gives them for all sets and targets. ``J`` (t, 2, f) and ``variances``
    (t, 2) as in :func:`mean_chance`. In single precision, with the field's radius as the unit: the
    chance is right to a ten-thousandth, in half the time.
    """

    def __init__(self, J: Array, variances: Array, radius: float) -> None:
        p, q = _pairs(J.shape[-1])
        # A row of terms on one line of memory: picking columns of the other layout took longest.
        # Each is divided by the root of two: a product of two is then half of what it was.
        across, up = (J.T / (radius * math.sqrt(2.0))).astype(np.float32).swapaxes(0, 1)
        x, y, x2, y2 = across[p], up[p], across[q], up[q]
        self._to_cross = x * y2
        self._to_cross += y * x2
        x *= x2
        y *= y2
        self._to_sum = x + y
        self._to_diff = x - y
        var = variances / radius**2
        self._sum = (var.sum(axis=1) / 2).astype(np.float32)
        self._diff = ((var[:, 0] - var[:, 1]) / 2).astype(np.float32)

    def chances(self, covs: Array) -> Array:
        """Of packed covariances (m, ...), (m, t)."""
        half_trace = covs @ self._to_sum
        half_trace += self._sum
        spread = covs @ self._to_diff
        spread += self._diff
        cross = covs @ self._to_cross
        spread *= spread
        cross *= cross
        spread += cross
        return centred_hit_chance(half_trace, np.sqrt(spread, out=spread), 1.0)

    def means(self, covs: Array) -> Array:
        """The mean over the targets, (m,)."""
        out = np.empty(len(covs))
        for low in range(0, len(covs), _BLOCK):
            part = covs[low : low + _BLOCK]
            out[low : low + _BLOCK] = self.chances(part).mean(axis=1)
        return out
