"""A press that cannot be what it says is asked about once, its moment kept."""

import re
from dataclasses import replace

import pytest

from plumbstar.sky.times import Instant
from plumbstar.web.live.readings import REST_S

from .server_rig import SCENE, asynchronous, at_rest, board, centre, rig, toml_for


def at(r):
    return Instant.from_unix(r.times.t)


@asynchronous
async def test_a_star_at_another_ones_reading_is_asked_about_and_saved_as_of_its_press(tmp_path):
    async with rig(tmp_path) as r:
        await r.sight("Capella")
        _, (az, alt) = r.truth("Capella")
        pressed = at(r)
        body = {"star": "Rigel", "id": "press-same", "reading": {"az_deg": az, "alt_deg": alt}}
        said = await r.do("sight", **body)
        assert (said["asked"], said["sighting_id"]) == (True, None)
        s = await r.state()
        assert [x["star"] for x in s["sightings"]] == ["Capella"]
        (doubt,) = s["doubts"]
        assert re.fullmatch(
            r"Was this Rigel, centred\? By its readings the telescope pointed \d\d° from it, "
            "at the same place as for Capella.",
            doubt["sentence"],
        )
        again = await r.do("sight", **body)  # the phone did not hear the answer
        assert (again["asked"], again["again"]) == (True, True)
        assert len((await r.state())["doubts"]) == 1
        await r.do("end_outing", status=400)

        r.times.go(40)
        assert (await r.state())["doubts"][0]["yes"] == "Yes, save it as of 18:30"
        done = await r.do("answer_doubt", id="press-same", save=True)
        assert done["sighting_id"] is not None
        s = await r.state()
        assert s["doubts"] == []
        assert s["sightings"][-1]["star"] == "Rigel"
        assert s["sightings"][-1]["utc"] == pressed.iso(1)
        assert (await r.do("sight", **body))["sighting_id"] == done["sighting_id"]
        await r.do("answer_doubt", status=400, id="press-same", save=True)


@asynchronous
async def test_no_drops_it_and_the_same_press_is_not_asked_about_again(tmp_path):
    async with rig(tmp_path) as r:
        await r.sight("Capella")
        await r.sight("Rigel", off=(48.0, 0.0), id="press-drop")
        await r.do("answer_doubt", id="press-drop", save=False)
        said = await r.sight("Rigel", off=(48.0, 0.0), id="press-drop")
        assert (said["asked"], said["sighting_id"], said["again"]) == (False, None, True)
        s = await r.state()
        assert (s["doubts"], len(s["sightings"])) == ([], 1)
        await r.do("end_outing")


@asynchronous
async def test_a_find_far_away_is_asked_about_and_the_question_outlives_a_restart(tmp_path):
    async with rig(tmp_path) as r:
        for star in ("Capella", "Rigel", "Alpheratz"):
            said = await r.sight(star)
            assert not said["asked"]
        await r.do("set_target", name="M 42")
        _, (az, alt) = r.truth("M 42")
        pressed = at(r)
        said = await r.do(
            "here_centred",
            id="press-far",
            target="M 42",
            reading={"az_deg": round(az + 48.0, 2), "alt_deg": round(alt, 2)},
        )
        assert said["asked"]
        sentence = (await r.state())["doubts"][0]["sentence"]
        assert "M 42" in sentence
        times = r.times
        outing = (await r.state())["outing"]["id"]
        assert (await r.get(f"/data/log/{outing}"))["finds"] == []
    async with rig(tmp_path, times=times) as r:
        assert [d["sentence"] for d in (await r.state())["doubts"]] == [sentence]
        await r.do("answer_doubt", id="press-far", save=True)
        (found,) = (await r.get(f"/data/log/{outing}"))["finds"]
        assert found["target"] == "M 42"
        s = await r.state()
        assert s["sightings"][-1]["utc"] == pressed.iso(1)
        await r.do("undo")
        assert len((await r.state())["sightings"]) == 3


