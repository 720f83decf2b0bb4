"""Bright stars that nobody knows are sighted, kept, and named once their readings tell."""

from .server_rig import DAY, asynchronous, rig


async def unknown(r, star, **more):
    """Centre a star without saying which."""
    _, (az, alt) = r.truth(star)
    reading = {"az_deg": round(az, 2), "alt_deg": round(alt, 2)}
    return await r.do("sight", star="?", id=more.pop("id", None) or r.press(), reading=reading)


@asynchronous
async def test_three_stars_that_nobody_knows_become_sightings(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        first = await unknown(r, "Capella", id="press-of-capella")
        assert first["sighting_id"] is None
        r.times.go(60)
        await unknown(r, "Rigel")
        s = await r.state()
        assert s["sightings"] == []
        assert s["nameless"]["count"] == 2
        assert s["nameless"]["names"][0].startswith("The first star was Capella")
        assert "One more star decides" in s["nameless"]["next"]
        assert (s["next"]["do"], s["next"]["button"]) == ("sight", "Sight one more bright star")
        # Until they are named a chance allows for every naming.
        unsure = s["fix"]["mean_hit_chance"]
        # Sent again after the link was lost: the same press, kept once.
        again = await unknown(r, "Capella", id="press-of-capella")
        assert again["again"]
        assert (await r.state())["nameless"]["count"] == 2
        r.times.go(60)
        await unknown(r, "Hamal")
        s = await r.state()
        assert s["nameless"] is None
        assert [x["star"] for x in s["sightings"]] == ["Capella", "Rigel", "Hamal"]
        assert s["fix"]["mean_hit_chance"] > max(unsure + 0.1, 0.9)
        assert any("Capella, Rigel and Hamal" in m["text"] for m in s["messages"])
        assert (await unknown(r, "Capella", id="press-of-capella"))["again"]
        # Beside stars that are known one alone has its name at once.
        done = await unknown(r, "Bellatrix")
        assert done["sighting_id"] is not None
        assert (await r.state())["sightings"][-1]["star"] == "Bellatrix"


@asynchronous
async def test_one_is_taken_back_a_colour_is_answered_and_a_restart_keeps_them(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        await unknown(r, "Betelgeuse", id="press-of-betel")
        before = (await r.state())["nameless"]["names"][0]
        await r.do("colour_said", id="press-of-betel", orange=True)
        after = (await r.state())["nameless"]
        assert after["names"][0] != before
        assert after["question"] == ""
        await r.do("forget_nameless")
        s = await r.state()
        assert s["nameless"] is None
        assert s["fix"] is None
        await r.do("forget_nameless", status=400)
        await unknown(r, "Capella")
        times = r.times
    async with rig(tmp_path, encoders=False, times=times) as r:  # after a restart
        assert (await r.state())["nameless"]["count"] == 1
        await r.do("base_moved")
        assert (await r.state())["nameless"] is None
        await unknown(r, "Rigel", id="press-of-rigel")
        assert (await r.state())["nameless"]["count"] == 1


@asynchronous
async def test_by_day_none_is_taken(tmp_path):
    async with rig(tmp_path, DAY, encoders=False) as r:
        said = await r.do(
            "sight", status=400, star="?", id=r.press(), reading={"az_deg": 10.0, "alt_deg": 40.0}
        )
        assert "Sun is up" in str(said)
        assert (await r.state())["nameless"] is None
