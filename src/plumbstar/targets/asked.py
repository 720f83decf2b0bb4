"""Can I see it? Any object asked for: with what, why not, what would help, and on which night.

Tonight first, by the same survey as the list. Where that says no, the year ahead is looked through
night by night, and what would help is tried, each thing by itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum, auto

import msgspec

from plumbstar.errors import UserError
from plumbstar.kit import Eyepiece, Kit
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists import doubles
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.lists.deepsky import DeepSky, DeepSkyList
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets.filters import GAS, OXYGEN
from plumbstar.targets.looks import NOT_JUDGED
from plumbstar.targets.model import Conditions, Prospect
from plumbstar.targets.night_view import FLOOR_DEG
from plumbstar.targets.parting import DAWES
from plumbstar.targets.prospects import prospect
from plumbstar.targets.tonight import survey

#: From this chance on an object is one to look for; below it, what is in the way is said.
GOOD_CHANCE = 0.7
#: Nights are tried so far apart, days: no Moon-free week is missed, nor a season.
_STEP_DAYS, _YEAR_DAYS = 3, 366
_DAY_S = 86400.0
#: What is tried: a dark site, still air, and an aperture so many times as large.
_DARK_MAG, _STILL_ARCSEC, _LARGER = 21.8, 1.0, 2.0
#: Something helps that brings so much more. Judgement.
_HELPS = 0.2


class WhyNot(Enum):
    """What is in the way tonight."""

    #: it never stands high enough at this site
    NEVER_HIGH = auto()
    #: not in the dark hours of this season
    NOT_IN_THE_DARK = auto()
    #: behind the skyline
    HIDDEN = auto()
    MOONLIGHT = auto()
    LOW = auto()
    #: two stars closer than the aperture parts, or than the air does
    TOO_CLOSE = auto()
    UNSTEADY_AIR = auto()
    TOO_FAINT = auto()
    #: nothing there that shines
    NO_LIGHT = auto()


class Helps(Enum):
    """What would bring it within reach."""

    NARROW_BAND = auto()
    LINE = auto()
    DARK_SITE = auto()
    DARK_SITE_AND_FILTER = auto()
    STEADY_AIR = auto()
    TWICE_THE_APERTURE = auto()


@dataclass(frozen=True, slots=True)
class Place:
    """Where one looks from and with what: all that a verdict rests on but object and time."""

    site: Site
    kit: Kit
    sky: Conditions
    skyline: Skyline


@dataclass(frozen=True, slots=True)
class Visibility:
    """Whether it can be seen.

    ``tonight`` None where it cannot even be pointed at; ``why_not`` None where the chance is good;
    ``later`` the next night with a good chance, None if it is tonight or none within a year;
    ``helps`` with the chance that each would give, the likeliest first.
    """

    target: Target
    tonight: Prospect | None
    why_not: WhyNot | None = None
    later: Prospect | None = None
    helps: tuple[tuple[Helps, float], ...] = ()

    @property
    def chance(self) -> float:
        """Chance of seeing it tonight."""
        return self.tonight.chance if self.tonight is not None else 0.0


def verdict_of(target: Target, start: Instant, end: Instant, place: Place) -> Visibility:
    """Whether it can be seen between two moments; if not, why, what would help, and when.

    Raises :class:`UserError` for the Sun.
    """
    if isinstance(target, Body) and target.name == "Sun":
        raise UserError(
            "The Sun is not judged, and never looked for",
            "",
            "Never look at the Sun through a telescope: it blinds at once and for good",
        )
    it = judged_as(target)
    if isinstance(it, DeepSky) and not isinstance(it, Double) and it.kind in NOT_JUDGED:
        return Visibility(it, None, WhyNot.NO_LIGHT)
    if isinstance(it, MinorBody) and math.isnan(it.h_mag):
        return Visibility(it, None, WhyNot.NO_LIGHT)
    tonight = alone(it, start, end, place)
    if tonight is not None and tonight.chance >= GOOD_CHANCE:
        return Visibility(it, tonight)
    why = _why_not(it, tonight, start, end, place)
    if why is WhyNot.NEVER_HIGH:
        return Visibility(it, tonight, why)
    best = _best_case(it, start, place)
    later = None
    if best is not None and best.chance >= GOOD_CHANCE:
        later = _next_night(it, end, place)
    helps = () if later is not None else _helps(it, best, place)
    return Visibility(it, tonight, why, later, helps)


def judged_as(target: Target) -> DeepSky | Body:
    """A star as its pair, if it is one, or else as a point of light."""
    if isinstance(target, Star):
        pair = doubles.of(target)
        if pair is not None:
            return pair
        return DeepSky(
            target.key, target.name, target.label, "star", target.constellation, target.ra_deg,
            target.dec_deg, target.v_mag, math.nan,
        )  # fmt: skip
    return target


def alone(it: DeepSky | Body, start: Instant, end: Instant, place: Place) -> Prospect | None:
    """One object judged by itself between two moments; None if it cannot be pointed at then."""
    pairs = [it] if isinstance(it, Double) else []
    own = isinstance(it, DeepSky) and not it.catalogue and not pairs
    glows = DeepSkyList.of([it] if isinstance(it, DeepSky) and not pairs else [])
    none = DeepSkyList.of([])
    s = survey(
        none if own else glows, pairs, start, end, place.site, place.kit, place.sky, place.skyline,
        own=glows if own else None, least_chance=-1.0, bodies=[it] if isinstance(it, Body) else [],
    )  # fmt: skip
    try:
        return prospect(s, s.index_of(it.key))
    except KeyError:
        return None


def _nights(after: Instant, site: Site, step: int) -> Iterator[tuple[Instant, Instant]]:
    """Twelve hours about midnight by the Sun, every so many nights for a year."""
    # Midnight by the mean Sun: within a quarter of an hour of the true one.
    wait = -(after.jd2 + site.lon_deg / 360.0) % 1.0
    for k in range(0, _YEAR_DAYS, step):
        midnight = after.plus_seconds(_DAY_S * (wait + k))
        yield midnight.plus_seconds(-_DAY_S / 4.0), midnight.plus_seconds(_DAY_S / 4.0)


def _next_night(it: DeepSky | Body, after: Instant, place: Place) -> Prospect | None:
    """The first night with a good chance."""
    for start, end in _nights(after, place.site, _STEP_DAYS):
        found = alone(it, max(start, after), end, place)
        if found is not None and found.chance >= GOOD_CHANCE:
            return found
    return None


def _best_case(it: DeepSky | Body, after: Instant, place: Place) -> Prospect | None:
    """About the best that a year can give: the best of a night in each fortnight.

    One of two nights a fortnight apart is without much Moon.
    """
    found = (alone(it, *night, place) for night in _nights(after, place.site, 14))
    return max((p for p in found if p is not None), key=lambda p: p.chance, default=None)


def _why_not(
    it: DeepSky | Body, p: Prospect | None, start: Instant, end: Instant, place: Place
) -> WhyNot:
    if p is None:
        if isinstance(it, DeepSky):
            floor = max(FLOOR_DEG, place.kit.telescope.min_alt_deg)
            if 90.0 - abs(place.site.lat_deg - it.dec_deg) < floor:
                return WhyNot.NEVER_HIGH
        if place.skyline.points and alone(it, start, end, replace(place, skyline=Skyline())):
            return WhyNot.HIDDEN
        return WhyNot.NOT_IN_THE_DARK
    if isinstance(it, Double):
        parts = it.separation_arcsec >= DAWES / place.kit.telescope.aperture_mm
        return WhyNot.UNSTEADY_AIR if parts else WhyNot.TOO_CLOSE
    if p.moon_loss_mag >= max(0.4, p.air_loss_mag):
        return WhyNot.MOONLIGHT
    return WhyNot.LOW if p.air_loss_mag >= 0.4 else WhyNot.TOO_FAINT


def _helps(
    it: DeepSky | Body, best: Prospect | None, place: Place
) -> tuple[tuple[Helps, float], ...]:
    """What would help in the best night of the year, each by itself."""
    if best is None:
        return ()
    start, end = best.best.plus_seconds(-900.0), best.best.plus_seconds(900.0)
    tried: dict[Helps, Place] = {Helps.TWICE_THE_APERTURE: replace(place, kit=_larger(place.kit))}
    if isinstance(it, Double):
        tried[Helps.STEADY_AIR] = replace(
            place, sky=replace(place.sky, seeing_arcsec=min(_STILL_ARCSEC, place.sky.seeing_arcsec))
        )
    elif place.sky.zenith_mag < _DARK_MAG:
        tried[Helps.DARK_SITE] = replace(place, sky=replace(place.sky, zenith_mag=_DARK_MAG))
    kind = it.kind
    if kind in GAS:
        kit = msgspec.structs.replace(
            place.kit, filters=(*place.kit.filters, "line" if kind in OXYGEN else "narrow band")
        )
        dark = replace(place.sky, zenith_mag=max(_DARK_MAG, place.sky.zenith_mag))
        tried[Helps.DARK_SITE_AND_FILTER] = replace(place, kit=kit, sky=dark)
        if "narrow band" not in place.kit.filters:
            kit = msgspec.structs.replace(place.kit, filters=("narrow band",))
            tried[Helps.NARROW_BAND] = replace(place, kit=kit)
        if kind in OXYGEN and "line" not in place.kit.filters:
            kit = msgspec.structs.replace(place.kit, filters=("line",))
            tried[Helps.LINE] = replace(place, kit=kit)
    out = []
    for what, there in tried.items():
        found = alone(it, start, end, there)
        if found is not None and found.chance >= best.chance + _HELPS:
            out.append((what, found.chance))
    # Two things together are named only where neither does by itself.
    alone_does = any(c >= GOOD_CHANCE for h, c in out if h is not Helps.DARK_SITE_AND_FILTER)
    kept = [x for x in out if x[0] is not Helps.DARK_SITE_AND_FILTER or not alone_does]
    return tuple(sorted(kept, key=lambda x: -x[1]))


def _larger(kit: Kit) -> Kit:
    """The same with twice the aperture, of the same focal ratio, its eyepieces kept."""
    t = kit.telescope
    larger = msgspec.structs.replace(
        t, aperture_mm=_LARGER * t.aperture_mm, focal_length_mm=_LARGER * t.focal_length_mm
    )
    return msgspec.structs.replace(kit, telescope=larger)


def chance_now(target: Target, now: Instant, eyepiece: Eyepiece, place: Place) -> float | None:
    """Chance of seeing it at this moment in this eyepiece; None where nothing is judged.

    By day, or below the horizon, it is None, too.
    """
    it = judged_as(target)
    if isinstance(it, DeepSky) and not isinstance(it, Double) and it.kind in NOT_JUDGED:
        return None
    kit = msgspec.structs.replace(place.kit, eyepiece=(eyepiece,))
    found = alone(it, now, now.plus_seconds(60.0), replace(place, kit=kit))
    return None if found is None else found.chance
