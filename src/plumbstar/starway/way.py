"""The way to a star for the eye: from a landmark, by its line or straight, in hand's breadths.

A hand's breadth at arm's length is 10 degrees: common practice, no source. Right and up are as the
observer sees them who faces the landmark.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from plumbstar.choose.candidates import depression_needed
from plumbstar.choose.lookalikes import LookAlike, lookalikes_of
from plumbstar.guide.sun import may_be_sighted
from plumbstar.sky.angles import offset_rad, position_angle_rad, separation_rad
from plumbstar.sky.bodies import Body
from plumbstar.sky.frame import frame
from plumbstar.sky.lists import catalogue
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.places import Directions, in_frame, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.starway.known import Landmark, landmarks
from plumbstar.turns import half_turn_deg, one_turn_deg

HAND_DEG = 10.0
#: Nobody measures further than this with the hand, degrees.
_FURTHEST = 55.0
#: Lower than this a landmark is in the haze; higher, left and right mean little.
_LOW_DEG, _HIGH_DEG = 8.0, 72.0
#: So near to a landmark's line a star is found by it, degrees.
_ON_LINE_DEG = 8.0
#: So much of a figure must be seen.
_MOST_OF_IT = 0.8
#: Each rank of a landmark, a line, and standing overhead, count so many degrees of way.
_RANK, _LINE, _OVERHEAD = 7.0, -12.0, 18.0
#: A figure wider than this is begun from at its near end, degrees.
_WIDE_DEG = 8.0
#: A star with none brighter so near is the brightest thereabouts, degrees.
_THEREABOUTS_DEG = 12.0

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class From:
    """Where the eye begins: at ``start`` (azimuth, altitude, degrees) of the landmark. ``line``:
    the words of the line that is followed, or empty. ``near_end``: the landmark is wide. ``shows``:
    the sky is dark enough for it at that moment. ``member``: the star is one of it."""

    landmark: Landmark
    start: Place
    right_deg: float
    up_deg: float
    line: str
    near_end: bool
    shows: bool
    member: bool

    @property
    def distance_deg(self) -> float:
        return math.hypot(self.right_deg, self.up_deg)

    def seen(self, place: Place) -> tuple[float, float]:
        """The way to ``place``, right and up, as it lies in its middle: so it is drawn, and so an
        eye that goes along it takes it. At its ends it leans by up to half of what "up" turns."""
        begins, ends = _toward_deg(self.start, place), _onward_deg(self.start, place)
        turn = math.radians(begins + half_turn_deg(ends - begins) / 2.0)
        return math.sin(turn), math.cos(turn)


@dataclass(frozen=True, slots=True)
class StarWay:
    """``begin`` is None where no landmark helps. ``brightest``: none brighter stands near."""

    star: Star
    at: Instant
    site: Site
    place: Place
    begin: From | None
    brightest: bool
    alike: tuple[LookAlike, ...]


def way_to(star: Star, at: Instant, site: Site, skyline: Skyline | None = None) -> StarWay | None:
    """The way to a star at a moment; None where it is down, or the Sun forbids to look there."""
    sun = place_of(Body("Sun"), at, site)
    place = place_of(star, at, site)
    if place[1] <= 0.0 or not _may([place], sun)[0]:
        return None
    stars = catalogue.load()
    ways = [w for mark in landmarks() for w in _froms(mark, star, place, at, site, skyline, sun)]
    best = min(ways, key=_cost, default=None)
    alike = lookalikes_of(star, stars, at, site)
    clear = _may([_beside(place, a) for a in alike], sun)
    return StarWay(
        star,
        at,
        site,
        place,
        best,
        _brightest(star),
        tuple(a for a, ok in zip(alike, clear, strict=True) if ok),
    )


def _may(places: list[Place], sun: Place) -> list[bool]:
    rows = np.radians(np.array(places).reshape(-1, 2))
    return [bool(x) for x in may_be_sighted(rows[:, 0], rows[:, 1], *sun)]


def _beside(place: Place, a: LookAlike) -> Place:
    """About where a look-alike stands."""
    wide = max(math.cos(math.radians(place[1])), 0.1)
    return place[0] + a.right_deg / wide, min(place[1] + a.up_deg, 90.0)


def _froms(
    mark: Landmark,
    star: Star,
    place: Place,
    at: Instant,
    site: Site,
    skyline: Skyline | None,
    sun: Place,
) -> list[From]:
    places = _placed(at, site)[mark.name]
    az, alt = np.array(places).T
    floor = np.full(len(az), _LOW_DEG)
    if skyline is not None:
        floor = np.maximum(floor, skyline.altitude_deg(az))
    seen = (alt >= floor) & np.array(_may(places, sun))
    # A figure of which an end is down, or behind a roof, is still known.
    if seen.mean() < _MOST_OF_IT or not all(_may(places, sun)):
        return []
    places = [p for p, ok in zip(places, seen, strict=True) if ok]
    shown = [s for s, ok in zip(mark.stars, seen, strict=True) if ok]
    member = any(s.key == star.key for s in mark.stars)
    if member and len(mark.stars) == 1:
        return []
    faintest = max(s.v_mag for s in mark.stars)
    shows = -sun[1] >= float(depression_needed(np.array(faintest)))
    apart = [_apart_deg(p, place) for p in places]
    middle = _middle(places)
    wide = max(_apart_deg(p, middle) for p in places) > _WIDE_DEG / 2
    start = middle if member or not wide else places[int(np.argmin(apart))]
    out = []
    right, up = _offset(start, place)
    if math.hypot(right, up) <= _FURTHEST:
        out.append(From(mark, start, right, up, "", wide and not member, shows, member))
    by_key = {s.key: p for s, p in zip(shown, places, strict=True)}
    for words, first, second in mark.lines:
        if not {first.key, second.key} <= by_key.keys():
            continue
        a, b = by_key[first.key], by_key[second.key]
        off = _onward_deg(a, b) - _toward_deg(b, place)
        far = _apart_deg(b, place)
        if member or far > _FURTHEST or far < 4.0:
            continue
        side = math.degrees(
            math.asin(min(1.0, abs(math.sin(math.radians(off)) * math.sin(math.radians(far)))))
        )
        if math.cos(math.radians(off)) > 0 and side < min(_ON_LINE_DEG, 0.25 * far + 2.0):
            right, up = _offset(b, place)
            out.append(From(mark, b, right, up, words, False, shows, False))
    return out


@lru_cache(maxsize=8)
def _placed(at: Instant, site: Site) -> dict[str, list[Place]]:
    """Where the stars of every landmark stand, by its name: the same for every star asked for."""
    marks = landmarks()
    stars = [s for m in marks for s in m.stars]
    az, alt = in_frame(frame(at, site), Directions.of(stars))
    rows = iter(zip(np.degrees(az).tolist(), np.degrees(alt).tolist(), strict=True))
    return {m.name: [next(rows) for _ in m.stars] for m in marks}


def _onward_deg(a: Place, b: Place) -> float:
    """The direction at b of the line from a, gone on beyond it, from up toward right."""
    return _toward_deg(b, a) + 180.0


def _toward_deg(a: Place, b: Place) -> float:
    """The direction at a toward b, from up toward right."""
    return math.degrees(float(position_angle_rad(*np.radians((*a, *b)))))


def _cost(w: From) -> float:
    """What is least is the best way."""
    dark = 0.0 if w.shows else 60.0
    high = _OVERHEAD if w.start[1] > _HIGH_DEG else 0.0
    line = _LINE if w.line else 0.0
    member = -15.0 if w.member else 0.0
    return w.distance_deg + _RANK * w.landmark.rank + dark + high + line + member


def _brightest(star: Star) -> bool:
    stars = catalogue.load()
    rows = stars.brighter_than(star.v_mag - 0.05)
    ra, dec = math.radians(star.ra_deg), math.radians(star.dec_deg)
    apart = np.degrees(separation_rad(ra, dec, stars.ra_rad[rows], stars.dec_rad[rows]))
    return not bool(((apart > 0.1) & (apart < _THEREABOUTS_DEG)).any())


def _apart_deg(a: Place, b: Place) -> float:
    return math.degrees(float(separation_rad(*np.radians((*a, *b)))))


def _offset(a: Place, b: Place) -> tuple[float, float]:
    right, up = np.degrees(offset_rad(*np.radians((*a, *b))))
    return float(right), float(up)


def _middle(places: list[Place]) -> Place:
    rows = np.radians(np.array(places))
    d = np.stack(
        [
            np.cos(rows[:, 1]) * np.sin(rows[:, 0]),
            np.cos(rows[:, 1]) * np.cos(rows[:, 0]),
            np.sin(rows[:, 1]),
        ],
        axis=-1,
    ).mean(axis=0)
    az = one_turn_deg(math.degrees(math.atan2(d[0], d[1])))
    return az, math.degrees(math.atan2(d[2], math.hypot(d[0], d[1])))
