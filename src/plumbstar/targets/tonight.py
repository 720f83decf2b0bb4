"""What is worth looking at in one night: every object at every step, and the best of it in words.

Two passes. The first takes each object at its highest, in the darkest sky of the night without the
Moon, and chooses its eyepiece; what cannot be seen even so is dropped. The second follows the rest
through the night: height, skyline, twilight, moonlight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from plumbstar.kit import Kit
from plumbstar.sky.bodies import NAMES, Body, body_icrs, magnitude, semidiameter_rad
from plumbstar.sky.extinction import air_mass
from plumbstar.sky.lists.deepsky import DeepSkyList
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.minor import DOUBT_MAG, MinorBody, rough_magnitudes
from plumbstar.sky.places import Directions, Target
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.sky.vectors import Vectors
from plumbstar.targets.eye import star_limit
from plumbstar.targets.lenses import FittedEyepiece, LookWith
from plumbstar.targets.light import NightLight
from plumbstar.targets.looks import OWN_UNKNOWN_MAG, Looks, looks_of
from plumbstar.targets.model import SPREAD_MAG, Conditions, SeenPart
from plumbstar.targets.night_view import Followed, NightView, best_steps
from plumbstar.targets.parting import split_need_arcsec
from plumbstar.targets.passage import Courses
from plumbstar.targets.verdict import chance_of
from plumbstar.units import Array, Indices, Single, single

#: Under this chance, in the best of the night without the Moon, an object is not followed.
LEAST_CHANCE = 0.04


@dataclass(frozen=True)
class Survey:
    """A night's judgement of n targets at every step; arrays (steps, n) or (n,), degrees.

    ``margin`` is in magnitudes over the eye's threshold, single precision, -inf where the target
    cannot be pointed at. ``moon_loss`` and ``air_loss`` are what moonlight, and the air over that
    at the zenith, take from the margin at the step ``best``; ``best_az_deg`` and ``best_alt_deg``
    are the place there, ``courses`` gives those at any other. ``parts`` (4, n) are the margins at
    the best of each :class:`SeenPart`, -inf for what it has not. ``judged`` counts what was looked
    through.
    """

    light: NightLight
    kit: Kit
    sky: Conditions
    targets: tuple[Target, ...]
    setting: tuple[LookWith, ...]
    courses: Courses
    margin: Single
    best: Indices
    best_az_deg: Array
    best_alt_deg: Array
    moon_loss: Array
    air_loss: Array
    parts: Array
    judged: int

    def __len__(self) -> int:
        return len(self.targets)

    @property
    def eyepiece(self) -> tuple[FittedEyepiece, ...]:
        """The eyepiece for each."""
        return tuple(x.eyepiece for x in self.setting)

    @property
    def az_deg(self) -> Array:
        """Azimuth (steps, n) of all; of some, ask ``courses``."""
        return self.courses.through(range(len(self)))[0]

    @property
    def alt_deg(self) -> Array:
        """Altitude observed (steps, n) of all; of some, ask ``courses``."""
        return self.courses.through(range(len(self)))[1]

    @property
    def at_best(self) -> Array:
        """Margins (n,) at the best step of each."""
        return np.asarray(self.margin[self.best, np.arange(len(self))], dtype=np.float64)

    @property
    def chances(self) -> Array:
        """Chance (n,) of seeing each at its best step, when centred."""
        return chance_of(self.at_best, self.sky.spread_mag)

    def chances_through(self, rows: Indices) -> Single:
        """Chances (rows, steps) of seeing some of them; 0 where they cannot be pointed at."""
        margin = self.margin.T[rows]
        chance = chance_of(margin, self.sky.spread_mag)
        return np.where(np.isfinite(margin), chance, np.float32(0.0))

    def chance(self, i: int) -> Single:
        """The same of the i-th alone, (steps,)."""
        return np.asarray(self.chances_through(np.array([i]))[0])

    @cached_property
    def _rows(self) -> dict[str, int]:
        return {t.key: i for i, t in enumerate(self.targets)}

    def index_of(self, key: str) -> int:
        """Which of the targets has that key; KeyError if none."""
        return self._rows[key]


@lru_cache(maxsize=4)
def _looks_of_list(objects: DeepSkyList, unknown_mag: float) -> Looks:
    return looks_of(objects, unknown_mag)


def _glows(
    view: NightView, objects: DeepSkyList, least_chance: float, unknown_mag: float = np.inf
) -> Followed:
    looks = _looks_of_list(objects, unknown_mag)
    light = view.light
    directions = light.apparent(objects.vectors)
    # Pass one. Where it stands highest while the Sun is down, by the sine; refraction is nothing.
    alt = np.arcsin(np.clip(light.highest(directions, view.night), -1.0, 1.0))
    shows = np.isfinite(looks.brightness[:, 0]) | np.isfinite(looks.stars_mag)
    up = np.flatnonzero((alt > view.floor - 0.01) & shows)
    looks, alt = looks.take(up), np.minimum(alt[up], view.ceiling)
    dark = light.sky_mag(np.full(len(up), light.darkest()), alt, None)
    chosen = view.eye.choose(looks, dark, air_mass(alt))
    keep = np.flatnonzero(chance_of(chosen.margin, view.eye.sky.spread_mag) >= least_chance)
    # Pass two.
    eye = view.eye
    looks = looks.take(keep)
    which = [x[keep] for x in (chosen.eyepiece, chosen.second, chosen.filter)]
    seen = eye.through(looks, which[0], which[2])
    of_each = list(zip(*(x.tolist() for x in which), strict=True))
    settings = {x: eye.setting(*x) for x in set(of_each)}
    everyone = np.arange(len(keep))
    return view.follow(
        [objects[i] for i in up[keep].tolist()],
        [settings[x] for x in of_each],
        directions[:, up[keep]],
        eye.follow(seen),
        lambda sky_mag, air: eye.part_margins(seen, everyone, sky_mag, air),
    )


def _doubles(view: NightView, doubles: Sequence[Double]) -> Followed:
    """Two hurdles: the companion must show, and stand clear of its primary."""
    eye = view.eye
    mag_a, mag_b = (np.array([getattr(d, m) for d in doubles]) for m in ("mag_a", "mag_b"))
    setting = [eye.double_setting(d.separation_arcsec, abs(d.mag_b - d.mag_a)) for d in doubles]
    power = np.array([x.eyepiece.magnification for x in setting])
    separation = np.array([d.separation_arcsec for d in doubles])

    def margins(sky_mag: Array, air: Array) -> Array:
        shows = eye.star_margin(np.maximum(mag_a, mag_b), sky_mag, air, power)
        need = split_need_arcsec(eye.aperture_mm, eye.sky.seeing_arcsec, mag_a, mag_b, air)
        # A tenth in separation counts as much as a tenth of a magnitude times four: the spread of
        # 0.6 magnitudes is then one of 40 per cent in separation. Judgement.
        return np.asarray(np.minimum(shows, 4.0 * np.log10(separation / need)))

    directions = view.light.apparent(Directions.of(list(doubles)).vectors)
    return view.follow(list(doubles), setting, directions, margins)


def _bodies(view: NightView, bodies: Sequence[Body]) -> Followed:
    """Moon and planets. The Sun is nobody's target."""
    light, eye = view.light, view.eye
    az, alt = light.places_of(bodies)
    high = eye.planet_setting()
    # The whole Moon in the field first; a planet's disc wants power.
    low = LookWith(eye.eyepieces[0], high.eyepiece if high.eyepiece != eye.eyepieces[0] else None)
    setting = [low if b.name == "Moon" else high for b in bodies]
    middle = light.instants[len(light.instants) // 2]
    mags = np.array([magnitude(b, middle) for b in bodies])
    ok = view.usable(az, alt)
    step, row = np.nonzero(ok)
    h = alt[step, row]
    power = np.array([x.eyepiece.magnification for x in setting])
    wide = np.array([2.0 * float(semidiameter_rad(b, light.middle)) for b in bodies])
    wide = np.degrees(wide) * 3600.0
    margin = np.full(ok.shape, -np.inf, dtype=np.float32)
    margin[step, row] = eye.disc_margin(
        mags[row], wide[row], light.sky_mag(step, h, None), air_mass(h), power[row]
    )
    best = best_steps(margin, single(np.sin(alt)))
    # The Moon does not outshine itself, nor a planet so that it matters.
    moonless = margin[best, np.arange(len(bodies))].astype(np.float64)
    parts = np.full((len(SeenPart), len(bodies)), -np.inf)
    parts[SeenPart.WHOLE] = moonless
    nowhere = np.zeros((3, len(bodies)), dtype=np.float32)
    moving = np.stack([az, alt])
    return Followed(list(bodies), setting, margin, best, moonless, parts, nowhere, moving)


def _minor(view: NightView, minors: Sequence[MinorBody]) -> Followed:
    """Comets as even glows of their head, minor planets as points; both where they stand in the
    middle of the night. The doubt of their brightness widens the law of chance."""
    light, eye = view.light, view.eye
    middle = light.instants[len(light.instants) // 2]
    mags = rough_magnitudes(minors, middle)
    power = np.array([x.magnification for x in eye.eyepieces])
    reach = float(np.max(star_limit(light.zenith_mag, eye.aperture_mm, power, eye.sky)))
    few = [i for i in range(len(minors)) if mags[i] < reach + 2.0 * DOUBT_MAG[minors[i].sort]]
    chosen, mags = [minors[i] for i in few], mags[few]
    low, some = eye.setting(0, min(1, len(power) - 1)), len(power) // 2
    setting = [low if m.sort == "comet" else eye.setting(some, 0) for m in chosen]
    seen = np.array([x.eyepiece.magnification for x in setting])
    places = np.array([body_icrs(m, light.middle) for m in chosen]).reshape(-1, 3).T
    wide = [2.0 * float(m.half_size_rad(d)) for m, d in zip(chosen, places[2], strict=True)]
    # Nothing is drawn finer than a second of arc by the eye.
    size = np.maximum(np.degrees(np.array(wide)) * 3600.0, 1.0)
    doubt = np.array([DOUBT_MAG[m.sort] for m in chosen])
    narrow = SPREAD_MAG / np.hypot(SPREAD_MAG, doubt)

    def margins(sky_mag: Array, air: Array) -> Array:
        return np.asarray(eye.disc_margin(mags, size, sky_mag, air, seen) * narrow)

    zero = np.zeros(len(chosen))
    directions = light.apparent(Vectors.of(places[0], places[1], zero, zero, zero))
    return view.follow(list(chosen), setting, directions, margins)


def survey(
    objects: DeepSkyList,
    doubles: Sequence[Double],
    start: Instant,
    end: Instant,
    site: Site,
    kit: Kit,
    sky: Conditions,
    skyline: Skyline | None = None,
    own: DeepSkyList | None = None,
    least_chance: float | None = None,
    bodies: Sequence[Body] | None = None,
) -> Survey:
    """Everything that can be seen between two moments; what cannot is left out.

    ``least_chance`` None: :data:`LEAST_CHANCE`; 0 keeps what stands high enough. ``own`` are the
    observer's objects: judged alike. ``bodies`` None: Moon and planets; others with them if given.
    """
    light = NightLight.of(start, end, site, sky)
    least = LEAST_CHANCE if least_chance is None else least_chance
    return judged(light, objects, doubles, kit, sky, skyline or Skyline(), own, least, bodies)


def judged(
    light: NightLight,
    objects: DeepSkyList,
    doubles: Sequence[Double],
    kit: Kit,
    sky: Conditions,
    skyline: Skyline,
    own: DeepSkyList | None,
    least: float,
    bodies: Sequence[Body] | None,
) -> Survey:
    """:func:`survey` in the light of a night that is known; ``sky`` is the one of that light."""
    view = NightView(light, kit, sky, skyline)
    pairs = [d.at(light.instants[0].julian_year) for d in doubles]
    known = [Body(name) for name in NAMES if name != "Sun"] if bodies is None else bodies
    minors = [b for b in known if isinstance(b, MinorBody)]
    major = [b for b in known if not isinstance(b, MinorBody)]
    parts = [_bodies(view, major)] if major else []
    if minors:
        parts.append(_minor(view, minors))
    parts += [_doubles(view, pairs), _glows(view, objects, least)]
    if own is not None and len(own):
        parts.append(_glows(view, own, least, OWN_UNKNOWN_MAG))
    wandering = parts[0].moving
    if wandering is None:
        wandering = np.zeros((2, len(light.instants), 0))
    best = np.concatenate([p.best for p in parts])
    margin = np.concatenate([p.margin for p in parts], axis=1)
    courses = Courses(light, wandering, np.concatenate([p.directions for p in parts], axis=1))
    now = margin[best, np.arange(len(best))].astype(np.float64)
    moonless = np.concatenate([p.moonless for p in parts])
    by_part = np.concatenate([p.parts for p in parts], axis=1)
    targets = [t for p in parts for t in p.targets]
    setting = [x for p in parts for x in p.setting]
    keep = np.flatnonzero(np.isfinite(now))  # the others never come right
    if len(keep) < len(best):
        best, now, moonless, courses = best[keep], now[keep], moonless[keep], courses.take(keep)
        margin, by_part = margin.take(keep, axis=1), by_part[:, keep]
        targets = [targets[i] for i in keep.tolist()]
        setting = [setting[i] for i in keep.tolist()]
    az, alt = courses.at(best, np.arange(len(best)))
    return Survey(
        light=light,
        kit=kit,
        sky=sky,
        targets=tuple(targets),
        setting=tuple(setting),
        courses=courses,
        margin=margin,
        best=best,
        best_az_deg=az,
        best_alt_deg=alt,
        moon_loss=moonless - now,
        air_loss=light.k * (air_mass(np.radians(alt)) - 1.0),
        parts=by_part,
        judged=len(known) + len(doubles) + len(objects) + (0 if own is None else len(own)),
    )
