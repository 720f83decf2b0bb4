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
from plumbstar.sky.bodies import NAMES, Body, magnitude
from plumbstar.sky.extinction import air_mass
from plumbstar.sky.lists.deepsky import DeepSkyList
from plumbstar.sky.lists.doubles import Double
from plumbstar.sky.places import Directions, Target, place_in_frame
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets.interest import interest_of, minutes_for
from plumbstar.targets.light import STEP_MINUTES, NightLight
from plumbstar.targets.looks import OWN_UNKNOWN_MAG, Looks, looks_of
from plumbstar.targets.model import Conditions, Prospect
from plumbstar.targets.verdict import (
    AMPLE_MAG,
    FittedEyepiece,
    TelescopeAndEye,
    chance_of,
    difficulty_of,
)
from plumbstar.turns import one_turn_deg
from plumbstar.units import Array, Bools, Indices

#: Lower than this nothing is worth a push. Common practice, no source.
FLOOR_DEG = 12.0
#: Higher than this the azimuth of such a mount runs away under the hand.
CEILING_DEG = 87.0
#: The Sun is at least so far down before anything is looked for.
SUN_DOWN_DEG = -4.0
#: Under this chance, in the best of the night without the Moon, an object is not followed.
LEAST_CHANCE = 0.02
#: It is worth pointing at while its chance is this part of its best.
NEAR_BEST = 0.8


@dataclass(frozen=True)
class Survey:
    """A night's judgement of n targets at every step; arrays (steps, n) or (n,), degrees.

    ``margin`` is in magnitudes over the eye's threshold, -inf where the target cannot be pointed
    at. ``moon_loss`` and ``air_loss`` are what moonlight, and the air over that at the zenith,
    take from the margin at the step ``best``. ``judged`` counts what was looked through.
    """

    light: NightLight
    kit: Kit
    targets: tuple[Target, ...]
    eyepiece: tuple[FittedEyepiece, ...]
    az_deg: Array
    alt_deg: Array
    margin: Array
    best: Indices
    moon_loss: Array
    air_loss: Array
    judged: int

    def __len__(self) -> int:
        return len(self.targets)

    @property
    def chances(self) -> Array:
        """Chance (n,) of seeing each at its best step, when centred."""
        return chance_of(self.margin[self.best, np.arange(len(self))])

    def chance(self, i: int) -> Array:
        """Chance (steps,) of seeing the i-th; 0 where it cannot be pointed at."""
        m = self.margin[:, i]
        return np.where(np.isfinite(m), chance_of(m), 0.0)

    @cached_property
    def _rows(self) -> dict[str, int]:
        return {t.key: i for i, t in enumerate(self.targets)}

    def index_of(self, key: str) -> int:
        """Which of the targets has that key; KeyError if none."""
        return self._rows[key]


@dataclass(frozen=True)
class _Part:
    """As in Survey, of one sort of target, angles in radians.

    ``moonless`` gives the margins (n,) without the Moon at one step (n,) each.
    """

    targets: list[Target]
    eyepiece: list[FittedEyepiece]
    az: Array
    alt: Array
    margin: Array
    moonless: Callable[[Indices], Array]


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
            at = np.nonzero(ok)
            ok[at] = alt[at] > np.radians(self.skyline.altitude_deg(np.degrees(az[at])))
        return np.asarray(ok)

    def follow(
        self, directions: Array, margins: Callable[[Indices, Array, Array], Array]
    ) -> tuple[Array, Array, Array]:
        """Azimuth, altitude and margin (steps, n) of fixed directions (3, n).

        ``margins`` of (rows, sky_mag, air_mass), each (m,), is asked for the usable cases alone.
        """
        sines = self.light.heights(directions)
        true_alt = np.arcsin(np.clip(sines, -1.0, 1.0))
        az = self.light.azimuths(directions)
        alt = self.light.middle.air.apparent_altitude(true_alt)
        ok = self.usable(az, alt)
        step, row = np.nonzero(ok)
        cosine = self.light.moon_cosines(directions)[step, row]
        h = alt[step, row]
        margin = np.full(ok.shape, -np.inf)
        margin[step, row] = margins(
            row, self.light.sky_mag(step, h, cosine, az[step, row]), air_mass(h)
        )
        return az, alt, margin

    def part(
        self,
        targets: list[Target],
        eyepiece: list[FittedEyepiece],
        directions: Array,
        margins: Callable[[Indices, Array, Array], Array],
    ) -> _Part:
        """The targets at fixed directions (3, n), followed."""
        az, alt, margin = self.follow(directions, margins)
        everyone = np.arange(len(targets))

        def moonless(step: Indices) -> Array:
            here = alt[step, everyone]
            sky = self.light.sky_mag(step, here, None, az[step, everyone])
            return margins(everyone, sky, air_mass(here))

        return _Part(targets, eyepiece, az, alt, margin, moonless)


