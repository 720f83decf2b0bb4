"""The sky round a star: distances kept, up is up, the right stars and no others."""

import math

import numpy as np
import pytest

from plumbstar.mount import kinematics
from plumbstar.simulate.scenario import saltpan_flat, thornback_ridge
from plumbstar.sky import surroundings
from plumbstar.sky.lists import catalogue
from plumbstar.sky.places import place_of


@pytest.mark.parametrize(
    ("scene", "name"),
    [(thornback_ridge(), "Aldebaran"), (thornback_ridge(), "Polaris"), (saltpan_flat(), "Antares")],
)
def test_every_star_near_and_no_other_each_at_its_true_distance(scene, name):
    stars = catalogue.load()
    star = stars.find(name)
    found = surroundings.around(star, stars, scene.start, scene.site, limit_mag=4.5)
    here = kinematics.unit(*np.radians(place_of(star, scene.start, scene.site)))
    apart = {}
    for i in stars.brighter_than(4.5):
        s = stars[int(i)]
        there = kinematics.unit(*np.radians(place_of(s, scene.start, scene.site)))
        apart[s.key] = math.degrees(math.atan2(np.linalg.norm(np.cross(here, there)), here @ there))
    assert {n.star.key for n in found} == {k for k, d in apart.items() if d < 12.0}
    for n in found:
        assert math.hypot(n.right_deg, n.up_deg) == pytest.approx(apart[n.star.key], abs=1e-6)
    assert len(found) > 5
    assert [n.star.v_mag for n in found] == sorted(n.star.v_mag for n in found)


def test_up_is_toward_the_zenith_and_right_is_clockwise_along_the_horizon():
    scene, stars = thornback_ridge(), catalogue.load()
    star = stars.find("Aldebaran")
    az0, alt0 = place_of(star, scene.start, scene.site)
    for n in surroundings.around(star, stars, scene.start, scene.site, limit_mag=4.5):
        az, alt = place_of(n.star, scene.start, scene.site)
        if abs(n.right_deg) > 1.0:
            assert (n.right_deg > 0) == (az > az0)
        if abs(n.up_deg) > 1.5:  # great circles bend
            assert (n.up_deg > 0) == (alt > alt0)
