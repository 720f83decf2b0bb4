"""How far the air lifts a star: one function of the altitude seen, and its inverse.

R is a function of *apparent* altitude h, so that apparent to true is a subtraction and true to
apparent is a one-dimensional root; the two are then inverses of each other to rounding.

* h >= 9 deg: SOFA's A tan z + B tan^3 z with A, B from ``refco`` (SOFA Astrometry Tools, section
  4.9; optical, 0.55 um, relative humidity 0.5). This is what ERFA's ``atioq`` does, to 0.02 arcsec.
* h <= 4 deg: Bennett, J. Navigation 35, 255 (1982): R = cot(h + 7.31/(h + 4.4)) arcmin, times
  (p / 1010 hPa)(283 K / (273 + t)). ERFA's own form is held at its 2.9 deg value below there,
  17 arcmin too little at the horizon.
* 4 to 9 deg: a smooth blend of the two. They differ by 6 arcsec at 9 deg and 35 at 4 deg.
* below -1 deg seen: the formula would run away (its pole is at -4.4 deg), and there is nothing to
  see but the dip from a hilltop; R is held at its -1 deg value, 50 arcmin, and tapered to nothing
  at -5 deg, so that every true altitude has one apparent altitude, rising smoothly, down to the
  nadir. Below -1 deg the value has no physical meaning.

The air itself departs from any such formula: 1 arcsec at 45 deg, some arcminutes at the horizon.
"""

from __future__ import annotations

from functools import lru_cache

import erfa
import numpy as np

from plumbstar.units import Array

WAVELENGTH_UM = 0.55
HUMIDITY = 0.5

_BLEND_LOW_DEG = 4.0
_BLEND_HIGH_DEG = 9.0
_HELD_BELOW_DEG = -1.0
_NOTHING_BELOW_DEG = -5.0
_HIGH_RAD = np.radians(_BLEND_HIGH_DEG)
_FOOT_RAD = np.radians(_NOTHING_BELOW_DEG)


def _step(x: Array) -> Array:
    """0 below 0, 1 above 1, smooth between (3x^2 - 2x^3)."""
    x = np.clip(x, 0.0, 1.0)
    return x * x * (3.0 - 2.0 * x)


class Air:
    """The air at a site: pressure in hPa, temperature in deg C, relative humidity 0 to 1."""

    def __init__(
        self, pressure_hpa: float, temperature_c: float, humidity: float = HUMIDITY
    ) -> None:
        a, b = erfa.ufunc.refco(pressure_hpa, temperature_c, humidity, WAVELENGTH_UM)
        self.a = float(a)
        self.b = float(b)
        self._bennett = np.radians(
            (pressure_hpa / 1010.0) * (283.0 / (273.0 + temperature_c)) / 60.0
        )
        self._step, self._parabolas = self._lift_by_true_altitude()

    def refraction(self, apparent_rad: Array | float) -> Array:
        """R in radians at apparent altitudes of any shape, -pi/2 to pi/2."""
        h = np.asarray(apparent_rad, dtype=np.float64)
        # Below the blend the tangents are not used; keep them finite there.
        tz = 1.0 / np.tan(np.maximum(h, np.radians(_BLEND_LOW_DEG)))
        r: Array = tz * (self.a + self.b * tz * tz)
        if np.any(h < _HIGH_RAD):
            r = np.where(h < _HIGH_RAD, self._low(np.degrees(h), r), r)
        return r

    def _low(self, h_deg: Array, high: Array) -> Array:
        """Refraction below 9 deg apparent, given SOFA's form ``high`` for the blend."""
        held = np.maximum(h_deg, _HELD_BELOW_DEG)
        low = self._bennett / np.tan(np.radians(held + 7.31 / (held + 4.4)))
        w = _step((h_deg - _BLEND_LOW_DEG) / (_BLEND_HIGH_DEG - _BLEND_LOW_DEG))
        taper = _step((h_deg - _NOTHING_BELOW_DEG) / (_HELD_BELOW_DEG - _NOTHING_BELOW_DEG))
        return np.asarray(w * high + (1.0 - w) * low * taper)

    def true_altitude(self, apparent_rad: Array | float) -> Array:
        """Altitude without air of what is seen at ``apparent_rad``."""
        return np.asarray(apparent_rad - self.refraction(apparent_rad))

    def apparent_altitude(self, true_rad: Array | float) -> Array:
        """Altitude at which what stands at ``true_rad`` without air is seen, -pi/2 to pi/2.

        Looked up: the exact inverse of :meth:`true_altitude` to 1e-10 rad, 2e-5 arcsec.
        """
        true = np.asarray(true_rad, dtype=np.float64)
        # Under the taper's foot there is no refraction, as at the foot itself.
        at = np.clip((true - _FOOT_RAD) / self._step, 0.0, self._parabolas.shape[1] - 1.0)
        piece = at.astype(np.intp)
        part = at - piece
        level, slope, bend = (each[piece] for each in self._parabolas)
        return np.asarray(true + level + part * (slope + part * bend))

    def _lift_by_true_altitude(self) -> tuple[float, Array]:
        """A step of true altitude (rad), and for each step from the taper's foot to the zenith the
        parabola (3, steps) through the lift at both its ends and its middle.

        The steps, about 0.01 deg, are such that one ends at the kink at -1 deg seen.
        """
        seen = np.radians(np.arange(100 * _NOTHING_BELOW_DEG, 9003) / 100.0)
        true = self.true_altitude(seen)
        kink = int(100 * (_HELD_BELOW_DEG - _NOTHING_BELOW_DEG))
        step = float(true[kink] - _FOOT_RAD) / kink
        beyond = int((np.pi / 2.0 - _FOOT_RAD) / step) + 2
        nodes = _FOOT_RAD + step * np.arange(2 * beyond + 1) / 2.0
        # The root h of h - R(h) = node: by straight lines between what is known, then by Newton.
        k = np.clip(np.searchsorted(true, nodes) - 1, 0, len(seen) - 2)
        slope = (np.diff(true) / np.diff(seen))[k]
        h = seen[k] + (nodes - true[k]) / slope
        for _ in range(2):
            h = h - (h - self.refraction(h) - nodes) / slope
        lift = h - nodes
        start, middle, end = lift[:-2:2], lift[1:-1:2], lift[2::2]
        return step, np.stack(
            [start, 4.0 * middle - 3.0 * start - end, 2.0 * (start + end) - 4.0 * middle]
        )


@lru_cache(maxsize=16)
def air_of(pressure_hpa: float, temperature_c: float) -> Air:
    """The air for a pressure and temperature, made once and kept."""
    return Air(pressure_hpa, temperature_c)
