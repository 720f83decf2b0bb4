"""The evening beside a closed controller, through the server: from ticks to objects found."""

import math
import re

import numpy as np

from plumbstar import kit as kits
from plumbstar.diagnose.score import score_of
from plumbstar.simulate.closed_telescope import ClosedTelescope, Order
from plumbstar.sky.times import Instant

from .server_rig import NIGHT, SCENE, Standing, asynchronous, rig

STARS = ["Capella", "Hamal", "Aldebaran", "Menkar", "Dubhe", "Procyon"]


class Evening:
    """An observer between the simulated controller and the page."""

    def __init__(self, r, favoured="second", slow_s=0.0, scene=SCENE):
        """``slow_s``: by how much the page's clock is behind the sky's."""
        self.r = r

        def now():
            return Instant.from_unix(r.times.t + slow_s)

        self.tube = ClosedTelescope(scene.site, now, scene.hidden, favoured=favoured)

    async def enter(self, event, status=200, **more):
        return await self.r.do(
            "controller_entry", status=status, id=self.r.press(), event=event, **more
        )

    async def beside(self):
        return (await self.r.state())["beside"]

    async def align(self, a, b):
        await self.r.do("pick", stars=[a, b])
        await self.to_the_number(a, b)
        await self.look_back(b)

    async def to_the_number(self, a, b):
        self.tube.obey(Order(do="upright"))
        await self.enter("upright")
        for name in (a, b):
            self.r.times.go(25)
            self.tube.obey(Order(do="centre", name=name))
            lines = self.tube.obey(Order(do="star", name=name))
            await self.enter("star", star=name)
        await self.enter("number", number_deg=lines.number_deg)

    async def look_back(self, b):
        await self.centred(b, self.tube.obey(Order(do="object", name=b)))

    async def centred(self, name, lines):
        left = {"left_az_deg": lines.left_az_deg, "left_alt_deg": lines.left_alt_deg}
        await self.enter("centred", star=name, **left)

    async def find(self, name):
        """Pushed on from the zero; whether it was in the field, and centred then."""
        self.r.times.go(240)
        await self.r.do("set_target", name=name)
        push = (await self.beside())["push"]
        self.tube.obey(Order(do="object", name=push["from_name"]))
        self.tube.obey(Order(do="zero"))
        self.tube.obey(Order(do="push", right_deg=push["push_az_deg"], up_deg=push["push_alt_deg"]))
        self.tube.obey(Order(do="object", name=name))
        off = self.tube.truth().off_deg
        self.tube.obey(Order(do="centre", name=name))
        await self.centred(name, self.tube.obey(Order(do="look")))
        return off


@asynchronous
async def test_from_ticks_to_six_objects(tmp_path):
    async with rig(tmp_path) as r:
        assert (await r.state())["beside"] is None
        await r.do("set_controller", stars=STARS, clock="unknown", sign="measured-minus-true")
        e = Evening(r)
        assert (await e.beside())["step"] == "pair"
        await e.enter("number", status=400, number_deg=1.0)
        await e.align("Capella", "Hamal")
        seen = await e.beside()
        assert seen["step"] == "find"
        assert seen["sharing"][0]["way"] == "second"
        assert "in the 32 mm field" in seen["answer"]
        # A good evening is not told that something may be wrong as often as on any other.
        assert seen["mistakes"] == []
        offs = [await e.find(n) for n in ("M 37", "M 42", "M 81", "M 35", "M 1", "M 31")]
        field = (await r.state())["kit"]["field_deg"]
        assert sum(off < field / 2 for off in offs[1:]) >= 4
        assert len((await e.beside())["finds"]) == 6
        # What was promised of each is kept with it; the look back was none.
        kept = score_of(r.book, kits.loads(r.book.outings()[0].kit_text))
        assert (kept.pushes, kept.landed) == (6, sum(off < field / 2 for off in offs))
        assert 4.0 < kept.promised < 6.0
        assert "promised to land" in (await r.get("/data/mount"))["pushes"]
        # What was pressed is in the logbook: it is there after a restart, and taken back whole.
        await r.do("controller_back")
        assert len((await e.beside())["finds"]) == 5


@asynchronous
async def test_a_look_back_is_made_with_the_tube_where_it_was(tmp_path):
    """The sky has drifted by 0.3 degrees since the second tap, and the star with it."""
    async with rig(tmp_path) as r:
        await r.do("set_controller", stars=STARS, clock="unknown", sign="measured-minus-true")
        await r.do("pick", stars=["Capella", "Hamal"])
        e = Evening(r)
        await e.to_the_number("Capella", "Hamal")
        r.times.go(90)
        await e.look_back("Hamal")
        likeliest = (await e.beside())["sharing"][0]
        assert likeliest["way"] == "second"
        assert likeliest["probability"] > 0.995


