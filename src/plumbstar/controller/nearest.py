"""What a controller's lists hold, and the nearest known neighbour of an object they do not."""

from __future__ import annotations

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.sky.lists import deepsky
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.places import Target

#: Common practice, no source: what controllers have.
KNOWN = ("M", "NGC", "IC")
#: A push from a neighbour further off than this is not worth its name, degrees.
FARTHEST_DEG = 15.0


def knows(target: Target, catalogues: tuple[str, ...] = KNOWN) -> bool:
    """Whether a controller with these catalogues has the object. Stars and bodies count as known:
    its owner would not have asked."""
    if not isinstance(target, DeepSky):
        return True
    return _in(f"{target.key} {target.label}", catalogues)


def _in(text: str, catalogues: tuple[str, ...]) -> bool:
    words = text.upper().replace("(", " ").split()
    return any(
        w == c or (w.startswith(c) and w[len(c) :].isdigit())
        for w in words
        for c in (c.upper() for c in catalogues)
    )


def nearest_known(
    target: DeepSky | Star, catalogues: tuple[str, ...] = KNOWN
) -> tuple[DeepSky, float] | None:
    """The nearest object of these catalogues, and how far off, degrees; None within
    :data:`FARTHEST_DEG`."""
    things = [d for d in deepsky.load() if _in(f"{d.key} {d.label}", catalogues)]
    ra, dec = np.radians([[d.ra_deg for d in things], [d.dec_deg for d in things]])
    at = kinematics.unit(np.radians(target.ra_deg), np.radians(target.dec_deg))
    dot = np.clip(kinematics.unit(ra, dec) @ at, -1.0, 1.0)
    best = int(np.argmax(dot))
    apart = float(np.degrees(np.arccos(dot[best])))
    return (things[best], apart) if apart <= FARTHEST_DEG else None
