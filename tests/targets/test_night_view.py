"""Where the telescope can point, from tables in single precision, against the plain formulas."""

from __future__ import annotations

import numpy as np
import pytest

from plumbstar.kit import Kit, Telescope
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.targets.light import NightLight
from plumbstar.targets.model import Conditions
from plumbstar.targets.night_view import NightView
from plumbstar.targets.passage import Courses
from plumbstar.targets.what_if import under_cloud

START = Instant.parse("2027-01-28T16:30:00Z")
UNEVEN = Skyline.parse("0:8 104:10 110:12 117:38 124:12 290:10 296:60 334:27")


@pytest.mark.parametrize("skyline", [Skyline(), UNEVEN, under_cloud(UNEVEN, "south")])
@pytest.mark.parametrize("lat_deg", [47.2, -31.5])
def test_what_can_be_pointed_at_is_what_the_formulas_say(skyline: Skyline, lat_deg: float) -> None:
    """But for what stands within a twentieth of a degree of an edge."""
    sky = Conditions()
    light = NightLight.of(START, START.plus_seconds(13 * 3600.0), Site(lat_deg, 11.6, 940.0), sky)
    kit = Kit(telescope=Telescope(aperture_mm=254, focal_length_mm=1250, max_alt_deg=80.0))
    view = NightView(light, kit, sky, skyline)
    d = np.random.default_rng(5).normal(size=(3, 700))
    d /= np.linalg.norm(d, axis=0)
    followed = view.follow([], [], d, lambda mu, air: mu - air)
    az, alt = Courses(light, np.empty((2, 0, 0)), d).through(range(700))
    exact = view.usable(np.radians(az), np.radians(alt))
    got = np.isfinite(followed.margin)
    sure = np.ones_like(exact)
    for daz in (-0.05, 0.0, 0.05):
        for dalt in (-0.05, 0.0, 0.05):
            sure &= view.usable(np.radians((az + daz) % 360.0), np.radians(alt + dalt)) == exact
    assert np.array_equal(got[sure], exact[sure])
    assert sure.mean() > 0.98
    assert 0.1 < exact.mean() < 0.6
