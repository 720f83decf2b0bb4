"""Which terms of the mount stand well away from zero, whatever the cause is called: facts only."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.forms import Judged, Observations
from plumbstar.mount.terms import INDEX, N_TERMS, SCALES
from plumbstar.units import Array

#: A term is told from this many sigmas on.
CLEARLY = 3.0
#: What is told together: one term, or two that are one arrow. The stop first, since who trusts it
#: misses by as much.
_TOLD = (
    ("altitude_zero",),
    ("squareness",),
    ("cone",),
    ("droop",),
    ("altitude_scale",),
    ("azimuth_scale",),
    ("azimuth_runout_sin", "azimuth_runout_cos"),
    ("lean_north", "lean_west"),
)
#: A base is set down anew each time: its lean is told where it is more than is usual.
_SET_DOWN = ("lean_north", "lean_west")
#: An error of scale is judged by what it does over a quarter turn.
_QUARTER = math.pi / 2


@dataclass(frozen=True)
class OffZero:
    """Terms told together, ``size`` and ``sigma`` of their length, radians or, of a scale, a pure
    number; of a single term ``size`` is signed."""

    terms: tuple[str, ...]
    size: float
    sigma: float


def off_zero(o: Observations, mean: Array, covariance: Array) -> tuple[OffZero, ...]:
    """Terms three sigma or more from zero, by more than a hand's centring. ``mean`` (12,) and
    ``covariance`` (12, 12), radians."""
    out = []
    for names in _TOLD:
        at = [INDEX[name] for name in names]
        value, cov = mean[at], covariance[np.ix_(at, at)]
        size = float(np.linalg.norm(value))
        least = o.noise.centring / (_QUARTER if names[0] in SCALES else 1.0)
        if names == _SET_DOWN:
            least = max(least, float(o.prior.sigma[at].max()))
        if not size > least:
            continue
        along = value / size
        sigma = math.sqrt(max(0.0, float(along @ cov @ along)))
        if clear(size, sigma):
            out.append(OffZero(names, float(value[0]) if len(at) == 1 else size, sigma))
    return tuple(out)


def clear(value: float, sigma: float) -> bool:
    """Whether a number is told as measured."""
    return abs(value) > CLEARLY * sigma


def stop_far_off(o: Observations, off: OffZero) -> bool:
    """Whether the stop is off by more than the kit expects: the term that a person sets, and that
    whoever trusts the stop misses by. It is a cause to be named, then."""
    usual = float(o.prior.sigma[INDEX["altitude_zero"]])
    return off.terms == ("altitude_zero",) and abs(off.size) > usual


def told_by(o: Observations, j: Judged) -> tuple[OffZero, ...]:
    """The same as one cause has it."""
    return off_zero(o, *_terms_of(j))


def _terms_of(j: Judged) -> tuple[Array, Array]:
    mean = j.mean[:N_TERMS].copy()
    mean[INDEX["altitude_zero"]] += math.radians(j.form.altitude_entered_deg)
    return mean, j.covariance[:N_TERMS, :N_TERMS]


def over_all(judged: Sequence[Judged]) -> tuple[Array, Array]:
    """Mean (12,) and covariance (12, 12) of the terms over all causes, each with its share; so what
    differs from cause to cause is not held to be known."""
    shares = np.array([j.probability for j in judged])
    each = [_terms_of(j) for j in judged]
    mean = np.einsum("k,ki->i", shares, np.array([m for m, _ in each]))
    cov = np.zeros((N_TERMS, N_TERMS))
    for p, (m, c) in zip(shares, each, strict=True):
        gap = m - mean
        cov += p * (c + np.outer(gap, gap))
    return mean, cov
