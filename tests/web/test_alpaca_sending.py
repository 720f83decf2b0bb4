"""What another program sends and is refused must leave everything as it was."""

import numpy as np
import pytest

from plumbstar.sky import ofdate
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming import lookup, nearby
from plumbstar.sky.places import place_of
from plumbstar.web.programs import sending
from plumbstar.web.programs.refused import Refused, Why

from .server_rig import DAY, SCENE, asynchronous, rig


def of_date(r, name):
    now = r.station.clock.now()
    ra, dec = ofdate.from_horizon(
        *place_of(lookup.find_target(name), now, SCENE.site), now, SCENE.site
    )
    return float(np.degrees(ra)) / 15.0, float(np.degrees(dec))


@asynchronous
async def test_a_target_that_the_sun_forbids_changes_nothing(tmp_path):
    async with rig(tmp_path, DAY) as r:
        await r.do("set_target", name="M 42")
        for name in ("Vega", "Sun", "Venus"):
            with pytest.raises(Refused, match=r"Sun|below the horizon") as e:
                await sending.send_target(r.station, *of_date(r, name))
            assert e.value.why is Why.IMPOSSIBLE
        s = await r.state()
        assert s["target"]["label"].startswith("M 42")
        assert not any("another program" in m["text"] for m in s["messages"])
        # It was the Sun, and not the asking: with the filter on, the same target is taken.
        await r.do("confirm_filter", confirmed=True)
        await sending.send_target(r.station, *of_date(r, "Vega"))
        assert (await r.state())["target"]["label"] == "Vega"


@pytest.mark.parametrize(
    ("name", "north_deg", "meant"),
    [
        ("Vega", 0.7, True),  # nothing else there is bright
        ("Vega", 1.2, False),  # too far
        ("Mintaka", -0.9, False),  # the belt's next star is 1.05 degrees off, and as bright
        ("Electra", 0.0, False),  # one of the Pleiades
    ],
)
def test_which_star_plainly_fits(name, north_deg, meant):
    star = catalogue.load().find(name)
    found, near = nearby.bright_stars(star.ra_deg, star.dec_deg + north_deg)
    assert (found.name if found else None) == (name if meant else None)
    assert all(off <= 1.0 for _, off in near)


def test_the_star_that_fits_does_outshine_the_others():
    """Tried at 300 places by the plain definition, with angles worked out another way."""
    rng = np.random.default_rng(3)
    stars = catalogue.load()
    bright = stars.brighter_than(4.5)
    several = 0
    for i in rng.choice(bright, 300):
        ra, dec = stars.ra_deg[i], stars.dec_deg[i] + rng.uniform(-0.9, 0.9)
        if abs(dec) > 89.0:
            continue
        found, _ = nearby.bright_stars(float(ra), float(dec))
        dra = np.radians(stars.ra_deg - ra)
        cos = np.sin(np.radians(dec)) * np.sin(stars.dec_rad)
        cos = cos + np.cos(np.radians(dec)) * np.cos(stars.dec_rad) * np.cos(dra)
        away = np.degrees(np.arccos(np.clip(cos, -1.0, 1.0)))
        mags = np.sort(stars.v_mag[away <= 2.0])
        best = np.min(stars.v_mag[away <= 1.0])
        lonely = not len(mags[mags != best]) or mags[mags != best][0] - best >= 1.5
        wanted = best <= 4.0 and lonely and mags[0] == best
        assert (found is not None) == wanted
        several += found is not None
    assert 60 < several < 290
