"""What is worth looking at in one night: every object at every step, and the best of it in words.

Two passes. The first takes each object at its highest, in the darkest sky of the night without the
Moon, and chooses its eyepiece; what cannot be seen even so is dropped. The second follows the rest
through the night: height, skyline, twilight, moonlight.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
from plumbstar.targets.parting import split_need_arcsec
from plumbstar.targets.passage import HeightTable, Passage
from plumbstar.targets.verdict import AMPLE_MAG, TelescopeAndEye, chance_of
from plumbstar.turns import TURN
from plumbstar.units import Array, Bools, Indices, Single

#: Lower than this nothing is worth a push. Common practice, no source.
FLOOR_DEG = 12.0
#: Higher than this the azimuth of such a mount runs away under the hand.
CEILING_DEG = 87.0
#: The Sun is at least so far down before anything is looked for.
SUN_DOWN_DEG = -4.0
#: Under this chance, in the best of the night without the Moon, an object is not followed.
LEAST_CHANCE = 0.04


@dataclass(frozen=True)
class Survey:
    """A night's judgement of n targets at every step; arrays (steps, n) or (n,), degrees.

    ``margin`` is in magnitudes over the eye's threshold, -inf where the target cannot be pointed
    at. ``moon_loss`` and ``air_loss`` are what moonlight, and the air over that at the zenith,
    take from the margin at the step ``best``. ``parts`` (4, n) are the margins there of each
    :class:`SeenPart`, -inf for what it has not. ``judged`` counts what was looked through.
    """

    light: NightLight
    kit: Kit
    sky: Conditions
    targets: tuple[Target, ...]
    setting: tuple[LookWith, ...]
    az_deg: Array
    alt_deg: Array
    margin: Array
    best: Indices
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
    def chances(self) -> Array:
        """Chance (n,) of seeing each at its best step, when centred."""
        return chance_of(self.margin[self.best, np.arange(len(self))], self.sky.spread_mag)

    def chance(self, i: int) -> Array:
        """Chance (steps,) of seeing the i-th; 0 where it cannot be pointed at."""
        m = self.margin[:, i]
        return np.where(np.isfinite(m), chance_of(m, self.sky.spread_mag), 0.0)

    @cached_property
    def _rows(self) -> dict[str, int]:
        return {t.key: i for i, t in enumerate(self.targets)}

    def index_of(self, key: str) -> int:
        """Which of the targets has that key; KeyError if none."""
        return self._rows[key]


@dataclass(frozen=True)
class _Part:
    """As in Survey, of one sort of target, angles in radians.

    ``moonless`` gives the margins (n,) without the Moon at one step (n,) each, ``parts`` those of
    its parts (4, n) with it.
    """

    targets: list[Target]
    setting: list[LookWith]
    az: Array
    alt: Array
    margin: Array
    moonless: Callable[[Indices], Array]
    parts: Callable[[Indices], Array]


def _in_one(margin: Array, part: SeenPart) -> Callable[[Indices], Array]:
    """Parts of what has only that one, from its margins (steps, n)."""

    def parts(step: Indices) -> Array:
        out = np.full((len(SeenPart), margin.shape[1]), -np.inf)
        out[part] = margin[step, np.arange(margin.shape[1])]
        return out

    return parts


class _Watch:
    """What all sorts of target share: the night, the eye, and where the telescope can point."""

    def __init__(self, light: NightLight, kit: Kit, sky: Conditions, skyline: Skyline) -> None:
        self.light, self.kit, self.skyline = light, kit, skyline
        self.eye = TelescopeAndEye(kit, sky, light.k)
        t = kit.telescope
        self.floor = np.radians(max(FLOOR_DEG, t.min_alt_deg))
        self.ceiling = np.radians(min(CEILING_DEG, t.max_alt_deg))
        self.night = light.sun_alt < np.radians(SUN_DOWN_DEG)

    def usable(self, az: Array, alt: Array) -> Bools:
        """Whether places (steps, n) can be pointed at; altitude observed."""
        ok = (alt > self.floor) & (alt < self.ceiling) & self.night[:, None]
        if self.skyline.points:
            at = np.flatnonzero(ok)
            over = np.radians(self.skyline.altitude_deg(np.degrees(az.take(at))))
            ok.reshape(-1)[at] = alt.take(at) > over
        return np.asarray(ok)

    @cached_property
    def heights(self) -> HeightTable:
        return HeightTable(self.light)

    def passage(self, directions: Array) -> tuple[Passage, Bools]:
        """Through the night, and whether they can be pointed at (steps, n)."""
        passage = Passage.of(self.light, self.heights, directions)
        return passage, self.usable(passage.az, passage.alt)

    def part(
        self,
        targets: list[Target],
        setting: list[LookWith],
        passage: Passage,
        usable: Bools,
        margins: Callable[[Array, Array], Array],
        part_margins: Callable[[Array, Array], Array] | None = None,
    ) -> _Part:
        """The targets (n,) of a passage, judged where they are usable (steps, n).

        ``margins`` of (sky_mag, air_mass), both (..., n), gives theirs, and ``part_margins`` those
        of their parts, (4, n); None: they are stars.
        """
        margin: Single = np.empty(usable.shape, dtype=np.float32)
        for steps in passage.blocks():
            margin[steps] = margins(passage.sky_mag(steps), passage.air_mass(steps))
        margin[~usable] = -np.inf
        everyone = np.arange(len(targets))

        def here(step: Indices, moon: bool) -> tuple[Array, Array]:
            az, alt = (x[step, everyone].astype(np.float64) for x in (passage.az, passage.alt))
            cosine = self.light.moon_cosines_at(passage.directions, step) if moon else None
            return self.light.sky_mag(step, alt, cosine, az), air_mass(alt)

        def parts(step: Indices) -> Array:
            assert part_margins is not None
            return part_margins(*here(step, moon=True))

        def moonless(step: Indices) -> Array:
            return margins(*here(step, moon=False))

        by_part = parts if part_margins is not None else _in_one(margin, SeenPart.STARS)
        return _Part(targets, setting, passage.az, passage.alt, margin, moonless, by_part)


@lru_cache(maxsize=4)
def _looks_of_list(objects: DeepSkyList, unknown_mag: float) -> Looks:
    return looks_of(objects, unknown_mag)


def _glows(
    watch: _Watch, objects: DeepSkyList, least_chance: float, unknown_mag: float = np.inf
) -> _Part:
    looks = _looks_of_list(objects, unknown_mag)
    light = watch.light
    directions = light.apparent(objects.vectors)
    # Pass one. Where it stands highest while the Sun is down, by the sine; refraction is nothing.
    alt = np.arcsin(np.clip(light.highest(directions, watch.night), -1.0, 1.0))
    shows = np.isfinite(looks.brightness[:, 0]) | np.isfinite(looks.stars_mag)
    up = np.flatnonzero((alt > watch.floor - 0.01) & shows)
    looks, alt = looks.take(up), np.minimum(alt[up], watch.ceiling)
    dark = light.sky_mag(np.full(len(up), light.darkest()), alt, None)
    chosen = watch.eye.choose(looks, dark, air_mass(alt))
    keep = np.flatnonzero(chance_of(chosen.margin, watch.eye.sky.spread_mag) >= least_chance)
    passage, usable = watch.passage(directions[:, up[keep]])
    seen_at_all = np.flatnonzero(usable.any(axis=0))
    if len(seen_at_all) < len(keep):
        passage, usable, keep = passage.take(seen_at_all), usable[:, seen_at_all], keep[seen_at_all]
    # Pass two.
    eye = watch.eye
    looks = looks.take(keep)
    which = [x[keep] for x in (chosen.eyepiece, chosen.second, chosen.filter)]
    seen = eye.through(looks, which[0], which[2])
    of_each = list(zip(*(x.tolist() for x in which), strict=True))
    settings = {x: eye.setting(*x) for x in set(of_each)}
    everyone = np.arange(len(keep))
    return watch.part(
        [objects[i] for i in up[keep].tolist()],
        [settings[x] for x in of_each],
        passage,
        usable,
        eye.follow(seen),
        lambda sky_mag, air: eye.part_margins(seen, everyone, sky_mag, air),
    )


def _doubles(watch: _Watch, doubles: Sequence[Double]) -> _Part:
    """Two hurdles: the companion must show, and stand clear of its primary."""
    eye = watch.eye
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

    directions = watch.light.apparent(Directions.of(list(doubles)).vectors)
    return watch.part(list(doubles), setting, *watch.passage(directions), margins)


def _bodies(watch: _Watch, bodies: Sequence[Body]) -> _Part:
    """Moon and planets. The Sun is nobody's target."""
    light, eye = watch.light, watch.eye
    az, alt = light.places_of(bodies)
    high = eye.planet_setting()
    # The whole Moon in the field first; a planet's disc wants power.
    low = LookWith(eye.eyepieces[0], high.eyepiece if high.eyepiece != eye.eyepieces[0] else None)
    setting = [low if b.name == "Moon" else high for b in bodies]
    middle = light.instants[len(light.instants) // 2]
    mags = np.array([magnitude(b, middle) for b in bodies])
    ok = watch.usable(az, alt)
    step, row = np.nonzero(ok)
    h = alt[step, row]
    power = np.array([x.eyepiece.magnification for x in setting])
    wide = np.array([2.0 * float(semidiameter_rad(b, light.middle)) for b in bodies])
    wide = np.degrees(wide) * 3600.0
    margin = np.full(ok.shape, -np.inf)
    margin[step, row] = eye.disc_margin(
        mags[row], wide[row], light.sky_mag(step, h, None), air_mass(h), power[row]
    )
    everyone = np.arange(len(bodies))
    # The Moon does not outshine itself, nor a planet so that it matters.
    return _Part(
        list(bodies), setting, az, alt, margin, lambda step: margin[step, everyone],
        _in_one(margin, SeenPart.WHOLE),
    )  # fmt: skip


def _minor(watch: _Watch, minors: Sequence[MinorBody]) -> _Part:
    """Comets as even glows of their head, minor planets as points; both where they stand in the
    middle of the night. The doubt of their brightness widens the law of chance."""
    light, eye = watch.light, watch.eye
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
    return watch.part(list(chosen), setting, *watch.passage(directions), margins)


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
    watch = _Watch(light, kit, sky, skyline)
    pairs = [d.at(light.instants[0].julian_year) for d in doubles]
    known = [Body(name) for name in NAMES if name != "Sun"] if bodies is None else bodies
    minors = [b for b in known if isinstance(b, MinorBody)]
    major = [b for b in known if not isinstance(b, MinorBody)]
    parts = [_bodies(watch, major)] if major else []
    if minors:
        parts.append(_minor(watch, minors))
    parts += [_doubles(watch, pairs), _glows(watch, objects, least)]
    if own is not None and len(own):
        parts.append(_glows(watch, own, least, OWN_UNKNOWN_MAG))
    # Over an ample margin the highest moment is the best; a hundredth of a magnitude a radian.
    of_each = [
        (p, np.argmax(np.minimum(p.margin, AMPLE_MAG) + 0.01 * p.alt, axis=0)) for p in parts
    ]
    best = np.concatenate([b for _, b in of_each])
    moonless = np.concatenate([p.moonless(b) for p, b in of_each])
    by_part = np.concatenate([p.parts(b) for p, b in of_each], axis=1)
    az, alt, margin = (
        np.concatenate(columns, axis=1, dtype=np.float64)
        for columns in zip(*((p.az, p.alt, p.margin) for p in parts), strict=True)
    )
    now = margin[best, np.arange(len(best))]
    keep = np.flatnonzero(np.isfinite(now))  # the others never come right
    if len(keep) < len(best):
        az, alt, margin = (x[:, keep] for x in (az, alt, margin))
    targets = [t for p in parts for t in p.targets]
    setting = [x for p in parts for x in p.setting]
    return Survey(
        light=light,
        kit=kit,
        sky=sky,
        targets=tuple(targets[i] for i in keep),
        setting=tuple(setting[i] for i in keep),
        az_deg=np.degrees(az + TURN * (az < 0.0)),
        alt_deg=np.degrees(alt),
        margin=margin,
        best=best[keep],
        moon_loss=moonless[keep] - now[keep],
        air_loss=light.k * (air_mass(alt[best[keep], np.arange(len(keep))]) - 1.0),
        parts=by_part[:, keep],
        judged=len(known) + len(doubles) + len(objects) + (0 if own is None else len(own)),
    )
