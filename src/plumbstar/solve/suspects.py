"""Which of the sightings are the likeliest to be bad."""

from __future__ import annotations

import math

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.solve.posterior import Data, Solution

#: How far off a bad sighting is, 1 sigma on each axis: a neighbouring star, a hand's breadth.
BAD_SIGHTING_SIGMA = math.radians(7.0)
#: So many sightings are tried as the bad one, the likeliest first. A dozen holds it with room.
MOST_TRIED = 12


def likeliest_bad(data: Data, clean: Solution) -> list[int]:
    """Of many sightings, the few whose leaving out would mend most, so that a long evening's fix
    takes no longer than a short one's."""
    n = len(data.readings)
    return list(range(n)) if n <= MOST_TRIED else _worst_first(data, clean)[:MOST_TRIED]


def _worst_first(data: Data, found: Solution) -> list[int]:
    """The sightings, those first whose leaving out would mend most.

    To first order leaving one out lowers the cost by r' (V - J C J')^-1 r, with its residuals r,
    their variances V, and the covariance C of the terms (Cook 1977, Technometrics 19, 15).
    """
    _, J = kinematics.direction_jacobian(data.readings, found.mean)
    J = data.basis @ J
    left = np.eye(2) / data.weight[..., None] - J @ found.covariance @ np.swapaxes(J, -1, -2)
    r = found.residuals[..., None]
    drop = (np.swapaxes(r, -1, -2) @ np.linalg.pinv(left) @ r)[:, 0, 0]
    return [int(i) for i in np.argsort(-drop)]