@asynchronous
async def test_a_press_sent_twice_is_one_and_bad_ones_are_told(tmp_path):
    async with rig(tmp_path) as r:
        await r.do("set_controller", stars=STARS)
        await r.do("pick", stars=["Capella", "Hamal"])
        for _ in (1, 2):
            await r.do("controller_entry", id="press-same", event="star", star="Capella")
        e = Evening(r)
        assert [t["star"] for t in (await e.beside())["taps"]] == ["Capella"]
        await e.enter("star", status=400, star="Capella")
        await e.enter("star", status=400, star="M 31")
        await e.enter("star", star="Hamal")
        await e.enter("number", status=400, number_deg=500.0)
        await e.enter("centred", status=400, star="M 31", left_az_deg=0.4)


@asynchronous
async def test_pairs_come_from_its_own_list(tmp_path):
    async with rig(tmp_path) as r:
        await r.do("set_controller", stars=STARS, clock="no")
        await r.do("choose")
        await r.quiet()
        pairs = (await r.state())["choice"]["pairs"]
        assert pairs
        assert {s for p in pairs for s in p["stars"]} <= set(STARS)
        assert pairs[0]["mean_hit_chance"] > pairs[0]["hit_chance_trusting_stop"]


@asynchronous
async def test_the_stop_over_nights_and_what_mend_says(tmp_path):
    async with rig(tmp_path) as r:
        await r.do("set_controller", stars=STARS, clock="yes", sign="measured-minus-true")
        none = await r.get("/data/mount")
        assert none["outings"] == 0
        e = Evening(r)
        for night in (1, 2):
            await r.do("start_outing")
            await e.align("Capella", "Hamal")
            await e.find("M 37")
            why = await r.get("/data/why")
            assert "Nothing went wrong" in why["sentence"], why
            mend = why["measured"][0]["mend"]
            assert re.search(r"so that the tube stands \d\.\d° (lower|higher)\. ", mend), mend
            # Earlier nights are known: the way of sharing before anything is shown, and the stop.
            mount = await r.get("/data/mount")
            assert mount["outings"] == night
            await r.do("end_outing")
            r.times.go(86400.0 if night == 1 else 60.0)
        (stop,) = mount["terms"]
        truth = e.tube.truth().altitude_zero_deg
        assert abs(stop["value_deg"] - truth) < 3.0 * stop["sigma_deg"], (stop, truth)
        assert len(stop["points"]) == 2
        assert stop["sigma_deg"] < 0.5
        # A mend of another term leaves what is known of the stop; one of the stop moves it.
        kit_name = r.book.outings()[0].kit_name
        r.book.add_mend(kit_name, ["cone"], "collimated", Instant.from_unix(r.times.t))
        again = await r.get("/data/mount")
        assert again["outings"] == 2
        assert again["terms"][0]["value_deg"] == stop["value_deg"]
        assert again["stop_work"]["last"] is None
        await r.do("shimmed", id="shims-0001", pieces=[{"thickness_mm": 1.0, "count": 2}])
        shimmed = await r.get("/data/mount")
        assert shimmed["outings"] == 2
        assert shimmed["shims"] is None
        assert "Since the last mend" in shimmed["sentence"]
        assert "2 x 1 mm put in" in shimmed["stop_work"]["last"]["sentence"]
        assert shimmed["terms"][0]["sigma_deg"] > stop["sigma_deg"]
        checks = await r.get("/data/checks")
        assert len(checks["cannot"]) == 4
        for s in checks["cannot"]:  # and what is done instead
            assert "not beside your controller" in s
            assert "Instead, at night: " in s or "from the objects that you find" in s
        outing = await r.get("/data/log/1")
        assert [s["what"] for s in outing["shown"]][:2] == ["Tube on the stop", "Star: Capella"]


@asynchronous
async def test_what_the_controller_does_not_know_is_found_beside_its_neighbour(tmp_path):
    async with rig(tmp_path) as r:
        await r.do("set_controller", stars=STARS, clock="yes")
        await r.do("pick", stars=["Capella", "Hamal"])
        e = Evening(r)
        await e.align("Capella", "Hamal")
        await e.find("M 37")
        r.times.go(120)
        await r.do("set_target", name="Saturn")
        push = (await e.beside())["push"]
        assert not push["known"]
        near = push["from_name"]
        e.tube.obey(Order(do="object", name=near))
        e.tube.obey(Order(do="centre", name="Saturn"))
        lines = e.tube.obey(Order(do="object", name=near))
        left = {"left_az_deg": lines.left_az_deg, "left_alt_deg": lines.left_alt_deg}
        assert abs(-lines.left_az_deg - push["push_az_deg"]) < 0.6, (left, push)
        await e.enter("centred", star="Saturn", chosen=near, **left)
        seen = await e.beside()
        assert [f["target"] for f in seen["finds"]] == ["M 37", "Saturn"]
        assert not seen["mistakes"], seen["mistakes"]
        # Undo on another page takes it out of the log and out of what the pushes go by.
        await r.do("undo")
        assert [f["target"] for f in (await e.beside())["finds"]] == ["M 37"]
        # A search that ends without it, or is given up, is in the log as well.
        await r.do("set_target", name="M 1")
        await r.do("controller_not_here")
        await r.do("clear_target")
        assert [f["found"] for f in (await e.beside())["finds"]] == [True, False]


