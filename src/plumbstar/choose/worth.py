"""What a fault costs, in hit chance: the pointing error left after a fix of stated sightings.

The mount is believed to be somewhere (:class:`Belief`); the fix assumes something, perhaps not the
same (:class:`~plumbstar.mount.priors.Priors`): a recipe that trusts the stop assumes an altitude
zero of exactly nothing. To first order the fix is a linear estimator, so what is left over is
known before any star is sighted::

    T - T^ = (I - K H)(T - m) - K n,     K = (H'WH + P)^-1 H'W

with H how the sightings move with the terms, W the inverse variances of centring and reading, m and
P the assumed mean and information (Kalman 1960, J. Basic Eng. 82, 35, from memory; derived again
in docs/mount.md). Dropped: second order, terms times terms; with terms of 2 deg that is 0.07 deg at
most where the sightings do not see it, and tests/choose/test_worth.py measures what it does to the
chance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX, N_TERMS, SET_DOWN
from plumbstar.solve.chance import hit_chance
from plumbstar.solve.fix import sky_grid
from plumbstar.turns import half_turn
from plumbstar.units import Array

#: A well-chosen first pair: 45 deg up and a quarter turn apart. (2, 2) azimuth, altitude, radians.
GOOD_PAIR: Array = np.radians([[100.0, 45.0], [190.0, 45.0]])


@dataclass(frozen=True)
class Belief:
    """Where the mount's terms really are: ``mean`` (11,) and ``covariance`` (11, 11), radians.

    The azimuth zero may hold anything: every fix finds it, and it cancels.
    """

    mean: Array
    covariance: Array

    @staticmethod
    def from_priors(priors: Priors) -> Belief:
        """The same as the priors say; an unknown azimuth zero is put at nought."""
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


def _turned(places: Array, near: float) -> Array:
    """The places with azimuths within half a turn of ``near``: a hand turns the shorter way, and a
    scale error acts on what was turned."""
    out = places.copy()
    out[:, 0] = near + half_turn(places[:, 0] - near)
    return out


def leftover(belief: Belief, assumed: Priors, places: Array, noise: Noise) -> tuple[Array, Array]:
    """Mean (11,) and covariance (11, 11) of true minus fixed terms after sighting ``places``.

    ``places`` (n, 2): true azimuth and altitude of the stars, radians. Raises
    :class:`numpy.linalg.LinAlgError` when the sightings and ``assumed`` leave a term open.
    """
    free = np.flatnonzero(assumed.sigma > 0)
    az, alt = places[:, 0], places[:, 1]
    _, J = kinematics.direction_jacobian(_turned(places, places[0, 0]), np.zeros(N_TERMS))
    H = (kinematics.tangent_basis(az, alt) @ J).reshape(-1, N_TERMS)
    w = (1.0 / noise.variances(alt)).reshape(-1)
    Hf = H[:, free]
    normal = (Hf * w[:, None]).T @ Hf + np.diag(assumed.information[free])
    K = np.zeros((N_TERMS, len(w)))
    K[free] = np.linalg.solve(normal, (Hf * w[:, None]).T)
    left = np.eye(N_TERMS) - K @ H
    gap = belief.mean - assumed.mean
    gap[0] = 0.0  # an unknown azimuth zero cancels whatever it is
    cov = left @ belief.covariance @ left.T + (K / w) @ K.T
    return left @ gap, cov


@lru_cache(maxsize=32)
def _targets(near: float, min_alt_deg: float, count: int) -> tuple[Array, Array]:
    """How places all over the sky move with the terms, (count, 2, 11), and their altitudes."""
    az, alt = sky_grid(min_alt_deg, count)
    targets = _turned(np.stack([az, alt], axis=-1), near)
    _, J = kinematics.direction_jacobian(targets, np.zeros(N_TERMS))
    return kinematics.tangent_basis(az, alt) @ J, alt


def chance_over_sky(
    belief: Belief,
    assumed: Priors,
    places: Array,
    noise: Noise,
    radius: float,
    *,
    min_alt_deg: float = 20.0,
    count: int = 200,
) -> float:
    """Mean hit chance over the sky above ``min_alt_deg`` after that fix; ``radius`` in radians."""
    offset, cov = leftover(belief, assumed, places, noise)
    T, alt = _targets(float(places[0, 0]), min_alt_deg, count)
    sky = T @ cov @ np.swapaxes(T, -1, -2)
    var = noise.variances(alt)
    sky[:, 0, 0] += var[:, 0]
    sky[:, 1, 1] += var[:, 1]
    return float(np.mean(hit_chance(T @ offset, sky, radius)))


def trusting_stop(priors: Priors) -> Priors:
    """The classical recipe: the stop is taken at its word and only the azimuth zero and the lean
    are solved."""
    return Priors(np.zeros(N_TERMS), priors.only(SET_DOWN).sigma)
