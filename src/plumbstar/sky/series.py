"""Long series at the many moments of one night: worked out at a few, and drawn through those.

The nutation has 1,365 terms and the Earth's place 2,500, and neither does anything sudden within a
night. The polynomial through Chebyshev's nodes is the same to 1e-11 au (tests/sky/test_bodies.py)
and, of where the pole stands, to a millionth of an arcsecond (tests/sky/test_frame.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import erfa
import numpy as np
from numpy.polynomial import chebyshev

from plumbstar.units import Array

#: Moments, and days that they span, from which on a path is drawn through so many of them.
_NODES, _SPAN_DAYS = 10, 2.0


def many_of_one_night(tt1: Array, tt2: Array) -> bool:
    """Whether these moments (...), Julian dates in two parts, are worth drawing through."""
    if np.ndim(tt2) != 1 or len(tt2) <= _NODES:
        return False
    days = tt1 - tt1[0] + tt2
    return float(np.ptp(days)) <= _SPAN_DAYS


def over(series: Callable[[Array, Array], Array], tt1: Array, tt2: Array) -> Array:
    """A long series (k, ..., 3) at moments (...), Julian dates in two parts."""
    if not many_of_one_night(tt1, tt2):
        return series(tt1, tt2)
    at = _nodes(tt1.tobytes(), tt2.tobytes())
    return np.asarray(at.weights[0] @ series(at.tt1, at.tt2))


def over_moving(series: Callable[[Array, Array], Array], tt1: Array, tt2: Array) -> Array:
    """The same at the many moments (n,) of one night, with its first and second change a day:
    shape (3, k, n, 3)."""
    at = _nodes(tt1.tobytes(), tt2.tobytes())
    return np.asarray(at.weights[:, None] @ series(at.tt1, at.tt2))


@dataclass(frozen=True, slots=True)
class _Nodes:
    """Where a series is worked out, TT in two parts, (nodes,); and the weights (3, moments, nodes)
    by which its values there give those at each moment, its change a day, and the change of that.
    """

    tt1: Array
    tt2: Array
    weights: Array


@lru_cache(maxsize=16)
def _nodes(tt1: bytes, tt2: bytes) -> _Nodes:
    """For the moments of one night, as the bytes of their dates."""
    first, second = np.frombuffer(tt1), np.frombuffer(tt2)
    days = first - first[0] + second
    low, high = float(np.min(days)), float(np.max(days))
    # Moments that are all alike are drawn from two hours about them: changes want a length.
    half, middle = max(0.5 * (high - low), 0.05), 0.5 * (low + high)
    x = chebyshev.chebpts1(_NODES)
    # Values at the nodes to coefficients: the inverse of the polynomials there.
    drawn = np.linalg.inv(chebyshev.chebvander(x, _NODES - 1))
    at = (days - middle) / half
    weights = []
    for _ in range(3):
        weights.append(chebyshev.chebvander(at, len(drawn) - 1) @ drawn)
        drawn = chebyshev.chebder(drawn) / half
    return _Nodes(np.full(_NODES, first[0]), middle + half * x, np.stack(weights))


def earth_and_sun(tt1: Array, tt2: Array) -> Array:
    """Barycentric place (au) and motion (au a day) of the Earth, place of the Sun: (3, ..., 3).

    Every body of a night asks for the same moments: the last ones are kept, to be read only.
    """
    if not many_of_one_night(tt1, tt2):
        return _earth_and_sun(tt1, tt2)
    return _kept(tt1.tobytes(), tt2.tobytes())


@lru_cache(maxsize=16)
def _kept(tt1: bytes, tt2: bytes) -> Array:
    at = _nodes(tt1, tt2)
    made: Array = at.weights[0] @ _earth_and_sun(at.tt1, at.tt2)
    made.flags.writeable = False
    return made


def _earth_and_sun(tt1: Array, tt2: Array) -> Array:
    helio, bary = erfa.ufunc.epv00(tt1, tt2)[:2]
    return np.stack([bary["p"], bary["v"], bary["p"] - helio["p"]])


def pole(tt1: Array, tt2: Array) -> Array:
    """Of the celestial intermediate pole: X, Y and the locator s (rad); and the equation of the
    origins (rad) with two noughts: (2, ..., 3). As in ``apco13``, by IAU 2006/2000A."""
    matrix = erfa.ufunc.pnm06a(tt1, tt2)
    x, y = erfa.ufunc.bpn2xy(matrix)
    s = erfa.ufunc.s06(tt1, tt2, x, y)
    origins = np.zeros((*np.shape(x), 3))
    origins[..., 0] = erfa.ufunc.eors(matrix, s)
    return np.stack([np.stack([x, y, s], axis=-1), origins])
