"""What "What went wrong?" advises is one press away, and does what it says."""

import dataclasses

from plumbstar.diagnose.explain.unmoved import unmoved
from plumbstar.kit.edit import with_keys
from plumbstar.mount.sighting import Sighting

from .server_rig import NIGHT, asynchronous, board, centre, rig, toml_for


def deeds_of(answer, do):
    return [x for c in answer["causes"] for x in c["deeds"] if x["do"] == do]


@asynchronous
async def test_a_wrong_star_is_entered_as_the_one_it_was(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        for name in ("Capella", "Rigel", "Pollux", "Alpheratz"):
            await r.sight(name)
        _, (az, alt) = r.truth("Bellatrix")
        said = await r.do(
            "sight", star="Betelgeuse", id=r.press(),
            reading={"az_deg": round(az, 2), "alt_deg": round(alt, 2)},
        )  # fmt: skip
        assert not said["asked"]
        why = await r.get("/data/why")
        assert why["causes"][0]["title"] == "Wrong star: Bellatrix was sighted for Betelgeuse"
        enter = why["causes"][0]["deeds"][0]
        assert (enter["do"], enter["button"]) == ("enter_as", "Enter it as Bellatrix")
        (other,) = enter["others"]
        await r.do("enter_as", those=[{"id": other["sighting_id"], "star": other["star"]}])
        s = await r.state()
        old, new = s["sightings"][-2:]
        assert (old["star"], old["set_aside"]) == ("Betelgeuse", True)
        assert (new["star"], new["set_aside"]) == ("Bellatrix", False)
        assert new["utc"] == old["utc"]
        assert new["az_reading_deg"] == old["az_reading_deg"]
        assert new["residual_arcmin"] < 15
        assert s["fix"]["mean_hit_chance"] > 0.9


@asynchronous
async def test_a_circle_that_runs_the_other_way_is_turned_by_one_press(tmp_path):
    """The kit says that the azimuth figures fall to the right, and they grow: the outing ends, and
    its stars stand in the next one as they were meant."""
    async with rig(tmp_path, encoders=False) as r:
        kit = (await r.state())["kit"]["toml"]
        await r.do("set_kit", toml=with_keys(kit, "[azimuth]", {"reversed": True}))
        for name in ("Capella", "Rigel", "Pollux", "Alpheratz"):
            await r.sight(name, sure=True)
        (turn, *_) = deeds_of(await r.get("/data/why"), "turn_circles")
        assert turn["asks"] == "Turn the telescope to the right: do the azimuth figures grow?"
        before = await r.state()
        await r.do("turn_circles", axes=turn["axes"])
        s = await r.state()
        assert s["kit"]["circles"]["az_reversed"] is False
        assert s["outing"]["id"] != before["outing"]["id"]
        assert [(x["star"], x["utc"]) for x in s["sightings"]] == [
            (x["star"], x["utc"]) for x in before["sightings"]
        ]
        assert s["fix"]["mean_hit_chance"] > 0.9
        old = await r.get(f"/data/log/{before['outing']['id']}")
        assert all(x["set_aside"] for x in old["sightings"])


@asynchronous
async def test_beside_encoders_the_stars_are_sighted_anew(tmp_path, quick_hands):
    """What they counted was not written down: the outing ends, and the next one has its plan. Only
    who started the pages with a file is told of the file."""
    async with board() as sim:
        kit = with_keys(toml_for(sim), "[azimuth]", {"reversed": True})
        async with rig(tmp_path, kit_text=kit) as r:
            for name in ("Capella", "Rigel"):
                await centre(r, sim, name)
                said = await r.do("sight", star=name, id=f"of-{name}-1")
                if said["asked"]:
                    await r.do("answer_doubt", id=f"of-{name}-1", save=True)
            before = await r.state()
            assert len(before["sightings"]) == 2
            for of_file in (True, False):
                await r.station.ask(lambda e, of=of_file: setattr(e.instrument, "of_file", of))
                await r.do("turn_circles", axes=["azimuth"])
                s = await r.state()
                assert s["kit"]["circles"]["az_reversed"] is not of_file
                text = next(
                    m["text"] for m in reversed(s["messages"]) if "kit is changed" in m["text"]
                )
                assert "Now sight the stars." in text
                assert ("reversed = false under [azimuth]" in text) is of_file
                assert "a file of your own" not in text
            assert s["sightings"] == []
            assert s["outing"]["id"] != before["outing"]["id"]


@asynchronous
async def test_a_check_writes_what_it_found_into_the_kit(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        body = {"id": "once-round", "inputs": {"readings": "0 -360 -720 -1080"}}
        said = (await r.do("check", **body))["result"]
        assert (said["state"], said["button"]) == ("mend", "Turn the figures round")
        await r.do("take_check", **body)
        assert (await r.state())["kit"]["circles"]["az_reversed"] is True
        good = {"id": "once-round", "inputs": {"readings": "0 -360 -720 -1080"}}
        assert (await r.do("check", **good))["result"]["button"] == "Turn the figures round"
        await r.do("take_check", status=400, id="once-round", inputs={"readings": "0 360 720 1080"})


@asynchronous
async def test_all_are_set_aside_at_once_where_nothing_explains_them(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        await r.sight("Capella")
        await r.sight("Rigel", off=(5.0, -5.0))
        await r.sight("Pollux", off=(-6.0, 6.0))
        await r.sight("Alpheratz", off=(3.0, 9.0))
        whole = [x for x in deeds_of(await r.get("/data/why"), "set_aside") if len(x["ids"]) == 4]
        assert whole[0]["button"] == "Set all sightings aside"
        await r.do("set_aside_these", ids=whole[0]["ids"], reason="What went wrong?")
        s = await r.state()
        assert all(x["set_aside"] for x in s["sightings"])
        assert s["fix"] is None
        assert "4 sightings" in s["undo"]["words"]
        await r.do("undo")
        assert not any(x["set_aside"] for x in (await r.state())["sightings"])


@asynchronous
async def test_after_a_move_a_star_is_not_entered_anew(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        for name in ("Capella", "Rigel"):
            await r.sight(name)
        await r.do("base_moved")
        s = await r.state()
        those = [{"id": s["sightings"][0]["id"], "star": "Bellatrix"}]
        await r.do("enter_as", status=400, those=those)
        assert [x["set_aside"] for x in (await r.state())["sightings"]] == [False, False]


@asynchronous
async def test_a_tube_that_did_not_move_is_said_first(tmp_path):
    async with rig(tmp_path, encoders=False) as r:
        await r.sight("Capella")
        await r.sight("Rigel")
        _, (az, alt) = r.truth("Rigel")
        body = {"star": "Pollux", "reading": {"az_deg": az, "alt_deg": alt}}
        press = r.press()
        if (await r.do("sight", id=press, **body))["asked"]:
            await r.do("answer_doubt", id=press, save=True)
        why = await r.get("/data/why")
        assert why["sentence"].startswith("The tube did not move between Rigel and Pollux")
        assert [x["button"] for x in why["deeds"]] == ["Set Rigel aside", "Set Pollux aside"]


def test_the_same_reading_of_one_star_or_of_neighbours_is_no_tube_at_rest():
    a = Sighting("A", 60.0, 50.0, 61.0, 51.0, NIGHT, "32 mm")
    near = dataclasses.replace(a, star="B", true_az_deg=62.0)
    far = dataclasses.replace(a, star="C", true_az_deg=120.0)
    elsewhere = dataclasses.replace(far, az_reading_deg=121.0)
    assert unmoved([a, a, near]) is None
    assert unmoved([a, elsewhere]) is None
    found = unmoved([a, elsewhere, near, far])
    assert (found.first, found.second) == (2, 3)
