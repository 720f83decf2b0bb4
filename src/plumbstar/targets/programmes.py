"""Lists to work through: which of their objects were seen, and what is left this month.

An object is left for the month when it was not seen and stands high enough in the dark for an hour
on the month's middle night: at 25 degrees, or where it never gets much higher from the site, five
degrees below its highest. Common practice, no source. Moonlight is not asked: half a month is dark.
"""

from __future__ import annotations

import calendar
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.errors import UserError
from plumbstar.sky import bodies
from plumbstar.sky.lists import deepsky, doubles
from plumbstar.sky.naming import lookup
from plumbstar.sky.naming.names import fold
from plumbstar.sky.places import Target, observed_many
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.targets.wishes import name_of

#: The Sun so far down is dark enough, degrees; so high an object is worth looking at.
_DARK_DEG, _HIGH_DEG, _BELOW_HIGHEST_DEG, _LEAST_DEG = -15.0, 25.0, 5.0, 10.0
#: A night is looked at so often, and an object must be up at so many of those times.
_STEP_S, _TIMES = 1800.0, 2


@dataclass(frozen=True, slots=True)
class Programme:
    """A list by its name; ``unknown``: names of it that no list here has."""

    name: str
    targets: tuple[Target, ...]
    unknown: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a programme has got; ``left`` what was not seen, ``now`` those of it that stand high
    in the dark this month, the first to go first."""

    programme: Programme
    seen: int
    left: tuple[Target, ...]
    now: tuple[Target, ...]


def programmes(own: Mapping[str, Sequence[str]]) -> tuple[Programme, ...]:
    """The packaged ones, and the observer's own: lists of names by their names."""
    made = [_series("M", "Messier"), _series("C", "Caldwell")]
    made.append(Programme("Double stars", tuple(doubles.load())))
    made.append(Programme("Planets", tuple(lookup.find_target(p) for p in bodies.PLANETS)))
    return (*made, *(_own(name, names) for name, names in own.items()))


def _series(series: str, title: str) -> Programme:
    """The objects that bear a number of that series, in its order."""
    numbered = [(k, it) for it in deepsky.load() if (k := _number(it, series))]
    return Programme(title, tuple(it for _, it in sorted(numbered, key=lambda x: x[0])))


def _number(it: deepsky.DeepSky, series: str) -> int:
    """Its number in that series; 0 for none."""
    for name in it.names:
        head, _, number = name.partition(" ")
        if head == series and number.isdigit():
            return int(number)
    return 0


def _own(name: str, names: Sequence[str]) -> Programme:
    targets: dict[str, Target] = {}
    unknown = []
    for text in names:
        try:
            target = lookup.find_target(text)
        except UserError:
            unknown.append(text)
            continue
        targets.setdefault(name_of(target), target)
    return Programme(name, tuple(targets.values()), tuple(unknown))


def programme_named(name: str, known: Sequence[Programme]) -> Programme:
    """That one. Capitals, accents and spaces are forgiven. Raises :class:`UserError`."""
    found = next((p for p in known if fold(p.name) == fold(name)), None)
    if found is None:
        raise UserError(
            f"the list '{name[:60]}'", ", ".join(p.name for p in known), "Choose one of them"
        )
    return found


def progress(
    programme: Programme, seen: Collection[str], now: Instant, site: Site | None
) -> Progress:
    """``seen``: as :func:`name_of`. ``now`` tells the month; without a site nothing is placed."""
    left = tuple(t for t in programme.targets if name_of(t) not in seen)
    shown = left_now(left, now, site) if site is not None else ()
    return Progress(programme, len(programme.targets) - len(left), left, shown)


def _night(now: Instant, site: Site) -> list[Instant]:
    """The dark times of the night in the middle of what is left of the month."""
    year, month, day = (int(x) for x in now.iso()[:10].split("-"))
    last = calendar.monthrange(year, month)[1]
    middle = Instant.parse(f"{year:04d}-{month:02d}-{(day + last) // 2:02d}T00:00:00Z")
    midnight = middle.plus_seconds(-site.lon_deg * 240.0)
    times = [midnight.plus_seconds(_STEP_S * k) for k in range(-20, 21)]
    sun = lookup.find_target("Sun")
    _, alt = observed_many([sun] * len(times), times, site)
    dark = [t for t, a in zip(times, alt, strict=True) if math.degrees(a) < _DARK_DEG]
    return dark or [times[int(np.argmin(alt))]]


def left_now(targets: Sequence[Target], now: Instant, site: Site) -> tuple[Target, ...]:
    """Those that stand high in the dark this month, the first to go down first."""
    if not targets:
        return ()
    night = _night(now, site)
    m = len(night)
    _, alt = observed_many(list(targets), night, site, grid=True)
    alt_deg = np.degrees(alt).T
    highest = np.array([_highest_deg(t, site) for t in targets])
    enough = np.maximum(_LEAST_DEG, np.minimum(_HIGH_DEG, highest - _BELOW_HIGHEST_DEG))
    up = alt_deg >= enough[:, None]
    good = np.flatnonzero(up.sum(axis=1) >= min(_TIMES, m))
    last = np.array([int(np.flatnonzero(up[i])[-1]) for i in good], dtype=int)
    return tuple(targets[int(i)] for i in good[np.argsort(last, kind="stable")])


def _highest_deg(target: Target, site: Site) -> float:
    """The highest that it ever stands there; of a planet about."""
    dec_deg = 0.0 if isinstance(target, bodies.Body) else target.dec_deg
    return 90.0 - abs(site.lat_deg - dec_deg)
