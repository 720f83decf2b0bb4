"""What a set of stars would buy, before any of them is sighted.

To first order the covariance of a fix depends on where the stars are, not on what the circles will
say. So the mean hit chance of every pair and triple can be computed beforehand: sum the information
of the sightings and the prior, invert, carry to every target, integrate over the field. All sets
are done together; tests/choose/test_score.py holds this to within 2 points of brute-force
simulation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX, SET_DOWN
from plumbstar.solve.chance import centred_hit_chance, hit_chance
from plumbstar.solve.fix import Fix
from plumbstar.turns import half_turn
from plumbstar.units import Array, Indices

#: Prior sigma (radians) that stands in for an unknown azimuth zero: its information is nil
#: beside one sighting's.
_ANY = 30.0

#: Sets handled at one go, so that the work stays in the processor's cache.
_BLOCK = 128


@dataclass(frozen=True)
class Scores:
    """``sets`` (m, k) of indices into the candidates; ``mean_hit_chance`` (m,)."""

    sets: Indices
    mean_hit_chance: Array

    def order(self) -> Indices:
        """Indices of the sets, best first."""
        return np.argsort(-self.mean_hit_chance, kind="stable")


def score_sets(
    az: Array,
    alt: Array,
    size: int,
    prior: Priors,
    noise: Noise,
    target_az: Array,
    target_alt: Array,
    field_radius: float,
) -> Scores:
    """Mean hit chance over the targets for every set of ``size`` (1 to 3) of the candidates.

    ``az``, ``alt`` (n,) and ``target_az``, ``target_alt`` (t,): true places, radians;
    ``field_radius`` radians. The scale of the azimuth circle is counted from the first star of the
    set, the shorter way round, as the tube is turned.
    """
    free = np.flatnonzero(prior.sigma > 0)
    sigma = np.where(np.isinf(prior.sigma), _ANY, prior.sigma)[free]
    terms = np.where(np.isinf(prior.sigma), 0.0, prior.mean)
    stars = _Rows.at(az, alt, terms, free)
    targets = _Rows.at(target_az, target_alt, terms, free)
    star_weight = 1.0 / noise.variances(alt)
    target_var = noise.variances(target_alt)

    all_sets, all_means = [], []
    n = len(az)
    for first in range(n):
        if size > 1 and first > n - size:
            break
        J = stars.seen_from(az[first])
        H = np.einsum("nip,ni,niq->npq", J, star_weight, J)
        rest = np.arange(first + 1, n)
        if size == 1:
            sets = np.array([[first]])
        elif size == 2:
            sets = np.stack([np.full(len(rest), first), rest], axis=1)
        else:
            j, k = np.triu_indices(len(rest), 1)
            sets = np.stack([np.full(len(j), first), rest[j], rest[k]], axis=1)
        # Whitened by the prior, the information matrix is near one and safe to invert.
        info = H[sets].sum(axis=1) * np.outer(sigma, sigma) + np.eye(len(free))
        cov = np.linalg.inv(info) * np.outer(sigma, sigma)
        all_means.append(_mean_chance(cov, targets.seen_from(az[first]), target_var, field_radius))
        all_sets.append(sets)
    return Scores(np.concatenate(all_sets), np.concatenate(all_means))


@dataclass(frozen=True)
class _Rows:
    """Tangent-plane Jacobians (n, 2, f) of places, with the azimuth scale's factor left open."""

    az: Array
    jacobian: Array
    scale_column: int | None

    @staticmethod
    def at(az: Array, alt: Array, terms: Array, free: Indices) -> _Rows:
        reading = kinematics.reading_of(kinematics.unit(az, alt), terms)
        _, J = kinematics.direction_jacobian(reading, terms)
        J = kinematics.tangent_basis(az, alt) @ J
        ka = INDEX["azimuth_scale"]
        J[..., ka] = J[..., INDEX["azimuth_zero"]]
        column = int(np.flatnonzero(free == ka)[0]) if ka in free else None
        return _Rows(az, J[..., free], column)

    def seen_from(self, az: float) -> Array:
        """The Jacobians with the scale acting on the turn from ``az``, the shorter way."""
        if self.scale_column is None:
            return self.jacobian
        J = self.jacobian.copy()
        turn = half_turn(self.az - az)
        J[..., self.scale_column] *= turn[:, None]
        return J


