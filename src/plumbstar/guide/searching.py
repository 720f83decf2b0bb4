"""Where to look when the target is not in the field."""

from __future__ import annotations

import math

import numpy as np

from plumbstar.guide.sweep import Allowed, not_in_field, sweep
from plumbstar.solve.fix import Fix


def fields(n: int) -> str:
    """So many fields, in words."""
    return "one field" if n == 1 else f"{n} fields"


def search(
    fix: Fix, az_deg: float, alt_deg: float, field_deg: float, allowed: Allowed | None = None
) -> tuple[tuple[tuple[float, float], ...], tuple[float, ...]]:
    """The stops (right, up) of a search about a place where the target is not, and the chance of
    having seen it by each.

    The belief is that of after the miss: before it a good fix would see no ground worth a second
    look. The first stop is the field that was empty; the chances are of what lies outside it.
    ``allowed``: which offsets may be looked at, else all.
    """
    wiser = not_in_field(fix, az_deg, alt_deg, field_deg)
    cov = wiser.pointing_covariance(np.radians(az_deg), np.radians(alt_deg))
    # A fix that left no room for a miss was wrong about its own sigma: at least half a field.
    values, axes = np.linalg.eigh(cov)
    cov = (axes * np.maximum(values, math.radians(field_deg / 2.0) ** 2)) @ axes.T
    path = sweep(cov, field_deg, until=0.97, allowed=allowed)
    seen = path.found_by
    outside = max(1.0 - float(seen[0]), 1e-9)
    return (
        tuple((float(a), float(b)) for a, b in path.offsets_deg),
        tuple(float(x - seen[0]) / outside for x in seen),
    )
