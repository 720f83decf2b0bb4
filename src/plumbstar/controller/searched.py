"""What an object looked for and not seen teaches: it is not in the ground that was looked at.

As with circles that can be read (guide/sweep.py): in each hypothesis that ground keeps a tenth of
its probability, for an object that was there and was missed, and what is left is the hypothesis'
evidence. Measured by design/searched_in_vain.py.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.controller.showing import N_SHOWN, ObjectPlaces, Taught, derivatives
from plumbstar.guide.sweep import SEEN_IF_THERE, seen_past
from plumbstar.units import Array

#: Points that stand for a normal law, rings and spokes: there are many hypotheses.
CLOUD = (48, 40)


@dataclass(frozen=True)
class Searched:
    """An object looked for in vain. ``place`` is of this one alone; ``looked`` (n, 2) where the
    middles of the fields were, from the controller's zero on the circles, and ``radius`` of each,
    radians. ``after``: how many objects had been centred by then."""

    place: ObjectPlaces
    looked: Array
    radius: float
    after: int


def moved_at(s: Searched, slipped_at: int | None) -> bool:
    """Whether what slipped before that find had done so when this was looked for."""
    return slipped_at is not None and slipped_at <= s.after


def past(
    mean: Array,
    cov: Array,
    searched: Sequence[Searched],
    taught: Taught,
    clock: bool,
    slipped_at: int | None,
    grain: float,
) -> tuple[Array, Array, float]:
    """Mean (19,) and covariance of a hypothesis when all were looked for in vain, and the log of
    how likely that was. ``slipped_at``: before which of those centred something slipped, or None.
    ``grain``: variance of a push told and made to the last figure, radians squared."""
    log = 0.0
    for s in searched:
        _, push, _, slope = derivatives(mean[:N_SHOWN], taught, s.place, clock)
        moved = moved_at(s, slipped_at)
        J = np.concatenate([slope[0], np.eye(2) if moved else np.zeros((2, 2))], axis=-1)
        scale = np.array([max(0.05, math.cos(float(s.place.seen[0, 1]))), 1.0])
        J = J * scale[:, None]
        lies = push[0] + (mean[N_SHOWN:] if moved else 0.0)
        step, cov, share = seen_past(
            (lies - s.looked) * scale,
            J @ cov @ J.T + grain * np.eye(2),
            J,
            cov,
            s.radius,
            SEEN_IF_THERE,
            CLOUD,
        )
        mean = mean + step
        log += math.log(share)
    return mean, cov, log