@asynchronous
async def test_the_first_star_is_asked_about_by_its_altitude(tmp_path):
    """As with encoders that count from zero and were not told the stop."""
    async with rig(tmp_path) as r:
        said = await r.sight("Capella", off=(0.0, -90.0 + 0.9))
        assert said["asked"]
        assert re.fullmatch(
            r"Was this Capella, centred\? By its reading the tube was \d+° (up|below level); "
            r"Capella stood \d\d° up\.",
            (await r.state())["doubts"][0]["sentence"],
        )


@asynchronous
async def test_the_question_names_the_star_that_stands_there_and_saves_it_as_that(tmp_path):
    """One rough star is enough to name a bright one; where none stands it says which way."""
    async with rig(tmp_path) as r:
        await r.sight("Capella")
        _, (az, alt) = r.truth("Sirius")
        pressed = at(r)
        reading = {"az_deg": az, "alt_deg": alt}
        await r.do("sight", star="Rigel", id="press-near", reading=reading)
        (doubt,) = (await r.state())["doubts"]
        assert doubt["sentence"].endswith("° from it, near Sirius.")
        assert (doubt["near"], doubt["yes"]) == ("It was Sirius", "Yes, Rigel, as of 18:30")
        r.times.go(30)
        done = await r.do("answer_doubt", id="press-near", save=True, near=True)
        s = await r.state()
        assert s["sightings"][-1]["star"] == "Sirius"
        assert s["sightings"][-1]["utc"] == pressed.iso(1)
        assert done["sighting_id"] == s["sightings"][-1]["id"]
        assert s["fix"]["mean_hit_chance"] > 0.5
        reading = {"az_deg": az + 90.0, "alt_deg": 25.0}
        await r.do("sight", star="Rigel", id="press-none", reading=reading)
        (doubt,) = (await r.state())["doubts"]
        assert re.search(r"° from it, (low|halfway up) in the (south-)?west\.$", doubt["sentence"])
        assert doubt["near"] == ""
        await r.do("answer_doubt", status=400, id="press-none", save=True, near=True)
        await r.do("answer_doubt", id="press-none", save=False)


@asynchronous
async def test_readings_typed_the_wrong_way_round_are_put_right_by_one_press(tmp_path):
    async with rig(tmp_path) as r:
        await r.sight("Capella")
        _, (az, alt) = r.truth("Rigel")
        pressed = at(r)
        body = {"star": "Rigel", "reading": {"az_deg": alt, "alt_deg": az}}
        assert (await r.do("sight", id="press-turned", **body))["asked"]
        (doubt,) = (await r.state())["doubts"]
        assert (doubt["star"], doubt["typed"], doubt["exchanged"]) == ("Rigel", True, True)
        r.times.go(40)
        done = await r.do("answer_doubt", id="press-turned", save=True, exchanged=True)
        s = await r.state()
        assert (s["doubts"], s["sightings"][-1]["id"]) == ([], done["sighting_id"])
        assert s["sightings"][-1]["utc"] == pressed.iso(1)
        assert s["fix"]["mean_hit_chance"] > 0.5

        # A slip of one figure is no exchange; typed again it keeps its moment, and is asked about
        # again where that is wrong as well.
        _, (az, alt) = r.truth("Alpheratz")
        pressed = at(r)
        body = {"star": "Alpheratz", "reading": {"az_deg": az, "alt_deg": alt - 30.0}}
        await r.do("sight", id="press-figure", **body)
        (doubt,) = (await r.state())["doubts"]
        assert (doubt["typed"], doubt["exchanged"]) == (True, False)
        r.times.go(20)
        again = {"az_deg": az, "alt_deg": alt + 30.0}
        said = await r.do("answer_doubt", id="press-figure", save=True, reading=again)
        assert (said["asked"], len((await r.state())["doubts"])) == (True, 1)
        await r.do(
            "answer_doubt", status=400, id="press-figure", save=True,
            reading={"az_deg": az, "alt_deg": 999.0},
        )  # fmt: skip
        right = {"az_deg": az, "alt_deg": alt}
        await r.do("answer_doubt", id="press-figure", save=True, reading=right)
        s = await r.state()
        assert (s["doubts"], s["sightings"][-1]["utc"]) == ([], pressed.iso(1))
        assert s["sightings"][-1]["star"] == "Alpheratz"