@lru_cache(maxsize=4)
def _looks_of_list(objects: DeepSkyList, unknown_mag: float) -> Looks:
    return looks_of(objects, unknown_mag)


def _glows(watch: _Watch, objects: DeepSkyList, unknown_mag: float = np.inf) -> _Part:
    looks = _looks_of_list(objects, unknown_mag)
    light = watch.light
    directions = light.apparent(objects.vectors)
    # Pass one. Where it stands highest while the Sun is down, by the sine; refraction is nothing.
    highest = np.max(np.where(watch.night[:, None], light.heights(directions), -1.0), axis=0)
    alt = np.arcsin(np.clip(highest, -1.0, 1.0))
    shows = np.isfinite(looks.brightness[:, 0]) | np.isfinite(looks.stars_mag)
    up = np.flatnonzero((alt > watch.floor - 0.01) & shows)
    looks, alt = looks.take(up), np.minimum(alt[up], watch.ceiling)
    dark = light.sky_mag(np.full(len(up), light.darkest()), alt, None)
    eyepiece, margin = watch.eye.choose_eyepiece(looks, dark, air_mass(alt))
    keep = chance_of(margin) >= LEAST_CHANCE
    up, looks, eyepiece = up[keep], looks.take(np.flatnonzero(keep)), eyepiece[keep]
    # Pass two.
    tables = watch.eye.tables(looks, eyepiece)
    return watch.part(
        [objects[int(i)] for i in up],
        [watch.eye.eyepieces[i] for i in eyepiece],
        directions[:, up],
        lambda rows, sky, air: watch.eye.margins(looks, tables, eyepiece, rows, sky, air),
    )


def _doubles(watch: _Watch, doubles: Sequence[Double]) -> _Part:
    """Two hurdles: the companion must show, and stand clear of its primary."""
    eye = watch.eye
    eyepiece = [eye.eyepieces[eye.double_eyepiece(d.separation_arcsec)] for d in doubles]
    power = np.array([x.magnification for x in eyepiece])
    faint = np.array([max(d.mag_a, d.mag_b) for d in doubles])
    separation = np.array([d.separation_arcsec for d in doubles])
    # In the still air of the zenith; seeing grows with the path.
    unequal = np.array([abs(d.mag_b - d.mag_a) for d in doubles])

    def margins(rows: Indices, sky_mag: Array, air: Array) -> Array:
        shows = eye.star_margin(faint[rows], sky_mag, air, power[rows])
        need = eye.split_need_arcsec(unequal[rows], air)
        # A tenth in separation counts as much as a tenth of a magnitude times four: the spread of
        # 0.6 magnitudes is then one of 40 per cent in separation. Judgement.
        return np.asarray(np.minimum(shows, 4.0 * np.log10(separation[rows] / need)))

    directions = watch.light.apparent(Directions.of(list(doubles)).vectors)
    return watch.part(list(doubles), eyepiece, directions, margins)


