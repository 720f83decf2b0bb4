"""What is believed of each outing now that all of them are known."""

from __future__ import annotations

import numpy as np

from plumbstar.diagnose.weeks import Weeks
from plumbstar.units import Array

#: Stories with a smaller share than this change no picture.
SLIGHT = 1e-3


def held(weeks: Weeks) -> tuple[Array, Array]:
    """Mean and sigma (n, k) of the terms in each outing, in the run's units.

    What lasted, changed or drifted; neither the scatter of one evening nor what was odd in it.
    """
    n, k = weeks.stories[0].given[:-1].shape
    total, mean, square = 0.0, np.zeros((n, k)), np.zeros((n, k))
    for share, tale in zip(weeks.shares.tolist(), weeks.stories, strict=True):
        if share < SLIGHT:
            continue
        wide = [k if e.kind == "strange" else 1 for e in tale.events]
        lasts = np.ones(len(tale.x), dtype=bool)
        at = len(tale.x) - sum(wide)
        for event, width in zip(tale.events, wide, strict=True):
            if event.kind in ("odd", "strange"):
                lasts[at : at + width] = False
            at += width
        here, var = tale.given[:-1].copy(), np.zeros((n, k))
        for j in range(k):
            of = np.flatnonzero(lasts & (tale.term == j))
            reach = tale.reach[:-1, of]
            here[:, j] += reach @ tale.x[of]
            var[:, j] = np.sum((reach @ tale.C[np.ix_(of, of)]) * reach, axis=1)
        total += share
        mean += share * here
        square += share * (var + here**2)
    mean /= total
    return mean, np.sqrt(np.maximum(square / total - mean**2, 0.0))
