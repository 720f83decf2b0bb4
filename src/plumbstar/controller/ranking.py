"""Which two of its stars are best for a controller: the stop trusted, then corrected by the number
and the look back."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.controller.believed import Believed
from plumbstar.controller.mistakes import SLIPPED, STAR_WRONG
from plumbstar.controller.outlook import USUAL_WAYS
from plumbstar.controller.showing import (
    SHARE,
    WAYS,
    ObjectPlaces,
    Taught,
    derivatives,
    derivatives_of_many,
)
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Priors
from plumbstar.sky.angles import between_rad
from plumbstar.solve.chance import hit_chance
from plumbstar.units import Array

#: Pairs nearer to one another, or to opposite points, than this are not weighed, radians.
NEAREST, FARTHEST = math.radians(15.0), math.radians(165.0)
#: A share of a way in between known as well as this is one to reckon with by itself.
LEARNT_SHARE = 0.1
#: So many of the best are weighed in both orders.
BOTH_ORDERS = 6


@dataclass(frozen=True)
class PairPromise:
    """Two stars by their place in the list, in order; mean hit chances over the targets: at the
    controller's zero, and pushed on by the number and the look back."""

    first: int
    second: int
    at_zero: float
    pushed_on: float


def over_the_sky(lowest_deg: float = 20.0, n: int = 24) -> Array:
    """Places (n, 2), radians, evenly over the sky above a height: the sunflower's spiral."""
    k = np.arange(n)
    sin_alt = math.sin(math.radians(lowest_deg)) + (k + 0.5) / n * (
        1.0 - math.sin(math.radians(lowest_deg))
    )
    az = k * math.pi * (3.0 - math.sqrt(5.0))
    return np.stack([np.mod(az, 2 * np.pi), np.arcsin(sin_alt)], axis=-1)


def promise(
    pair: Array,
    targets: Array,
    known: Believed,
    centring: float,
    field_deg: float,
    step: float,
    late: Array | None = None,
) -> tuple[float, float]:
    """Mean hit chances at the zero and pushed on, for two stars (2, 2) and targets (n, 2), azimuth
    and altitude in radians. ``step``: the last figure shown. The ways of sharing and the hands
    count as likely as they are beforehand, a way as learnt by the look back. ``late`` (2,): where
    the first star stood when the second was centred, for a controller without a clock."""
    priors = known.priors
    sigma = np.where(np.isinf(priors.sigma), 0.0, priors.sigma)
    # A way whose middle is not known well is left out: what is likely of it are ways of their own.
    ways = {
        way: share
        for way, (share, doubt) in {**WAYS, "between": known.between}.items()
        if doubt <= LEARNT_SHARE
    }
    x = np.tile(
        np.concatenate([np.where(np.isinf(priors.sigma), 0.0, priors.mean), np.zeros(5)]),
        (len(ways), 1),
    )
    x[:, SHARE] = list(ways.values())
    believed = pair if late is None else np.stack([late, pair[1]])
    taught = Taught(pair, pair, believed)
    # The look back first: at the first object the tube stands as the second star was told.
    places = np.concatenate([pair[1:], targets])
    _, push, g, J = derivatives_of_many(
        x, taught, ObjectPlaces(places, places), late is None, looked_back=True
    )
    scale = np.stack([np.cos(targets[:, 1]), np.ones(len(targets))], axis=-1)
    on_sky = (J[:, 1:] * scale[:, :, None])[:, None]
    H = np.concatenate([g[:, None], J[:, 0]], axis=1)[:, None]
    # One belief for each hand, its terms independent: the variances (hands, 17).
    P = np.stack(
        [
            np.concatenate([sigma**2, np.full(4, (times * centring) ** 2), [0.0]])
            for times, _ in known.hands
        ]
    )
    grain = step**2 / 12.0
    S = (H * P[:, None]) @ np.swapaxes(H, -1, -2) + grain * np.eye(3)
    spread = on_sky * P[:, None, None]
    cov = spread @ np.swapaxes(on_sky, -1, -2)
    shared = spread @ np.swapaxes(H, -1, -2)[:, :, None]
    given = cov - shared @ np.linalg.solve(S[:, :, None], np.swapaxes(shared, -1, -2))
    # (at the zero or pushed on, way, hand, target)
    offsets = np.zeros((2, len(ways), 1, len(targets), 2))
    offsets[0, :, 0] = push[:, 1:] * scale
    hits = hit_chance(
        offsets, np.stack([cov, given]) + 2.0 * grain * np.eye(2), math.radians(field_deg / 2.0)
    )
    weight = np.outer([known.ways[way] for way in ways], [p for _, p in known.hands])
    zero, pushed = np.sum(np.mean(hits, axis=-1) * weight, axis=(1, 2)) / np.sum(weight)
    # Two stars check nothing: a mistake that is not seen is allowed for.
    well = 1.0 - 2 * STAR_WRONG - SLIPPED
    return float(well * zero), float(well * pushed)


