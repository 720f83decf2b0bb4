"""The true places were computed for the wrong time or place."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from plumbstar.diagnose.explain.causes.fault import Fault, Scene, believed_places, pick
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.forms import (
    Fact,
    Form,
    Judged,
    Observations,
    Variant,
    blank_shift,
)
from plumbstar.diagnose.explain.sizes import then
from plumbstar.errors import UserError
from plumbstar.mount.terms import INDEX
from plumbstar.sky.site import Site
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import upper_first
from plumbstar.turns import half_turn_deg

_KIND = "clock_or_site"
#: A model that puts a sighted star this far below level is not considered.
_BELOW = math.radians(-1.5)
_DAY_S = 86400.0

#: Zone by whole and half hours, minutes, a sign or an exchange in the site's numbers, a site some
#: way off.
_ZONE_WEIGHT, _MINUTES_WEIGHT, _MIXUP_WEIGHT, _FAR_WEIGHT = 0.60, 0.20, 0.12, 0.08
#: 1 sigma of a clock that is merely wrong, minutes, and the step of the sum over it.
_MINUTES_SIGMA, _MINUTES_STEP = 10.0, 2.0
#: 1 sigma of each coordinate of a site some way off, degrees.
_FAR_DEG = 4.0
#: (weight, name) of the site mix-ups.
_MIXUPS = ((0.5, "longitude_sign"), (0.25, "latitude_sign"), (0.25, "exchanged"))


def mixed_up(site: Site, how: str) -> Site:
    """The site with a usual mix-up of its two numbers; the same once more undoes it."""
    lat, lon = site.lat_deg, half_turn_deg(site.lon_deg)
    if how == "longitude_sign":
        lon = -lon
    elif how == "latitude_sign":
        lat = -lat
    else:
        lat, lon = max(-90.0, min(90.0, lon)), lat
    return replace(site, lat_deg=lat, lon_deg=lon)


def zone_errors() -> tuple[tuple[float, float], ...]:
    """(probability, hours) of a zone mistake, summing to one: one hour is by far the commonest."""
    raw = []
    for half in range(-26, 27):
        hours = half / 2
        if half == 0:
            continue
        w = math.exp(-abs(hours) / 2.5) * (1.0 if half % 2 == 0 else 0.15)
        if abs(hours) == 1:
            w *= 4.0
        if abs(hours) == 12:
            w += 0.6  # morning for evening
        raw.append((w, hours))
    raw += [(0.15, 24.0), (0.15, -24.0)]  # the date, past midnight
    total = sum(w for w, _ in raw)
    return tuple((w / total, h) for w, h in raw)


def minute_errors() -> tuple[tuple[float, float], ...]:
    """(probability, minutes) on a grid, summing to one; zero is left out (that is no fault)."""
    steps = int(3 * _MINUTES_SIGMA / _MINUTES_STEP)
    raw = [
        (math.exp(-0.5 * (k * _MINUTES_STEP / _MINUTES_SIGMA) ** 2), k * _MINUTES_STEP)
        for k in range(-steps, steps + 1)
        if k
    ]
    total = sum(w for w, _ in raw)
    return tuple((w / total, m) for w, m in raw)


@dataclass(frozen=True)
class _Misplaced(Form):
    def claim(self, o: Observations, j: Judged) -> str:
        return upper_first(self._wrong())

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        return f"If {self._wrong()}, {then(j, nothing)}."

    def _wrong(self) -> str:
        raise NotImplementedError

    def hand_check(self, o: Observations, j: Judged) -> str:
        return "compare the clock, its zone and date, and the site's signs with a telephone"

    def try_next(self, o: Observations, j: Judged) -> str:
        return "Check the time and the date, whether it is summer or winter time, and the place."


@dataclass(frozen=True)
class ClockWrong(_Misplaced):
    """``how``: "zone", "date" or "minutes"; ``late_s``: the true time is so much later."""

    how: str
    late_s: float

    @property
    def clock_late_s(self) -> float:
        return self.late_s

    @property
    def _way(self) -> str:
        return "later" if self.late_s > 0 else "earlier"

    def _wrong(self) -> str:
        return f"the true time was {_span(self.late_s)} {self._way} than written"

    def title(self, o: Observations, j: Judged) -> str:
        return {
            "zone": "the time zone is wrong",
            "date": "the date is wrong",
            "minutes": "the clock is wrong",
        }[self.how]

    def mend(self, o: Observations, j: Judged) -> str:
        return f"Correct the time: {self._wrong()}. Enter UTC."

    def advice(self, o: Observations, j: Judged) -> Advice:
        return Advice(Do.CORRECT_TIMES, f"{self.late_s:.0f}")

    def happened(self, o: Observations, j: Judged) -> str:
        size, unit = abs(self.late_s) / 3600.0, "hour"
        if size < 0.99:
            size, unit = size * 60.0, "minute"
        amount = f"{size:g} {unit}{'' if size == 1 else 's'}"
        return f"The time looks wrong: the sky fits if it was really {amount} {self._way}."


@dataclass(frozen=True)
class SiteMixedUp(_Misplaced):
    """``how``: one of the mix-ups; ``site``: where the telescope would really have stood."""

    how: str
    site: Site

    def really_at(self) -> Site:
        return self.site

    def facts(self) -> Mapping[str, Fact]:
        return {
            "how": self.how,
            "site_lat_deg": self.site.lat_deg,
            "site_lon_deg": self.site.lon_deg,
        }

    def _wrong(self) -> str:
        return f"the site is really at {self.site.lat_deg:.1f}, {self.site.lon_deg:.1f}"

    def title(self, o: Observations, j: Judged) -> str:
        return {
            "longitude_sign": "the site's longitude has the wrong sign",
            "latitude_sign": "the site's latitude has the wrong sign",
            "exchanged": "the site's latitude and longitude are exchanged",
        }[self.how]

    def mend(self, o: Observations, j: Judged) -> str:
        return f"Correct the site: {self._wrong()}. North and east are positive."

    def happened(self, o: Observations, j: Judged) -> str:
        mixed = {
            "longitude_sign": "east and west were mixed up",
            "latitude_sign": "north and south were mixed up",
            "exchanged": "its two numbers were exchanged",
        }[self.how]
        return f"The place you gave for the telescope looks wrong; perhaps {mixed}."


@dataclass(frozen=True)
class SiteFar(_Misplaced):
    how: str = field(default="far", init=False)

    def _wrong(self) -> str:
        return "the site's latitude or longitude is off by some degrees"

    def title(self, o: Observations, j: Judged) -> str:
        return "the site is wrong"

    def mend(self, o: Observations, j: Judged) -> str:
        return "Enter the site again: degrees north, degrees east."

    def happened(self, o: Observations, j: Judged) -> str:
        return "The place you gave for the telescope looks wrong."


def _span(seconds: float) -> str:
    s = abs(seconds)
    if s == _DAY_S:
        return "one day"
    hours, minutes = int(s // 3600), round(s % 3600 / 60)
    parts = [f"{hours} h"] if hours else []
    return " ".join([*parts, *([f"{minutes} min"] if minutes or not hours else [])])


@dataclass(frozen=True)
class ClockFault(Fault):
    """The observer's clock is so many seconds slow."""

    kind = _KIND
    misplaces = True
    seconds: float = 0.0


