"""How likely it is that what went wrong is too small to show: then there is nothing to mend.

Sizes of faults are drawn about zero, so that a part of each is smaller than the hand's scatter. No
look at the sightings tells such an evening from one in which nothing happened, and nobody would go
and mend it. A fault *shows* when, without any error of the hand, it takes the sightings so far from
every ordinary mount that the misfit (chi-square) is :data:`SHOWS` or more: two sigma.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.special import ndtr

from plumbstar.diagnose.explain.causes import coarse_centring, several
from plumbstar.diagnose.explain.causes.both import AND
from plumbstar.diagnose.explain.forms import Judged

#: Misfit, squared sigmas, from which on a fault shows. Common practice, no source.
SHOWS = 4.0
#: Sightings from which on that is told. Of fewer hardly anything shows, however large.
LEAST = 4
#: What is no step away from an ordinary evening: the smallest of them is 1.7 times the hand.
_ALWAYS_SHOWS = (coarse_centring.CAUSE.name, several.KIND)


def unseen(judged: Sequence[Judged], ordinary: Sequence[Judged]) -> float:
    """Probability that something went wrong that does not show; ``ordinary``: those of ``judged``
    in which nothing went wrong but what is told as measured.

    A form that takes g off the misfit says of its size, in units of its own sigma, that it is
    normal about the root of g with sigma 1 (the prior of the size is wider than that, and left
    out); of several numbers at once as if they were one.
    """
    plain = min(float(j.costs[int(np.argmax(j.shares))]) for j in ordinary)
    least, total = np.sqrt(SHOWS), 0.0
    for j in judged:
        if any(j is x for x in ordinary) or set(j.kind.split(AND)) & set(_ALWAYS_SHOWS):
            continue
        size = np.sqrt(np.maximum(plain - j.costs, 0.0))
        total += j.probability * float(j.shares @ (ndtr(least - size) - ndtr(-least - size)))
    return total
