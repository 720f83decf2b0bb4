"""What a simulated observer sights, and where it stands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbstar.sky import places
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.units import Array

#: What to sight: a star's name, the star itself, or a direction (az_deg, alt_deg) with no name.
Aim = str | Star | tuple[float, float]


def places_of(plan: Sequence[Aim], instants: Sequence[Instant], site: Site) -> Array:
    """Observed places (n, 2), radians."""
    out = np.empty((len(plan), 2))
    if len(plan) > 1 and all(t is instants[0] for t in instants):  # many stars at one moment
        named = [a for a in plan if not isinstance(a, tuple)]
        if len(named) == len(plan):
            stars = [find_target(a) if isinstance(a, str) else a for a in named]
            az, alt = places.observed_many(stars, [instants[0]], site, grid=True)
            return np.stack([az[0], alt[0]], axis=-1)
    for i, (aim, t) in enumerate(zip(plan, instants, strict=True)):
        if isinstance(aim, tuple):
            out[i] = np.radians(aim)
            continue
        target = find_target(aim) if isinstance(aim, str) else aim
        out[i] = np.radians(places.place_of(target, t, site))
    return out


def name_of(aim: Aim, k: int) -> str:
    """What the observer calls it; ``k``: its number in the plan."""
    if isinstance(aim, Star):
        return aim.label
    return aim if isinstance(aim, str) else f"star {k + 1}"
