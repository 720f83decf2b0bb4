"""What the air takes from a star's light: the length of the path and the loss along it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from plumbstar.units import Array


def air_mass(alt_rad: ArrayLike) -> Array:
    """Air masses (...) at altitudes (...): 1 overhead, 38 at the horizon, held below it.

    X = 1 / (sin h + 0.50572 (h + 6.07995)^-1.6364), h in degrees: Kasten and Young 1989, Applied
    Optics 28, 4735.
    """
    h = np.maximum(np.degrees(np.asarray(alt_rad, dtype=np.float64)), 0.0)
    return np.asarray(1.0 / (np.sin(np.radians(h)) + 0.50572 * np.power(h + 6.07995, -1.6364)))


def extinction_mag(elevation_m: float) -> float:
    """V magnitudes lost an air mass, by elevation: Rayleigh, aerosol and ozone in clean air.

    Green 1992, ICQ 14, 55 (from memory). Nature strays 0.1 either way.
    """
    h = elevation_m / 1000.0
    return 0.1451 * math.exp(-h / 7.996) + 0.120 * math.exp(-h / 1.5) + 0.016