@asynchronous
async def test_a_restart_that_names_another_kit_goes_on_beside_the_controller(tmp_path):
    async with rig(tmp_path, kit_text=kits.example_text()) as r:
        await r.do("set_controller", stars=STARS, clock="yes")
        e = Evening(r)
        await e.align("Capella", "Hamal")
        times = r.times
    async with rig(tmp_path, kit_text=kits.example_text(), times=times) as r:
        seen = (await r.state())["beside"]
        assert seen is not None
        assert seen["step"] == "find"
        assert len(seen["taps"]) == 3


async def _what_it_comes_to(r):
    """The stop and the push to M 42, as the evening now stands."""
    await r.do("set_target", name="M 42")

    def told(e):
        return (*e.beside.outlook.stop(), *e.beside.push_on().push)

    return await r.station.ask(told)


async def _aligned_and_one_find(r, slow_s=0.0):
    await r.do("set_controller", stars=STARS, clock="yes", sign="measured-minus-true")
    e = Evening(r, slow_s=slow_s)
    await e.align("Capella", "Hamal")
    r.times.go(240)
    e.tube.obey(Order(do="centre", name="M 37"))
    await e.centred("M 37", e.tube.obey(Order(do="object", name="M 37")))
    return e


@asynchronous
async def test_a_wrong_clock_corrected_corrects_what_was_tapped_beside_the_controller(tmp_path):
    """Two hours: the sky has turned by 30 degrees, and the stars stood elsewhere."""
    slow = 2 * 3600.0
    async with rig(tmp_path / "right") as r:
        await _aligned_and_one_find(r)
        right = await _what_it_comes_to(r)
    times = Standing(NIGHT.plus_seconds(-slow))
    async with rig(tmp_path / "wrong", times=times) as r:
        e = await _aligned_and_one_find(r, slow)
        await r.do("use_phone_time", phone_ms=(times.t + slow) * 1000, round_trip_ms=1)
        wrong = await _what_it_comes_to(r)
        assert max(abs(a - b) for a, b in zip(wrong, right, strict=True)) > math.radians(0.3)
        offer = (await r.state())["timing"]["offer"]
        assert offer["sentence"].startswith(
            "These 6 presses beside the controller were timed by the wrong clock: correct them by"
        )
        await r.do("correct_times", count=offer["count"], by=offer["by"])
        assert (await r.state())["timing"]["offer"] is None
        mended = await _what_it_comes_to(r)
        assert max(abs(a - b) for a, b in zip(mended, right, strict=True)) < math.radians(0.005)
        log = await r.get("/data/log/1")
        assert log["shown"][0]["shown"] == f"time corrected by {offer['by']}"
        assert log["shown"][1]["utc"][:16] == NIGHT.plus_seconds(25).iso()[:16]
        assert (await e.beside())["finds"][-1]["target"] == "M 37"
        await r.do("undo")
        assert (await r.state())["timing"]["offer"]["count"] == 6
        again = await r.get("/data/log/1")
        assert again["shown"][0]["shown"] == ""


