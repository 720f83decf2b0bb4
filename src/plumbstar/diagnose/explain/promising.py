"""How well a cause that holds for the whole outing could do beside something else, at a glance.

Wrong counts and wrong hours come in a hundred forms, too many to be solved beside everything else;
and how one does alone says little where something else went wrong too. But a sound mount stands
within some degrees of level and square: with the right count and hour its zeros, one from each
star, agree to some degrees, but for one star, or but for a step at some gap.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from plumbstar.diagnose.explain.forms import Observations, Variant
from plumbstar.turns import half_turn
from plumbstar.units import Array

#: What lean, cone and the rest do to a zero, and how far off the stop is, radians, 1 sigma. An
#: order of magnitude: it ranks.
_SOUND, _STOP = math.radians(2.5), math.radians(5.0)


def promise(o: Observations, variants: Sequence[Variant]) -> Array:
    """Log of the chance (B,) of each model's zeros, up to a constant: at best, with nothing else
    wrong, one sighting that tells nothing, or either circle slipped once."""
    true = np.array([v.true for v in variants])
    zero = half_turn(true - np.array([v.readings for v in variants]))  # (B, n, 2)
    on_sky = np.stack([np.cos(true[..., 1]) ** 2, np.ones(true.shape[:2])], axis=-1)
    kept = np.concatenate([np.ones((1, o.n)), 1.0 - np.eye(o.n)])
    since = (np.arange(o.n) > np.arange(o.n - 1)[:, None]).astype(float)
    apart, about = _scatter(zero, on_sky, kept)
    whole = apart + np.array([0.0, 1.0]) * (about / _STOP) ** 2
    halves = _scatter(zero, on_sky, since)[0] + _scatter(zero, on_sky, 1.0 - since)[0]
    slipped = halves + whole[:, :1, ::-1]  # the other circle has not
    far = np.minimum(whole.sum(axis=2).min(axis=1), slipped.min(axis=(1, 2)))
    out: Array = np.array([v.log_prior for v in variants]) - 0.5 * far
    return out


def _scatter(zero: Array, on_sky: Array, kept: Array) -> tuple[Array, Array]:
    """Of each circle's zeros (B, n, 2), for each choice of sightings (S, n): how far apart,
    squared, in units of what is sound, and about which value; (B, S, 2) each."""
    w = on_sky[:, None] * kept[None, :, :, None]
    about = np.angle(np.sum(w * np.exp(1j * zero)[:, None], axis=2))
    gap = half_turn(zero[:, None] - about[:, :, None])
    return np.sum(w * gap * gap, axis=2) / _SOUND**2, about
