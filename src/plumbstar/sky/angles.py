"""Angles on the sphere: separation and position angle, good at every size."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def separation_rad(lon1: ArrayLike, lat1: ArrayLike, lon2: ArrayLike, lat2: ArrayLike) -> Array:
    """Angle between directions, rad, 0 to pi; any pair of spherical angles, broadcast together.

    Right ascension and declination, or azimuth and altitude. atan2 of the cross and dot products
    (Vincenty 1975, Survey Review 23, 88, on a sphere): exact near 0 and near pi.
    """
    lon1, lat1, lon2, lat2 = (np.asarray(x, dtype=np.float64) for x in (lon1, lat1, lon2, lat2))
    d = lon2 - lon1
    x = np.cos(lat2) * np.sin(d)
    y = np.cos(lat1) * np.sin(lat2) - np.sin(lat1) * np.cos(lat2) * np.cos(d)
    z = np.sin(lat1) * np.sin(lat2) + np.cos(lat1) * np.cos(lat2) * np.cos(d)
    return np.asarray(np.arctan2(np.hypot(x, y), z))


def position_angle_rad(lon1: ArrayLike, lat1: ArrayLike, lon2: ArrayLike, lat2: ArrayLike) -> Array:
    """Direction of point 2 seen from point 1, rad, -pi to pi, from "up" toward growing longitude.

    With right ascension and declination: from north through east.
    """
    lon1, lat1, lon2, lat2 = (np.asarray(x, dtype=np.float64) for x in (lon1, lat1, lon2, lat2))
    d = lon2 - lon1
    x = np.cos(lat2) * np.sin(d)
    y = np.cos(lat1) * np.sin(lat2) - np.sin(lat1) * np.cos(lat2) * np.cos(d)
    return np.asarray(np.arctan2(x, y))


def between_rad(a: Array, b: Array) -> Array:
    """Angle (...) between unit vectors (..., 3), radians; exact at both ends (Kahan 2006, 13)."""
    out: Array = 2 * np.arctan2(np.linalg.norm(a - b, axis=-1), np.linalg.norm(a + b, axis=-1))
    return out
