"""Sites through the application: looked up as typed, kept by name, their time shown."""

import asyncio
from urllib.parse import quote

import pytest

from .server_rig import asynchronous, rig


@asynchronous
async def test_a_place_typed_is_read_found_or_refused_in_words(tmp_path):
    async with rig(tmp_path, site=None) as r:

        async def look(text):
            return await r.get(f"/data/place?q={quote(text)}")

        read = (await look("47°12'N 11°36'E 3084 ft"))["read"]
        assert (read["lat_deg"], read["lon_deg"]) == pytest.approx((47.2, 11.6))
        assert (read["words"], read["time_zone"]) == (
            "47.200° N, 11.600° E, 940 m",
            "Europe/Vienna",
        )
        found = await look("zurich")
        assert found["towns"][0]["label"] == "Zürich, Switzerland"
        assert found["towns"][0]["time_zone"] == "Europe/Zurich"
        await r.do("set_site", lat_deg=-31.5, lon_deg=21, name="Saltpan Flat")
        assert [s["name"] for s in (await look("saltpan"))["sites"]] == ["Saltpan Flat"]
        assert "could be" in (await look("47 12 11 36"))["error"]
        assert "says it twice" in (await look("47, -11 W"))["error"]
        assert "larger town" in (await look("qqqqzz"))["error"]
        assert (await look("")) == {"read": None, "sites": [], "towns": [], "error": ""}
        assert (await look("\x00" * 300))["error"]


@asynchronous
async def test_a_named_site_is_kept_with_all_it_was_given(tmp_path):
    async with rig(tmp_path, site=None) as r:
        ridge = {
            "name": "Thornback Ridge", "lat_deg": 47.2, "lon_deg": 11.6, "elevation_m": 940.0,
            "time_zone": "Europe/Vienna", "zenith_mag": 21.3,
        }  # fmt: skip
        await r.do("set_site", **ridge | {"time_zone": "europe/vienna"})
        await r.do("set_skyline", text="300:25 334:22")
        await r.do("set_site", name="Saltpan Flat", lat_deg=-31.5, lon_deg=21.0)
        s = await r.state()
        assert [k["name"] for k in s["sites"]] == ["Saltpan Flat", "Thornback Ridge"]
        assert s["skyline"]["points_deg"] == []
        await r.do("use_site", name="thornback ridge")
        s = await r.state()
        assert {k: s["site"][k] for k in ridge} == ridge
        assert s["skyline"]["points_deg"] == [[300, 25], [334, 22]]
        await r.do("use_site", status=400, name="Marsh")
        await r.do("set_site", status=400, **ridge | {"time_zone": "Europe/Roma"})
        await r.do("set_site", status=400, **ridge | {"zenith_mag": 3})
        await r.do("set_site", status=400, **ridge | {"name": "47.2 N 11.6 E"})
        assert (await r.state())["site"]["name"] == "Thornback Ridge"
        await r.do("forget_site", name="Saltpan Flat")
        assert [k["name"] for k in (await r.state())["sites"]] == ["Thornback Ridge"]
        # Under another name the same place keeps its trees.
        await r.do("set_site", **ridge | {"name": "Home"})
        assert (await r.state())["skyline"]["points_deg"] == [[300, 25], [334, 22]]


@asynchronous
async def test_zone_and_darkness_may_be_said_in_the_middle_of_an_outing(tmp_path):
    async with rig(tmp_path, site=None) as r:
        here = {"lat_deg": 47.2, "lon_deg": 11.6, "elevation_m": 940.0, "name": "Thornback Ridge"}
        await r.do("set_site", **here)
        await r.do("start_outing")
        await r.sight("Capella")
        await r.do("set_site", **here, time_zone="Europe/Vienna", zenith_mag=21.3)
        s = await r.state()
        assert (s["site"]["time_zone"], len(s["sightings"])) == ("Europe/Vienna", 1)
        # The log of that night speaks the clock of its own site, wherever one stands later.
        for told in ((await r.get("/data/log"))["outings"][0], await r.get("/data/log/1")):
            assert (told["clock"]["zone"], told["clock"]["spans"][0]["short"]) == (
                "Europe/Vienna",
                "CET",
            )
        await r.do("set_site", status=400, **here | {"lat_deg": 47.3})
    # And it is still known after a restart in the middle of the outing.
    async with rig(tmp_path, site=None) as r:
        s = await r.state()
        assert (s["site"]["time_zone"], len(s["sightings"])) == ("Europe/Vienna", 1)


@asynchronous
async def test_the_site_s_clock_is_told_and_the_sun_speaks_it(tmp_path):
    async with rig(tmp_path, site=None) as r:
        await r.do("set_site", lat_deg=47.2, lon_deg=11.6)
        s = await r.state()
        assert s["clock"]["zone"] == "UTC"
        assert [(x["offset_s"], x["short"]) for x in s["clock"]["spans"]] == [(0, "UTC")]
        assert " UTC" in s["sun"]["sentence"]
        await r.do("set_site", lat_deg=47.2, lon_deg=11.6, time_zone="Europe/Vienna")
        s = await r.state()
        assert [(x["offset_s"], x["short"]) for x in s["clock"]["spans"]] == [(3600, "CET")]
        assert " CET" in s["sun"]["sentence"]
        page = (await r.client.get("/card.html")).text
        assert "Times are UTC+1." in page
        await asyncio.sleep(0)
