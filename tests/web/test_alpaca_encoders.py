"""The device with a simulated board: live readings, a slew pushed by hand, silence."""

from __future__ import annotations

import asyncio

import numpy as np

import patience
from plumbstar.sky import ofdate
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of

from .server_rig import SCENE, asynchronous, board, centre, evening_clock, live, toml_for
from .test_alpaca_protocol import chart

PLACE = ("rightascension", "declination", "azimuth", "altitude")


def now_of_date(r, name):
    """Right ascension in hours and declination in degrees, as a chart would send them."""
    now = r.station.clock.now()
    az, alt = place_of(lookup.find_target(name), now, SCENE.site)
    ra, dec = np.degrees(ofdate.from_horizon(az, alt, now, SCENE.site))
    return {"RightAscension": float(ra) / 15.0, "Declination": float(dec)}


@asynchronous
async def test_an_evening_with_encoders(tmp_path, quick_hands):
    async with (
        board() as sim,
        chart(tmp_path, slews=True, kit_text=toml_for(sim), times=evening_clock()) as c,
    ):
        await live(c.r)
        for name in ("Capella", "Rigel", "Pollux", "Alpheratz"):
            await centre(c.r, sim, name)
            got = await c.put("synctocoordinates", **now_of_date(c.r, name))
            assert got["ErrorNumber"] == 0, got
        sightings = (await c.r.state())["sightings"]
        assert [s["star"] for s in sightings] == ["Capella", "Rigel", "Pollux", "Alpheratz"]
        assert {s["origin"] for s in sightings} == {"encoders"}

        # A slew goes on while the tube is pushed, and ends in the field.
        to = now_of_date(c.r, "Betelgeuse")
        assert (await c.put("slewtocoordinatesasync", **to))["ErrorNumber"] == 0
        assert await c.value("slewing")
        await centre(c.r, sim, "Procyon")
        assert await c.value("slewing")
        await centre(c.r, sim, "Betelgeuse")
        assert not await c.value("slewing")

        # Four sightings, one tick 0.04 deg: the place told is within the widest field's half.
        ra, dec = await c.value("rightascension"), await c.value("declination")
        here = now_of_date(c.r, "Betelgeuse")
        across = (ra - here["RightAscension"]) * 15.0 * np.cos(np.radians(dec))
        assert np.hypot(across, dec - here["Declination"]) < 0.3
        az, alt = place_of(lookup.find_target("Betelgeuse"), c.r.station.clock.now(), SCENE.site)
        assert abs(await c.value("altitude") - alt) < 0.3
        assert abs(await c.value("azimuth") - az) * np.cos(np.radians(alt)) < 0.3

        # Standing still the tube's right ascension grows with the sidereal time, and no slower.
        first = await c.value("rightascension") - await c.value("siderealtime")
        await asyncio.sleep(0.5)
        second = await c.value("rightascension") - await c.value("siderealtime")
        assert abs(first - second) * 3600.0 < 0.2


@asynchronous
async def test_a_board_that_falls_silent_points_nowhere(tmp_path, quick_hands):
    async with (
        board() as sim,
        chart(tmp_path, kit_text=toml_for(sim), times=evening_clock()) as c,
    ):
        await live(c.r)
        for name in ("Capella", "Rigel", "Alpheratz"):
            await centre(c.r, sim, name)
            await c.put("synctocoordinates", **now_of_date(c.r, name))
        assert (await c.get("rightascension"))["ErrorNumber"] == 0
        sim.command({"silent": 30})
        async with asyncio.timeout(patience.SECONDS):
            while c.r.station.readings.latest.state == "live":
                await asyncio.sleep(0.05)
        for member in ("rightascension", "altitude"):
            got = await c.get(member)
            assert got["ErrorNumber"] != 0
            assert "No reading now" in got["ErrorMessage"]
        await asyncio.sleep(1.3)  # the last reading is taken to hold for 1.2 s
        got = await c.put("synctocoordinates", **now_of_date(c.r, "Rigel"))
        assert got["ErrorNumber"] != 0
        assert "no reading" in got["ErrorMessage"].lower()
        assert len((await c.r.state())["sightings"]) == 3


async def told_no_place(c):
    for member in PLACE:
        got = await c.get(member)
        assert got["ErrorNumber"] != 0, member
        assert "may have slipped or moved" in got["ErrorMessage"]


async def told_the_place_of(c, name):
    for member in PLACE:
        assert (await c.get(member))["ErrorNumber"] == 0, member
    here = now_of_date(c.r, name)
    assert abs(await c.value("declination") - here["Declination"]) < 0.3


@asynchronous
async def test_where_something_may_have_slipped_or_moved_no_place_is_told(tmp_path):
    """A chart would draw the telescope where it is not, and nobody would see it."""
    async with (
        board(55.0) as sim,
        chart(tmp_path, kit_text=toml_for(sim), times=evening_clock()) as c,
    ):
        await live(c.r)
        for name in ("Capella", "Rigel", "Alpheratz"):
            await centre(c.r, sim, name)
            await c.put("synctocoordinates", **now_of_date(c.r, name))
        await told_the_place_of(c, "Alpheratz")

        # "I moved or knocked the base": until stars have told how it stands now.
        await c.r.do("base_moved")
        await told_no_place(c)
        for name in ("Capella", "Pollux"):
            await centre(c.r, sim, name)
            got = await c.put("synctocoordinates", **now_of_date(c.r, name))
            assert got["ErrorNumber"] == 0, got
        await told_the_place_of(c, "Pollux")

        # A circle that slips, seen by its jump: until it is said that none has, or a star tells.
        sim.command({"slip_deg": [30.0, 0.0]})
        async with asyncio.timeout(patience.SECONDS):
            while (await c.r.state())["slip"] is None:
                await asyncio.sleep(0.05)
        await told_no_place(c)
        await centre(c.r, sim, "Rigel")
        await told_no_place(c)
        got = await c.put("synctocoordinates", **now_of_date(c.r, "Rigel"))
        assert got["ErrorNumber"] == 0, got
        await told_the_place_of(c, "Rigel")


@asynchronous
async def test_where_the_sightings_contradict_one_another_no_place_is_told(tmp_path):
    async with chart(tmp_path) as c:
        await c.r.sight("Capella")
        await c.r.sight("Rigel")
        await c.point("Rigel")
        assert (await c.get("rightascension"))["ErrorNumber"] == 0
        await c.r.do("undo")
        await c.r.sight("Rigel", off=(5.0, -5.0), sure=True)
        await c.r.sight("Pollux", off=(-6.0, 6.0), sure=True)
        assert (await c.r.state())["fix"]["contradictory"]
        await c.point("Pollux")
        await told_no_place(c)
