"""What all sorts of target share in one night: its light, the eye, and where the telescope points.

Each sort (tonight.py) says by which law its targets show; here they are followed through the night,
some steps at a time, and the best step of each is found on the way.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from plumbstar.kit import Kit
from plumbstar.sky.extinction import air_mass
from plumbstar.sky.places import Target
from plumbstar.sky.skyline import Skyline
from plumbstar.targets.lenses import LookWith
from plumbstar.targets.light import NightLight
from plumbstar.targets.model import Conditions, SeenPart
from plumbstar.targets.passage import Courses, HeightTable, Passage
from plumbstar.targets.verdict import AMPLE_MAG, TelescopeAndEye
from plumbstar.units import Array, Bools, Indices, Single, single

#: Lower than this nothing is worth a push. Common practice, no source.
FLOOR_DEG = 12.0
#: Higher than this the azimuth of such a mount runs away under the hand.
CEILING_DEG = 87.0
#: The Sun is at least so far down before anything is looked for.
SUN_DOWN_DEG = -4.0
#: Steps of the skyline's table a quarter turn.
_QUARTER = 8192


@dataclass(frozen=True)
class Followed:
    """One sort of target (n,) followed through the night.

    ``margin`` (steps, n) in magnitudes, -inf where they cannot be pointed at; ``best`` the step at
    which each stands out most. There: ``moonless``, the margins (n,) without the Moon, and
    ``parts``, those of each :class:`SeenPart` (4, n) with it. Of bodies ``moving`` (2, steps, n),
    azimuth and altitude in radians, of all else ``directions`` (3, n).
    """

    targets: list[Target]
    setting: list[LookWith]
    margin: Single
    best: Indices
    moonless: Array
    parts: Array
    directions: Single
    moving: Array | None = None


def best_steps(margin: Single, height: Single) -> Indices:
    """The step (n,) of the greatest margin (steps, n): over an ample one the highest is the best,
    a hundredth of a magnitude between the horizon and overhead. ``height`` rises with it, 0 to 1.
    """
    score = np.minimum(margin, np.float32(AMPLE_MAG))
    score += np.float32(0.01) * height
    return np.asarray(np.argmax(score, axis=0))


class NightView:
    """The night, the eye, and where the telescope can point."""

    def __init__(self, light: NightLight, kit: Kit, sky: Conditions, skyline: Skyline) -> None:
        self.light, self.kit, self.skyline = light, kit, skyline
        self.eye = TelescopeAndEye(kit, sky, light.k)
        t = kit.telescope
        self.floor = np.radians(max(FLOOR_DEG, t.min_alt_deg))
        self.ceiling = np.radians(min(CEILING_DEG, t.max_alt_deg))
        self.night = light.sun_alt < np.radians(SUN_DOWN_DEG)

    def usable(self, az: Array, alt: Array) -> Bools:
        """Whether places (steps, n) can be pointed at; altitude observed, radians."""
        ok = (alt > self.floor) & (alt < self.ceiling) & self.night[:, None]
        return np.asarray(ok & (np.degrees(alt) > self.skyline.altitude_deg(np.degrees(az))))

    @cached_property
    def heights(self) -> HeightTable:
        return HeightTable(self.light)

    @cached_property
    def _reach(self) -> Single:
        """By row of the heights: 0 between floor and ceiling, elsewhere inf. A row that is cut by
        either is out."""
        sine, half = self.heights.sine, 0.5 * (self.heights.sine[1] - self.heights.sine[0])
        ends = np.array([self.floor, self.ceiling])
        low, high = np.sin(self.light.middle.air.true_altitude(ends))
        return np.where((sine - half > low) & (sine + half < high), 0.0, np.inf).astype(np.float32)

    @cached_property
    def _skyline(self) -> Single:
        """The sine of the skyline's altitude without air, by row of :func:`_around`; the highest
        of what a row spans."""
        rows, halves = np.arange(2 * _QUARTER + 1), []
        for north in (1.0, -1.0):
            spans = []
            for off in (-0.5, 0.0, 0.5):
                east = np.clip((rows + off) / _QUARTER - 1.0, -1.0, 1.0)
                az = np.degrees(np.arctan2(east, north * (1.0 - np.abs(east))))
                spans.append(self.skyline.altitude_deg(az))
            halves.append(np.max(spans, axis=0))
        over = np.radians(np.concatenate(halves))
        return single(np.sin(self.light.middle.air.true_altitude(over)))

    def follow(
        self,
        targets: list[Target],
        setting: list[LookWith],
        directions: Array,
        margins: Callable[[Array, Array], Array],
        part_margins: Callable[[Array, Array], Array] | None = None,
    ) -> Followed:
        """Targets (n,) in their ``directions`` (3, n), as NightLight.apparent has them.

        ``margins`` of (sky_mag, air_mass), both (..., n), gives theirs, and ``part_margins`` those
        of their parts, (4, n); None: they are stars.
        """
        passage = Passage.of(self.light, self.heights, directions)
        n = passage.directions.shape[1]
        shape = (len(self.light.instants), n)
        margin, height = np.empty(shape, dtype=np.float32), np.empty(shape, dtype=np.float32)
        for steps in passage.blocks():
            up = passage.toward(2, steps)
            rows = self.heights.rows(up)
            sky = passage.sky_at(steps, up, rows)
            margin[steps] = margins(sky, self.heights.air.take(rows))
            if self.skyline.points:
                around = _around(passage.toward(0, steps), passage.toward(1, steps))
                rows *= up > self._skyline.take(around)  # the lowest row is out of reach
            margin[steps] -= self._reach.take(rows)
            height[steps] = up
        margin[~self.night] = -np.inf
        best = best_steps(margin, height)
        everyone = np.arange(n)
        az, alt = Courses(self.light, np.empty((2, 0, 0)), passage.directions).at(best, everyone)
        az, alt = np.radians(az), np.radians(alt)
        air = air_mass(alt)
        moonless = margins(self.light.sky_mag(best, alt, None, az), air)
        parts = np.full((len(SeenPart), n), -np.inf)
        if part_margins is None:
            parts[SeenPart.STARS] = margin[best, everyone]
        else:
            cosine = self.light.moon_cosines_at(passage.directions, best)
            parts[:] = part_margins(self.light.sky_mag(best, alt, cosine, az), air)
        return Followed(targets, setting, margin, best, moonless, parts, passage.directions)


def _around(south: Single, east: Single) -> Indices:
    """The row (...) of a table right round the horizon: first its northern half from west to east,
    then its southern one; even steps along the sides of a square that stands on its corner."""
    across = east / np.maximum(np.abs(east) + np.abs(south), np.float32(1e-20))
    across += np.float32(1.0)
    across *= np.float32(_QUARTER)
    across += np.float32(0.5)
    across += (south > 0.0) * np.float32(2 * _QUARTER + 1)
    return np.asarray(across.astype(np.intp))
