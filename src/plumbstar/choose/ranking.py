"""Which stars to sight: every pair and triple that is up, ranked by what it would buy.

The ranking is by mean hit chance less the practical costs in ``COSTS``, each in points of hit
chance; both numbers are shown, so that the costs never hide the gain.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from plumbstar.choose.score import score_next, score_sets, score_trusting_stop
from plumbstar.errors import UserError
from plumbstar.guide.sun import SUN_UP_DEG, SunRefusal, may_be_sighted
from plumbstar.kit import Telescope
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.angles import offset_rad
from plumbstar.sky.bodies import Body, sun_altitude
from plumbstar.sky.events import sun_crossings
from plumbstar.sky.frame import frame
from plumbstar.sky.lists.catalogue import Catalogue, Star
from plumbstar.sky.places import Directions, in_frame, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix, sky_grid
from plumbstar.text import words
from plumbstar.turns import half_turn, one_turn_deg
from plumbstar.units import Array, Indices

#: What makes a star a nuisance, in hit chance given up to avoid it. Common practice, no source.
COSTS = {
    "look-alike": 0.010,
    "faint": 0.008,  # each magnitude fainter than 1.5
    "high": 0.015,  # the azimuth runs fast, the neck bends
    "low": 0.010,  # shaken and dimmed
    "turning": 0.005,  # each half turn of pushing
}
#: Above this a star counts as high, below that as low, degrees.
TOO_HIGH_DEG, TOO_LOW_DEG = 75.0, 20.0

#: Between these heights a star is sighted well, degrees. Common practice, no source.
LOW_DEG, HIGH_DEG = 15.0, 80.0
#: Sun depression, degrees, at which a star of that magnitude is first seen by eye. The ends are the
#: usual definitions (civil twilight ends when the brightest stars show, astronomical when the
#: sixth magnitude does); between them a straight line. Common practice, no source.
_DEPRESSION = (1.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.5, 18.0)
_MAGNITUDE = (-1.5, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0)

#: A hand's breadth at arm's length, degrees: as far as a wrong star is likely to be.
HAND_DEG = 10.0
#: Stars within this many magnitudes can be taken for one another.
ALIKE_MAG = 1.0


@dataclass(frozen=True, slots=True)
class LookAlike:
    """A star easily taken for another: where it lies from the wanted one, and how it differs."""

    star: Star
    distance_deg: float
    right_deg: float
    up_deg: float

    def sentence(self, wanted: Star) -> str:
        """Which is which, in words: direction, distance, brightness, colour."""
        side = "right" if self.right_deg > 0 else "left"
        way = "above" if self.up_deg > 0 else "below"
        a, b = abs(self.right_deg), abs(self.up_deg)
        lies = (
            f"straight {way}" if a < 0.4 * b else f"to the {side}" if b < 0.4 * a
            else f"{way} and to the {side}"
        )  # fmt: skip
        dv = self.star.v_mag - wanted.v_mag
        light = (
            "as bright" if abs(dv) < 0.15
            else f"{abs(dv):.1f} magnitudes {'fainter' if dv > 0 else 'brighter'}"
        )  # fmt: skip
        tint, own = words.colour(self.star.bv), words.colour(wanted.bv)
        hue = f", {tint} where {wanted.label} is {own}" if tint and own and tint != own else ""
        return f"{self.star.label} lies {self.distance_deg:.0f}° {lies}, {light}{hue}."

    def to_dict(self, wanted: Star) -> dict[str, Any]:
        return {
            "name": self.star.label,
            "distance_deg": self.distance_deg,
            "right_deg": self.right_deg,
            "up_deg": self.up_deg,
            "v_mag": self.star.v_mag,
            "colour": words.colour(self.star.bv),
            "sentence": self.sentence(wanted),
        }


@dataclass(frozen=True, slots=True)
class Candidate:
    """A star that could be sighted: where it stands, from when it shows, and its look-alikes."""

    star: Star
    az_deg: float
    alt_deg: float
    visible_from: Instant | None
    lookalikes: tuple[LookAlike, ...]


@dataclass(frozen=True, slots=True)
class StarSet:
    """A pair or triple, in the order to push through them."""

    stars: tuple[Candidate, ...]
    mean_hit_chance: float
    cost: float
    trusting_stop: float
    push_deg: float

    def cautions(self) -> tuple[str, ...]:
        """What to look out for, star by star."""
        out = []
        for c in self.stars:
            if c.lookalikes:
                nearest = c.lookalikes[0].sentence(c.star)
                out.append(f"Not to be taken for {c.star.label}: {nearest}")
            if c.alt_deg > TOO_HIGH_DEG:
                out.append(
                    f"{c.star.label} is {c.alt_deg:.0f}° up: "
                    "there a small push turns the azimuth far."
                )
            if c.alt_deg < TOO_LOW_DEG:
                out.append(f"{c.star.label} is low, {c.alt_deg:.0f}° up.")
        return tuple(out)


@dataclass(frozen=True, slots=True)
class Choice:
    """Tonight's choice: the best sets, what common practice would take, and all candidates."""

    instant: Instant
    field_deg: float
    sets: tuple[StarSet, ...]
    common_practice: StarSet | None
    candidates: tuple[Candidate, ...]
    sets_scored: int

    @property
    def best(self) -> StarSet:
        return self.sets[0]


