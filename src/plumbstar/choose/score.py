"""What a set of stars would buy, before any of them is sighted.

To first order the covariance of a fix depends on where the stars are, not on what the circles will
say. So the mean hit chance of every pair and triple can be computed beforehand: sum the information
of the sightings and the prior, invert, carry to every target, integrate over the field. All sets
are done together; tests/choose/test_score.py holds this to within 2 points of brute-force
simulation.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from plumbstar.choose.forecast import (
    Belief,
    Carrier,
    Places,
    leftover,
    mean_chance,
    packed,
    trusting_stop,
)
from plumbstar.choose.routes import Routes, routes, walked
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.solve.fix import Fix
from plumbstar.solve.since import NEXT_PUSH
from plumbstar.solve.weighing import covariance_about, leading
from plumbstar.turns import one_turn
from plumbstar.units import Array, Indices

#: Prior sigma (radians) that stands in for an unknown azimuth zero: its information is nil
#: beside one sighting's.
_ANY = 30.0


#: What mistakes that n stars cannot show leave of a chance, in evenings without one, for one star,
#: two, three ... Measured in a field of one degree by design/honest_with_mistakes.py (allowed) with
#: the rates of solve/stories.py.
_UNSEEN = (0.960, 0.949, 0.978, 0.988, 0.990)


def unseen_mistakes(n: int) -> float:
    """The factor on a chance that is reckoned as if ``n`` stars were sighted without a mistake,
    and nothing moved on the way to the object."""
    return NEXT_PUSH * _UNSEEN[min(n, len(_UNSEEN)) - 1]


@dataclass(frozen=True)
class Scores:
    """``sets`` (m, k) of indices into the candidates, each in the order to sight them;
    ``mean_hit_chance`` (m,); ``turned`` (m,): the azimuth turned from first to last, radians."""

    sets: Indices
    mean_hit_chance: Array
    turned: Array

    def order(self) -> Indices:
        """Indices of the sets, best first."""
        return np.argsort(-self.mean_hit_chance, kind="stable")


#: What an order costs: of rows of stars (r, k) and the azimuth turned (r,), in hit chance (r,).
OrderCost = Callable[[Indices, Array], Array]
#: The order of three is chosen over every so many-th target; a spiral stays even when thinned.
_THINNED = 4


def score_sets(
    az: Array,
    alt: Array,
    size: int,
    prior: Priors,
    noise: Noise,
    target_az: Array,
    target_alt: Array,
    field_radius: float,
    order_cost: OrderCost | None = None,
) -> Scores:
    """Mean hit chance over the targets for every set of ``size`` (1 to 3) of the candidates, each
    in its best order (less what the order costs).

    ``az``, ``alt`` (n,) and ``target_az``, ``target_alt`` (t,): true places, radians;
    ``field_radius`` radians. A hand goes from star to star, and from the last to each target, the
    shorter way; the scale of the azimuth circle acts on what is turned so.
    """
    sets = np.array(list(itertools.combinations(range(len(az)), size)), dtype=np.intp)
    free = np.flatnonzero(prior.sigma > 0)
    terms = np.where(np.isinf(prior.sigma), 0.0, prior.mean)
    stars = Places.at(az, alt, noise, terms)
    targets = Places.at(target_az, target_alt, noise, terms)
    ways = routes(az, sets)
    orders = len(ways.stars) // len(sets)

    # Orders of one set that count the turns alike give one fix; there are three at most.
    which = np.repeat(np.arange(len(sets)), orders)
    bits = (ways.turns << ways.stars.argsort(axis=1).argsort(axis=1)).sum(axis=1)
    _, first, fix = np.unique(which * 2**size + bits, return_index=True, return_inverse=True)
    covs = packed(_covariances(stars, ways, first, prior, free))

    # The targets are pushed to from the last star: those that end alike are done together.
    last = ways.stars[:, -1] * 2 + ways.turns[:, -1]
    _, ends, end = np.unique(fix * (2 * len(az)) + last, return_index=True, return_inverse=True)
    few = _THINNED if orders > 2 and len(target_az) >= 100 else 1
    some = targets.some(slice(None, None, few))
    means = _means(covs[fix[ends]], last[ends], az, some, free, field_radius)[end]
    worth = means if order_cost is None else means - order_cost(ways.stars, ways.turned)
    best = worth.reshape(-1, orders).argmax(axis=1) + np.arange(0, len(which), orders)
    means = means[best]
    if few > 1:
        means = _means(covs[fix[best]], last[best], az, targets, free, field_radius)
    return Scores(ways.stars[best], means, ways.turned[best])


def score_walk(
    az: Array,
    alt: Array,
    prior: Priors,
    noise: Noise,
    target_az: Array,
    target_alt: Array,
    field_radius: float,
) -> float:
    """The same for one set, sighted in the order given."""
    terms = np.where(np.isinf(prior.sigma), 0.0, prior.mean)
    belief, held = Belief.from_priors(prior), np.array(prior.sigma)
    held[np.isinf(held)] = _ANY
    offset, cov = leftover(belief, Priors(terms, held), Places.at(az, alt, noise, terms))
    targets = Places.at(target_az, target_alt, noise, terms)
    J = targets.seen_from(float(walked(az)[-1]))
    return mean_chance(offset, cov, J, targets.variances, field_radius)


def _covariances(stars: Places, ways: Routes, rows: Indices, prior: Priors, free: Indices) -> Array:
    """Of the free terms after each of those routes, (r, f, f)."""
    sigma = np.where(np.isinf(prior.sigma), _ANY, prior.sigma)[free]
    weight = 1.0 / stars.variances
    within = one_turn(stars.az)
    # By whole turns that are added to a star's azimuth, and by star.
    H = np.empty((2, len(within), len(free), len(free)))
    for turn in range(2):
        J = stars.counted(within + turn * math.tau)[..., free]
        H[turn] = np.swapaxes(J * weight[..., None], -1, -2) @ J
    # Whitened by the prior, the information matrix is near one and safe to invert.
    H *= np.outer(sigma, sigma)
    info = np.broadcast_to(np.eye(len(free)), (len(rows), len(free), len(free))).copy()
    for turns, which in zip(ways.turns[rows].T, ways.stars[rows].T, strict=True):
        info += H[turns, which]
    out: Array = np.linalg.inv(info) * np.outer(sigma, sigma)
    return out


def _means(
    covs: Array, last: Indices, az: Array, targets: Places, free: Indices, radius: float
) -> Array:
    """Mean hit chance (r,) of packed covariances, each with its last star and the turns there
    (``2 star + turns``)."""
    out = np.empty(len(covs))
    by_last = np.argsort(last, kind="stable")
    edges = np.flatnonzero(np.diff(last[by_last], prepend=-1))
    for rows in np.split(by_last, edges[1:]):
        star, turns = divmod(int(last[rows[0]]), 2)
        J = targets.seen_from(float(one_turn(az[star])) + turns * math.tau)[..., free]
        out[rows] = Carrier(J, targets.variances, radius).means(covs[rows])
    return out


def score_next(
    fix: Fix, az: Array, alt: Array, target_az: Array, target_alt: Array, field_radius: float
) -> tuple[float, Array]:
    """Mean hit chance now, and (n,) after one more sighting at each of the candidate places.

    ``az``, ``alt`` (n,) and the targets (t,), true places in radians. Kalman's update of the fix,
    and what one more sighting without a mistake tells of the mistakes.
    """
    J = fix.jacobian_at(az, alt)
    hand = fix.landing_noise
    R = hand.variances(alt)
    # A sighting without a mistake bears out the stories that lead, and no others.
    P = covariance_about(fix.mean, leading(fix.stories)) if fix.stories else fix.covariance
    PJ = P @ np.swapaxes(J, -1, -2)
    S = J @ PJ
    S[:, 0, 0] += R[:, 0]
    S[:, 1, 1] += R[:, 1]
    after = P - PJ @ np.linalg.solve(S, np.swapaxes(PJ, -1, -2))
    Jt = fix.jacobian_at(target_az, target_alt)
    carrier = Carrier(Jt, hand.variances(target_alt), field_radius)
    # The hand goes on from the star to each target the shorter way, by whole turns off from the way
    # that it would go now. A turn more is as if the azimuth zero were off by a turn of the scale.
    here, there = (fix.azimuths_at(*a) for a in ((az, alt), (target_az, target_alt)))
    turns = np.rint((here[:, None] - there) / math.tau)
    chances = np.zeros(turns.shape)
    for k in np.unique(turns):
        wound = np.eye(N_TERMS)
        wound[INDEX["azimuth_zero"], INDEX["azimuth_scale"]] = k * math.tau
        so = turns == k
        rows = np.flatnonzero(so.any(axis=1))
        of_all = carrier.chances(packed(wound @ after[rows] @ wound.T))
        chances[rows] = np.where(so[rows], of_all, chances[rows])
    width_deg = 2.0 * math.degrees(field_radius)
    places_deg = np.degrees(target_az), np.degrees(target_alt)
    now = NEXT_PUSH * float(np.mean(fix.hit_chance(*places_deg, width_deg)))
    sure = unseen_mistakes(len(fix.sightings) + 1)
    return now, np.maximum(now, sure * chances.mean(axis=1))


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
    J = targets.seen_from(float(walked(az)[-1]))
    return mean_chance(offset, cov, J, targets.variances, field_radius)
