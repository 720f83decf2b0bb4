"""Every star to V 10.0, without names: what fills the field of an eyepiece.

The packaged file is made by tools/build_faint_stars.py from Gaia DR3 (its own licence and credit;
see DATA-LICENSES.md). Places are ICRS at epoch J2030.0. Stars that are in the bright catalogue too
are marked, so that they can be drawn from there, with their names.

Complete to V 10.0 as far as Gaia is: the source ends at G 10, and no star is fainter in G than in
V. Of Hipparcos' stars to V 8, 99.96 % are there within 1.5 arcsec. Stars the source has no proper
motion for keep the place they had in 2016; some hundred of them may be a few arcsec off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plumbstar.sky.angles import separation_rad
from plumbstar.turns import one_turn_deg
from plumbstar.units import Array, Bools

#: The faintest star kept, and to which the list is complete.
V_LIMIT = 10.0
EPOCH = 2030.0
BAND_DEG = 3.0
MAG_ZERO, MAG_STEP = -1.6, 0.05
COLOUR_ZERO, COLOUR_STEP = -0.7, 0.05
_N_BANDS = int(180 / BAND_DEG)
_MAS_DEG = 1.0 / 3.6e6


def cells_in_band(band: int) -> int:
    """How many cells of right ascension the band has: each about as wide as it is high."""
    middle = math.radians((band + 0.5) * BAND_DEG - 90.0)
    return max(1, round(360.0 / BAND_DEG * math.cos(middle)))


@dataclass(frozen=True, slots=True)
class Patch:
    """Some stars, as columns of shape ``(n,)``: ICRS degrees at the epoch asked for, V, B-V.

    ``bright`` marks those that are in the bright catalogue too.
    """

    ra_deg: Array
    dec_deg: Array
    v_mag: Array
    bv: Array
    bright: Bools


class FaintStars:
    """The whole list; only the cells that a field touches are ever unfolded."""

    def __init__(self, z: dict[str, NDArray[Any]]) -> None:
        count = z["count"].astype(np.int64)
        self._start = np.concatenate([[0], np.cumsum(count)])
        self._across = z["across"]
        steps = z["up_high"].astype(np.uint16) << 8 | z["up_low"]
        self._up = np.cumsum(steps, dtype=np.uint16)
        self._mag, self._colour = z["mag"], z["colour"]
        self._bright = np.unpackbits(z["bright"].astype(np.uint8))[: len(self._mag)].astype(bool)
        self._fast = z["fast"].astype(np.int64)
        self._fast_pm = z["fast_pm_mas"].astype(np.float64)
        self._cells = np.array([cells_in_band(b) for b in range(_N_BANDS)])
        self._first = np.concatenate([[0], np.cumsum(self._cells)])

    def __len__(self) -> int:
        return len(self._mag)

    def near(self, ra_deg: float, dec_deg: float, radius_deg: float, year: float = EPOCH) -> Patch:
        """The stars within ``radius_deg`` (0 to 90) of a direction, where they stand in ``year``.

        A star that enters or leaves the circle by its own motion since J2030.0 may be missed at
        the edge: 0.02 deg in ten years for the fastest.
        """
        rows, across, band, cells = self._rows(ra_deg, dec_deg, radius_deg)
        ra = 360.0 * (across + (self._across[rows] + 0.5) / 65536.0) / cells
        dec = (band + (self._up[rows] + 0.5) / 65536.0) * BAND_DEG - 90.0
        k = np.minimum(np.searchsorted(self._fast, rows), len(self._fast) - 1)
        fast = self._fast[k] == rows
        pm = np.where(fast[:, None], self._fast_pm[k], 0.0) * (year - EPOCH) * _MAS_DEG
        ra = one_turn_deg(ra + pm[:, 0] / np.cos(np.radians(np.clip(dec, -89.9, 89.9))))
        dec = np.clip(dec + pm[:, 1], -90.0, 90.0)
        apart = separation_rad(np.radians(ra), np.radians(dec), *np.radians([ra_deg, dec_deg]))
        inside = apart <= math.radians(radius_deg)
        x = COLOUR_ZERO + COLOUR_STEP * self._colour[rows].astype(np.float64)
        v = MAG_ZERO + MAG_STEP * self._mag[rows].astype(np.float64)
        return Patch(
            ra[inside], dec[inside], v[inside], bv_of(x[inside]), self._bright[rows][inside]
        )

    def _rows(
        self, ra_deg: float, dec_deg: float, radius_deg: float
    ) -> tuple[NDArray[np.int64], Array, Array, Array]:
        """Row numbers of all stars in the cells a circle touches, with each one's cell."""
        low = max(0, int((dec_deg - radius_deg + 90.0) // BAND_DEG))
        high = min(_N_BANDS - 1, int((dec_deg + radius_deg + 90.0) // BAND_DEG))
        rows, across, band, cells = [], [], [], []
        for b in range(low, high + 1):
            n = int(self._cells[b])
            half = _half_width_deg(dec_deg, radius_deg)
            left, right = (math.floor((ra_deg + s * half) / 360.0 * n) for s in (-1, 1))
            spread = range(n) if right - left >= n - 1 else range(left, right + 1)
            for c in {c % n for c in spread}:
                a, z = self._start[self._first[b] + c : self._first[b] + c + 2]
                rows.append(np.arange(a, z))
                across.append(np.full(z - a, float(c)))
                band.append(np.full(z - a, float(b)))
                cells.append(np.full(z - a, float(n)))
        return (np.concatenate(rows), np.concatenate(across), np.concatenate(band),
                np.concatenate(cells))  # fmt: skip


def _half_width_deg(dec_deg: float, radius_deg: float) -> float:
    """How far in right ascension a circle reaches to each side; 180 if a pole is inside.

    sin(width) = sin(radius) / cos(dec): the circle's tangent meridian (right spherical triangle).
    """
    if abs(dec_deg) + radius_deg >= 90.0:
        return 180.0
    ratio = math.sin(math.radians(radius_deg)) / math.cos(math.radians(dec_deg))
    return math.degrees(math.asin(min(1.0, ratio)))


#: BP-RP and the B-V that goes with it: medians of 66,000 stars of V 6 to 9 common to Gaia and
#: Hipparcos, measured when the file was made; the scatter is 0.05 to 0.12.
_BP_RP = np.array([-0.1, 0.1, 0.3, 0.5, 0.7, 0.9, 1.1, 1.3, 1.5, 1.7, 1.9, 2.1, 2.3])
_BV = np.array(
    [-0.054, 0.061, 0.218, 0.390, 0.529, 0.697, 0.967, 1.119, 1.319, 1.484, 1.594, 1.649, 1.660]
)


def bv_of(bp_rp: Array) -> Array:
    """B-V from Gaia's BP-RP, for a colour word; held at both ends."""
    return np.asarray(np.interp(bp_rp, _BP_RP, _BV))


@lru_cache(maxsize=1)
def load() -> FaintStars:
    """The packaged list, read once and kept."""
    path = files("plumbstar.sky") / "data" / "faint.npz"
    with path.open("rb") as handle, np.load(handle, allow_pickle=False) as z:
        return FaintStars({k: z[k] for k in z.files})
