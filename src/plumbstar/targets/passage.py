"""Many directions through one night, in single precision: how high each stands at every step, and
how bright the sky is there.

The formulas are those of sky/. A direction's height is the product of two unit vectors: the sine of
its altitude without air. What goes by the height alone (refraction, air mass, the dark sky, what
the air scatters) is worked out once, for even steps of that sine, and the Moon's halo for even
steps of the sine of half the distance from it; so no angle is worked out for any of them.
tests/targets/test_passage.py holds the places to those of sky/places, and the sky to
:meth:`NightLight.sky_mag`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from plumbstar.sky import glow
from plumbstar.sky.extinction import air_mass
from plumbstar.targets.light import NIGHT_SUN, NightLight
from plumbstar.turns import one_turn_deg
from plumbstar.units import Array, Indices, Single, single

#: Rows of a table from the horizon to overhead; a row is a fiftieth of a degree 70 degrees up.
_UP = 8192
_HALO = 32768
#: Numbers at a time: what a processor keeps close by.
_BLOCK = 32_768


class HeightTable:
    """What goes by the height alone, at even steps of its sine without air, from -1 to 1.

    ``sine`` of each row; radians, air masses, nanolamberts and parts of one in the others.
    """

    def __init__(self, light: NightLight) -> None:
        self.sine: Array = np.arange(-_UP, _UP + 1) / _UP
        true = np.arcsin(self.sine)
        seen = light.middle.air.apparent_altitude(true)
        self.lift = single(seen - true)
        self.air = single(air_mass(seen))
        self.dark = single(glow.dark_sky(light.zenith_mag, seen, light.k))
        self.scattered = single(glow.scattered(seen, light.k))

    @staticmethod
    def rows(sine: Single) -> Indices:
        """The row (...) nearest to sines (...)."""
        return np.asarray(sine * np.float32(_UP) + np.float32(_UP + 0.5)).astype(np.intp)


@cache
def _halo() -> Single:
    apart = 2.0 * np.arcsin(np.arange(_HALO + 1) / _HALO)
    return single(glow.moon_halo(apart))


@dataclass(frozen=True)
class Passage:
    """Of ``directions`` (3, n), unit vectors, ICRS axes, as the observer sees them that night."""

    light: NightLight
    table: HeightTable
    directions: Single

    @staticmethod
    def of(light: NightLight, table: HeightTable, directions: Array) -> Passage:
        """In single precision."""
        return Passage(light, table, single(directions))

    def take(self, columns: Indices) -> Passage:
        """Of some of them alone."""
        return Passage(self.light, self.table, self.directions[:, columns])

    def blocks(self) -> list[slice]:
        """The steps, a few at a time."""
        steps, n = len(self.light.instants), self.directions.shape[1]
        few = max(1, _BLOCK // max(n, 1))
        return [slice(k, min(k + few, steps)) for k in range(0, steps, few)]

    @cached_property
    def _turns(self) -> Single:
        """Rows (3, steps, 3) that lead to south, east and up."""
        return single(np.ascontiguousarray(np.moveaxis(self.light.turns, 1, 0)))

    def toward(self, axis: int, steps: slice) -> Single:
        """The parts (steps, n) of the directions toward south, east or up: 0, 1 or 2."""
        return np.asarray(self._turns[axis, steps] @ self.directions)

    @cached_property
    def az(self) -> Single:
        """Azimuths (steps, n), radians, -pi to pi."""
        every = slice(0, len(self.light.instants))
        return np.asarray(np.arctan2(self.toward(1, every), -self.toward(0, every)))

    @cached_property
    def alt(self) -> Single:
        """Altitudes observed (steps, n), radians."""
        south, east, up = (self.toward(i, slice(0, len(self.light.instants))) for i in range(3))
        rows = self.table.rows(up)
        return np.asarray(np.arctan2(up, np.hypot(south, east)) + self.table.lift.take(rows))

    def air_mass(self, steps: slice) -> Single:
        """Air masses (steps, n)."""
        return self.table.air.take(self.table.rows(self.toward(2, steps)))

    def sky_mag(self, steps: slice) -> Single:
        """How bright the sky is where each stands, (steps, n): V magnitudes a square arcsec."""
        up = self.toward(2, steps)
        return self.sky_at(steps, up, self.table.rows(up))

    def sky_at(self, steps: slice, up: Single, rows: Indices) -> Single:
        """The same where the sines ``up`` of their heights and the rows of these are known."""
        light = self.light
        nl = self.table.dark.take(rows)
        dusk = np.flatnonzero(light.sun_alt[steps] > NIGHT_SUN)
        if len(dusk):
            k = steps.start + dusk
            # Toward the Sun along the ground: the cosine of the azimuth between, times that of the
            # altitude; what the air lifts is nothing here.
            side = np.maximum(single(_sunward(light, k)) @ self.directions, 0.0)
            side *= np.sqrt(np.maximum(1.0 - up[dusk] ** 2, 0.0))
            # By day the formula has no bound; single precision ends at 1e38.
            overhead = single(np.minimum(glow.twilight_overhead(light.sun_alt[k]), 1e20))
            nl[dusk] += overhead[:, None] * glow.twilight_side(side)
        strength = glow.moon_strength(light.moon_alt[steps], light.moon_phase_angle, light.k)
        lit = np.flatnonzero(strength)
        if len(lit):
            first, last = int(lit[0]), int(lit[-1]) + 1
            part = slice(steps.start + first, steps.start + last)
            apart = single(light.toward_moon(part)) @ self.directions
            # The sine of half the distance, from the cosine of the whole.
            np.subtract(1.0, apart, out=apart)
            np.maximum(apart, 0.0, out=apart)
            apart *= np.float32(0.5 * _HALO * _HALO)
            np.sqrt(apart, out=apart)
            apart += np.float32(0.5)
            shine = _halo().take(np.minimum(apart, np.float32(_HALO)).astype(np.intp))
            shine *= self.table.scattered.take(rows[first:last])
            shine *= single(strength[first:last])[:, None]
            nl[first:last] += shine
        return np.asarray(glow.mag_arcsec2(nl))


def _sunward(light: NightLight, steps: Indices) -> Array:
    """Level toward the Sun at steps (k,): unit vectors, ICRS axes, (k, 3)."""
    south, east = -np.cos(light.sun_az[steps]), np.sin(light.sun_az[steps])
    turns = light.turns[steps]
    return np.asarray(south[:, None] * turns[:, 0] + east[:, None] * turns[:, 1])


@dataclass(frozen=True)
class Courses:
    """Where each of n targets stands through the night, worked out for those who are asked about.

    ``moving`` are azimuth and altitude (2, steps, m), radians, of the first m, which wander among
    the stars; ``directions`` (3, n) those of all others, as in :class:`Passage`.
    """

    light: NightLight
    moving: Array
    directions: Single

    def take(self, columns: Indices) -> Courses:
        """Of some of them alone, in their order: those that wander must stay the first."""
        m = self.moving.shape[2]
        return Courses(
            self.light, self.moving[:, :, columns[columns < m]], self.directions[:, columns]
        )

    def through(self, columns: Sequence[int] | Indices) -> tuple[Array, Array]:
        """Azimuth (0 to 360) and altitude observed, degrees, of some: (steps, columns)."""
        i = np.asarray(columns, dtype=np.intp)
        return self._at(slice(None), i, np.einsum("tij,jn->itn", self.light.turns,
                                                  self.directions[:, i]))  # fmt: skip

    def at(self, step: Indices, columns: Indices) -> tuple[Array, Array]:
        """The same, each (n,) at a step (n,) of its own."""
        turns = self.light.turns[step]
        return self._at(step, columns, np.einsum("nij,jn->in", turns, self.directions[:, columns]))

    def _at(self, step: slice | Indices, i: Indices, toward: Array) -> tuple[Array, Array]:
        south, east, up = toward
        az = np.arctan2(east, -south)
        alt = self.light.middle.air.apparent_altitude(np.arctan2(up, np.hypot(south, east)))
        wander = np.flatnonzero(i < self.moving.shape[2])
        if len(wander):
            here = (step, i[wander]) if isinstance(step, slice) else (step[wander], i[wander])
            az[..., wander], alt[..., wander] = self.moving[0][here], self.moving[1][here]
        return one_turn_deg(np.degrees(az)), np.degrees(alt)
