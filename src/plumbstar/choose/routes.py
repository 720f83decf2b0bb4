"""In which orders a few stars may be sighted, and how far the azimuth is then turned.

A hand goes from star to star the shorter way, so three stars all round the sky are read over more
than half a turn: the third is a whole turn away from where the shorter way from the first would
read it. A scale error acts on what was turned; so the order of the stars matters, and so does
which of them is the last, from which the targets are pushed to.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from plumbstar.turns import half_turn, one_turn
from plumbstar.units import Array, Indices


@dataclass(frozen=True)
class Routes:
    """All orders of each of m sets of k stars, r = m k! rows, those of one set together.

    ``stars`` (r, k): indices, first to last. ``turns`` (r, k): whole turns, 0 or 1, to be added to
    the stars' azimuths within one turn, so that each step is the shorter way. ``turned`` (r,): the
    azimuth turned from first to last, radians.
    """

    stars: Indices
    turns: Indices
    turned: Array


def walked(az: Array) -> Array:
    """Azimuths (..., k), radians, with the turns counted as a hand goes from one to the next."""
    out = az.copy()
    for i in range(1, az.shape[-1]):
        out[..., i] = out[..., i - 1] + half_turn(az[..., i] - out[..., i - 1])
    return out


def routes(az: Array, sets: Indices) -> Routes:
    """Of sets (m, k) of the stars at azimuths ``az`` (n,), radians."""
    size = sets.shape[1]
    orders = np.array(list(itertools.permutations(range(size))))
    stars = sets[:, orders].reshape(-1, size)
    within = one_turn(az)
    counted = walked(within[stars])
    # The whole way is less than a turn for up to three stars.
    turns = np.rint((counted - within[stars]) / math.tau).astype(np.intp)
    turns -= turns.min(axis=1, keepdims=True)
    turned = np.abs(np.diff(counted, axis=1)).sum(axis=1)
    return Routes(stars, turns, turned)