def at_zero_given(
    numbers: Array,
    pair: Array,
    targets: Array,
    priors: Priors,
    centring: float,
    field_deg: float,
    late: Array | None = None,
) -> Array:
    """Mean hit chance (m,) over the targets at the controller's own zero when it has shown each of
    these numbers (m,), measured less true, radians; the rest as for :func:`promise`.

    One step of the linear update from the number alone, with each way of sharing as likely as it
    is beforehand. Mistakes are left out: it is for a rule of thumb.
    """
    sigma = np.where(np.isinf(priors.sigma), 0.0, priors.sigma)
    P = np.diag(np.concatenate([sigma**2, np.full(4, centring**2), [0.0]]))
    x0 = np.concatenate([np.where(np.isinf(priors.sigma), 0.0, priors.mean), np.zeros(5)])
    believed = pair if late is None else np.stack([late, pair[1]])
    taught = Taught(pair, pair, believed)
    scale = np.stack([np.cos(targets[:, 1]), np.ones(len(targets))], axis=-1)
    radius = math.radians(field_deg / 2.0)
    chances, usual = np.zeros(len(numbers)), 0.0
    for way, (share, sigma_share) in WAYS.items():
        if sigma_share > 0:
            continue
        x0[SHARE] = share
        expected, push, g, J = derivatives(x0, taught, ObjectPlaces(targets, targets), late is None)
        spread = float(g @ P @ g) + 1e-12
        gain = P @ g / spread
        J = J * scale[:, :, None]
        cov = J @ (P - np.outer(gain, g @ P)) @ np.swapaxes(J, -1, -2) + 1e-9 * np.eye(2)
        offset = push * scale + (J @ gain) * (numbers - expected)[:, None, None]
        hits = hit_chance(offset, np.broadcast_to(cov, (*offset.shape, 2)), radius)
        chances += USUAL_WAYS[way] * np.mean(hits, axis=-1)
        usual += USUAL_WAYS[way]
    return chances / usual


def rank(
    stars: Array,
    targets: Array,
    known: Believed,
    centring: float,
    field_deg: float,
    step: float,
    among: Sequence[tuple[int, int]] | None = None,
) -> list[PairPromise]:
    """All pairs of stars (m, 2), the best first; ``among``: only these."""
    d = kinematics.unit(stars[:, 0], stars[:, 1])
    pairs = list(itertools.combinations(range(len(stars)), 2)) if among is None else list(among)
    found = []
    for i, k in pairs:
        if among is None and not NEAREST <= float(between_rad(d[i], d[k])) <= FARTHEST:
            continue
        told = promise(stars[[i, k]], targets, known, centring, field_deg, step)
        found.append(PairPromise(i, k, *told))
    found.sort(key=lambda p: -p.pushed_on)
    best = []
    for p in found[:BOTH_ORDERS] if among is None else []:
        turned = promise(stars[[p.second, p.first]], targets, known, centring, field_deg, step)
        other = PairPromise(p.second, p.first, *turned)
        best.append(other if other.pushed_on > p.pushed_on + 0.005 else p)
    return best + found[len(best) :]
