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
from plumbstar.targets.night_view import SUN_DOWN_DEG
from plumbstar.targets.taste import Taste
from plumbstar.targets.tonight import Survey
from plumbstar.targets.verdict import difficulty_of
from plumbstar.units import Indices, Single

#: It is worth pointing at while its chance is this part of its best.
NEAR_BEST = 0.8


#: How much less the next object of a kind is worth than the ones before it. Judgement.
_REPEATED = 0.15


def prospects(s: Survey, least_chance: float = 0.25, taste: Taste | None = None) -> list[Prospect]:
    """What has at least that chance of being seen, as a list to choose from: the most rewarding
    first, by ``taste`` too, with kinds mixed, since the tenth of a kind gives less than the first.
    """
    found = _of_rows(s, np.flatnonzero(s.chances >= least_chance))
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


def prospect(s: Survey, i: int) -> Prospect:
    """The i-th target as a prospect, by itself."""
    return _of_rows(s, np.array([i]))[0]


def _of_rows(s: Survey, rows: Indices) -> list[Prospect]:
    """Some of the targets as prospects, each by itself, in that order."""
    best = s.best[rows]
    chance = s.chances_through(rows)
    at_best = chance[np.arange(len(rows)), best].tolist()
    first, last = _windows(chance, best)
    sets = _sets(s, rows)
    aperture, lat = s.kit.telescope.aperture_mm, s.light.site.lat_deg
    instants = s.light.instants
    columns = (s.best_az_deg, s.best_alt_deg, s.moon_loss, s.air_loss)
    az, alt, moon_loss, air_loss = (x[rows].tolist() for x in columns)
    parts = s.parts[:, rows].T.tolist()
    margins = s.margin[best, rows].tolist()
    faintest: dict[float, float] = {}
    found = []
    for j, (i, k) in enumerate(zip(rows.tolist(), best.tolist(), strict=True)):
        target, setting = s.targets[i], s.setting[i]
        eyepiece = setting.eyepiece
        power = eyepiece.magnification
        if power not in faintest:
            faintest[power] = float(star_limit(s.light.zenith_mag, aperture, power, s.sky))
        shows = (parts[j][0], parts[j][1], parts[j][2], parts[j][3])
        word = difficulty_of(at_best[j])
        shown = ShownTonight(
            margins[j], shows, power, eyepiece.field_arcmin,
            faintest[power] - s.light.k - air_loss[j], alt[j], lat,
        )  # fmt: skip
        found.append(
            Prospect(
                target=target,
                difficulty=word,
                chance=at_best[j],
                margin_mag=margins[j],
                moon_loss_mag=moon_loss[j],
                air_loss_mag=air_loss[j],
                aperture_mm=aperture,
                parts=shows,
                eyepiece=eyepiece.name,
                second=setting.second.name if setting.second else "",
                filter=setting.filter,
                magnification=power,
                field_arcmin=eyepiece.field_arcmin,
                minutes=minutes_for(target, word),
                best=instants[k],
                first=instants[first[j]],
                last=instants[last[j]],
                sets=sets[j],
                az_deg=az[j],
                alt_deg=alt[j],
                interest=interest_of(target, shown),
            )
        )
    return found


def _windows(chance: Single, best: Indices) -> tuple[list[int], list[int]]:
    """The first and last steps (n,) about the best (n,) through which chances (n, steps) stay near
    their best."""
    steps = np.arange(chance.shape[1])
    poor = chance < NEAR_BEST * chance[np.arange(len(best)), best][:, None]
    before = np.where(poor & (steps < best[:, None]), steps, -1).max(axis=1) + 1
    after = np.where(poor & (steps > best[:, None]), steps, len(steps)).min(axis=1) - 1
    return before.tolist(), after.tolist()


def _sets(s: Survey, rows: Indices) -> list[Instant | None]:
    """When each goes behind the skyline, or too low, while it is still night; None if not."""
    steps = len(s.margin)
    last = steps - 1 - np.argmax(np.isfinite(s.margin.T[rows, ::-1]), axis=1)
    after = np.minimum(last + 1, steps - 1)
    falls = s.courses.at(after, rows)[1] <= s.courses.at(last, rows)[1]
    # Or else it is the night that ends, or it climbs out of reach.
    dark = s.light.sun_alt[after] < np.radians(SUN_DOWN_DEG)
    gone = falls & dark & (last + 1 < steps)
    return [
        s.light.instants[k].plus_seconds(30.0 * STEP_MINUTES) if sets else None
        for k, sets in zip(last.tolist(), gone.tolist(), strict=True)
    ]
