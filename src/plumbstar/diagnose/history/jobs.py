"""What to mend first: what each term's mending would add to the hit chance, and how it is done."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

from plumbstar.choose.forecast import Belief, trusting_stop
from plumbstar.choose.worth import GOOD_PAIR, chance_over_sky
from plumbstar.diagnose.history.record import Job
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import term

#: Gains in hit chance below this are not worth a line.
SMALL_GAIN = 0.005


def told(name: str) -> str:
    """A term as the subject of a sentence; a stop that jumps may be its encoder's slip."""
    return f"the {term(name)}{' (or the altitude encoder)' if name == 'altitude_zero' else ''}"


Work = tuple[str, Advice | None]


def _check(name: str) -> Advice:
    return Advice(Do.DO_A_CHECK, name)


_DISC: tuple[Work, Work] = (
    ("Centre the azimuth disc", None),
    ("Look for play in the azimuth disc", None),
)
#: What to do about a term that is off, and about one that is not but is not known well either.
_MEND: dict[str, tuple[Work, Work]] = {
    "altitude_zero": (
        ("Shim the stop", Advice(Do.READ_OF_SHIMS)),
        ("Make the stop bear firmly and the same way each time", _check("stop-repeat")),
    ),
    "squareness": (
        ("Square the altitude bearings: shim under one of the two", None),
        ("Look for play in the altitude bearings", None),
    ),
    "cone": (
        ("Square the tube in its cradle", Advice(Do.CHECK_OVER_THE_TOP)),
        (
            "Look for what shifts the tube or the optical axis: cradle, mirror cell, collimation",
            None,
        ),
    ),
    "droop": (("Stiffen the tube, or move the balance", None), ("Look for play in the tube", None)),
    "azimuth_scale": (
        ("Correct ticks_per_turn", _check("once-round")),
        ("Look for slip of the azimuth encoder", _check("once-round")),
    ),
    "altitude_scale": (
        ("Correct the altitude ticks_per_turn", None),
        ("Look for slip of the altitude encoder", _check("there-and-back")),
    ),
    "azimuth_runout_sin": _DISC,
    "azimuth_runout_cos": _DISC,
}


def learnt_from(b: Belief, base: Priors, names: Sequence[str]) -> Priors:
    """The priors of a fix that knows what ``b`` knows of the lasting terms."""
    mean, sigma = base.mean.copy(), base.sigma.copy()
    for name in names:
        i = INDEX[name]
        mean[i], sigma[i] = b.mean[i], math.sqrt(b.covariance[i, i])
    return Priors(mean, sigma)


def _work(name: str, off: float, trust: str, drifts: bool) -> Work:
    """What to do about a term that is ``off`` sigma from nought, and what helps with it.

    Nobody is sent to turn a screw for an offset that may be nought, or to look for play where no
    outing has told of the term yet.
    """
    what = told(name)
    if drifts:
        return f"Find what makes {what} drift before mending its present value", None
    if off >= 2.0:
        return _MEND[name][0]
    if trust == "open" or off > 1.0:
        return f"More outings, with stars high and low, to learn of {what}", None
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
        what, advice = _work(name, off, trust[name], name in drifting)
        jobs.append(Job(name, what, gains[0], gains[1], gains[2], advice))
    jobs = [j for j in jobs if j.gain >= SMALL_GAIN]
    return now, tuple(sorted(jobs, key=lambda j: -j.gain))
