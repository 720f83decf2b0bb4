"""What the pages are told of the evening's order."""

from __future__ import annotations

import json

import pytest

from plumbstar.web.views import agenda

from .server_rig import DAY, NIGHT, Standing, asynchronous, rig


@asynchronous
async def test_the_order_stays_and_what_is_found_is_ticked_off(tmp_path):
    times = Standing(NIGHT)
    async with rig(tmp_path, times=times) as r:
        first = await r.get("/data/agenda?hours=2&kind=all&hardest=fair")
        assert first["next"] == first["visits"][0]
        assert first["next"]["hit_chance"] is None
        assert first["late"] is None
        assert len(first["visits"]) > 6
        assert {v["difficulty"] for v in first["visits"]} <= {"easy", "fair"}
        assert first["more_count"] >= len(first["more"]) > 0
        for v in first["visits"]:
            assert v["reason"].endswith(".")
            assert v["done"] is False
        json.dumps(first, allow_nan=False)

        await r.sight("Capella")
        await r.sight("Rigel")
        again = await r.get("/data/agenda?hours=2&kind=all&hardest=fair")
        names = [v["name"] for v in first["visits"]]
        assert [v["name"] for v in again["visits"]] == names
        assert 0.0 < again["next"]["hit_chance"] <= 1.0

        # Found: ticked off at the head of the list, and the next one is next.
        await r.do("set_target", name=names[0])
        _, (az, alt) = r.truth(names[0])
        await r.do(
            "here_centred", id=r.press(), reading={"az_deg": round(az, 2), "alt_deg": round(alt, 2)}
        )
        third = await r.get("/data/agenda?hours=2&kind=all&hardest=fair")
        assert third["visits"][0]["name"] == names[0]
        assert third["visits"][0]["done"] is True
        assert third["next"]["name"] == names[1]

        # Half an hour late: it says so, and keeps the order of what is left.
        times.go(45 * 60)
        late = await r.get("/data/agenda?hours=2&kind=all&hardest=fair")
        assert "later than planned" in late["late"]
        left = [v["name"] for v in late["visits"] if not v["done"]]
        kept = [n for n in left if n in names]
        assert kept == sorted(kept, key=names.index)
        assert len(kept) >= 0.7 * len(left)


@asynchronous
async def test_what_longer_costs_is_told_and_the_order_stays(tmp_path):
    async with rig(tmp_path) as r:
        order = "hours=2&kind=all&hardest=fair"
        before = await r.get(f"/data/agenda?{order}")
        names = [v["name"] for v in before["visits"]]
        ten = await r.get(f"/data/longer?{order}&minutes=10")
        hour = await r.get(f"/data/longer?{order}&minutes=60")
        assert ten["minutes"] == 10
        assert set(ten["lost"]) < set(hour["lost"]) < set(names)
        assert hour["answer"].startswith("60 minutes more here would cost ")
        for v in before["visits"]:
            assert (v["name"] in hour["lost"]) == (
                v["label"] in hour["answer"].split(" In the gap")[0]
            )
        after = await r.get(f"/data/agenda?{order}")
        assert [v["name"] for v in after["visits"]] == names
        for bad in ("0", "nan", "soon", "121"):
            refused = await r.get(f"/data/longer?{order}&minutes={bad}", status=400)
            assert bad in refused["error"]


@asynchronous
async def test_the_stars_are_chosen_for_the_list(tmp_path):
    """Once tonight's order has been asked for, pairs are scored by where its objects stand."""
    async with rig(tmp_path) as r:
        await r.do("choose", stars=2)
        await r.quiet()
        sky = (await r.state())["choice"]
        assert sky["for_objects"] == 0
        order = await r.get("/data/agenda?hours=2&kind=galaxy")
        await r.do("choose", stars=2)
        await r.quiet()
        ours = (await r.state())["choice"]
        assert ours["for_objects"] == len(order["visits"]) > 3
        assert "tonight's objects" in ours["sentence"]
        assert ours["pairs"][0]["mean_hit_chance"] != sky["pairs"][0]["mean_hit_chance"]


