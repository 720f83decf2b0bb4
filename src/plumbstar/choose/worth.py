"""What a fault costs, in hit chance over the sky: the linear forecast of a fix that may assume
something else than the mount is, as a recipe that trusts the stop does."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from plumbstar.choose.forecast import Belief, Places, leftover, mean_chance
from plumbstar.mount.priors import Noise, Priors
from plumbstar.solve.fix import sky_grid
from plumbstar.solve.since import NEXT_PUSH
from plumbstar.units import Array

#: A well-chosen first pair: 45 deg up and a quarter turn apart. (2, 2) azimuth, altitude, radians.
GOOD_PAIR: Array = np.radians([[100.0, 45.0], [190.0, 45.0]])


@lru_cache(maxsize=32)
def _targets(near: float, min_alt_deg: float, count: int, noise: Noise) -> tuple[Array, Array]:
    """How places all over the sky move with the terms, (count, 2, 12), and their variances."""
    places = Places.at(*sky_grid(min_alt_deg, count), noise)
    return places.seen_from(near), places.variances


def chance_over_sky(
    belief: Belief,
    assumed: Priors,
    places: Array,
    noise: Noise,
    radius: float,
    *,
    min_alt_deg: float = 20.0,
    count: int = 200,
) -> float:
    """Mean hit chance over the sky above ``min_alt_deg`` after that fix, of the first push, with
    a slip on the way reckoned with; ``radius`` in radians.

    ``places`` (n, 2): true azimuth and altitude of the stars sighted, radians. Raises
    :class:`numpy.linalg.LinAlgError` as :func:`plumbstar.choose.forecast.leftover` does.
    """
    offset, cov = leftover(belief, assumed, Places.at(places[:, 0], places[:, 1], noise))
    J, variances = _targets(float(places[0, 0]), min_alt_deg, count, noise)
    return NEXT_PUSH * mean_chance(offset, cov, J, variances, radius)
