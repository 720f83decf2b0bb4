"""Bright stars that nobody knows are sighted, kept, and named once their readings tell."""

import msgspec
import pytest

from plumbstar.contract.picture import Picture
from plumbstar.encoders.reading import NothingCentred, Reading
from plumbstar.simulate.hand import PretendHand
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.web.live.readings import REST_S

from .server_rig import DAY, Standing, asynchronous, at_rest, board, rig, toml_for

#: Three faint stars far in the south that two pairs of names fit (tests/nameless): at what minute,
#: and what the circles showed.
FAR_SOUTH = Site(-48.23922, 96.48833)
FAINT = ((34, 258.84, 43.16), (36, 246.44, 16.3), (38, 106.31, 19.51))


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
async def test_two_wrong_names_among_three_are_told_and_put_right(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        for star, called in (("Castor", "Pollux"), ("Bellatrix", "Betelgeuse"), ("Hamal", "Hamal")):
            _, (az, alt) = r.truth(star)
            reading = {"az_deg": round(az, 2), "alt_deg": round(alt, 2)}
            await r.do("sight", star=called, id=r.press(), reading=reading)
            r.times.go(60)
        s = await r.state()
        assert {o["star"] for o in s["fix"]["others"]} == {"Castor", "Bellatrix"}
        assert sum("does not fit the others" in note for note in s["fix"]["notes"]) == 2
        assert not any(x["set_aside"] for x in s["sightings"])
        why = await r.get("/data/why")
        assert why["sentence"].startswith("Two wrong stars: ")
        assert why["deeds"][0]["button"] == "Enter them as Castor and Bellatrix"
        assert why["deeds"][0]["others"] == s["fix"]["others"]
        those = [{"id": o["sighting_id"], "star": o["star"]} for o in s["fix"]["others"]]
        await r.do("enter_as", those=those)
        assert (await r.state())["undo"]["button"].endswith(" entered")
        await r.do("undo")  # one press entered them, one takes them back
        assert "Taken back" in str((await r.state())["messages"])
        assert [x["set_aside"] for x in (await r.state())["sightings"]] == [False] * 3
        await r.do("enter_as", those=those)
        s = await r.state()
        assert "Taken back" not in str(s["messages"])  # true no more
        assert s["fix"]["others"] == []
        used = {x["star"] for x in s["sightings"] if not x["set_aside"]}
        assert used == {"Castor", "Bellatrix", "Hamal"}
        assert s["fix"]["mean_hit_chance"] > 0.85


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
async def test_which_of_two_was_brighter_is_asked_answered_and_kept(tmp_path):
    times = Standing(Instant.parse("2027-05-15T12:30:12Z"))
    press = [f"faint-{k}-0001" for k in range(3)]
    async with rig(
        tmp_path, site=FAR_SOUTH, kit_text='name = "Plain"\n', encoders=False, times=times
    ) as r:
        for k, (minute, az, alt) in enumerate(FAINT):
            times.go(Instant.parse(f"2027-05-15T12:{minute}:12Z").to_unix() - times.t)
            reading = {"az_deg": az, "alt_deg": alt}
            await r.do("sight", star="?", id=press[k], reading=reading)
        asked = (await r.state())["nameless"]
        assert asked["question"] == "Which looked brighter, the second star or the third?"
        assert asked["pair"] == press[1:]
        assert asked["called"] == ["The second", "The third"]
        assert asked["press"] == ""
        await r.do("brighter_said", status=400, id=press[1], other="nobody-0001", was="brighter")
        await r.do("brighter_said", id=press[1], other=press[2], was="fainter")  # wrongly
        wrong = (await r.state())["nameless"]
        assert "κ Sco" in asked["names"][1]
        assert wrong["names"][1] != asked["names"][1]
        assert wrong["pair"] != asked["pair"]
    async with rig(
        tmp_path, site=FAR_SOUTH, kit_text='name = "Plain"\n', encoders=False, times=times
    ) as r:
        assert (await r.state())["nameless"]["names"] == wrong["names"]


@asynchronous
async def test_by_day_none_is_taken(tmp_path):
    async with rig(tmp_path, DAY, encoders=False) as r:
        said = await r.do(
            "sight", status=400, star="?", id=r.press(), reading={"az_deg": 10.0, "alt_deg": 40.0}
        )
        assert "Sun is up" in str(said)
        assert (await r.state())["nameless"] is None


@asynchronous
async def test_a_press_that_can_be_of_no_star_is_refused_and_not_sent_again(tmp_path):
    """The tube still stands on its stop, or is being pushed."""
    async with rig(tmp_path, encoders=False) as r:
        body = {
            "star": "?",
            "id": "press-on-the-stop",
            "reading": {"az_deg": 10.0, "alt_deg": 90.2},
        }
        said = await r.do("sight", status=400, **body)
        assert said["wants"] == "nothing"
        assert "on its stop" in said["error"]
        assert (await r.state())["nameless"] is None


@asynchronous
async def test_a_tube_that_is_being_pushed_shows_no_star(tmp_path, quick_hands):
    async with board() as sim, rig(tmp_path, kit_text=toml_for(sim)) as r:
        readings = await at_rest(r, sim, "Capella")
        now = readings.latest.at_monotonic
        places = {now: (100.0, 40.0), now - REST_S: (100.0, 37.0)}
        readings.source.reading_at = lambda at: Reading(*places[at], state="live")
        with pytest.raises(NothingCentred, match=r"it went 3\.0°"):
            readings.refuse_moving(now)
        places[now - REST_S] = (100.1, 40.1)
        readings.refuse_moving(now)


@asynchronous
async def test_any_bright_star_is_picked_for_whoever_points(tmp_path):
    """So that the pretend hand of the demo brings one to the middle; another one each time."""
    async with rig(tmp_path, encoders=False) as r:
        await r.do("aim_at", star="?")
        assert (await r.state())["aimed_star"] == "?"
        hand = PretendHand("http://127.0.0.1:1", ("127.0.0.1", 1))
        hand._on_state(msgspec.convert(await r.state(), Picture))
        first = hand._wish
        hand._on_state(msgspec.convert(await r.state(), Picture))
        assert hand._wish == first
        taken = []
        while (s := await r.state())["aimed_star"]:
            hand._on_state(msgspec.convert(s, Picture))
            assert hand._wish.star not in taken
            taken.append(hand._wish.star)
            assert len(taken) < 6
            await unknown(r, taken[-1])
        assert taken[0] == first.star
        assert [x["star"] for x in s["sightings"]] == taken
