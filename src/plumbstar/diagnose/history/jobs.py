"""What to mend first: what each term's mending would add to the hit chance."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

from plumbstar.choose.forecast import Belief, trusting_stop
from plumbstar.choose.worth import GOOD_PAIR, chance_over_sky
from plumbstar.diagnose.history.record import Job, Trust, Work
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX

#: Gains in hit chance below this are not worth a line.
SMALL_GAIN = 0.005


def learnt_from(b: Belief, base: Priors, names: Sequence[str]) -> Priors:
    """The priors of a fix that knows what ``b`` knows of the lasting terms."""
    mean, sigma = base.mean.copy(), base.sigma.copy()
    for name in names:
        i = INDEX[name]
        mean[i], sigma[i] = b.mean[i], math.sqrt(b.covariance[i, i])
    return Priors(mean, sigma)


def _work(off: float, trust: Trust, drifts: bool) -> Work:
    """What to do about a term that is ``off`` sigma from zero.

    Nobody is sent to turn a screw for an offset that may be zero, or to look for play where no
    outing has told of the term yet.
    """
    if drifts:
        return Work.FIND_THE_DRIFT
    if off >= 2.0:
        return Work.MEND
    return Work.LEARN if trust == "open" or off > 1.0 else Work.STEADY


def jobs_of(
    belief: Belief,
    base: Priors,
    noise: Noise,
    radius: float,
    names: Sequence[str],
    trust: Mapping[str, Trust],
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
        work = _work(off, trust[name], name in drifting)
        jobs.append(Job(name, work, gains[0], gains[1], gains[2]))
    jobs = [j for j in jobs if j.gain >= SMALL_GAIN]
    return now, tuple(sorted(jobs, key=lambda j: -j.gain))