def _mean_chance(cov: Array, J: Array, target_var: Array, radius: float) -> Array:
    """Mean (m,) over targets of the centred hit chance, for covariances (m, f, f).

    The three numbers of each target's 2 x 2 covariance are linear in the covariance of the terms,
    so one matrix product gives them for all sets and targets.
    """
    p, q = np.triu_indices(cov.shape[-1])
    twice = np.where(p == q, 1.0, 2.0)
    flat = cov[:, p, q] * twice

    def form(a: Array, b: Array) -> Array:
        return (a[:, p] * b[:, q] + a[:, q] * b[:, p]) / 2

    x, y = J[:, 0], J[:, 1]
    xx, yy, xy = form(x, x), form(y, y), form(x, y)
    to_sum, to_diff, to_cross = ((xx + yy) / 2).T, ((xx - yy) / 2).T, xy.T
    out = np.empty(len(flat))
    for low in range(0, len(flat), _BLOCK):
        part = flat[low : low + _BLOCK]
        half_trace = part @ to_sum + target_var.sum(axis=1) / 2
        diff = part @ to_diff + (target_var[:, 0] - target_var[:, 1]) / 2
        half_spread = np.hypot(diff, part @ to_cross)
        out[low : low + _BLOCK] = centred_hit_chance(half_trace, half_spread, radius).mean(axis=1)
    return out


def score_next(
    fix: Fix, az: Array, alt: Array, target_az: Array, target_alt: Array, field_radius: float
) -> tuple[float, Array]:
    """Mean hit chance now, and (n,) after one more sighting at each of the candidate places.

    ``az``, ``alt`` (n,) and the targets (t,), true places in radians. Kalman's update of the fix.
    """
    J = fix.jacobian_at(az, alt)
    R = fix.noise.variances(alt)
    P = fix.covariance
    PJ = P @ np.swapaxes(J, -1, -2)
    S = J @ PJ
    S[:, 0, 0] += R[:, 0]
    S[:, 1, 1] += R[:, 1]
    after = P - PJ @ np.linalg.solve(S, np.swapaxes(PJ, -1, -2))
    Jt = fix.jacobian_at(target_az, target_alt)
    Rt = fix.noise.variances(target_alt)
    now = _mean_chance(P[None], Jt, Rt, field_radius)
    return float(now[0]), _mean_chance(after, Jt, Rt, field_radius)


def score_trusting_stop(
    az: Array,
    alt: Array,
    prior: Priors,
    noise: Noise,
    target_az: Array,
    target_alt: Array,
    field_radius: float,
) -> float:
    """Mean hit chance if this one set is solved the classic way: the stop believed, mount perfect.

    The classic recipe solves azimuth zero and the two leans by least squares and takes every other
    term at zero. Its error at a target is what the believed terms really are (their prior) seen
    through that wrong model, plus the noise: exact for a linear model.
    """
    terms = np.where(np.isinf(prior.sigma), 0.0, prior.mean)
    solved = np.array([INDEX[t] for t in SET_DOWN])
    matters = (prior.sigma > 0) | (prior.mean != 0)
    others = np.array([i for i in np.flatnonzero(matters) if i not in solved])
    free = np.concatenate([solved, others])
    J = _Rows.at(az, alt, terms, free).seen_from(float(az[0])).reshape(-1, len(free))
    weight = (1.0 / noise.variances(alt)).reshape(-1)
    Js = J[:, :3]
    # With one star the leans are not determined: the least change is what a hand would make.
    gain = np.linalg.pinv(Js * np.sqrt(weight)[:, None], rcond=1e-6) * np.sqrt(weight)
    Jt = _Rows.at(target_az, target_alt, terms, free).seen_from(float(az[0]))
    believed = Jt[..., 3:] - Jt[..., :3] @ (gain @ J[:, 3:])
    offset = believed @ prior.mean[others]
    cov = np.einsum("tip,p,tjp->tij", believed, prior.sigma[others] ** 2, believed)
    carried = Jt[..., :3] @ gain
    cov += np.einsum("tip,p,tjp->tij", carried, 1.0 / weight, carried)
    var = noise.variances(target_alt)
    cov[:, 0, 0] += var[:, 0]
    cov[:, 1, 1] += var[:, 1]
    return float(hit_chance(offset, cov, field_radius).mean())
