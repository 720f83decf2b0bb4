"""What people say when asked which of two stars was the brighter one."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from plumbstar.nameless.eligible import Eligible
from plumbstar.sky.extinction import air_mass
from plumbstar.units import Array, Indices

#: Which of two entries was the brighter, by their places: (brighter, fainter).
Compared = Sequence[tuple[int, int]]
#: Light lost overhead, magnitudes: more in haze, less on a mountain. Common practice, no source.
_LOST_MAG = 0.25
#: Two stars of so different a magnitude, seen some minutes apart, are told the wrong way round by
#: one in four; and so often the answer is a slip of the tongue or of the memory. Common practice,
#: no source.
_QUARTER_MAG, _WRONG = 0.28, 0.03


def said_brighter(more: Array) -> Array:
    """Probability with which people call that star the brighter one of two which is ``more``
    magnitudes brighter; one half where that is nan."""
    right = 1.0 / (1.0 + np.exp(-np.nan_to_num(more) * math.log(3.0) / _QUARTER_MAG))
    out: Array = _WRONG + (1.0 - 2.0 * _WRONG) * right
    return out


def more_bright(picks: Indices, pair: tuple[int, int], sky: Eligible) -> Array:
    """By how many magnitudes, as they stood in the sky, the first of a pair of entries is brighter
    than the second, by each naming (h,) whose stars are ``picks`` (h, n); nan where one is none of
    the list."""
    first, second = (_seen_mag(picks[:, i], i, sky) for i in pair)
    return second - first


def _seen_mag(stars: Indices, i: int, sky: Eligible) -> Array:
    rows = np.maximum(stars, 0)
    air = air_mass(sky.places[i, rows, 1])
    out: Array = np.where(stars < 0, np.nan, sky.v[rows] + _LOST_MAG * air)
    return out


def of_answers(picks: Indices, compared: Compared, sky: Eligible) -> Array:
    """The log (h,) of how likely these answers are by each naming."""
    log = np.zeros(len(picks))
    for pair in compared:
        log += np.log(said_brighter(more_bright(picks, pair, sky)))
    return log