@asynchronous
async def test_the_clock_set_meanwhile_moves_the_press_with_it(tmp_path):
    async with rig(tmp_path) as r:
        await r.sight("Capella")
        await r.sight("Rigel", off=(48.0, 0.0), id="press-clock")
        pressed = at(r)
        phone = (r.times.t + 600.0) * 1000.0
        await r.do("use_phone_time", phone_ms=phone, round_trip_ms=20)
        await r.do("answer_doubt", id="press-clock", save=True)
        s = await r.state()
        utc = Instant.parse(s["sightings"][-1]["utc"])
        assert utc.minus(pressed) == pytest.approx(600.0, abs=1.0)


@asynchronous
async def test_after_a_slip_that_nobody_saw_it_is_asked_once(tmp_path):
    async with rig(tmp_path) as r:
        for star in ("Capella", "Rigel", "Pollux"):
            await r.sight(star)
        said = await r.sight("Procyon", off=(25.0, 0.0), id="press-slip")
        assert said["asked"]
        await r.do("answer_doubt", id="press-slip", save=True)
        for star in ("Aldebaran", "Alpheratz"):
            assert not (await r.sight(star, off=(25.0, 0.0)))["asked"]


@asynchronous
async def test_after_a_slip_anything_can_be(tmp_path):
    async with rig(tmp_path) as r:
        await r.sight("Capella")
        await r.do("base_moved")
        said = await r.sight("Rigel", off=(48.0, 0.0))
        assert not said["asked"]


@asynchronous
async def test_a_sync_from_another_program_is_refused_and_asked_about_on_the_phone(
    tmp_path, quick_hands
):
    from plumbstar.sky import ofdate
    from plumbstar.sky.naming import lookup
    from plumbstar.sky.places import place_of
    from plumbstar.web.programs import sending
    from plumbstar.web.programs.refused import Refused

    async with board() as sim, rig(tmp_path, kit_text=toml_for(sim)) as r:
        await centre(r, sim, "Capella")
        await r.do("sight", star="Capella", id=r.press())
        az, alt = place_of(lookup.find_target("Rigel"), at(r), SCENE.site)
        ra, dec = ofdate.from_horizon(az, alt, at(r), SCENE.site)
        hours, degrees = float(ra) * 12 / 3.141592653589793, float(dec) * 180 / 3.141592653589793
        with pytest.raises(Refused, match=r"Was this Rigel, centred\?.*answer on the phone"):
            await sending.sync(r.station, hours % 24, degrees, r.times.m)
        s = await r.state()
        assert len(s["sightings"]) == 1
        assert not any("was sighted from another program" in m["text"] for m in s["messages"])
        await r.do("answer_doubt", id=s["doubts"][0]["id"], save=False)


@asynchronous
async def test_yes_means_that_something_moved_before_it(tmp_path):
    """The sightings before are a part of their own, the mount that they taught is kept, and the
    next star may still show that the star was another. Undo takes the cut with the sighting."""
    async with rig(tmp_path) as r:
        for star in ("Capella", "Rigel", "Pollux", "Procyon"):
            await r.sight(star)
        before = (await r.state())["fix"]
        assert before["mean_hit_chance"] > 0.9
        await r.sight("Alpheratz", off=(25.0, 0.0), id="press-slip")
        await r.do("answer_doubt", id="press-slip", save=True)
        s = await r.state()
        assert not s["fix"]["contradictory"]
        assert (s["slip"], s["moved"]) == (None, None)
        assert [c["sentence"] for c in s["fix"]["cuts"]] == [
            "You said that it was Alpheratz, centred: then something moved after Procyon."
        ]
        # The star may be another after all: not sure until a second one agrees.
        assert s["fix"]["mean_hit_chance"] < 0.8
        assert not (await r.sight("Aldebaran", off=(25.0, 0.0)))["asked"]
        s = await r.state()
        assert s["fix"]["mean_hit_chance"] > 0.9
        assert all(x["residual_arcmin"] < 20 for x in s["sightings"])
        await r.do("undo")
        await r.do("undo")
        s = await r.state()
        assert s["fix"]["cuts"] == []
        assert s["slip"] is None
        assert s["fix"]["mean_hit_chance"] == pytest.approx(before["mean_hit_chance"], abs=1e-6)


