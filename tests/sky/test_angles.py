"""Separation and position angle."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from plumbstar.sky.angles import offset_rad, position_angle_rad, separation_rad


def test_sofa_values():
    """SOFA test values t_seps, t_pas (liberfa/erfa src/t_erfa_c.c)."""
    assert separation_rad(1.0, 0.1, 0.2, -3.0) == pytest.approx(2.346722016996998842, abs=1e-12)
    assert position_angle_rad(1.0, 0.1, 0.2, -1.0) == pytest.approx(
        -2.724544922932270424, abs=1e-12
    )


@pytest.mark.parametrize("size", [1e-9, 1e-4, 1.0, np.pi - 1e-4])
def test_planted_separation(size):
    """A direction carried by a known angle about a perpendicular axis is that angle away."""
    rng = np.random.default_rng(5)
    for _ in range(50):
        a = rng.normal(size=3)
        a /= np.linalg.norm(a)
        axis = np.cross(a, rng.normal(size=3))
        axis /= np.linalg.norm(axis)
        b = Rotation.from_rotvec(size * axis).apply(a)
        lon1, lat1 = np.arctan2(a[1], a[0]), np.arctan2(a[2], np.hypot(a[0], a[1]))
        lon2, lat2 = np.arctan2(b[1], b[0]), np.arctan2(b[2], np.hypot(b[0], b[1]))
        assert separation_rad(lon1, lat1, lon2, lat2) == pytest.approx(size, rel=1e-6, abs=1e-15)


def test_an_offset_keeps_distance_and_direction_and_is_nothing_in_the_middle():
    rng = np.random.default_rng(6)
    lon, lat = rng.uniform(0.0, 2.0 * np.pi, 200), np.arcsin(rng.uniform(-1.0, 1.0, 200))
    for middle in ((1.0, 0.3), (2.0, np.pi / 2.0)):
        right, up = offset_rad(*middle, lon, lat).T
        assert np.hypot(right, up) == pytest.approx(separation_rad(*middle, lon, lat))
        assert np.arctan2(right, up) == pytest.approx(position_angle_rad(*middle, lon, lat))
        assert not offset_rad(*middle, *middle).any()