def candidates(
    catalogue: Catalogue,
    instant: Instant,
    site: Site,
    *,
    skyline: Skyline | None = None,
    telescope: Telescope | None = None,
    max_mag: float = 3.0,
    clearance_deg: float = 2.0,
    most: int = 60,
) -> tuple[Candidate, ...]:
    """The brightest usable stars, at most ``most``: clear of the skyline, neither too low nor too
    high, and within the telescope's reach.

    None within 20 degrees of the Sun unless it is well down, and none that a white night never
    shows. Raises :class:`SunRefusal` while the Sun is up, and :class:`UserError` when fewer than
    two are left.
    """
    sun_az, sun_alt = place_of(Body("Sun"), instant, site)
    if sun_alt > SUN_UP_DEG:
        raise SunRefusal(
            f"The Sun is up then ({instant}), so no stars show, and a sweep across it blinds at "
            "once and for good",
            "",
            "Choose a time when it is dark",
        )
    low, high = LOW_DEG, HIGH_DEG
    if telescope is not None:
        low, high = max(low, telescope.min_alt_deg), min(high, telescope.max_alt_deg)
    bright = catalogue.brighter_than(max_mag + ALIKE_MAG)
    f = frame(instant, site)
    az, alt = in_frame(f, Directions.take(catalogue, bright))
    az_deg, alt_deg = np.degrees(az), np.degrees(alt)
    floor = np.full_like(alt_deg, low)
    if skyline is not None:
        floor = np.maximum(floor, skyline.altitude_deg(az_deg) + clearance_deg)
    mag = catalogue.v_mag[bright]
    places = kinematics.unit(az, alt)
    usable = (alt_deg >= floor) & (alt_deg <= high) & (mag <= max_mag)
    usable &= may_be_sighted(az, alt, sun_az, sun_alt)
    rows = np.flatnonzero(usable)
    rows = rows[np.argsort(mag[rows], kind="stable")]
    rows = _one_of_each_double(places, rows)[:most]
    shows = _first_visible(mag[rows], instant, site)
    dark = -sun_alt >= _depression_needed(mag[rows])
    keep = [k for k, when in enumerate(shows) if dark[k] or when is not None]
    rows, shows = rows[keep], [shows[k] for k in keep]
    if len(rows) < 2:
        raise UserError(
            f"{'Only one star is' if len(rows) else 'No star is'} brighter than magnitude "
            f"{max_mag:g}, between {low:.0f}° and {high:.0f}° up, above the skyline, and to be "
            "seen at that time. Two are needed",
            "",
            "Allow fainter stars, or check the skyline, the site and the time (UTC)",
        )
    out = []
    for k, row in enumerate(rows):
        star = catalogue[int(bright[row])]
        alike = _lookalikes(catalogue, bright, mag, az, alt, int(row))
        out.append(
            Candidate(star, one_turn_deg(float(az_deg[row])), float(alt_deg[row]), shows[k], alike)
        )
    return tuple(out)


def _one_of_each_double(places: Array, rows: Indices) -> Indices:
    """Of stars within a quarter of a degree (components of one) keep the first, the brightest."""
    kept: list[int] = []
    for r in rows:
        if not kept or np.max(places[kept] @ places[r]) < math.cos(math.radians(0.25)):
            kept.append(int(r))
    return np.array(kept, dtype=np.intp)


