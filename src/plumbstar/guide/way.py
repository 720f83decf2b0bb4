"""The way of a push past the Sun: wherever a hand may take the tube between two readings.

A hand pushes one circle first, or the other, or both at once; so the way is every reading between
the two, a rectangle on the circles.
"""

from __future__ import annotations

import math

import numpy as np

from plumbstar.guide.sun import (
    SUN_KEEP_OUT_DEG,
    SUN_UP_DEG,
    Ban,
    Banned,
    Spot,
    doubt_deg,
)
from plumbstar.mount import kinematics
from plumbstar.solve.fix import Fix

#: The rectangle is looked at in steps of this; half a step's diagonal is allowed for.
STEP_DEG = 1.0


def nearest_deg(fix: Fix, here: Spot, to: Spot, sun: Spot) -> tuple[float, Spot]:
    """How near to the Sun the tube comes anywhere between two readings (degrees, not folded), and
    the true place where that is, degrees. Never more than the truth."""
    counts = [max(2, math.ceil(abs(b - a) / STEP_DEG) + 1) for a, b in zip(here, to, strict=True)]
    az, alt = (np.linspace(a, b, n) for a, b, n in zip(here, to, counts, strict=True))
    steps = [abs(b - a) / (n - 1) for a, b, n in zip(here, to, counts, strict=True)]
    readings = np.stack(np.meshgrid(az, alt, indexing="ij"), axis=-1).reshape(-1, 2)
    tube = fix.directions_of(readings, here[0])
    at = kinematics.unit(np.radians(sun[0]), np.radians(sun[1]))
    cos = tube @ at
    k = int(np.argmax(cos))
    apart = math.degrees(math.acos(float(np.clip(cos[k], -1.0, 1.0))))
    place = np.degrees(kinematics.az_alt(tube[k]))
    return max(apart - math.hypot(*steps) / 2.0, 0.0), (float(place[0]), float(place[1]))


def way_banned(fix: Fix, here: Spot, to: Spot, sun: Spot, field_deg: float) -> Banned | None:
    """Whether the push from one reading to another may pass the Sun while it is up.

    With the whole field and the fix's doubt, as for the place itself. ``sun``: its true place.
    """
    if sun[1] <= SUN_UP_DEG:
        return None
    start = fix.pointing_of(*here)
    at_start = doubt_deg(fix, float(start[0]), float(start[1]), here[0])
    for ban, end in ((Ban.HERE, here), (Ban.WAY, to)):
        apart, place = nearest_deg(fix, here, end, sun)
        doubt = max(at_start, doubt_deg(fix, *place, here[0]))
        reach = field_deg / 2.0 + doubt
        if apart - reach < SUN_KEEP_OUT_DEG:
            return Banned(ban, apart, reach)
    return None