@asynchronous
async def test_yes_to_a_wrong_star_is_found_out_by_the_next(tmp_path):
    async with rig(tmp_path) as r:
        for star in ("Capella", "Rigel", "Pollux", "Procyon"):
            await r.sight(star)
        await r.sight("Alpheratz", off=(25.0, 9.0), id="press-wrong")
        await r.do("answer_doubt", id="press-wrong", save=True)
        await r.sight("Aldebaran")
        await r.sight("Betelgeuse")
        await r.sight("Castor")
        s = await r.state()
        assert s["fix"]["mean_hit_chance"] > 0.8
        rows = {x["star"]: x for x in s["sightings"]}
        assert rows["Alpheratz"]["residual_arcmin"] > 300


@asynchronous
async def test_yes_to_the_first_star_takes_its_altitude_as_read(tmp_path):
    async with rig(tmp_path) as r:
        await r.sight("Capella", off=(0.0, -40.0), id="press-first")
        await r.do("answer_doubt", id="press-first", save=True)
        await r.sight("Rigel", off=(0.0, -40.0))
        await r.sight("Pollux", off=(0.0, -40.0))
        s = await r.state()
        assert not s["fix"]["contradictory"]
        assert s["fix"]["mean_hit_chance"] > 0.8


@asynchronous
async def test_a_tap_while_the_tube_is_still_pushed_is_asked_about_once(tmp_path, quick_hands):
    """Near enough to be believed, and in no middle: a fix from it would claim much."""
    async with board() as sim, rig(tmp_path, kit_text=toml_for(sim)) as r:
        readings = await at_rest(r, sim, "Capella")
        now = readings.latest
        az, _ = now.degrees()
        before = replace(now, az_deg=az - 3.0, at_monotonic=now.at_monotonic - REST_S)
        heard = {True: now, False: before}
        readings.source.reading_at = lambda at: heard[at >= r.times.m]
        said = await r.do("sight", star="Capella", id="press-moving")
        assert (said["asked"], said["sighting_id"]) == (True, None)
        (doubt,) = (await r.state())["doubts"]
        assert re.fullmatch(
            r"Was Capella in the middle\? The tube was still being pushed at the tap: it went "
            r"\d\.\d° in the half second before\. If not, .*",
            doubt["sentence"],
        )
        await r.do("answer_doubt", id="press-moving", save=True)
        (kept,) = (await r.state())["sightings"]
        assert kept["star"] == "Capella"
        heard[False] = replace(before, az_deg=az)  # at rest
        assert not (await r.do("sight", star="Capella", id="press-resting"))["asked"]


@pytest.mark.parametrize(
    ("off_deg", "stars"),
    [
        (89.5, ("Rigel", "Elnath", "Aldebaran", "Mirach", "Dubhe")),
        (88.0, ("Aldebaran", "Castor", "Dubhe", "Hamal", "Procyon")),
        (88.0, ("Alpheratz", "Elnath", "Mirach", "Betelgeuse", "Dubhe")),
    ],
)
@asynchronous
async def test_an_altitude_zero_a_quarter_turn_off_is_no_turn_and_a_quarter(
    tmp_path, off_deg, stars
):
    """All answered with yes: the altitude circle "read 447° high", and the push at 94 in 100 led
    to a reading of 478°."""
    async with rig(tmp_path, encoders=False) as r:
        for star in stars:
            await r.sight(star, off=(0.0, off_deg), sure=True)
            r.times.go(60)
        await r.do("set_target", name="M 42")
        s = await r.state()
        zero = {t["name"]: t["value_deg"] for t in s["fix"]["terms"]}["altitude_zero"]
        assert zero == pytest.approx(-off_deg, abs=1.5)
        assert s["target"]["hit_chance"] > 0.9
        wanted = r.truth("M 42")[1][1] + off_deg
        assert s["target"]["alt_reading_deg"] == pytest.approx(wanted, abs=0.3)