@dataclass(frozen=True)
class SiteMixedUpFault(Fault):
    kind = _KIND
    misplaces = True
    how: str

    def recorded_site(self, site: Site) -> Site:
        return mixed_up(site, self.how)


@dataclass(frozen=True)
class SiteFarFault(Fault):
    """The observer's site is so much further north and east than the telescope."""

    kind = _KIND
    misplaces = True
    north_deg: float
    east_deg: float

    def recorded_site(self, site: Site) -> Site:
        lat = max(-89.0, min(89.0, site.lat_deg + self.north_deg))
        return Site(lat, site.lon_deg + self.east_deg, site.elevation_m)


def _forms(o: Observations) -> list[Variant]:
    sky = o.sky
    if sky is None:
        return []
    out = []
    zones, minutes = zone_errors(), minute_errors()
    seconds = np.array([3600 * x for _, x in zones] + [60 * x for _, x in minutes])
    share = [_ZONE_WEIGHT * w for w, _ in zones]
    share += [_MINUTES_WEIGHT * w for w, _ in minutes]
    for p, s, true in zip(share, seconds, sky.later(seconds), strict=True):
        if np.all(true[:, 1] > _BELOW):
            how = "zone" if abs(s) >= 1800 and s % 1800 == 0 and abs(s) != _DAY_S else "minutes"
            how = "date" if abs(s) == _DAY_S else how
            out.append(o.variant(_KIND, p, ClockWrong(how, float(s)), true=true))
    for w, how in _MIXUPS:
        site = mixed_up(sky.site, how)
        true = sky.elsewhere(site)
        if np.all(true[:, 1] > _BELOW):
            out.append(o.variant(_KIND, _MIXUP_WEIGHT * w, SiteMixedUp(how, site), true=true))
    # A site some way off turns the whole sky rigidly: the same as so much lean and azimuth.
    shift = blank_shift(o.n)
    shift[:, INDEX["lean_north"], 0] = 1.0
    shift[:, INDEX["lean_west"], 1] = 1.0
    far = math.radians(_FAR_DEG)
    out.append(o.variant(_KIND, _FAR_WEIGHT, SiteFar(), extras=(far, far), shift=shift))
    return out


def _draw(rng: np.random.Generator, scene: Scene) -> Fault:
    """A clock or site under which a sighted star would not be up (the observer would notice) is
    drawn again."""
    for _ in range(200):
        fault = _draw_one(rng, scene.site)
        believed = believed_places(fault, scene.plan, scene.instants, scene.site)
        if np.all(believed[:, 1] > 0.0):
            return fault
    raise UserError("stars that would have set", "stars that stay up", "Choose stars higher up")


def _draw_one(rng: np.random.Generator, site: Site) -> Fault:
    shares = ((_ZONE_WEIGHT, 0.0), (_MINUTES_WEIGHT, 1.0), (_MIXUP_WEIGHT, 2.0), (_FAR_WEIGHT, 3.0))
    form = int(pick(rng, shares)[0])
    if form == 0:
        return ClockFault(3600.0 * pick(rng, zone_errors())[0])
    if form == 1:
        return ClockFault(float(60 * _MINUTES_SIGMA * rng.standard_normal()))
    if form == 2:
        names = [name for _, name in _MIXUPS]
        return SiteMixedUpFault(str(rng.choice(names, p=[w for w, _ in _MIXUPS])))
    lat, lon = _FAR_DEG * rng.standard_normal(2)
    lon /= max(0.2, math.cos(math.radians(site.lat_deg)))
    return SiteFarFault(float(lat), float(lon))


CAUSE = CauseKind(_KIND, 0.05, _forms, _draw)
