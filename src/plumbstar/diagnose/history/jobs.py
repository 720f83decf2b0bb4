"""What to mend first: what each term's mending would add to the hit chance, and how it is done."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

from plumbstar.choose.worth import GOOD_PAIR, Belief, chance_over_sky, trusting_stop
from plumbstar.diagnose.history.record import Job
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX

#: Gains in hit chance below this are not worth a line.
SMALL_GAIN = 0.005


TOLD = {
    "altitude_zero": "the stop (or the altitude encoder)",
    "squareness": "the squareness of the bearings",
    "cone": "the cone (how square the tube sits)",
    "droop": "the droop",
    "azimuth_scale": "the azimuth scale",
    "altitude_scale": "the altitude scale",
    "azimuth_runout_sin": "the azimuth disc",
    "azimuth_runout_cos": "the azimuth disc",
}


_MEND = {
    "altitude_zero": (
        "Shim the stop (see docs/shims.md)",
        "Make the stop bear firmly and the same way each time: `plumbstar check stop-repeat`",
    ),
    "squareness": (
        "Square the altitude bearings: shim under one of the two",
        "Look for play in the altitude bearings",
    ),
    "cone": (
        "Square the tube in its cradle (`plumbstar check both-sides` if it can pass over the top)",
        "Look for what shifts the tube or the optical axis: cradle, mirror cell, collimation",
    ),
    "droop": ("Stiffen the tube, or move the balance", "Look for play in the tube"),
    "azimuth_scale": (
        "Correct ticks_per_turn: `plumbstar check once-round`",
        "Look for slip of the azimuth encoder: `plumbstar check once-round`",
    ),
    "altitude_scale": (
        "Correct the altitude ticks_per_turn",
        "Look for slip of the altitude encoder: `plumbstar check there-and-back`",
    ),
    "azimuth_runout_sin": ("Centre the azimuth disc", "Look for play in the azimuth disc"),
    "azimuth_runout_cos": ("Centre the azimuth disc", "Look for play in the azimuth disc"),
}


def learnt_from(b: Belief, base: Priors, names: Sequence[str]) -> Priors:
    """The priors of a fix that knows what ``b`` knows of the lasting terms."""
    mean, sigma = base.mean.copy(), base.sigma.copy()
    for name in names:
        i = INDEX[name]
        mean[i], sigma[i] = b.mean[i], math.sqrt(b.covariance[i, i])
    return Priors(mean, sigma)


def _work(name: str, off: float, trust: str, drifts: bool) -> str:
    """What to do about a term that is ``off`` sigma from nought, in words.

    Nobody is sent to turn a screw for an offset that may be nought, or to look for play where no
    outing has told of the term yet.
    """
    told = TOLD[name]
    if drifts:
        return f"Find what makes {told} drift before mending its present value"
    if off >= 2.0:
        return _MEND[name][0]
    if trust == "open" or off > 1.0:
        return f"More outings, with stars high and low, to learn of {told}"
    return _MEND[name][1]


def jobs_of(
    belief: Belief,
    base: Priors,
    noise: Noise,
    radius: float,
    names: Sequence[str],
    trust: Mapping[str, str],
    drifting: Collection[str],
) -> tuple[tuple[float, float, float], tuple[Job, ...]]:
    """Hit chances as things are, and what each term's mending would add."""

    def three(b: Belief) -> tuple[float, float, float]:
        learnt = learnt_from(b, base, names)
        return (
            chance_over_sky(b, learnt, GOOD_PAIR[:1], noise, radius),
            chance_over_sky(b, learnt, GOOD_PAIR, noise, radius),
            chance_over_sky(b, trusting_stop(base), GOOD_PAIR, noise, radius),
        )

    now = three(belief)
    jobs = []
    for name in names:
        i = INDEX[name]
        after = three(belief.with_term(name, 0.0, 0.0))
        off = float(abs(belief.mean[i]) / max(math.sqrt(belief.covariance[i, i]), 1e-12))
        gains = [a - b for a, b in zip(after, now, strict=True)]
        jobs.append(Job(name, _work(name, off, trust[name], name in drifting), *gains))
    jobs = [j for j in jobs if j.gain >= SMALL_GAIN]
    return now, tuple(sorted(jobs, key=lambda j: -j.gain))
