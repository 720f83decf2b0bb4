"""What a set of stars would buy, before any of them is sighted.

To first order the covariance of a fix depends on where the stars are, not on what the circles will
say. So the mean hit chance of every pair and triple can be computed beforehand: sum the information
of the sightings and the prior, invert, carry to every target, integrate over the field. All sets
are done together; tests/choose/test_score.py holds this to within 2 points of brute-force
simulation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.choose.forecast import (
    Belief,
    Places,
    leftover,
    mean_chance,
    mean_chances_centred,
    trusting_stop,
)
from plumbstar.mount.priors import Noise, Priors
from plumbstar.solve.fix import Fix
from plumbstar.units import Array, Indices

#: Prior sigma (radians) that stands in for an unknown azimuth zero: its information is nil
#: beside one sighting's.
_ANY = 30.0


#: What mistakes that n stars cannot show leave of a chance, in evenings without one, for one star,
#: two, three ... Measured in a field of one degree by design/honest_with_mistakes.py (allowed) with
#: the rates of solve/stories.py.
_UNSEEN = (0.960, 0.949, 0.978, 0.988, 0.990)


def unseen_mistakes(n: int) -> float:
    """The factor on a chance that is reckoned as if ``n`` stars were sighted without a mistake."""
    return _UNSEEN[min(n, len(_UNSEEN)) - 1]


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
    stars = Places.at(az, alt, noise, terms)
    targets = Places.at(target_az, target_alt, noise, terms)
    star_weight = 1.0 / stars.variances

    all_sets, all_means = [], []
    n = len(az)
    for first in range(n):
        if size > 1 and first > n - size:
            break
        J = stars.seen_from(az[first])[..., free]
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
        J = targets.seen_from(az[first])[..., free]
        all_means.append(mean_chances_centred(cov, J, targets.variances, field_radius))
        all_sets.append(sets)
    return Scores(np.concatenate(all_sets), np.concatenate(all_means))


def score_next(
    fix: Fix, az: Array, alt: Array, target_az: Array, target_alt: Array, field_radius: float
) -> tuple[float, Array]:
    """Mean hit chance now, and (n,) after one more sighting at each of the candidate places.

    ``az``, ``alt`` (n,) and the targets (t,), true places in radians. Kalman's update of the fix,
    and what one more sighting without a mistake tells of the mistakes.
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
    width_deg = 2.0 * math.degrees(field_radius)
    places_deg = np.degrees(target_az), np.degrees(target_alt)
    now = float(np.mean(fix.hit_chance(*places_deg, width_deg)))
    sure = unseen_mistakes(len(fix.sightings) + 1)
    return now, np.maximum(now, sure * mean_chances_centred(after, Jt, Rt, field_radius))


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
    targets = Places.at(target_az, target_alt, noise, terms)
    offset, cov = leftover(
        Belief.from_priors(prior), trusting_stop(prior).flat(), Places.at(az, alt, noise, terms)
    )
    J = targets.seen_from(float(az[0]))
    return mean_chance(offset, cov, J, targets.variances, field_radius)
