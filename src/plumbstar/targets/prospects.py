"""The survey's objects as prospects: what each is worth, with what, when."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from plumbstar.sky.times import Instant
from plumbstar.targets.company import together
from plumbstar.targets.eye import star_limit
from plumbstar.targets.interest import ShownTonight, interest_of, minutes_for
from plumbstar.targets.lenses import eyepieces
from plumbstar.targets.light import STEP_MINUTES
from plumbstar.targets.model import Prospect
from plumbstar.targets.taste import Taste
from plumbstar.targets.tonight import SUN_DOWN_DEG, Survey
from plumbstar.targets.verdict import chance_of, difficulty_of
from plumbstar.units import Array

#: It is worth pointing at while its chance is this part of its best.
NEAR_BEST = 0.8


#: How much less the next object of a kind is worth than the ones before it. Judgement.
_REPEATED = 0.15


def prospects(s: Survey, least_chance: float = 0.25, taste: Taste | None = None) -> list[Prospect]:
    """What has at least that chance of being seen, as a list to choose from: the most rewarding
    first, by ``taste`` too, with kinds mixed, since the tenth of a kind gives less than the first.
    """
    chances = s.chances
    reach: dict[float, float] = {}
    rows = np.flatnonzero(chances >= least_chance)
    through = chance_of(
        s.margin[:, rows], s.sky.spread_mag
    ).T.copy()  # all at once; 0 where it cannot be pointed at
    found = [
        prospect(s, i, reach, chance) for i, chance in zip(rows.tolist(), through, strict=True)
    ]
    if taste is not None:
        found = [_liked(p, taste.factor(p.target)) for p in found]
    widest = max(x.field_arcmin for x in eyepieces(s.kit))
    return mixed(together(found, widest))


def _liked(p: Prospect, factor: float) -> Prospect:
    return p if factor == 1.0 else replace(p, interest=p.interest * factor)


def repeated(before: int) -> float:
    """What the next of a kind is worth after so many, of its own worth: the tenth gives less."""
    return 1.0 / (1.0 + _REPEATED * math.log1p(before))


def mixed(found: Iterable[Prospect]) -> list[Prospect]:
    """By falling reward, each further one of its kind counting a little less."""
    by_worth = sorted(found, key=lambda p: (-p.interest * p.chance, p.target.label))
    met: dict[str, int] = {}
    worth = []
    for p in by_worth:
        kind = p.target.kind
        rank = met.get(kind, 0)
        worth.append(p.interest * p.chance * repeated(rank))
        met[kind] = rank + (not p.led_by)
    return [by_worth[i] for i in sorted(range(len(worth)), key=lambda i: -worth[i])]


def prospect(
    s: Survey, i: int, reach: dict[float, float] | None = None, chance: Array | None = None
) -> Prospect:
    """The i-th target as a prospect, by itself. ``reach`` keeps the faintest star by power;
    ``chance`` (steps,) is its chance through the night, where that is known."""
    reach = {} if reach is None else reach
    k = int(s.best[i])
    chance = s.chance(i) if chance is None else chance
    target, setting = s.targets[i], s.setting[i]
    eyepiece = setting.eyepiece
    whole, half, core, stars = s.parts[:, i].tolist()
    margin = float(s.margin[k, i])
    power = eyepiece.magnification
    if power not in reach:
        aperture = s.kit.telescope.aperture_mm
        reach[power] = float(star_limit(s.light.zenith_mag, aperture, power, s.sky)) - s.light.k
    shown = ShownTonight(
        margin, (whole, half, core, stars), power, eyepiece.field_arcmin,
        reach[power] - float(s.air_loss[i]), float(s.alt_deg[k, i]), s.light.site.lat_deg,
    )  # fmt: skip
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
        interest=interest_of(target, shown),
    )  # fmt: skip


def _window(chance: Array, best: int) -> tuple[int, int]:
    """The steps about ``best`` through which the chance stays near its best."""
    good = (chance >= NEAR_BEST * chance[best]).tolist()
    first = last = best
    while first > 0 and good[first - 1]:
        first -= 1
    while last < len(good) - 1 and good[last + 1]:
        last += 1
    return first, last


def _sets(s: Survey, i: int) -> Instant | None:
    """When it goes behind the skyline (or too low) while it is still night; None if it does not."""
    steps = len(s.margin)
    last = steps - 1 - int(np.argmax(np.isfinite(s.margin[::-1, i])))
    if last + 1 >= steps or s.alt_deg[last + 1, i] > s.alt_deg[last, i]:
        return None  # it is the night that ends, or it climbs out of reach
    if s.light.sun_alt[last + 1] >= np.radians(SUN_DOWN_DEG):
        return None
    return s.light.instants[last].plus_seconds(30.0 * STEP_MINUTES)