@asynchronous
async def test_a_search_in_vain_teaches_the_next_push(tmp_path):
    async with rig(tmp_path) as r:
        await r.do("set_controller", stars=STARS, clock="yes")
        await r.do("pick", stars=["Capella", "Hamal"])
        e = Evening(r)
        await e.to_the_number("Capella", "Hamal")
        await r.do("set_target", name="M 81")
        untaught = await r.station.ask(lambda e: e.beside.push_on())
        before = untaught.lies.hit_chance
        await r.do("set_target", name="M 42")
        said = (await e.beside())["push"]
        for _ in range(3):
            await r.do("controller_not_here")
        stops = (await e.beside())["push"]["sweep"]["stops_deg"]
        await r.do("clear_target")
        kept = await r.station.ask(lambda e: e.display.entries[-1])
        assert (kept.event, kept.star, kept.chosen) == ("missed", "M 42", "")
        assert [f["now"] for f in (await e.beside())["finds"]] == [True]  # it was just given up
        # The three fields looked at, and not the fourth, as they lay from the zero.
        first = (said["push_az_deg"], said["push_alt_deg"])
        assert max(abs(a - b) for a, b in zip(kept.looked[0], first, strict=True)) < 0.02
        up = [round(b - kept.looked[0][1], 2) for _, b in kept.looked]
        assert up == [round(s[1], 2) for s in stops[:3]]
        await r.do("set_target", name="M 81")
        taught = await r.station.ask(lambda e: e.beside.push_on())
        # Where it was aimed before, one in twenty is lost at least: that is what the search taught.
        # The push aims elsewhere now and wins some of it back, and how much of it depends on the
        # mount: so of the chance stated no more is promised than that it is less than before.
        beside = np.degrees(taught.lies.cloud - (untaught.on_sky - taught.on_sky))
        half = (await r.state())["kit"]["field_deg"] / 2.0
        as_aimed_before = float(np.mean(np.hypot(*beside.T) < half))
        after = taught.lies.hit_chance
        assert as_aimed_before < before - 0.05, (before, as_aimed_before)
        assert as_aimed_before <= after + 0.02, (as_aimed_before, after)
        assert after < before, (before, after)
        await r.do("set_target", name="M 42")
        once_more = (await e.beside())["push"]
        # Chosen again it is not done with, but pushed to anew.
        assert [f["now"] for f in (await e.beside())["finds"]] == [False]
        assert once_more["warnings"] == [
            "You looked for it in 3 fields before. This aims beside them."
        ]
        across = math.cos(math.radians((await r.state())["target"]["alt_deg"]))
        for az, alt in kept.looked:
            there = once_more["push_az_deg"] - az, once_more["push_alt_deg"] - alt
            assert math.hypot(there[0] * across, there[1]) > 0.45
        await r.do("controller_not_here")
        way = (await e.beside())["push"]["sweep"]["stops_deg"]
        looked = [
            (az - once_more["push_az_deg"], alt - once_more["push_alt_deg"])
            for az, alt in kept.looked
        ]
        for right, up in way[:4]:  # nor does the search begin where it looked before
            assert all(math.hypot(right - az * across, up - alt) > 0.4 for az, alt in looked)
        await r.do("one_field_back")
        await r.do("set_target", name="M 81")
        await r.do("controller_back")
        again = (await e.beside())["push"]["hit_chance"]
        assert abs(again - before) < 0.005, (before, again)


@asynchronous
async def test_without_encoders_the_pages_stay_beside_the_controller(tmp_path):
    """As `demo --controller --serve` and `serve --no-encoders` do: it asked for readings."""
    async with rig(tmp_path, encoders=False) as r:
        assert (await r.state())["kit"]["connection"] == "typed"  # the board is not listened to
        await r.do("set_controller", stars=STARS, clock="yes")
        assert (await r.state())["kit"]["connection"] == "controller"
        await r.do("pick", stars=["Capella", "Hamal"])
        e = Evening(r)
        await e.align("Capella", "Hamal")
        assert (await e.beside())["takes_back"] == "Hamal, centred"
        # Where the eyepiece in use shows little, the widest one is named.
        await r.do("set_eyepiece", name="9 mm")
        assert "In the 32 mm: " in (await e.beside())["answer"]
        await r.do("set_eyepiece", name="32 mm")
        assert "Find with that one" not in (await e.beside())["answer"]


@asynchronous
async def test_what_was_found_or_missed_is_pushed_to_again_when_it_is_chosen_again(tmp_path):
    """Until then the next action is another object; then it is the push."""
    async with rig(tmp_path) as r:
        await r.do("set_controller", stars=STARS, clock="yes")
        e = Evening(r)
        await e.align("Capella", "Hamal")

        async def done_with():
            return [f["now"] for f in (await e.beside())["finds"]]

        await e.find("M 37")
        assert await done_with() == [True]
        await r.do("set_target", name="M 37")
        assert await done_with() == [False]
        for _ in range(60):  # to the end of the path
            await r.do("controller_not_here")
            if len(await done_with()) == 2:
                break
        assert await done_with() == [False, True]
        state = await r.state()
        assert state["target"]["name"] == "M 37"
        assert [m["text"].partition(" searched")[2] for m in state["messages"]] == [
            " and not found. It is in the log. Choose a brighter one near it, centre that, and try "
            "again."
        ]
        await r.do("controller_not_here")  # a thumb that taps once too often begins no new search
        assert (await e.beside())["push"]["sweep"] is None
        await r.do("set_target", name="M 37")
        assert await done_with() == [False, False]
        await r.do("controller_not_here")
        assert (await e.beside())["push"]["sweep"]["index"] == 1
        assert (await r.state())["messages"] == []  # of what nobody is looking for any more
        assert (await e.beside())["push"]["warnings"]
        await e.find("M 37")
        await r.do("set_target", name="M 37")
        assert (await e.beside())["push"]["warnings"] == []  # it was found since