def _lookalikes(
    catalogue: Catalogue,
    index: Indices,
    mag: Array,
    az: Array,
    alt: Array,
    row: int,
) -> tuple[LookAlike, ...]:
    """Neighbours within a hand's breadth and a magnitude, the most alike first; at most three."""
    offset = np.degrees(offset_rad(az[row], alt[row], az, alt))
    apart = np.hypot(*offset.T)
    near = (apart < HAND_DEG) & (apart > 0.25) & (np.abs(mag - mag[row]) < ALIKE_MAG)
    # The nearer in brightness and the closer, the easier the mistake.
    rows = sorted(np.flatnonzero(near), key=lambda i: abs(mag[i] - mag[row]) + apart[i] / HAND_DEG)
    return tuple(
        LookAlike(catalogue[int(index[i])], float(apart[i]), *map(float, offset[i]))
        for i in rows[:3]
    )


def lookalikes_of(
    star: Star, catalogue: Catalogue, instant: Instant, site: Site
) -> tuple[LookAlike, ...]:
    """The look-alikes of any one star as it stands at a moment."""
    bright = catalogue.brighter_than(star.v_mag + ALIKE_MAG)
    az, alt = in_frame(frame(instant, site), Directions.take(catalogue, bright))
    rows = [k for k, i in enumerate(bright) if catalogue[int(i)].key == star.key]
    if not rows:
        return ()
    mag = catalogue.v_mag[bright]
    return _lookalikes(catalogue, bright, mag, az, alt, rows[0])


def when_to_sight(instant: Instant, site: Site) -> Instant:
    """The given moment, or, if the Sun is too high then, the next dusk (Sun 6 degrees down).

    Where it does not sink so far in the next day, the moment it is lowest, if it is then down at
    all, and else the given moment.
    """
    if float(np.degrees(sun_altitude(instant, site))) <= -6.0:
        return instant
    dusk = sun_crossings(instant, site, -6.0)[0].instant
    if dusk is not None:
        return dusk
    moments = [instant.plus_seconds(s) for s in range(0, 86400, 600)]
    heights = np.degrees(sun_altitude(moments, site))
    lowest = int(np.argmin(heights))
    return moments[lowest] if heights[lowest] <= SUN_UP_DEG else instant


def _depression_needed(mag: Array) -> Array:
    """How far down (degrees) the Sun must be for stars of these magnitudes to show."""
    out: Array = np.interp(mag, _MAGNITUDE, _DEPRESSION)
    return out


def _first_visible(mag: Array, instant: Instant, site: Site) -> list[Instant | None]:
    """When each magnitude first shows on the evening of ``instant``, or of the night it is in.

    None if the Sun is never low enough, or if it was low enough for all of the day before.
    """
    step = 120
    moments = [instant.plus_seconds(s) for s in range(-18 * 3600, 24 * 3600, step)]
    depression = -np.degrees(sun_altitude(moments, site))
    # Back from the given moment to the last full daylight; from there on to dark.
    now = 18 * 3600 // step
    light = np.flatnonzero(depression[: now + 1] < _DEPRESSION[0])
    start = int(light[-1]) if len(light) else 0
    out: list[Instant | None] = []
    for need in _depression_needed(mag):
        dark = np.flatnonzero(depression[start:] >= need)
        out.append(moments[start + int(dark[0])] if len(dark) and len(light) else None)
    return out


