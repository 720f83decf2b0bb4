"""A thing's course across the sky, cheap enough for every tick.

Places are exact at marks half a minute apart and straight between them. The sky turns 15 arcsec a
second, so the arc between marks is 0.002 rad and its chord leaves it by at most 0.12 arcsec
(sagitta, theta^2 / 8).
"""

from __future__ import annotations

import math

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.sky.places import Target, place_rad
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.units import Array

STEP_S = 30.0


class Course:
    """Observed places of one target from one site against time."""

    def __init__(self, target: Target, site: Site) -> None:
        self.target = target
        self.site = site
        self._marks: dict[int, Array] = {}

    def _at_mark(self, k: int) -> Array:
        found = self._marks.get(k)
        if found is None:
            instant = Instant.from_unix(k * STEP_S)
            found = kinematics.unit(*place_rad(self.target, instant, self.site))
            # A new dict each time: another thread may be reading the old one.
            self._marks = {**{j: v for j, v in self._marks.items() if abs(j - k) < 4}, k: found}
        return found

    def direction(self, instant: Instant) -> Array:
        """Unit vector (3,), ground frame."""
        unix = instant.to_unix()
        k = math.floor(unix / STEP_S)
        part = unix / STEP_S - k
        v = self._at_mark(k) * (1.0 - part) + self._at_mark(k + 1) * part
        out: Array = v / np.linalg.norm(v)
        return out

    def az_alt_deg(self, instant: Instant) -> tuple[float, float]:
        """Observed azimuth (0 to 360) and altitude, degrees."""
        az, alt = np.degrees(kinematics.az_alt(self.direction(instant)))
        return float(az), float(alt)