def _bodies(watch: _Watch) -> _Part:
    """Moon and planets. The Sun is nobody's target."""
    light, eye = watch.light, watch.eye
    bodies = [Body(name) for name in NAMES if name != "Sun"]
    places = [place_in_frame(b, light.frames) for b in bodies]
    az, alt = (np.stack([p[i] for p in places], axis=1) for i in (0, 1))
    high = eye.eyepieces[eye.planet_eyepiece()]
    # The whole Moon in the field first; a planet's disc wants power.
    eyepiece = [eye.eyepieces[0] if b.name == "Moon" else high for b in bodies]
    middle = light.instants[len(light.instants) // 2]
    mags = np.array([magnitude(b, middle) for b in bodies])
    ok = watch.usable(az, alt)
    step, row = np.nonzero(ok)
    h = alt[step, row]
    power = np.array([x.magnification for x in eyepiece])
    margin = np.full(ok.shape, -np.inf)
    margin[step, row] = eye.star_margin(
        mags[row], light.sky_mag(step, h, None), air_mass(h), power[row]
    )
    everyone = np.arange(len(bodies))
    # The Moon does not outshine itself, nor a planet so that it matters.
    return _Part(list(bodies), eyepiece, az, alt, margin, lambda step: margin[step, everyone])


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
) -> Survey:
    """Everything that can be seen between two moments; what cannot is left out.

    ``own`` are the observer's objects: judged alike. Moon and planets are always looked at.
    """
    light = NightLight.of(start, end, site, sky)
    watch = _Watch(light, kit, sky, skyline or Skyline())
    pairs = [d.at(start.julian_year) for d in doubles]
    parts = [_bodies(watch), _doubles(watch, pairs), _glows(watch, objects)]
    if own is not None and len(own):
        parts.append(_glows(watch, own, OWN_UNKNOWN_MAG))
    az, alt, margin = (
        np.concatenate(columns, axis=1)
        for columns in zip(*((p.az, p.alt, p.margin) for p in parts), strict=True)
    )
    # Over an ample margin the highest moment is the best; a hundredth of a magnitude a radian.
    score = np.minimum(margin, AMPLE_MAG) + 0.01 * alt
    best = np.argmax(np.where(np.isfinite(margin), score, -np.inf), axis=0)
    ends = np.cumsum([len(p.targets) for p in parts])
    moonless = np.concatenate(
        [p.moonless(b) for p, b in zip(parts, np.split(best, ends[:-1]), strict=True)]
    )
    now = margin[best, np.arange(ends[-1])]
    keep = np.flatnonzero(np.isfinite(now))  # the others never come right
    targets = [t for p in parts for t in p.targets]
    eyepiece = [x for p in parts for x in p.eyepiece]
    return Survey(
        light=light,
        kit=kit,
        targets=tuple(targets[i] for i in keep),
        eyepiece=tuple(eyepiece[i] for i in keep),
        az_deg=one_turn_deg(np.degrees(az[:, keep])),
        alt_deg=np.degrees(alt[:, keep]),
        margin=margin[:, keep],
        best=best[keep],
        moon_loss=moonless[keep] - now[keep],
        air_loss=light.k * (air_mass(alt[best[keep], keep]) - 1.0),
        judged=len(NAMES) - 1 + len(doubles) + len(objects) + (0 if own is None else len(own)),
    )


def prospects(s: Survey, least_chance: float = 0.25) -> list[Prospect]:
    """What has at least that chance of being seen, the most rewarding first."""
    chances = s.chances
    found = [prospect(s, int(i)) for i in np.flatnonzero(chances >= least_chance)]
    return sorted(found, key=lambda p: (-p.interest * p.chance, p.target.label))


def prospect(s: Survey, i: int) -> Prospect:
    """The i-th target as a prospect."""
    k = int(s.best[i])
    chance = s.chance(i)
    target, eyepiece = s.targets[i], s.eyepiece[i]
    margin = float(s.margin[k, i])
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
        eyepiece=eyepiece.name,
        magnification=eyepiece.magnification,
        field_arcmin=eyepiece.field_arcmin,
        minutes=minutes_for(target, word),
        best=s.light.instants[k],
        first=s.light.instants[first],
        last=s.light.instants[last],
        sets=_sets(s, i),
        az_deg=float(s.az_deg[k, i]),
        alt_deg=float(s.alt_deg[k, i]),
        interest=interest_of(target, margin),
    )  # fmt: skip


def _window(chance: Array, best: int) -> tuple[int, int]:
    """The steps about ``best`` through which the chance stays near its best."""
    good = chance >= NEAR_BEST * chance[best]
    first = last = best
    while first > 0 and good[first - 1]:
        first -= 1
    while last < len(good) - 1 and good[last + 1]:
        last += 1
    return first, last


def _sets(s: Survey, i: int) -> Instant | None:
    """When it goes behind the skyline (or too low) while it is still night; None if it does not."""
    clear = np.isfinite(s.margin[:, i])
    last = int(np.flatnonzero(clear)[-1])
    if last + 1 >= len(clear) or s.alt_deg[last + 1, i] > s.alt_deg[last, i]:
        return None  # it is the night that ends, or it climbs out of reach
    if s.light.sun_alt[last + 1] >= np.radians(SUN_DOWN_DEG):
        return None
    return s.light.instants[last].plus_seconds(30.0 * STEP_MINUTES)
