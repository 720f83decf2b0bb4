"""What to mend first: what each term's mending would add to the hit chance."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

from plumbstar.choose.forecast import Belief, trusting_stop
from plumbstar.choose.worth import GOOD_PAIR, chance_over_sky
from plumbstar.diagnose.history.record import Job, TermOverOutings, Work
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


#: So many outings tell of a term before anybody is sent to mend it: one alone may have been odd.
BEFORE_A_SCREW = 2


def _work(off: float, t: TermOverOutings, drifts: bool, sure: bool) -> Work:
    """What to do about a term that is ``off`` sigma from zero.

    Nobody is sent to turn a screw for an offset that may be zero or that one outing told, or to
    look for play where no outing has told of the term yet.
    """
    if drifts:
        return Work.FIND_THE_DRIFT
    if off >= 2.0 and (sure or t.told >= BEFORE_A_SCREW):
        return Work.MEND
    return Work.LEARN if t.trust == "open" or off > 1.0 or not t.told else Work.STEADY


def jobs_of(
    belief: Belief,
    base: Priors,
    noise: Noise,
    radius: float,
    terms: Sequence[TermOverOutings],
    drifting: Collection[str],
    sure: Collection[str],
) -> tuple[tuple[float, float, float], tuple[Job, ...]]:
    """Hit chances as things are, and what each term's mending would add.

    ``sure``: of these terms what is off is known by more than one outing's word.
    """

    names = [t.name for t in terms]

    def three(b: Belief) -> tuple[float, float, float]:
        learnt = learnt_from(b, base, names)
        return (
            chance_over_sky(b, learnt, GOOD_PAIR[:1], noise, radius),
            chance_over_sky(b, learnt, GOOD_PAIR, noise, radius),
            chance_over_sky(b, trusting_stop(base), GOOD_PAIR, noise, radius),
        )

    now = three(belief)
    jobs = []
    for t in terms:
        name, i = t.name, INDEX[t.name]
        after = three(belief.with_term(name, 0.0, 0.0))
        off = float(abs(belief.mean[i]) / max(math.sqrt(belief.covariance[i, i]), 1e-12))
        gains = [a - b for a, b in zip(after, now, strict=True)]
        work = _work(off, t, name in drifting, name in sure)
        jobs.append(Job(name, work, gains[0], gains[1], gains[2]))
    jobs = [j for j in jobs if j.gain >= SMALL_GAIN]
    return now, tuple(sorted(jobs, key=lambda j: -j.gain))