@asynchronous
async def test_what_stands_well_now_is_judged_as_the_order_is(tmp_path, monkeypatch):
    async with rig(tmp_path) as r:
        await r.sight("Capella")
        await r.sight("Rigel")
        now = (await r.get("/data/tonight"))["results"]
        assert all(t["up"] and 0.0 <= t["hit_chance"] <= 1.0 for t in now)
        order = await r.get("/data/agenda?hours=24")
        known = {v["target_name"] for v in order["visits"] + order["more"]}
        assert len(now) == 20
        assert {t["name"] for t in now} <= known
        monkeypatch.setattr(agenda, "MOST_WELL_PLACED", 60)  # among so many there is a double star
        now = (await r.get("/data/tonight"))["results"]
        assert any(t["double"] for t in now)
        for t in now:
            await r.do("set_target", name=t["name"])


@asynchronous
async def test_by_day_nothing_stands_well(tmp_path):
    async with rig(tmp_path, DAY) as r:
        assert (await r.get("/data/tonight"))["results"] == []


@asynchronous
async def test_wishes(tmp_path):
    async with rig(tmp_path) as r:
        doubles = await r.get("/data/agenda?hours=1&kind=double&hardest=easy")
        assert doubles["visits"]
        assert all(v["what"].startswith("Double star") for v in doubles["visits"])
        own = await r.get("/data/agenda?hours=1&kind=own")
        assert own["visits"] == []
        assert own["next"] is None
        assert own["answer"].startswith("Nothing of that kind")
        # A pair is pushed to by its star's name.
        assert (await r.do("set_target", name=doubles["visits"][0]["name"]))["ok"]


@asynchronous
async def test_new_to_me(tmp_path):
    async with rig(tmp_path) as r:
        await r.sight("Capella")
        await r.sight("Rigel")
        before = await r.get("/data/agenda?hours=3&new=1")
        name = before["visits"][2]["name"]
        await r.do("set_target", name=name)
        _, (az, alt) = r.truth(name)
        await r.do(
            "here_centred", id=r.press(), reading={"az_deg": round(az, 2), "alt_deg": round(alt, 2)}
        )
        await r.do("end_outing")
        after = await r.get("/data/agenda?hours=3&new=1")
        assert name not in {v["name"] for v in after["visits"] + after["more"]}
        assert name in {v["name"] for v in (await r.get("/data/agenda?hours=3"))["visits"]}


@pytest.mark.parametrize(
    ("query", "word"),
    [
        ("hours=nan", "hours"),
        ("hours=99", "hours"),
        ("kind=comet", "kind"),
        ("hardest=very", "difficulty"),
    ],
)
def test_words_that_mean_nothing_are_refused(tmp_path, query, word):
    @asynchronous
    async def run(tmp_path):
        async with rig(tmp_path) as r:
            got = await r.client.get(f"/data/agenda?{query}")
            assert got.status_code == 400
            assert word in got.json()["error"]

    run(tmp_path)


@asynchronous
async def test_no_site_is_said(tmp_path):
    async with rig(tmp_path, site=None) as r:
        assert (await r.client.get("/data/agenda")).status_code == 400


@asynchronous
async def test_what_is_supposed_changes_nothing_that_is(tmp_path):
    async with rig(tmp_path, times=Standing(NIGHT)) as r:
        asked = "/data/agenda?hours=3&kind=all&hardest=fair"
        is_ = await r.get(asked)
        assert is_["supposed"] == ""
        city = await r.get(f"{asked}&if=1&zenith=18.0&seeing=4&cloudy=south&settled=1")
        assert city["supposed"] == (
            "As if the sky were brighter (18.0 for 21.0), and the air were less calm (stars 4.0″ "
            "wide), and clouds covered the south."
        )
        assert (city["zenith_mag"], city["seeing_arcsec"]) == (18.0, 4.0)
        assert city["visits"]
        assert city["more"] == []
        assert not any("south, " in v["where"] for v in city["visits"])
        quick = await r.get(f"{asked}&if=1&zenith=18.0&seeing=4&cloudy=south")
        assert {v["name"] for v in quick["visits"]} & {v["name"] for v in city["visits"]}
        again = await r.get(asked)
        assert [v["name"] for v in again["visits"]] == [v["name"] for v in is_["visits"]]
        for wrong in ("zenith=30", "zenith=x", "seeing=0", "cloudy=up", "site=Nowhere"):
            said = await r.get(f"{asked}&if=1&{wrong}", status=400)
            assert said["remedy"]
