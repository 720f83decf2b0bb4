"""By day: every place that the server names, from outside, by angles worked out another way."""

import math

import numpy as np
import pytest

from plumbstar.sky.bodies import Body
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.times import Instant

from .server_rig import SCENE, Listener, Standing, asynchronous, rig

MAY = Instant.parse("2027-05-12T11:00:00Z")


def sun_at(instant):
    return place_of(Body("Sun"), instant, SCENE.site)


def apart(a, b):
    """Haversine, degrees."""
    (az, alt), (az2, alt2) = np.radians(a), np.radians(b)
    h = math.sin((alt2 - alt) / 2) ** 2
    h += math.cos(alt) * math.cos(alt2) * math.sin((az2 - az) / 2) ** 2
    return math.degrees(2 * math.asin(math.sqrt(min(1.0, h))))


async def by_day_with_a_filter(r, stars):
    for name in stars:
        await r.sight(name)
        r.times.go(60)
    await r.do("start_outing")
    await r.do("confirm_filter", confirmed=True)


@pytest.mark.parametrize("stars", [["Alpheratz"], ["Alpheratz", "Capella", "Castor"]])
@asynchronous
async def test_no_stop_of_a_search_by_day_leads_near_the_sun(tmp_path, stars):
    """One star's fix is in doubt by degrees, and its search is wide; three stars' is sure."""
    async with rig(tmp_path, times=Standing(MAY)) as r:
        await by_day_with_a_filter(r, stars)
        seen = {}
        for name in ("Mirach", "Venus", "Algol", "Capella", "Castor", "Aldebaran"):
            await r.do("set_target", name=name)
            target = (await r.state())["target"]
            now = r.station.clock.now()
            away = apart(place_of(lookup.find_target(name), now, SCENE.site), sun_at(now))
            stops = 0
            while target and target["refused"] is None and stops < 25:
                goal = target["sweep"] or target
                if goal["az_reading_deg"] is None:
                    assert any("from the Sun" in w for w in target["warnings"])
                    break
                fix = r.station._evening.fix
                at = fix.pointing_of(goal["az_reading_deg"], goal["alt_reading_deg"])
                field = (await r.state())["kit"]["field_deg"]
                assert apart(at, sun_at(r.station.clock.now())) > 20.0 + field / 2, (name, stops)
                # The tube is there now: the way to the next begins here.
                await r.do(
                    "typed_reading",
                    az_deg=round(goal["az_reading_deg"], 2),
                    alt_deg=round(goal["alt_reading_deg"], 2),
                )
                await r.do("not_in_field")
                target = (await r.state())["target"]
                stops += 1
            seen[name] = (round(away), stops)
        assert seen["Aldebaran"] == (19, 0)
        assert max(n for _, n in seen.values()) > 3, seen  # it does lead somewhere


@asynchronous
async def test_no_way_is_shown_that_may_pass_the_sun_and_the_page_is_told(tmp_path):
    async with rig(tmp_path, times=Standing(MAY)) as r:
        await by_day_with_a_filter(r, ["Alpheratz", "Capella", "Castor"])
        await r.do("set_target", name="Alpheratz")  # in the south-west; the tube is in the east
        async with Listener(r.app) as phone:
            said = await phone.until(lambda n, d: n == "reading")
            assert said["sun_bars"]
            assert said["push"] is None
            assert not said["in_field"]
            target = (await r.state())["target"]
            assert target["refused"] is None
            assert target["az_reading_deg"] is None
            assert any("may pass" in w and "Cap the tube" in w for w in target["warnings"])
            # Brought round by hand: the way is shown, and every screen is painted anew.
            _, (az, alt) = r.truth("Mirach")
            await r.do("typed_reading", az_deg=round(az, 2), alt_deg=round(alt, 2))
            said = await phone.until(lambda n, d: n == "reading" and not d["sun_bars"])
            assert said["push"] is not None
            await phone.until(lambda n, d: n == "state" and d["target"]["az_reading_deg"])


@asynchronous
async def test_by_day_the_push_begins_at_a_reading_that_is_known(tmp_path):
    times = Standing(MAY)
    async with rig(tmp_path, times=times) as r:
        await by_day_with_a_filter(r, ["Alpheratz", "Capella", "Castor"])
    async with rig(tmp_path, times=times) as r:  # the server again: nothing was typed since
        await r.do("set_target", name="Castor")
        target = (await r.state())["target"]
        assert target["az_reading_deg"] is None
        assert any("Type what the circles read" in w for w in target["warnings"])
        _, (az, alt) = r.truth("Castor")
        await r.do("typed_reading", az_deg=round(az, 2), alt_deg=round(alt, 2))
        assert (await r.state())["target"]["az_reading_deg"] is not None
