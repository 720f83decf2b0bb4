"""What a controller's lists hold, and the nearest that it has of an object they do not."""

from __future__ import annotations

import math
import re
from functools import lru_cache

import numpy as np

from plumbstar.controller.own_list import in_list, stars_of
from plumbstar.errors import UserError
from plumbstar.kit import Controller
from plumbstar.mount import kinematics
from plumbstar.sky.bodies import Body
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import deepsky
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.deepsky import NOT_DEEP, DeepSky
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.places import Target, in_frame, place_rad
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.units import Array

_NUMBERED = re.compile(r"([A-Z]+) ?(\d+)")


def knows(target: Target, box: Controller) -> bool:
    """Whether the controller has it: in the catalogues or the list of stars that the kit says.

    Any star counts as known where the kit has no list, as its owner would not have asked.
    """
    if isinstance(target, Star):
        return not box.stars or in_list(target, box)
    if isinstance(target, Body):
        return not isinstance(target, MinorBody) and "planets" in box.catalogues
    return _in_catalogues(target, box.catalogues)


def _in_catalogues(thing: DeepSky, catalogues: tuple[str, ...]) -> bool:
    # A whole number and nothing behind it: a controller has NGC 3314, not its part B.
    found = (_NUMBERED.fullmatch(n) for n in (thing.key, thing.label, *thing.names))
    return any(m is not None and m.group(1) in catalogues for m in found)


@lru_cache(maxsize=4)
def _numbers_of(catalogues: tuple[str, ...]) -> tuple[int, ...]:
    """Which of the packaged list such a controller has, by their place in it."""
    return tuple(
        i
        for i, d in enumerate(deepsky.load())
        if d.kind not in NOT_DEEP and _in_catalogues(d, catalogues)
    )


def nearest_known(target: Target, box: Controller, site: Site, at: Instant) -> Target:
    """The nearest object or star that the controller has above the horizon; itself if it has it.

    Raises :class:`UserError` where it has none.
    """
    if knows(target, box):
        return target
    here = _unit(*place_rad(target, at, site))[0]
    objects, mine = deepsky.load(), list(_numbers_of(box.catalogues))
    found: list[tuple[float, Target]] = []
    if mine:
        az, alt = in_frame(frame(at, site), objects)
        near = _unit(az, alt)[mine] @ here
        near[np.asarray(alt).reshape(-1)[mine] <= 0.0] = -math.inf
        best = int(np.argmax(near))
        found.append((float(near[best]), objects[mine[best]]))
    for star in stars_of(box):
        az, alt = place_rad(star, at, site)
        if float(alt) > 0.0:
            found.append((float(_unit(az, alt)[0] @ here), star))
    found = [f for f in found if math.isfinite(f[0])]
    if not found:
        raise UserError(
            f"Nothing that the controller has stands near {target.label}",
            "",
            "Choose another object",
        )
    return max(found, key=lambda f: f[0])[1]


def _unit(az: Array | float, alt: Array | float) -> Array:
    return kinematics.unit(np.asarray(az).reshape(-1), np.asarray(alt).reshape(-1))
