"""What the sightings of one evening say of the hand that centred them.

The evidence of the sightings is worked out for hands finer and rougher than stated, each time
summed over what may have gone wrong (:mod:`plumbstar.solve.stories`), so that one wrong star makes
no rough hand. Many evenings together tell how well an observer centres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.solve.batches import batch_of, solved
from plumbstar.solve.posterior import Data, gauss_newton
from plumbstar.solve.stories import Story, single
from plumbstar.solve.suspects import likeliest_bad
from plumbstar.solve.weighing import weigh_all
from plumbstar.units import Array

#: How many times the stated error, evenly in the logarithm: a sixteenth to sixteen times. Between
#: two steps a spline of the sum is exact to a hundredth (checked for 4 to 200 degrees of freedom).
LOG_TIMES: Array = np.linspace(-math.log(16.0), math.log(16.0), 13)


def hand_likelihood(sightings: Sequence[Sighting], prior: Priors, noise: Noise) -> Array:
    """Log likelihood (13,) of hands that centre exp(:data:`LOG_TIMES`) times ``noise.centring``.

    Up to a constant. All numbers of the mount, and what may have gone wrong, are integrated out
    (Laplace, as :func:`plumbstar.solve.weighing.weigh`).
    """
    data = Data.of(sightings, noise)
    clean = gauss_newton(data, prior)
    weighed = weigh_all(data, prior, noise, clean)
    one = [s for s in single(len(sightings), (), likeliest_bad(data, clean)) if s.coarser == 1.0]
    # The likeliest faults at the stated hand, and a careless sighting at every one: beside a fine
    # hand it is a fault, beside a rough one it is none.
    smallest = min((off for s in one for _, off in s.bad), default=0.0)
    asked: dict[tuple[object, ...], Story] = {
        _fault(s): s for s in one if s.what == one[0].what or [o for _, o in s.bad] == [smallest]
    }
    beforehand = {_fault(s): s.log_prior for s in one}
    for w in weighed:
        fault = _fault(w.story)
        # A story of two faults may have been weighed with a rough hand's chance in it.
        rate = beforehand.get(fault, w.story.log_prior)
        asked.setdefault(fault, replace(w.story, coarser=1.0, log_prior=rate))
    times = np.exp(LOG_TIMES).tolist()
    stories = [replace(s, coarser=t) for t in times for s in asked.values()]
    _, log_p = solved(*batch_of(data, prior, noise, clean, stories), stories)
    each = log_p.reshape(len(times), -1)
    top = each.max(axis=1)
    whole = top + np.log(np.exp(each - top[:, None]).sum(axis=1))
    return np.asarray(whole - whole.max())


def _fault(s: Story) -> tuple[object, ...]:
    """What went wrong, sizes and all, whatever the hand."""
    return s.bad, s.moves, s.far_off, s.scales
