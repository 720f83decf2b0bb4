"""Many directions through one night, in single precision: where each stands at every step, and how
bright the sky is there.

The formulas are those of sky/. What goes by the height alone (refraction, air mass, the dark sky,
what the air scatters) is worked out once, for every fiftieth of a degree, and the Moon's halo for
every five-hundredth of the distance from it. tests/targets/test_passage.py holds the places to
those of sky/places, and the sky to :meth:`NightLight.sky_mag`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from plumbstar.sky import glow
from plumbstar.sky.extinction import air_mass
from plumbstar.targets.light import NIGHT_SUN, NightLight
from plumbstar.units import Array, Indices, Single, single

_A_DEGREE = 50
_HALO_A_DEGREE = 500
_A_RADIAN = np.float32(np.degrees(1.0) * _A_DEGREE)
_HALO_A_RADIAN = np.float32(np.degrees(1.0) * _HALO_A_DEGREE)
#: Numbers at a time: what a processor keeps close by.
_BLOCK = 32_768


class HeightTable:
    """What goes by the height alone, at every fiftieth of a degree from -90 to 90 without air."""

    def __init__(self, light: NightLight) -> None:
        true = np.radians(np.arange(-90 * _A_DEGREE, 90 * _A_DEGREE + 1) / _A_DEGREE)
        seen = light.middle.air.apparent_altitude(true)
        self.lift = single(seen - true)
        self.air = single(air_mass(seen))
        self.dark = single(glow.dark_sky(light.zenith_mag, seen, light.k))
        self.scattered = single(glow.scattered(seen, light.k))
        self.halo = _halo()


@cache
def _halo() -> Single:
    return single(glow.moon_halo(np.radians(np.arange(180 * _HALO_A_DEGREE + 1) / _HALO_A_DEGREE)))


@dataclass(frozen=True)
class Passage:
    """Arrays (steps, n), angles in radians: azimuth -pi to pi, altitude observed. ``height`` is the
    row of the table.
    """

    light: NightLight
    table: HeightTable
    directions: Single
    az: Single
    alt: Single
    height: NDArray[np.int32]

    @staticmethod
    def of(light: NightLight, table: HeightTable, directions: Array) -> Passage:
        """Of unit vectors (3, n), ICRS axes, as the observer sees them that night."""
        d = single(directions)
        steps = len(light.instants)
        turns = single(np.moveaxis(light.turns, 1, 0)).reshape(3 * steps, 3)
        south, east, up = (turns @ d).reshape(3, steps, -1)
        alt = np.arctan2(up, np.hypot(south, east))
        height = np.rint((alt + np.float32(np.pi / 2.0)) * _A_RADIAN).astype(np.int32)
        alt += table.lift.take(height)
        return Passage(light, table, d, np.arctan2(east, -south), alt, height)

    def take(self, columns: Indices) -> Passage:
        """Of some of them alone."""
        return Passage(
            self.light, self.table, self.directions[:, columns], self.az[:, columns],
            self.alt[:, columns], self.height[:, columns],
        )  # fmt: skip

    def blocks(self) -> list[slice]:
        """The steps, a few at a time."""
        steps, n = self.az.shape
        few = max(1, _BLOCK // max(n, 1))
        return [slice(k, min(k + few, steps)) for k in range(0, steps, few)]

    def air_mass(self, steps: slice) -> Single:
        """Air masses (steps, n)."""
        return self.table.air.take(self.height[steps])

    def sky_mag(self, steps: slice) -> Single:
        """How bright the sky is where each stands, (steps, n): V magnitudes a square arcsec."""
        light, table, height = self.light, self.table, self.height[steps]
        nl = table.dark.take(height)
        dusk = np.flatnonzero(light.sun_alt[steps] > NIGHT_SUN)
        if len(dusk):
            k = steps.start + dusk
            side = np.cos(self.az[k] - single(light.sun_az[k])[:, None])
            toward = np.maximum(side, 0.0) * np.cos(self.alt[k]) ** 2
            # By day the formula has no bound; single precision ends at 1e38.
            overhead = single(np.minimum(glow.twilight_overhead(light.sun_alt[k]), 1e20))
            nl[dusk] += overhead[:, None] * glow.twilight_side(toward)
        strength = glow.moon_strength(light.moon_alt[steps], light.moon_phase_angle, light.k)
        if np.any(strength):
            cosine = single(light.toward_moon(steps)) @ self.directions
            apart = np.arccos(np.clip(cosine, -1.0, 1.0)) * _HALO_A_RADIAN
            shine = table.halo.take(np.rint(apart).astype(np.int32))
            shine *= table.scattered.take(height)
            shine *= single(strength)[:, None]
            nl += shine
        return np.asarray(glow.mag_arcsec2(nl))
