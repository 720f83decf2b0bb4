"""Angles on the sphere: separation, position angle and offset, good at every size."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from plumbstar.units import Array


def separation_rad(lon1: ArrayLike, lat1: ArrayLike, lon2: ArrayLike, lat2: ArrayLike) -> Array:
    """Angle between directions, rad, 0 to pi; any pair of spherical angles, broadcast together.

    Right ascension and declination, or azimuth and altitude. atan2 of the cross and dot products
    (Vincenty 1975, Survey Review 23, 88, on a sphere): exact near 0 and near pi.
    """
    x, y, z = _seen_from(lon1, lat1, lon2, lat2)
    return np.asarray(np.arctan2(np.hypot(x, y), z))


def position_angle_rad(lon1: ArrayLike, lat1: ArrayLike, lon2: ArrayLike, lat2: ArrayLike) -> Array:
    """Direction of point 2 seen from point 1, rad, -pi to pi, from "up" toward growing longitude.

    With right ascension and declination: from north through east.
    """
    x, y, _ = _seen_from(lon1, lat1, lon2, lat2)
    return np.asarray(np.arctan2(x, y))


def offset_rad(lon1: ArrayLike, lat1: ArrayLike, lon2: ArrayLike, lat2: ArrayLike) -> Array:
    """Point 2 on a flat picture about point 1, (..., 2) rad: toward growing longitude, and up.

    Distances and directions from the middle are kept. With azimuth and altitude: right, up.
    """
    x, y, z = _seen_from(lon1, lat1, lon2, lat2)
    across = np.hypot(x, y)
    scale = np.where(across > 0.0, np.arctan2(across, z) / np.maximum(across, 1e-300), 1.0)
    return np.stack([x * scale, y * scale], axis=-1)


def _seen_from(
    lon1: ArrayLike, lat1: ArrayLike, lon2: ArrayLike, lat2: ArrayLike
) -> tuple[Array, Array, Array]:
    """Unit vector of point 2 in the axes of point 1: toward growing longitude, up, outward."""
    lon1, lat1, lon2, lat2 = (np.asarray(x, dtype=np.float64) for x in (lon1, lat1, lon2, lat2))
    d = lon2 - lon1
    x = np.cos(lat2) * np.sin(d)
    y = np.cos(lat1) * np.sin(lat2) - np.sin(lat1) * np.cos(lat2) * np.cos(d)
    z = np.sin(lat1) * np.sin(lat2) + np.cos(lat1) * np.cos(lat2) * np.cos(d)
    return x, y, z


def between_rad(a: Array, b: Array) -> Array:
    """Angle (...) between unit vectors (..., 3), radians; exact at both ends (Kahan 2006, 13)."""
    out: Array = 2 * np.arctan2(np.linalg.norm(a - b, axis=-1), np.linalg.norm(a + b, axis=-1))
    return out