def choose(
    stars: Sequence[Candidate],
    instant: Instant,
    prior: Priors,
    noise: Noise,
    field_deg: float,
    *,
    size: int = 2,
    targets: tuple[Array, Array] | None = None,
    skyline: Skyline | None = None,
    show: int = 10,
) -> Choice:
    """Rank all sets of ``size`` stars. ``targets``: az, alt (t,) radians; else the sky over 20 deg.

    Raises :class:`UserError` for too few stars or an odd size.
    """
    if size not in (2, 3):
        raise UserError(f"sets of {size} stars", "2 or 3", "Choose pairs or triples")
    if len(stars) < size:
        raise UserError(f"{len(stars)} usable stars", f"{size} or more", "Allow fainter stars")
    az = np.radians([c.az_deg for c in stars])
    alt = np.radians([c.alt_deg for c in stars])
    t_az, t_alt = targets if targets is not None else open_sky(skyline)
    radius = math.radians(field_deg) / 2
    scores = score_sets(az, alt, size, prior, noise, t_az, t_alt, radius)
    nuisance = np.array([_nuisance(c) for c in stars])
    turn = np.zeros(len(scores.sets))
    for a, b in itertools.pairwise(range(size)):
        gap = az[scores.sets[:, a]] - az[scores.sets[:, b]]
        turn += np.abs(half_turn(gap))
    cost = nuisance[scores.sets].sum(axis=1) + COSTS["turning"] * turn / np.pi
    order = np.argsort(-(scores.mean_hit_chance - cost), kind="stable")

    def make(row: int) -> StarSet:
        members = [int(i) for i in scores.sets[row]]
        # Brightest first: it shows first in twilight.
        members.sort(key=lambda i: stars[i].star.v_mag)
        trusting = score_trusting_stop(az[members], alt[members], prior, noise, t_az, t_alt, radius)
        return StarSet(
            tuple(stars[i] for i in members),
            float(scores.mean_hit_chance[row]),
            float(cost[row]),
            trusting,
            float(np.degrees(turn[row])),
        )

    practice = _common_practice(az, alt, scores.sets, np.array([c.star.v_mag for c in stars]))
    return Choice(
        instant,
        field_deg,
        tuple(make(int(r)) for r in order[:show]),
        make(practice) if practice is not None else None,
        tuple(stars),
        len(scores.sets),
    )


def _nuisance(c: Candidate) -> float:
    """The costs of one star, in hit chance."""
    total = COSTS["faint"] * max(0.0, c.star.v_mag - 1.5)
    if c.lookalikes:
        total += COSTS["look-alike"]
    if c.alt_deg > TOO_HIGH_DEG:
        total += COSTS["high"]
    if c.alt_deg < TOO_LOW_DEG:
        total += COSTS["low"]
    return total


def _common_practice(az: Array, alt: Array, sets: Indices, mag: Array) -> int | None:
    """The set a usual recipe would take: the brightest all more than 35 degrees apart.

    Common practice, no source.
    """
    places = kinematics.unit(az, alt)
    apart = places @ places.T < math.cos(math.radians(35.0))
    ok = np.ones(len(sets), dtype=bool)
    for a, b in itertools.combinations(range(sets.shape[1]), 2):
        ok &= apart[sets[:, a], sets[:, b]]
    rows = np.flatnonzero(ok)
    if not len(rows):
        return None
    return int(rows[np.argmin(mag[sets[rows]].sum(axis=1))])


def open_sky(skyline: Skyline | None, min_alt_deg: float = 20.0) -> tuple[Array, Array]:
    """The sky grid above an altitude and the skyline: the targets when none are named."""
    az, alt = sky_grid(min_alt_deg)
    if skyline is None:
        return az, alt
    clear = np.degrees(alt) > skyline.altitude_deg(np.degrees(az))
    return (az[clear], alt[clear]) if np.any(clear) else (az, alt)


@dataclass(frozen=True, slots=True)
class NextStar:
    """The best next star and what it buys."""

    candidate: Candidate
    now: float
    after: float

    @property
    def sentence(self) -> str:
        name = self.candidate.star.label
        if self.after - self.now < 0.005:
            return f"Good enough: the best next star, {name}, would change little."
        # Never all of them, nor none: as chances are said everywhere.
        now, after = (min(99, max(1, round(100.0 * p))) for p in (self.now, self.after))
        where = words.where(self.candidate.az_deg, self.candidate.alt_deg)
        return f"Next, {name}, {where}: {after} targets in 100 will be in the field, now {now}."


def next_star(
    fix: Fix,
    stars: Sequence[Candidate],
    field_deg: float,
    *,
    targets: tuple[Array, Array] | None = None,
    skyline: Skyline | None = None,
) -> NextStar:
    """The candidate whose sighting would raise the mean hit chance most, costs counted."""
    seen = {s.star.casefold() for s in fix.sightings}
    left = [c for c in stars if not {c.star.label.casefold(), c.star.key.casefold()} & seen]
    left = left or list(stars)
    t_az, t_alt = targets if targets is not None else open_sky(skyline)
    now, after = score_next(
        fix,
        np.radians([c.az_deg for c in left]),
        np.radians([c.alt_deg for c in left]),
        t_az,
        t_alt,
        math.radians(field_deg) / 2,
    )
    best = int(np.argmax(after - np.array([_nuisance(c) for c in left])))
    return NextStar(left[best], now, float(after[best]))
