"""What an object is, how far it is, and how old its light: one line for who has just found it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plumbstar.sky import bodies
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import distances
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.naming.constellations import CONSTELLATIONS
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text.words import upper_first

#: A parallax of one second of arc is so many light-years (IAU 2012 au, 2015 parsec).
LY_PER_PARSEC = 3.261563777
#: Of a smaller parallax, milliseconds of arc, more than a tenth may be error. Common practice, no
#: source.
LEAST_PARALLAX_MAS = 3.0
_MINUTES_PER_AU = 499.004783836 / 60.0  # IAU 2012 au and c
_KM_PER_MINUTE = 299_792.458 * 60.0  # c, SI


@dataclass(frozen=True)
class OldLight:
    """``kind`` and ``place`` (a constellation, or empty) in words. Of the two ways to say how far
    one at most is known: light-years, or minutes that its light takes; None."""

    label: str
    kind: str
    place: str
    light_years: float | None = None
    light_minutes: float | None = None


def old_light(target: Target, now: Instant, site: Site) -> OldLight:
    """The facts, at that moment."""
    if isinstance(target, bodies.Body):
        _, _, au = bodies.body_icrs(target, frame(now, site))
        return OldLight(
            target.label, target.kind, "", light_minutes=float(np.asarray(au)) * _MINUTES_PER_AU
        )
    place = CONSTELLATIONS[target.constellation][0] if target.constellation else ""
    if isinstance(target, Star):
        known = target.parallax_mas >= LEAST_PARALLAX_MAS
        far = 1000.0 * LY_PER_PARSEC / target.parallax_mas if known else None
        return OldLight(target.label, target.kind, place, light_years=far)
    far = None if isinstance(target, Double) else distances.light_years(target.key)
    return OldLight(target.label, target.kind, place, light_years=far)


def sentence(s: OldLight, now: Instant) -> str:
    """The line. Ages are as rough as the distance; of a star's the year is told."""
    what = f"{'an' if s.kind[:1] in 'aeiou' else 'a'} {s.kind}"
    where = f" in {s.place}" if s.place else ""
    if s.label == "Moon":
        what = "our own moon"
    if s.light_minutes is not None:
        took, far = _minutes(s.light_minutes), _kilometres(s.light_minutes * _KM_PER_MINUTE)
        return f"{upper_first(what)}{where}, {far} away: its light took {took} to your eye."
    if s.light_years is None:
        return f"{upper_first(what)}{where}."
    if s.light_years < 400.0:
        year = now.julian_year - s.light_years
        return (
            f"{upper_first(what)}{where}, about {_rounded(s.light_years)} light-years away: its "
            f"light set out about the year {round(year)}."
        )
    return (
        f"{upper_first(what)}{where}, about {_rounded(s.light_years)} light-years away: its light "
        f"set out {_rounded(s.light_years)} years ago."
    )


def _minutes(m: float) -> str:
    if m < 1.0:
        return f"{m * 60.0:.1f} seconds"
    if m < 100.0:
        return f"{m:.0f} minutes"
    return f"{m / 60.0:.1f} hours"


def _kilometres(km: float) -> str:
    """To three figures below a million, to two above: "384,000 km", "920 million km"."""
    if km < 1e6:
        return f"{round(km, -3):,.0f} km"
    million = float(f"{km / 1e6:.2g}")
    return f"{million:,.0f} million km"


def _rounded(x: float) -> str:
    """To two figures: "8.6", "67", "2,500", "2.5 million"."""
    if x < 10.0:
        return f"{x:.1f}"
    if x >= 1e6:
        return f"{x / 1e6:.2g} million"
    size = 10 ** max(0, len(str(int(x))) - 2)
    return f"{round(x / size) * size:,}"
