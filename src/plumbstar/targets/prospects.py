"""The survey's objects as prospects: what each is worth, with what, when."""

from __future__ import annotations

import numpy as np

from plumbstar.sky.times import Instant
from plumbstar.targets.interest import interest_of, minutes_for
from plumbstar.targets.light import STEP_MINUTES
from plumbstar.targets.model import Prospect
from plumbstar.targets.tonight import SUN_DOWN_DEG, Survey
from plumbstar.targets.verdict import difficulty_of
from plumbstar.units import Array

#: It is worth pointing at while its chance is this part of its best.
NEAR_BEST = 0.8


def prospects(s: Survey, least_chance: float = 0.25) -> list[Prospect]:
    """What has at least that chance of being seen, the most rewarding first."""
    chances = s.chances
    found = [prospect(s, int(i)) for i in np.flatnonzero(chances >= least_chance)]
    return sorted(found, key=lambda p: (-p.interest * p.chance, p.target.label))


def prospect(s: Survey, i: int) -> Prospect:
    """The i-th target as a prospect."""
    k = int(s.best[i])
    chance = s.chance(i)
    target, setting = s.targets[i], s.setting[i]
    eyepiece = setting.eyepiece
    whole, half, core, stars = s.parts[:, i].tolist()
    margin = float(s.margin[k, i])
    first, last = _window(chance, k)
    word = difficulty_of(float(chance[k]))
    return Prospect(
        target=target,
        difficulty=word,
        chance=float(chance[k]),
        margin_mag=margin,
        moon_loss_mag=float(s.moon_loss[i]),
        air_loss_mag=float(s.air_loss[i]),
        aperture_mm=s.kit.telescope.aperture_mm,
        parts=(whole, half, core, stars),
        eyepiece=eyepiece.name,
        second=setting.second.name if setting.second else "",
        filter=setting.filter,
        magnification=eyepiece.magnification,
        field_arcmin=eyepiece.field_arcmin,
        minutes=minutes_for(target, word),
        best=s.light.instants[k],
        first=s.light.instants[first],
        last=s.light.instants[last],
        sets=_sets(s, i),
        az_deg=float(s.az_deg[k, i]),
        alt_deg=float(s.alt_deg[k, i]),
        interest=interest_of(target, margin),
    )  # fmt: skip


def _window(chance: Array, best: int) -> tuple[int, int]:
    """The steps about ``best`` through which the chance stays near its best."""
    good = chance >= NEAR_BEST * chance[best]
    first = last = best
    while first > 0 and good[first - 1]:
        first -= 1
    while last < len(good) - 1 and good[last + 1]:
        last += 1
    return first, last


def _sets(s: Survey, i: int) -> Instant | None:
    """When it goes behind the skyline (or too low) while it is still night; None if it does not."""
    clear = np.isfinite(s.margin[:, i])
    last = int(np.flatnonzero(clear)[-1])
    if last + 1 >= len(clear) or s.alt_deg[last + 1, i] > s.alt_deg[last, i]:
        return None  # it is the night that ends, or it climbs out of reach
    if s.light.sun_alt[last + 1] >= np.radians(SUN_DOWN_DEG):
        return None
    return s.light.instants[last].plus_seconds(30.0 * STEP_MINUTES)
