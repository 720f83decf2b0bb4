"""What earlier evenings beside the same controller teach: priors, and how it shares."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.controller.believed import Believed
from plumbstar.controller.mistakes import Hands
from plumbstar.controller.outlook import Asked, Outlook, outlook
from plumbstar.controller.showing import SHARE
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import INDEX, PERSISTENT

#: What lasts is not quite the same each evening: so much of the kit's sigma is added to what was
#: learnt. Common practice, no source.
SCATTER = 0.15
#: No way of sharing is ruled out by less than this, since an evening may have been misread.
LEAST_WAY = 0.01
#: Nor is a hand as rough as that ever ruled out: it has worse evenings. Common practice, no source.
LEAST_HAND = 0.01
#: Nor is the share of a way in between ever known better than this.
LEAST_SHARE = 0.03

_STOP = INDEX["altitude_zero"]


def learnt(seen: Outlook, kit: Priors) -> Priors:
    """What is believed before the next evening: lasting terms as this one leaves them, a little
    wider, never wider than the kit's; azimuth zero and lean as the kit has them."""
    w = np.array([h.weight for h in seen.hypotheses])
    means = np.array([h.mean for h in seen.hypotheses])
    variances = np.array([np.diag(h.cov) for h in seen.hypotheses])
    mean = w @ means
    sigma = np.sqrt(np.maximum(w @ (variances + (means - mean) ** 2), 0.0))
    told = {}
    for name in PERSISTENT:
        i = INDEX[name]
        own = float(kit.sigma[i])
        if own > 0 and np.isfinite(own):
            told[name] = (float(mean[i]), min(float(np.hypot(sigma[i], SCATTER * own)), own))
    return kit.replacing(told)


@dataclass(frozen=True)
class BetweenNights:
    """What a mend between two evenings changed: terms learnt ``anew``, or the stop's term ``moved``
    by so much, known to ``sigma``, radians; ``doubt``: the chance that it went the other way."""

    anew: tuple[str, ...] = ()
    moved: float = 0.0
    sigma: float = 0.0
    doubt: float = 0.0


def mended(priors: Priors, kit: Priors, changes: Iterable[BetweenNights]) -> Priors:
    """What is believed after these mends, in their order; never wider than the kit's own."""
    for c in changes:
        told = {n: (float(kit.mean[INDEX[n]]), float(kit.sigma[INDEX[n]])) for n in c.anew}
        if c.moved:
            # Mean and variance of two cases: moved so, or the other way.
            mean = float(priors.mean[_STOP]) + (1.0 - 2.0 * c.doubt) * c.moved
            spread = 4.0 * c.doubt * (1.0 - c.doubt) * c.moved**2
            sigma = math.sqrt(float(priors.sigma[_STOP]) ** 2 + c.sigma**2 + spread)
            own = float(kit.sigma[_STOP])
            wide = sigma >= own
            told["altitude_zero"] = (float(kit.mean[_STOP]), own) if wide else (mean, sigma)
        priors = priors.replacing(told)
    return priors


def after(
    evenings: Iterable[Asked],
    tonight: Asked,
    mends: Sequence[Sequence[BetweenNights]] = (),
) -> Asked:
    """Tonight with the earlier evenings known, oldest first: one after the other they narrow the
    lasting terms, the way of sharing, whether there is a clock, and how rough the hand is.

    ``mends``: those before each evening, and in the end those before tonight; empty for none.
    """
    kit = tonight.priors
    before_each = iter(mends)
    known = Believed.of(tonight)
    for earlier in evenings:
        known = replace(known, priors=mended(known.priors, kit, next(before_each, ())))
        known = taught_by(outlook(known.before(earlier)), known, kit)
    known = replace(known, priors=mended(known.priors, kit, next(before_each, ())))
    return known.before(tonight)


def taught_by(seen: Outlook, known: Believed, kit: Priors) -> Believed:
    """What is believed after one more evening: ``seen`` is what it came to, asked with what was
    ``known`` before; ``kit``: the kit's own priors."""
    return Believed(
        learnt(seen, kit),
        {w: max(p, LEAST_WAY) for w, p in seen.sharing().items()},
        min(max(sum(h.weight for h in seen.hypotheses if not h.clock), 0.01), 0.99),
        _share(seen, known.between),
        _hands(seen),
    )


def _hands(seen: Outlook) -> Hands:
    """How rough the hand is likely to be next time: it has better evenings and worse ones."""
    told = [(times, max(p, LEAST_HAND)) for times, p in seen.hands()]
    total = sum(p for _, p in told)
    return tuple((times, p / total) for times, p in told)


def _share(seen: Outlook, before: tuple[float, float]) -> tuple[float, float]:
    """What an evening leaves open of the share of a way in between."""
    of = [h for h in seen.hypotheses if h.way == "between"]
    if not of:
        return before
    w = np.array([h.weight for h in of])
    w /= w.sum()
    means = np.array([h.mean[SHARE] for h in of])
    mean = float(w @ means)
    var = float(w @ (np.array([h.cov[SHARE, SHARE] for h in of]) + (means - mean) ** 2))
    return mean, min(max(math.sqrt(max(var, 0.0)), LEAST_SHARE), before[1])
