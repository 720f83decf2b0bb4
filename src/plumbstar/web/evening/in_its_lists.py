"""What a closed controller has in its lists, and the nearest neighbour that it has of the rest."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbstar.errors import UserError
from plumbstar.logbook.places import log_name
from plumbstar.mount import kinematics
from plumbstar.sky.frame import frame
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.deepsky import DeepSky
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import Target, in_frame, place_rad
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.units import Array

#: Beginnings of the names that a controller's own catalogues have. Common practice, no source.
CATALOGUES = ("M ", "NGC ", "IC ")


def knows(target: Target, stars: Sequence[str]) -> bool:
    """Whether the controller has it: among its ``stars``, or in the catalogues that it has."""
    if isinstance(target, Star):
        return target.label in stars
    names = [log_name(target), target.label, target.key]
    names += target.names if isinstance(target, DeepSky) else ()
    return any(n.startswith(c) for n in names for c in CATALOGUES)


def nearest_known(target: Target, stars: Sequence[str], site: Site, now: Instant) -> Target:
    """The nearest object or star that the controller has, above the horizon.

    Raises :class:`UserError` where there is none.
    """
    from plumbstar.sky.lists import deepsky

    def unit(az: Array, alt: Array) -> Array:
        return kinematics.unit(np.asarray(az).reshape(-1), np.asarray(alt).reshape(-1))

    here = unit(*place_rad(target, now, site))[0]
    objects = deepsky.load()
    az, alt = in_frame(frame(now, site), objects)
    near = unit(az, alt) @ here
    near[alt <= 0.0] = -1.0
    found: list[tuple[float, Target]] = []
    for i in np.argsort(-near)[:2000]:
        one = objects[int(i)]
        if knows(one, stars):
            found.append((float(near[i]), one))
            break
    for name in stars:
        star = lookup.find_target(name)
        found.append((float(unit(*place_rad(star, now, site))[0] @ here), star))
    if not found:
        raise UserError(
            f"Nothing that the controller has stands near {target.label}", "",
            "Choose another object",
        )  # fmt: skip
    return max(found, key=lambda f: f[0])[1]
