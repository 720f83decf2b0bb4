"""Long series at the many moments of one night: worked out at a few, and drawn through those.

The nutation has 1,365 terms and the Earth's place 2,500, and neither does anything sudden within a
night. The polynomial through Chebyshev's nodes is the same to 1e-11 au (tests/sky/test_bodies.py)
and, of where the pole stands, to a millionth of an arcsecond (tests/sky/test_frame.py).
"""

from __future__ import annotations

from collections.abc import Callable

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
    days = np.asarray(tt1 - tt1[0] + tt2)
    first, last = float(np.min(days)), float(np.max(days))
    half = 0.5 * (last - first) + 1e-9
    middle = 0.5 * (first + last)

    def at_nodes(x: Array) -> Array:
        got = series(np.full_like(x, tt1[0]), middle + half * x)
        return got.swapaxes(0, 1).reshape(len(x), -1)

    drawn: Array = chebyshev.chebinterpolate(at_nodes, _NODES - 1)  # type: ignore[arg-type]
    values = chebyshev.chebval((days - middle) / half, drawn)
    return np.asarray(values.reshape(-1, 3, len(days)).swapaxes(1, 2))


def earth_and_sun(tt1: Array, tt2: Array) -> Array:
    """Barycentric place (au) and motion (au a day) of the Earth, place of the Sun: (3, ..., 3)."""
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
